//! The job file's types: the file format, and the schema made from it.
//!
//! Every field may be absent here; `build` says what is missing. Quantities hold
//! whatever was written, so that one wrong value does not hide the next.

use super::accuracy::AccuracyFile;
use super::file_values::{BoxFile, Quantity, Text};
use super::measured_file::{GoodToFile, MeasuredFile, MeasuringFile, OutwardFile};
use super::rates_file::RatesFile;
use super::scan_file::ScanFile;
use super::stick_file::{LeftoverFile, StickFile};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::Value;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// A tube-run job: what to connect, with which tube, in which shop.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(title = "Runwright job", deny_unknown_fields)]
pub(super) struct JobFile {
    /// Where this schema lives, for editors.
    #[serde(rename = "$schema", skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub schema: Option<String>,
    /// What the job is called on paper. Default: the file's name.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub name: Option<Text>,
    /// Unit of every number without one, and of what is printed: in, mm, cm, m or ft.
    #[schemars(required, with = "UnitName")]
    pub units: Option<Text>,
    /// The tube that runs are made of.
    #[schemars(required, with = "TubeFile")]
    pub tube: Option<TubeFile>,
    /// Fixed places to measure from, by name: x, y, z of each.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<BTreeMap<String, [Quantity; 3]>>")]
    pub pins: Option<BTreeMap<String, Vec<Quantity>>>,
    /// How good the shop's measuring is.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<MeasuringFile>")]
    pub measuring: Option<MeasuringFile>,
    /// Straight up in the job's frame, for levels. Default: [0, 0, 1].
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<[f64; 3]>")]
    pub up: Option<Vec<Quantity>>,
    /// Where headings begin, over the ground. Default: [1, 0, 0].
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<[f64; 3]>")]
    pub ahead: Option<Vec<Quantity>>,
    /// Flanges and tube ends, by name.
    #[schemars(required, with = "BTreeMap<String, PortFile>")]
    pub ports: Option<BTreeMap<String, PortFile>>,
    /// Runs of tube, each from one port to another.
    #[schemars(required, with = "Vec<RunFile>")]
    pub runs: Option<Vec<RunFile>>,
    /// What the shop can do and what it costs.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ShopFile>")]
    pub shop: Option<ShopFile>,
    /// What is in the way, and the room there is.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<SceneFile>")]
    pub scene: Option<SceneFile>,
    /// Groups of runs, by name, that should come out equally long: the longest of each
    /// sets the length that the others are stretched to.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<Vec<String>>>")]
    pub equal_length: Option<Vec<Vec<Text>>>,
}

/// Unit names, for the schema.
#[derive(JsonSchema)]
#[schemars(rename_all = "lowercase")]
#[allow(dead_code, reason = "only its schema is used")]
enum UnitName {
    In,
    Mm,
    Cm,
    M,
    Ft,
}

/// Round tube.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct TubeFile {
    /// Outside diameter.
    #[schemars(required, with = "Quantity")]
    pub od: Option<Quantity>,
    /// Wall thickness.
    #[schemars(required, with = "Quantity")]
    pub wall: Option<Quantity>,
    /// Material as the shop calls it, such as 304. Default: unspecified.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub material: Option<Text>,
    /// Density, g/cm³. Default: that of the material, where its name is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>")]
    pub density: Option<Quantity>,
    /// Mean coefficient of thermal expansion, 10⁻⁶/°C. Default: that of the material, where
    /// its name is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>")]
    pub expansion: Option<Quantity>,
    /// Whether it has a lengthwise weld seam. Default: true.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<bool>")]
    pub seam: Option<Quantity>,
}

/// A flange or tube end.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct PortFile {
    /// Center of the face: x, y, z. Needed unless it is measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<[Quantity; 3]>")]
    pub center: Option<Vec<Quantity>>,
    /// Direction from the face into free space: x, y, z, of any length but zero; azimuth
    /// and elevation; or level and heading. Needed unless it is measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<OutwardFile>")]
    pub outward: Option<OutwardFile>,
    /// How well center and outward are known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<GoodToFile>")]
    pub good_to: Option<GoodToFile>,
    /// What was measured of the port, in place of center and outward.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<MeasuredFile>")]
    pub measured: Option<MeasuredFile>,
    /// How far the tube goes into the flange past its face. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub socket: Option<Quantity>,
    /// Least straight tube out of the face before a bend. Default: 1/2 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub straight: Option<Quantity>,
    /// Where the center may still go, up to three ways. Default: nowhere.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<SlideFile>>")]
    pub slide: Option<Vec<SlideFile>>,
    /// How far the outward direction may lean, any way round. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub cone: Option<Quantity>,
    /// The flange about the port, and room for a wrench on its bolts. Default: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<FlangeFile>")]
    pub flange: Option<FlangeFile>,
}

/// A flange about a port. All runs keep out of the room in front of it, but for the tube
/// that leaves the port straight.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct FlangeFile {
    /// Radius that holds the flange and the wrench on its bolts.
    #[schemars(required, with = "Quantity")]
    pub radius: Option<Quantity>,
    /// How far out of the face bolts and wrench need room; the port's tube stays straight
    /// so far.
    #[schemars(required, with = "Quantity")]
    pub wrench: Option<Quantity>,
}

/// One run of tube.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct RunFile {
    /// The run's name, unlike any other's.
    #[schemars(required, with = "String")]
    pub name: Option<Text>,
    /// Name of the port where flow enters.
    #[schemars(required, with = "String")]
    pub from: Option<Text>,
    /// Name of the port where flow leaves.
    #[schemars(required, with = "String")]
    pub to: Option<Text>,
    /// Centerline radius of pie bends, or the least and greatest that will do, or a list
    /// of those that will. Default: 1.5 times the outside diameter.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ClrFile>")]
    pub clr: Option<ClrFile>,
    /// Least straight tube between two bends. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub between: Option<Quantity>,
    /// What bends are made of: pies, stock or either. Default: either.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<MadeOf>")]
    pub made_of: Option<Text>,
    /// Whether every miter is to be cut at one angle. Default: false.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<bool>")]
    pub one_setting: Option<Quantity>,
    /// Most bends, 0 to 5. Default: 5.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<u32>")]
    pub max_bends: Option<Quantity>,
    /// Greatest radius that the outside of a bend may swing through. Default: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub max_swing: Option<Quantity>,
    /// Holes and brackets to go through, in order of flow.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<PassFile>>")]
    pub through: Option<Vec<PassFile>>,
    /// Length that is wished for, face to face. Default: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub length: Option<Quantity>,
    /// Thickness of a wrap or heat shield round the tube, which keeps clear too.
    /// Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub wrap: Option<Quantity>,
    /// Tube of this run, if unlike the job's.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<TubeFile>")]
    pub tube: Option<TubeFile>,
    /// An existing tube that the run is a copy of: it is not searched for. Default: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<CopyFile>")]
    pub copy: Option<CopyFile>,
    /// How hot the tube gets, such as "650 C" or "1200 F"; a number alone is in °F beside
    /// inches and feet, else in °C. Default: not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub hot: Option<Quantity>,
    /// How cold it is when it is fitted. Default: 20 °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub cold: Option<Quantity>,
    /// Whether a slip joint or a flexible part takes up growth by heat. Default: false.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<bool>")]
    pub flex: Option<Quantity>,
    /// Whether the quote counts fitting and welding both flanges. Default: false; they are
    /// shown apart.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<bool>")]
    pub weld_flanges: Option<Quantity>,
}

/// An existing miter-cut tube, touched in order of flow between the run's ports: one of
/// joints, pieces and centerline.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct CopyFile {
    /// The middle of each joint: x, y, z.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<[Quantity; 3]>>")]
    pub joints: Option<Vec<Vec<Quantity>>>,
    /// Points on the outside of each piece, from port to port: 4 or more a piece, round
    /// it and along it; the first and last piece may have fewer, or none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<Vec<[Quantity; 3]>>>")]
    pub pieces: Option<Vec<Vec<Vec<Quantity>>>>,
    /// Points along the centerline, 3 or more a piece; where the joints are is found.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<[Quantity; 3]>>")]
    pub centerline: Option<Vec<Vec<Quantity>>>,
    /// How far a point of the centerline may be from the copy. Default: 1/16 in, or 4.5
    /// times the accuracy if that is more.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub within: Option<Quantity>,
    /// Standard deviation of a point along each axis. Default: what `measuring` says of a
    /// point.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub accuracy: Option<Quantity>,
}

/// Ways to make bends, for the schema.
#[derive(JsonSchema)]
#[schemars(rename_all = "lowercase")]
#[allow(dead_code, reason = "only its schema is used")]
enum MadeOf {
    Pies,
    Stock,
    Either,
}

/// Ways for seams to lie, for the schema.
#[derive(JsonSchema)]
#[schemars(rename_all = "snake_case")]
#[allow(dead_code, reason = "only its schema is used")]
enum SeamWord {
    Staggered,
    InLine,
    Any,
}

/// One CLR, a list, or a range.
#[derive(Clone, Debug, Serialize)]
#[serde(untagged)]
pub(super) enum ClrFile {
    One(Quantity),
    List(Vec<Quantity>),
    Range(ClrRange),
}

/// The least and greatest CLR that will do.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct ClrRange {
    /// Least centerline radius.
    #[schemars(required, with = "Quantity")]
    pub min: Option<Quantity>,
    /// Greatest centerline radius.
    #[schemars(required, with = "Quantity")]
    pub max: Option<Quantity>,
}

impl<'de> Deserialize<'de> for ClrFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let value = Value::deserialize(deserializer)?;
        if value.is_object() {
            ClrRange::deserialize(value)
                .map(Self::Range)
                .map_err(serde::de::Error::custom)
        } else if let Value::Array(values) = value {
            Ok(Self::List(values.into_iter().map(Quantity).collect()))
        } else {
            Ok(Self::One(Quantity(value)))
        }
    }
}

impl JsonSchema for ClrFile {
    fn schema_name() -> Cow<'static, str> {
        "Clr".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let one = generator.subschema_for::<Quantity>();
        let list = generator.subschema_for::<Vec<Quantity>>();
        let range = generator.subschema_for::<ClrRange>();
        json_schema!({ "anyOf": [one, list, range] })
    }
}

/// The shop.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[serde(default)]
#[schemars(deny_unknown_fields)]
pub(super) struct ShopFile {
    /// Saw angle off square that bends are divided for. Default: 9 deg.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub usual_cut: Option<Quantity>,
    /// Greatest saw angle off square. Default: 11.25 deg.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub max_cut: Option<Quantity>,
    /// Angles that the saw has stops for; miters are cut at these alone. Default: any
    /// angle.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<Quantity>>")]
    pub saw_angles: Option<Vec<Quantity>>,
    /// Stock bends that may be used. Default: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<StockFile>>")]
    pub bends: Option<Vec<StockFile>>,
    /// What a mandrel bend of 90° is bought for, to set pies beside it where the shop lists
    /// no bends. Default: not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>")]
    pub mandrel_bend_price: Option<Quantity>,
    /// Straight tube past such a bend's arc at both ends. Default: 4 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub mandrel_bend_leg: Option<Quantity>,
    /// Lengths that tube is bought in. Default: one stick as long as each run takes.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<StickFile>>")]
    pub sticks: Option<Vec<StickFile>>,
    /// Leftovers on the shelf, each there once: lengths at their shortest sides, or which
    /// tube they are of too. Default: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<LeftoverFile>>")]
    pub shelf: Option<Vec<LeftoverFile>>,
    /// Shortest leftover worth putting back on the shelf. Default: 6 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub least_leftover: Option<Quantity>,
    /// Least short side of any piece. Default: 1/8 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub min_short_side: Option<Quantity>,
    /// Width of metal the saw takes. Default: 1/16 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub kerf: Option<Quantity>,
    /// Gap left between faces at fit-up, square to the joint. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub gap: Option<Quantity>,
    /// How much a weld pulls a joint together. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub shrinkage: Option<Quantity>,
    /// Finest inch fraction to print: 1, 2, 4, 8, 16, 32, 64 or 128. Default: 32.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<u32>")]
    pub fraction: Option<Quantity>,
    /// How the weld seams of neighboring pieces should lie: staggered, in_line or any.
    /// All keep off the inside and outside of bends. Default: staggered.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<SeamWord>")]
    pub seams: Option<Text>,
    /// How well it cuts, measures and clocks.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<AccuracyFile>")]
    pub accuracy: Option<AccuracyFile>,
    /// What time and tube cost.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<RatesFile>")]
    pub rates: Option<RatesFile>,
}

/// A way that a port's center may go.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct SlideFile {
    /// Direction: x, y, z, of any length but zero.
    #[schemars(required, with = "[f64; 3]")]
    pub along: Option<Vec<Quantity>>,
    /// How far it may go against that direction. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub back: Option<Quantity>,
    /// How far it may go that way. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub ahead: Option<Quantity>,
}

/// A hole in a panel, or a bracket, that a run goes through on a straight.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct PassFile {
    /// Its name.
    #[schemars(required, with = "String")]
    pub name: Option<Text>,
    /// Middle: x, y, z.
    #[schemars(required, with = "[Quantity; 3]")]
    pub center: Option<Vec<Quantity>>,
    /// Square to the panel that a hole is in, either way. Default: a bracket, which
    /// turns with the tube.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<[f64; 3]>")]
    pub direction: Option<Vec<Quantity>>,
    /// Radius of the hole, which the whole tube goes through; or how far the centerline
    /// may be off a bracket's middle.
    #[schemars(required, with = "Quantity")]
    pub radius: Option<Quantity>,
}

/// What is in the way, and the room there is.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[serde(default)]
#[schemars(deny_unknown_fields)]
pub(super) struct SceneFile {
    /// Distance to keep between the tube's outside and everything here. Default: 3/8 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub clearance: Option<Quantity>,
    /// Bodies that the runs keep out of.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<BodyFile>>")]
    pub keep_out: Option<Vec<BodyFile>>,
    /// Bodies that the runs stay within.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<BodyFile>>")]
    pub keep_in: Option<Vec<BodyFile>>,
    /// Scanned or modeled surfaces that the runs keep out of.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<ScanFile>>")]
    pub scans: Option<Vec<ScanFile>>,
}

/// A body: one of box, plane and cylinder.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct BodyFile {
    /// Its name.
    #[schemars(required, with = "String")]
    pub name: Option<Text>,
    /// Distance to keep from it. Default: the scene's.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub clearance: Option<Quantity>,
    /// A box along the axes.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<BoxFile>")]
    pub r#box: Option<BoxFile>,
    /// Everything behind a plane: the ground, a hood.
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
    /// From the body into free space.
    #[schemars(required, with = "[f64; 3]")]
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
    #[schemars(required, with = "Quantity")]
    pub radius: Option<Quantity>,
}

/// A stock bend: a standard elbow, or its measures.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct StockFile {
    /// Butt-welding elbow by ASME B16.9: nominal pipe size and pattern, such as
    /// "2 LR 90", "2 1/2 LR 45" or "3 SR 90".
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub b16_9: Option<Text>,
    /// What it is called. Default: the standard elbow's name.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub name: Option<Text>,
    /// Centerline radius. Needed unless it is a standard elbow.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub clr: Option<Quantity>,
    /// Its turn as bought. Needed unless it is a standard elbow.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub turn: Option<Quantity>,
    /// Straight tube past the arc at both ends. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub leg: Option<Quantity>,
    /// Outside diameter. Default: that of the run's tube.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub od: Option<Quantity>,
    /// What one is bought for. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>")]
    pub price: Option<Quantity>,
    /// How many are on the shelf. Default: as many as needed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<u32>")]
    pub count: Option<Quantity>,
}

/// The job file's JSON Schema, made from the types.
pub fn schema() -> Value {
    SchemaGenerator::default()
        .into_root_schema_for::<JobFile>()
        .to_value()
}

/// Keys that the schema allows where `steps` lead from its root; empty if none are
/// fixed there.
pub(super) fn known_keys(root: &Value, steps: &[super::path::Step]) -> Vec<String> {
    let nodes = at(root, steps);
    let objects = nodes.iter().flat_map(|node| branches(root, node));
    let properties = objects.filter_map(|node| node.get("properties")?.as_object());
    properties.flat_map(|keys| keys.keys().cloned()).collect()
}

/// The schema's nodes where `steps` lead from its root.
fn at<'a>(root: &'a Value, steps: &[super::path::Step]) -> Vec<&'a Value> {
    let mut here = vec![root];
    for step in steps {
        here = here
            .iter()
            .flat_map(|node| branches(root, node))
            .filter_map(|node| match step {
                super::path::Step::Index(_) => node.get("items"),
                super::path::Step::Key(key) => node
                    .get("properties")
                    .and_then(|properties| properties.get(key))
                    .or_else(|| node.get("additionalProperties").filter(|n| n.is_object())),
            })
            .collect();
    }
    here
}

/// Whether the schema allows a list where `steps` lead from its root.
pub(super) fn allows_list(root: &Value, steps: &[super::path::Step]) -> bool {
    at(root, steps)
        .into_iter()
        .flat_map(|node| branches(root, node))
        .any(|node| node.get("items").is_some())
}

/// `node` with references followed and alternatives spread out.
fn branches<'a>(root: &'a Value, node: &'a Value) -> Vec<&'a Value> {
    let target = node
        .get("$ref")
        .and_then(Value::as_str)
        .and_then(|reference| root.pointer(reference.strip_prefix('#')?))
        .unwrap_or(node);
    match target.get("anyOf").and_then(Value::as_array) {
        Some(options) => options
            .iter()
            .flat_map(|node| branches(root, node))
            .collect(),
        None => vec![target],
    }
}
