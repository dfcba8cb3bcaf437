//! The file that says what was built: its types, and the schema made from them.

use super::file::{TubeFile, UnitName};
use super::file_values::{Filled, Heading, NotNegative, Positive, Quantity, Text};
use super::measured_file::{MeasuredFile, MeasuringFile};
use super::rules;
use schemars::{JsonSchema, SchemaGenerator};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::BTreeMap;

/// What was really built of a run, up to the gap that is left, as measured.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[serde(default)]
#[schemars(title = "Runwright built run", deny_unknown_fields, transform = rules::of_built)]
pub(super) struct BuiltFile {
    /// Where this schema lives, for editors.
    #[serde(rename = "$schema", skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub schema: Option<String>,
    /// Unit of every number without one: in, mm, cm, m or ft. Default: the job's.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<UnitName>")]
    pub units: Option<Text>,
    /// The job that the run was planned from: a file beside this one. It gives tube, pins,
    /// tools, limits, rates and what is in the way.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Filled>")]
    pub job: Option<Text>,
    /// The plan.json that the run was built from: a file beside this one. It tells how
    /// each end was to be cut, where it should stand, and what is behind it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Filled>")]
    pub plan: Option<Text>,
    /// Name of the run. Default: the only one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Filled>")]
    pub run: Option<Text>,
    /// Number of the plan's piece that was left for last. Default: the one that the plan
    /// says to leave.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<u32>", extend("minimum" = 1))]
    pub piece: Option<Quantity>,
    /// The tube, where there is no job.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<TubeFile>")]
    pub tube: Option<TubeFile>,
    /// The built end that flow comes from. Default: the run's first port, when nothing is
    /// built from there.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<BuiltEndFile>")]
    pub before: Option<BuiltEndFile>,
    /// The built end that flow goes on into. Default: the run's last port, when nothing is
    /// built from there.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<BuiltEndFile>")]
    pub after: Option<BuiltEndFile>,
    /// The gap's own widths, in place of the two ends.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<GapFile>")]
    pub gap: Option<GapFile>,
    /// Which joints were welded when the ends, or the gap, were measured: true for all but
    /// those under 'tacked', or their numbers. The others will still pull in, by the job's
    /// shrinkage, and the closing piece is for how the ends stand then. Default: false, all
    /// were tacked only.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<WeldedFile>")]
    pub welded: Option<Quantity>,
    /// Numbers of joints that are tacked and not welded, and may be turned.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<u32>>")]
    pub tacked: Option<Vec<Quantity>>,
    /// What the closing piece must keep.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<FitUpFile>")]
    pub fit_up: Option<FitUpFile>,
    /// Fixed places to measure from, by name, where there is no job.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<BTreeMap<String, [Quantity; 3]>>", extend("maxProperties" = 200))]
    pub pins: Option<BTreeMap<String, Vec<Quantity>>>,
    /// How good the measuring is. Default: the job's.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<MeasuringFile>")]
    pub measuring: Option<MeasuringFile>,
    /// Straight up, where there is no job. Default: [0, 0, 1].
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Heading>")]
    pub up: Option<Vec<Quantity>>,
    /// Where headings begin, where there is no job. Default: [1, 0, 0].
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Heading>")]
    pub ahead: Option<Vec<Quantity>>,
}

/// Which joints were welded.
#[derive(JsonSchema)]
#[schemars(untagged)]
#[allow(dead_code, reason = "for the schema")]
enum WeldedFile {
    /// All, or none.
    All(bool),
    /// Some, by their numbers.
    Joints(Vec<u32>),
}

/// The end of a tube as it was built.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[serde(default)]
#[schemars(deny_unknown_fields)]
pub(super) struct BuiltEndFile {
    /// How it is cut: "planned", "square", "miter" for a plane at an angle that is not
    /// known, an angle for a saw that was set to it, or "ragged" for no plane at all.
    /// Default: "planned", which takes a plan; without job and plan "square".
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = 0, "exclusiveMaximum" = 45))]
    pub cut: Option<Quantity>,
    /// Number of the plan's joint that the end is at. Default: the closing piece's own.
    /// Pieces between the two are cut and not tacked on yet.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<u32>")]
    pub joint: Option<Quantity>,
    /// What was measured of it, as of a port: rim points first, in order round the rim,
    /// with the first one marked on the tube.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(required, with = "MeasuredFile")]
    pub measured: Option<MeasuredFile>,
}

/// Widths of a gap from rim to rim, along the piece that is to fill it, round the tube.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[serde(default)]
#[schemars(deny_unknown_fields, transform = rules::of_gap)]
pub(super) struct GapFile {
    /// At 4 to 24 stations evenly round the tube, clockwise looking downstream.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<Positive>>", extend("minItems" = 4, "maxItems" = 24))]
    pub widths: Option<Vec<Quantity>>,
    /// Or at stations of your own.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<StationFile>>")]
    pub stations: Option<Vec<StationFile>>,
    /// Standard deviation of a width. Default: what 'measuring' says of a point.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub good_to: Option<Quantity>,
    /// Saw angle at which the piece starts: half of the bend where it meets the built tube
    /// in a miter, the end's own cut where the two are in line. Default: 0, square.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = 0, "exclusiveMaximum" = 45))]
    pub cut: Option<Quantity>,
    /// Clock of the side at which the piece is longest there: in a miter the outside of the
    /// bend, which is the built end's long side too; in line the side across from the
    /// built end's long side. Needed with a cut.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub long_side: Option<Quantity>,
    /// Whether the other end is ragged: the piece then follows every width. Default:
    /// false, it is a plane through all of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<bool>")]
    pub ragged: Option<Quantity>,
}

/// One width of a gap.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[serde(default)]
#[schemars(deny_unknown_fields)]
pub(super) struct StationFile {
    /// Clockwise looking downstream.
    #[schemars(required, with = "Quantity")]
    pub clock: Option<Quantity>,
    /// From rim to rim, along the piece.
    #[schemars(required, with = "Positive")]
    pub width: Option<Quantity>,
}

/// What a closing piece must keep to be welded.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[serde(default)]
#[schemars(deny_unknown_fields)]
pub(super) struct FitUpFile {
    /// Root gap that is left at each seam once it is welded. Default: the job's gap less its
    /// shrinkage, which is what planned pieces are cut for.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub gap: Option<Quantity>,
    /// Greatest step from wall to wall. Default: half of the wall.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub high_low: Option<Quantity>,
    /// Least that comes off an end that is cut again. Default: 1/32 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub shave: Option<Quantity>,
}

/// The JSON Schema of the file.
pub fn built_schema() -> Value {
    SchemaGenerator::default()
        .into_root_schema_for::<BuiltFile>()
        .to_value()
}
