//! How well the shop works: the file's, checked.

use super::file_values::{NotNegative, Quantity};
use super::path::Path;
use super::values::Reader;
use crate::shop::Accuracy;
use crate::units::Angle;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Greatest angle that a shop may be off by, one standard deviation: beyond it the
/// stack-up, which is of first order, tells nothing.
const MOST_OFF: Angle = Angle::from_degrees(10.0);

/// How well the shop cuts, measures and clocks: two of three come out within these.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[serde(default)]
#[schemars(deny_unknown_fields)]
pub(super) struct AccuracyFile {
    /// Saw angle of one cut. Default: 0.25 deg.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = 0, "maximum" = 10))]
    pub cut: Option<Quantity>,
    /// Setting of the saw, shared by all miters that are cut at it, beside the error of
    /// each cut. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = 0, "maximum" = 10))]
    pub setting: Option<Quantity>,
    /// Length of a piece. Default: 0.5 mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub length: Option<Quantity>,
    /// Clock of a joint. Default: 1 deg.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = 0, "maximum" = 10))]
    pub clock: Option<Quantity>,
    /// Turn of a stock bend. Default: 0.5 deg.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = 0, "maximum" = 10))]
    pub bend: Option<Quantity>,
}

impl Reader<'_> {
    pub(super) fn accuracy(
        &mut self,
        file: Option<&AccuracyFile>,
        path: &Path,
    ) -> Option<Accuracy> {
        let defaults = AccuracyFile::default();
        let file = file.unwrap_or(&defaults);
        let usual = Accuracy::default();
        let length = self.small_or(&file.length, &path.key("length"), usual.length);
        let mut angle = |value: &Option<Quantity>, key: &str, usual: Angle| {
            self.angle_off(value, &path.key(key), usual)
        };
        let cut = angle(&file.cut, "cut", usual.cut);
        let setting = angle(&file.setting, "setting", usual.setting);
        let clock = angle(&file.clock, "clock", usual.clock);
        let bend = angle(&file.bend, "bend", usual.bend);
        Some(Accuracy {
            cut: cut?,
            setting: setting?,
            length: length?,
            clock: clock?,
            bend: bend?,
        })
    }

    /// An angle that something is off by.
    fn angle_off(&mut self, value: &Option<Quantity>, path: &Path, usual: Angle) -> Option<Angle> {
        let angle = self.angle_or(value, path, usual)?;
        if angle >= Angle::ZERO && angle <= MOST_OFF {
            return Some(angle);
        }
        self.fail(
            path,
            format!("must be from 0° to {}°", MOST_OFF.degrees().round()),
            "give one standard deviation: what two of three come out within",
        )
    }
}
