//! The job's tube, checked.

use super::file::TubeFile;
use super::path::Path;
use super::problem::Problem;
use super::values::{Reader, Sign};
use crate::tube::{Tube, TubeError};
use crate::units::{Length, Style};

/// Least outside diameter of anything that is called a tube here.
const LEAST_OD: Length = Length::from_mm(0.1);

/// Outside diameter beyond which the unit is likely wrong: 24 in.
const LARGE_OD: Length = Length::from_inches(24.0);

/// Outside diameter below which the unit is likely wrong.
const SMALL_OD: Length = Length::from_mm(5.0);

/// A wall of more of the diameter than this is likely a slip.
const THICK: f64 = 0.2;

impl Reader<'_> {
    pub(super) fn tube(&mut self, file: &TubeFile, path: &Path) -> Option<Tube> {
        let od = self.required(&file.od, &path.key("od"), "the outside diameter");
        let od = od.and_then(|od| self.length(od, &path.key("od"), Sign::Positive));
        let wall = self.required(&file.wall, &path.key("wall"), "the wall thickness");
        let wall = wall.and_then(|wall| self.length(wall, &path.key("wall"), Sign::Positive));
        let material = match &file.material {
            Some(text) => self.text(text, &path.key("material"))?,
            None => "unspecified".to_owned(),
        };
        let own = self.own_properties(file, path);
        if od? < LEAST_OD {
            return self.fail(&path.key("od"), "is less than 0.1 mm", "check the unit");
        }
        match Tube::new(od?, wall?, &material) {
            Ok(tube) => {
                let tube = tube.with_own(own?);
                self.warn_small(&tube, path);
                if tube.od() > LARGE_OD {
                    let od = Style::new(self.unit).decimal(tube.od());
                    let message = format!("is {od}: no tube that is cut by hand");
                    let help = "check the job's units";
                    self.warnings
                        .push(Problem::at(&path.key("od"), message, help));
                }
                Some(tube)
            }
            Err(error @ TubeError::Diameter) => {
                self.fail(&path.key("od"), error, "measure across the outside")
            }
            Err(error) => self.fail(
                &path.key("wall"),
                error,
                "measure the wall with a caliper, or look up its gauge",
            ),
        }
    }

    /// Warns of a tube that is likely measured in another unit.
    pub(super) fn warn_small(&mut self, tube: &Tube, path: &Path) {
        let style = Style::new(self.unit);
        if tube.od() < SMALL_OD {
            let message = format!(
                "is {}: no tube that is cut by hand",
                style.decimal(tube.od())
            );
            self.warnings
                .push(Problem::at(&path.key("od"), message, "check the unit"));
        } else if tube.wall() > tube.od() * THICK {
            let message = format!(
                "is {}, on tube of {}: thick",
                style.decimal(tube.wall()),
                style.decimal(tube.od())
            );
            let help = "check the decimal point: walls are a few hundredths of an inch";
            self.warnings
                .push(Problem::at(&path.key("wall"), message, help));
        }
    }
}
