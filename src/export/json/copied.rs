//! The tube that a run is a copy of, in `plan.json`.

use super::numbers::{deg, mm, numbered, positive_zero};
use crate::job::JobCopy;
use crate::route::Task;
use crate::survey::{Suspect, TracedJoint};
use schemars::JsonSchema;
use serde::Serialize;

/// How well a copied run fits its tube.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Copied", deny_unknown_fields)]
pub(super) struct CopiedOut {
    /// What was touched, in words.
    from: &'static str,
    /// Standard deviation of a touched point along each axis.
    accuracy_mm: f64,
    /// How many points were touched.
    points: usize,
    /// Of these, how many do not count.
    points_left_out: usize,
    /// Root mean square of what is left of the points that count; null without any.
    rms_mm: Option<f64>,
    /// Sum of squares of what is left, each in its standard deviations.
    chi_square: f64,
    /// Numbers read beyond what the tube's shape takes.
    degrees_of_freedom: usize,
    /// Joints that were found, from 1 in order of flow.
    joints: Vec<CopiedJointOut>,
    /// How the tube meets the first and the last port.
    ends: [CopiedEndOut; 2],
    /// What is left of each point, in the job's order: how far it is off the copy.
    left_mm: Vec<f64>,
    /// Readings that are off what the others say.
    suspects: Vec<SuspectOut>,
}

/// A joint of the tube that is copied.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "CopiedJoint", deny_unknown_fields)]
pub(super) struct CopiedJointOut {
    /// Number of the joint in the run: 0 at the first port, then in order of flow.
    number: usize,
    /// Where the two axes meet.
    at_mm: [f64; 3],
    /// Standard deviation of the place, the greatest any way.
    sigma_mm: f64,
    /// Covariance of the place's coordinates, row by row.
    covariance_mm2: [[f64; 3]; 3],
    /// Angle between the axes before and after.
    deflection_deg: f64,
    /// Standard deviation of that.
    deflection_sigma_deg: f64,
    /// How far apart the two pieces' own lines pass; null where a piece has too few
    /// points for one.
    apart_mm: Option<f64>,
    /// Of the points beside the joint; null without any.
    rms_mm: Option<f64>,
}

/// How the tube meets a port.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "CopiedEnd", deny_unknown_fields)]
pub(super) struct CopiedEndOut {
    /// How far its end is from the port's center.
    shift_mm: f64,
    /// How far its axis leans from the port's.
    lean_deg: f64,
}

/// A reading that is off what the others say.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Suspect", deny_unknown_fields)]
pub(super) struct SuspectOut {
    /// Where it stands in the job, as a JSON path.
    path: String,
    /// How far it is off.
    off_mm: f64,
    /// How far it leans, of a port; null of a point.
    lean_deg: Option<f64>,
    /// Whether it is left out of the fit.
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
