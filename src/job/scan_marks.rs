//! A scan placed by its marks: landmarks and rims.

use super::Problem;
use super::path::Path;
use super::scan::ScanOrder;
use super::scan_unit::{told, wrong_unit};
use crate::scan::{Mesh, PlaceError, PlaceWarning, Placed, place, stretch_of};
use crate::survey::Measuring;
use crate::units::{Length, Style};

/// Root mean square beyond which marks are not those that were meant: an inch is more
/// than any way of measuring is off.
const WORST: Length = Length::from_mm(25.0);

/// Accuracy that is taken where marks are said to be exact: rounding of their numbers.
const FINEST: Length = Length::from_mm(0.01);

/// How far marks' distances in the job may be from those in the scan, in parts, without a
/// word.
const UNLIKE: f64 = 0.05;

/// How many times their accuracy marks may disagree without a word: marks are measured
/// in many ways, and a job states one.
const DISAGREE: f64 = 3.0;

/// What placing needs to know of the job.
#[derive(Clone, Copy)]
pub(super) struct Marking {
    /// How well the shop measures.
    pub measuring: Measuring,
    /// How it writes numbers.
    pub style: Style,
}

impl Marking {
    /// One standard deviation of a mark's coordinate, in scan and job together.
    fn good_to(&self) -> Length {
        let (scan, job) = (self.measuring.scan, self.measuring.point);
        Length::from_mm(scan.mm().hypot(job.mm())).max(FINEST)
    }

    /// Where marks put a scan; or why they put it nowhere.
    pub(super) fn place(
        &self,
        mesh: &Mesh,
        order: &ScanOrder,
        warnings: &mut Vec<Problem>,
    ) -> Result<Placed, Problem> {
        // Before rims are looked for, which a wrong unit hides.
        if let Some(problem) = wrong_unit(order, stretch_of(&order.landmarks)) {
            return Err(problem);
        }
        let placed = place(mesh, &order.landmarks, &order.rims, self.good_to())
            .map_err(|error| Problem::at(&order.path, error.to_string(), help(&error)))?;
        if let Some(problem) = wrong_unit(order, placed.stretch) {
            return Err(problem);
        }
        if placed.rms > WORST {
            return Err(self.apart(order, &placed));
        }
        warnings.extend(placed.warnings.iter().map(|w| self.told(order, w)));
        warnings.extend(self.disagreement(order, &placed));
        Ok(placed)
    }

    fn apart(&self, order: &ScanOrder, placed: &Placed) -> Problem {
        let unlike = placed
            .stretch
            .filter(|stretch| (stretch - 1.0).abs() > UNLIKE);
        let stretch = unlike.map_or(String::new(), |stretch| {
            format!(
                "; they are {} times as far apart in the job as in the scan",
                told(stretch)
            )
        });
        let worst = placed.residuals.first();
        let worst = worst.map_or(String::new(), |worst| {
            let off = self.style.decimal(worst.distance);
            format!(", '{}' by {off}", worst.name)
        });
        Problem::at(
            &order.path,
            format!(
                "the marks of '{}' do not fit the job: placed as well as can be, they are {} off (rms){worst}{stretch}",
                order.name,
                self.style.decimal(placed.rms),
            ),
            "check which mark is which, their numbers and signs in scan and job, and 'units'",
        )
    }

    /// A warning in the job's unit.
    fn told(&self, order: &ScanOrder, warning: &PlaceWarning) -> Problem {
        let PlaceWarning::Off {
            name,
            off_mm,
            rms_mm,
        } = warning
        else {
            let help = "see 'runwright check' for what is left over at each";
            return Problem::at(&order.path, warning.to_string(), help);
        };
        let [off, rms] = [off_mm, rms_mm].map(|mm| self.style.decimal(Length::from_mm(*mm)));
        Problem::at(
            &path_of(order, name),
            format!(
                "'{name}' is {off} off what the other marks say (which agree to {rms}); it is left out"
            ),
            "measure it again, in the scan and in the job",
        )
    }

    fn disagreement(&self, order: &ScanOrder, placed: &Placed) -> Option<Problem> {
        let times = placed.scatter? / self.good_to();
        (times > DISAGREE).then(|| {
            Problem::at(
                &order.path,
                format!(
                    "the marks of '{}' disagree {times:.1} times as much as their accuracy explains: {} off (rms)",
                    order.name,
                    self.style.decimal(placed.rms),
                ),
                "measure them again, see 'runwright check' for what is left over at each; or say under 'measuring' how good 'point' and 'scan' really are",
            )
        })
    }
}

/// Where a mark stands in the file.
fn path_of(order: &ScanOrder, name: &str) -> Path {
    let landmark = order.landmarks.iter().position(|mark| mark.name == name);
    let rim = || order.rims.iter().position(|rim| rim.name == name);
    match (landmark, landmark.is_none().then(rim).flatten()) {
        (Some(i), _) => order.path.key("landmarks").index(i),
        (_, Some(i)) => order.path.key("rims").index(i),
        _ => order.path.clone(),
    }
}

const fn help(error: &PlaceError) -> &'static str {
    match error {
        PlaceError::Rim { .. } => {
            "give 'near' about the middle of an open end, in the scan's own axes and units"
        }
        PlaceError::SameRim { .. } => "give each port the rim that is its own",
        PlaceError::Negated { .. } => "check these signs",
        PlaceError::Mirrored => {
            "check signs and order of the marks' three numbers; if these are right, export the scan right-handed (x turned to y looks along z as a right-hand screw goes)"
        }
        PlaceError::TooFew { .. } | PlaceError::Fit(_) => {
            "measure landmarks that lie apart, or name a rim's port"
        }
    }
}
