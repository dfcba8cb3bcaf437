//! What `plan.json` says of what was measured of a port.

use super::numbers::{deg, mm};
use crate::job::PortSurvey;
use crate::survey::{Amount, LeftOver, Surveyed};
use crate::units::Length;
use schemars::JsonSchema;
use serde::Serialize;

/// The readings of a port and what is left of each.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Survey", deny_unknown_fields)]
pub(in crate::export) struct SurveyOut<'a> {
    /// Readings in the job's order.
    readings: Vec<ReadingOut<'a>>,
    /// Numbers read beyond what it takes.
    spare: usize,
    /// How many times more the readings disagree than their accuracy explains; 1 where
    /// chance does.
    disagreement: f64,
    /// Diameter of the rim as fitted; null where nothing tells.
    rim_diameter_mm: Option<f64>,
    /// Diameter of the bolt circle as fitted; null where nothing tells.
    bolt_circle_mm: Option<f64>,
    /// How far the rod's tip is out of the face, as fitted; null where nothing tells.
    tip_mm: Option<f64>,
}

/// A reading.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Reading", deny_unknown_fields)]
struct ReadingOut<'a> {
    /// What was read, in words.
    name: &'a str,
    /// What was read less what the port as fitted would have given, part by part.
    left: Vec<PartOut>,
}

/// What is left of a reading: a length or an angle.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Part", deny_unknown_fields)]
struct PartOut {
    /// Which part, where there are several.
    #[serde(skip_serializing_if = "str::is_empty")]
    what: &'static str,
    /// Of a length.
    #[serde(skip_serializing_if = "Option::is_none")]
    mm: Option<f64>,
    /// Of an angle.
    #[serde(skip_serializing_if = "Option::is_none")]
    deg: Option<f64>,
}

impl<'a> SurveyOut<'a> {
    /// `None` where center and outward are given and nothing else.
    pub(in crate::export) fn new(survey: &'a PortSurvey) -> Option<Self> {
        let found: &Surveyed = survey.found.as_ref().filter(|_| !survey.is_stated())?;
        let all = survey.readings.list.iter().zip(&found.left);
        let length = |length: Option<Length>| length.map(mm);
        Some(Self {
            readings: all
                .map(|(reading, left)| ReadingOut {
                    name: &reading.name,
                    left: parts(left),
                })
                .collect(),
            spare: found.spare,
            disagreement: found.disagreement,
            rim_diameter_mm: length(found.rim),
            bolt_circle_mm: length(found.bolt_circle),
            tip_mm: length(found.tip),
        })
    }
}

fn parts(left: &LeftOver) -> Vec<PartOut> {
    let part = |&(what, amount): &(&'static str, Amount)| {
        let (mm, deg) = match amount {
            Amount::Length(length) => (Some(mm(length)), None),
            Amount::Angle(angle) => (None, Some(deg(angle))),
        };
        PartOut { what, mm, deg }
    };
    left.parts.iter().map(part).collect()
}
