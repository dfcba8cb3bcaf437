//! The file's scans: where a surface is, in what unit, and how it comes into the job's
//! frame.

use super::file::UnitName;
use super::file_values::{BoxFile, Filled, NotNegative, Quantity, Text};
use super::rules;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A scanned or modeled surface.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct ScanFile {
    /// Its name.
    #[schemars(required, with = "Filled")]
    pub name: Option<Text>,
    /// STL, PLY or OBJ, packed with gzip or not; beside the job unless the path says
    /// where.
    #[schemars(required, with = "Filled")]
    pub file: Option<Text>,
    /// Unit of the file's numbers: "mm", "cm", "m", "in" or "ft". Numbers under 'scan' and
    /// 'near' below are in it too.
    #[schemars(required, with = "UnitName")]
    pub units: Option<Text>,
    /// Names of the groups to keep; * stands for any letters. Default: all.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<Filled>>")]
    pub keep: Option<Vec<Text>>,
    /// Names of groups to leave out. Default: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<Filled>>")]
    pub drop: Option<Vec<Text>>,
    /// Distance to keep. Default: the scene's.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub clearance: Option<Quantity>,
    /// Parts that need another clearance; the first that holds a triangle counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<ZoneFile>>", extend("maxItems" = 20))]
    pub zones: Option<Vec<ZoneFile>>,
    /// Marks that were measured in the scan and in the job.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<LandmarkFile>>")]
    pub landmarks: Option<Vec<LandmarkFile>>,
    /// Open rims of the scan that are ports of the job.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<RimFile>>")]
    pub rims: Option<Vec<RimFile>>,
    /// Points touched on the surface, measured in the job and in its units, that the scan
    /// is settled on last: x, y, z of each.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<[Quantity; 3]>>")]
    pub touch: Option<Vec<Vec<Quantity>>>,
}

/// A part of a scan with a clearance of its own.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, transform = rules::of_zone)]
pub(super) struct ZoneFile {
    /// Its name.
    #[schemars(required, with = "Filled")]
    pub name: Option<Text>,
    /// Names of the scan's groups in it; * stands for any letters.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<Filled>>")]
    pub groups: Option<Vec<Text>>,
    /// A box in the job: triangles whose middle it holds.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<BoxFile>")]
    pub r#box: Option<BoxFile>,
    /// Distance to keep.
    #[schemars(required, with = "NotNegative")]
    pub clearance: Option<Quantity>,
}

/// A mark that was measured twice.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct LandmarkFile {
    /// What it is. Default: its number.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Filled>")]
    pub name: Option<Text>,
    /// Where the scan has it: x, y, z.
    #[schemars(required, with = "[Quantity; 3]")]
    pub scan: Option<Vec<Quantity>>,
    /// Where the job has it.
    #[schemars(required, with = "[Quantity; 3]")]
    pub job: Option<Vec<Quantity>>,
}

/// A rim of a scan that is a port.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct RimFile {
    /// About the middle of the rim, where the scan has it: x, y, z.
    #[schemars(required, with = "[Quantity; 3]")]
    pub near: Option<Vec<Quantity>>,
    /// Name of the port.
    #[schemars(required, with = "Filled")]
    pub port: Option<Text>,
}
