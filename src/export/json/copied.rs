//! The tube that a run is a copy of, in `plan.json`.

use super::numbers::{deg, mm, numbered, positive_zero};
use crate::job::JobCopy;
use crate::route::Task;
use crate::survey::{Suspect, TracedJoint};
use serde::Serialize;

/// How well a copied run fits its tube.
#[derive(Serialize)]
pub(super) struct CopiedOut {
    from: &'static str,
    accuracy_mm: f64,
    points: usize,
    points_left_out: usize,
    /// Of the points that count; null without any.
    rms_mm: Option<f64>,
    /// Sum of squares of what is left, in deviations, and its degrees of freedom.
    chi_square: f64,
    degrees_of_freedom: usize,
    joints: Vec<CopiedJointOut>,
    ends: [CopiedEndOut; 2],
    /// What is left of each point, in the job's order.
    left_mm: Vec<f64>,
    suspects: Vec<SuspectOut>,
}

#[derive(Serialize)]
pub(super) struct CopiedJointOut {
    number: usize,
    at_mm: [f64; 3],
    /// Standard deviation of the place, the greatest any way.
    sigma_mm: f64,
    /// Of the place's coordinates, row by row.
    covariance_mm2: [[f64; 3]; 3],
    deflection_deg: f64,
    deflection_sigma_deg: f64,
    /// How far apart the two pieces' own lines pass; null where a piece has too few
    /// points for one.
    apart_mm: Option<f64>,
    /// Of the points beside the joint; null without any.
    rms_mm: Option<f64>,
}

#[derive(Serialize)]
pub(super) struct CopiedEndOut {
    shift_mm: f64,
    lean_deg: f64,
}

#[derive(Serialize)]
pub(super) struct SuspectOut {
    /// Where it stands in the job.
    path: String,
    off_mm: f64,
    /// Of a port; null of a point.
    lean_deg: Option<f64>,
    left_out: bool,
}

impl CopiedOut {
    pub(super) fn new(copy: &JobCopy, task: &Task) -> Self {
        let traced = &copy.traced;
        let ports = [task.start.name.as_str(), task.end.name.as_str()];
        let joint = |number: usize, joint: &TracedJoint| {
            let spread = joint.scatter.shift();
            CopiedJointOut {
                number,
                at_mm: joint.at.into(),
                sigma_mm: mm(joint.sigma().0),
                covariance_mm2: [0, 1, 2].map(|i| [0, 1, 2].map(|j| positive_zero(spread[(i, j)]))),
                deflection_deg: deg(joint.turn),
                deflection_sigma_deg: deg(joint.turn_sigma),
                apart_mm: joint.own.apart().map(mm),
                rms_mm: joint.rms.map(mm),
            }
        };
        let suspect = |suspect: &Suspect| SuspectOut {
            path: copy.place(suspect.spot, ports).to_string(),
            off_mm: mm(suspect.off),
            lean_deg: suspect.lean.map(deg),
            left_out: suspect.left_out,
        };
        Self {
            from: copy.touched,
            accuracy_mm: mm(copy.accuracy),
            points: traced.left.len(),
            points_left_out: traced.left.iter().filter(|left| !left.counted).count(),
            rms_mm: traced.rms.map(mm),
            chi_square: traced.squares,
            degrees_of_freedom: traced.spare,
            joints: numbered(&traced.joints, 1, joint),
            ends: traced.ends.map(|end| CopiedEndOut {
                shift_mm: mm(end.shift),
                lean_deg: deg(end.lean),
            }),
            left_mm: traced.left.iter().map(|left| mm(left.off)).collect(),
            suspects: traced.suspects.iter().map(suspect).collect(),
        }
    }
}
