//! The file's scene: what is in the way, and the room there is.

use super::file_values::{BoxFile, Filled, Heading, NotNegative, Positive, Quantity, Text};
use super::rules;
use super::scan_file::ScanFile;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What is in the way, and the room there is.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[serde(default)]
#[schemars(deny_unknown_fields)]
pub(super) struct SceneFile {
    /// Distance to keep between the tube's outside and everything here. Default: 3/8 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub clearance: Option<Quantity>,
    /// Bodies that the runs keep out of.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<BodyFile>>", extend("maxItems" = 200))]
    pub keep_out: Option<Vec<BodyFile>>,
    /// Bodies that the runs stay within.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<BodyFile>>", extend("maxItems" = 200))]
    pub keep_in: Option<Vec<BodyFile>>,
    /// Scanned or modeled surfaces that the runs keep out of.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<ScanFile>>", extend("maxItems" = 20))]
    pub scans: Option<Vec<ScanFile>>,
}

/// A body: one of box, plane and cylinder.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, transform = rules::of_body)]
pub(super) struct BodyFile {
    /// Its name.
    #[schemars(required, with = "Filled")]
    pub name: Option<Text>,
    /// Distance to keep from it. Default: the scene's.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub clearance: Option<Quantity>,
    /// A box along the axes.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<BoxFile>")]
    pub r#box: Option<BoxFile>,
    /// Everything behind a plane: the ground, a hood. Its normal points out of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<PlaneFile>")]
    pub plane: Option<PlaneFile>,
    /// A cylinder with flat ends.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<CylinderFile>")]
    pub cylinder: Option<CylinderFile>,
}

/// Everything behind a plane.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct PlaneFile {
    /// A point of it: x, y, z.
    #[schemars(required, with = "[Quantity; 3]")]
    pub point: Option<Vec<Quantity>>,
    /// Square to it, out of the body: of a plane that is kept out of, into free space, to
    /// the side where the ports and the tube are; of one that is kept within, away from
    /// them.
    #[schemars(required, with = "Heading")]
    pub normal: Option<Vec<Quantity>>,
}

/// A cylinder with flat ends.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct CylinderFile {
    /// Middle of one end: x, y, z.
    #[schemars(required, with = "[Quantity; 3]")]
    pub from: Option<Vec<Quantity>>,
    /// Middle of the other end.
    #[schemars(required, with = "[Quantity; 3]")]
    pub to: Option<Vec<Quantity>>,
    /// Its radius.
    #[schemars(required, with = "Positive")]
    pub radius: Option<Quantity>,
}
