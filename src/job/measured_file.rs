//! The file's measurements: pins, tools, and what was measured of a port.

use super::file_values::{Filled, Heading, NotNegative, Positive, Quantity, Text, short_or_object};
use super::rules;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize};
use std::borrow::Cow;

/// How good the shop's measuring is: one standard deviation each, so that two readings
/// in three are within it and nineteen in twenty within twice as much.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[serde(default)]
#[schemars(deny_unknown_fields)]
pub(super) struct MeasuringFile {
    /// Each coordinate of a point, by square and height gauge. Default: 0.5 mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub point: Option<Quantity>,
    /// A distance by tape. Default: 1 mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub tape: Option<Quantity>,
    /// A diameter by caliper. Default: 0.1 mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub caliper: Option<Quantity>,
    /// A digital level. Default: 0.2 deg.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = 0, "maximum" = 45))]
    pub level: Option<Quantity>,
    /// A heading by protractor. Default: 1 deg.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = 0, "maximum" = 45))]
    pub heading: Option<Quantity>,
    /// A direction by numbers or by azimuth and elevation. Default: 0.5 deg.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = 0, "maximum" = 45))]
    pub direction: Option<Quantity>,
    /// Each coordinate of a pin. Default: 0, the pins make the frame.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub pin: Option<Quantity>,
    /// A point of a scan. Default: 0.5 mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub scan: Option<Quantity>,
}

/// A direction: three numbers, or two angles.
#[derive(Clone, Debug, Serialize)]
#[serde(untagged)]
pub(super) enum OutwardFile {
    Vector(Vec<Quantity>),
    Angles(Box<AnglesFile>),
}

/// Two angles that make a direction: azimuth and elevation, or level and heading.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, transform = rules::of_angles)]
pub(super) struct AnglesFile {
    /// From +x toward +y in the job's xy-plane.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = -360, "maximum" = 360))]
    pub azimuth: Option<Quantity>,
    /// Rise from the xy-plane toward +z, −90 to 90 deg.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = -90, "maximum" = 90))]
    pub elevation: Option<Quantity>,
    /// What a digital level on a rod in the port reads: 0 lying, 90 plumb, negative where
    /// the port points downward.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = -90, "maximum" = 90))]
    pub level: Option<Quantity>,
    /// Clockwise from the job's 'ahead' for someone who looks down.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = -360, "maximum" = 360))]
    pub heading: Option<Quantity>,
}

impl<'de> Deserialize<'de> for OutwardFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        short_or_object(deserializer, Self::Vector, |angles| {
            Self::Angles(Box::new(angles))
        })
    }
}

impl JsonSchema for OutwardFile {
    fn schema_name() -> Cow<'static, str> {
        "Direction".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let vector = generator.subschema_for::<Heading>();
        let angles = generator.subschema_for::<AnglesFile>();
        json_schema!({ "anyOf": [vector, angles] })
    }
}

/// How well a port is known that is given by center and outward: one standard deviation.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct GoodToFile {
    /// Each coordinate of the center. Default: 'measuring' has it, under 'point'.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub center: Option<Quantity>,
    /// The outward direction, any way that it leans. Default: 'measuring' has it, under
    /// 'direction', or 'level' and 'heading'.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = 0, "maximum" = 45))]
    pub outward: Option<Quantity>,
}

/// What was measured of a port, in any mix; all of it is fitted at once. Points are in
/// the job's frame.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[serde(default)]
#[schemars(deny_unknown_fields, extend("minProperties" = 1))]
pub(super) struct MeasuredFile {
    /// Coordinates of the center, null for those that are not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<[Option<Quantity>; 3]>")]
    pub center: Option<Vec<Quantity>>,
    /// Direction from the face into free space: three numbers, or two angles.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<OutwardFile>")]
    pub outward: Option<OutwardFile>,
    /// What a digital level on a rod in the port reads: 0 lying, 90 plumb, negative where
    /// the port points downward, which 'toward' may say in its place.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = -90, "maximum" = 90))]
    pub level: Option<Quantity>,
    /// What a digital level on the face reads along its steepest line: 0 where the face
    /// lies level, 90 where it is plumb, negative where it looks downward, which 'toward'
    /// may say in its place.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = -90, "maximum" = 90))]
    pub face_level: Option<Quantity>,
    /// Which way the port points over the ground, clockwise from the job's 'ahead' for
    /// someone who looks down.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = -360, "maximum" = 360))]
    pub heading: Option<Quantity>,
    /// Points on the rim, three or more: on the face, all at one distance from the center.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<[Quantity; 3]>>")]
    pub rim: Option<Vec<Vec<Quantity>>>,
    /// The rim's diameter by caliper, where points of the rim or outside were touched.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub rim_diameter: Option<Quantity>,
    /// Points anywhere on the outside of the port's tube, behind its face: they share the
    /// rim's diameter, and tell its axis the better the farther back they lie.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<[Quantity; 3]>>")]
    pub outside: Option<Vec<Vec<Quantity>>>,
    /// Points anywhere on the face.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<[Quantity; 3]>>")]
    pub face: Option<Vec<Vec<Quantity>>>,
    /// Middles of bolt holes, on the face.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<[Quantity; 3]>>")]
    pub bolts: Option<Vec<Vec<Quantity>>>,
    /// The bolt circle's diameter. Default: not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub bolt_circle: Option<Quantity>,
    /// Points along a straight rod that is held in the middle of the port, on its axis.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<RodFile>>")]
    pub rod: Option<Vec<RodFile>>,
    /// Points along a straight rod that is laid through the bore, beside its axis.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<[Quantity; 3]>>")]
    pub laid_rod: Option<Vec<Vec<Quantity>>>,
    /// Tape readings from pins.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<TapeFile>>")]
    pub tape: Option<Vec<TapeFile>>,
    /// How far the tip of a rod held in the middle of the port is out of the face.
    /// Default: not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub tip: Option<Quantity>,
    /// An open rim of one of the job's scans.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ScanRimFile>")]
    pub scan_rim: Option<ScanRimFile>,
    /// About which way is out, x, y, z: of two directions that fit, the one that is meant.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Heading>")]
    pub toward: Option<Vec<Quantity>>,
    /// About where the center is: of two places that fit, the one that is meant.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<[Quantity; 3]>")]
    pub near: Option<Vec<Quantity>>,
}

/// A point on a rod: x, y, z alone, or with how far out of the face it is.
#[derive(Clone, Debug, Serialize)]
#[serde(untagged)]
pub(super) enum RodFile {
    Bare(Vec<Quantity>),
    Point(RodPointFile),
}

impl<'de> Deserialize<'de> for RodFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        short_or_object(deserializer, Self::Bare, Self::Point)
    }
}

impl JsonSchema for RodFile {
    fn schema_name() -> Cow<'static, str> {
        "RodPoint".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let bare = generator.subschema_for::<[Quantity; 3]>();
        let point = generator.subschema_for::<RodPointFile>();
        json_schema!({ "anyOf": [bare, point] })
    }
}

/// A point on a rod.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct RodPointFile {
    /// Where: x, y, z, on the rod's middle line.
    #[schemars(required, with = "[Quantity; 3]")]
    pub at: Option<Vec<Quantity>>,
    /// How far out of the face it is, along the rod; 0 at the face. Default: not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub out: Option<Quantity>,
}

/// What the tape reads from a pin.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, transform = rules::of_tape)]
pub(super) struct TapeFile {
    /// The pin's name.
    #[schemars(required, with = "Filled")]
    pub pin: Option<Text>,
    /// To the center of the face.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub center: Option<Quantity>,
    /// To the tip of a rod held in the middle of the port.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub tip: Option<Quantity>,
}

/// An open rim of a scan.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct ScanRimFile {
    /// The scan's name.
    #[schemars(required, with = "Filled")]
    pub scan: Option<Text>,
    /// About the middle of the opening, in the job's frame, once the scan is in its place.
    #[schemars(required, with = "[Quantity; 3]")]
    pub near: Option<Vec<Quantity>>,
}
