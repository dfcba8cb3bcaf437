//! [`Starter`]: a first job file, to be filled in with measurements.

use super::file::{JobFile, PortFile, TubeFile};
use super::file_values::{Quantity, Text};
use super::measured_file::OutwardFile;
use super::run_file::RunFile;
use serde_json::{Number, Value};
use std::collections::BTreeMap;

/// What a starter job needs to know. Lengths are written as given: `2.5`,
/// `"2 1/2 in"`.
#[derive(Clone, Debug, PartialEq)]
pub struct Starter {
    /// Unit of numbers without one.
    pub units: String,
    /// Outside diameter.
    pub od: String,
    /// Wall thickness.
    pub wall: String,
    /// Material.
    pub material: String,
    /// The run's name.
    pub run: String,
    /// Where it begins.
    pub from: StarterPort,
    /// Where it ends.
    pub to: StarterPort,
}

/// One port of a starter job.
#[derive(Clone, Debug, PartialEq)]
pub struct StarterPort {
    /// Its name.
    pub name: String,
    /// Center of the face: x, y, z.
    pub center: [String; 3],
    /// Out of the face: x, y, z.
    pub outward: [String; 3],
}

impl Starter {
    /// The job file's text: pretty JSON with a newline at the end.
    pub fn to_json(&self) -> String {
        let file = JobFile {
            units: Some(Text(Value::String(self.units.clone()))),
            tube: Some(TubeFile {
                od: Some(quantity(&self.od)),
                wall: Some(quantity(&self.wall)),
                material: Some(Text(Value::String(self.material.clone()))),
                ..TubeFile::default()
            }),
            ports: Some(BTreeMap::from([port(&self.from), port(&self.to)])),
            runs: Some(vec![RunFile {
                name: Some(Text(Value::String(self.run.clone()))),
                from: Some(Text(Value::String(self.from.name.clone()))),
                to: Some(Text(Value::String(self.to.name.clone()))),
                ..RunFile::default()
            }]),
            ..JobFile::default()
        };
        // Strings and numbers only: nothing that serializing could refuse.
        let mut text = serde_json::to_string_pretty(&file).unwrap_or_default();
        text.push('\n');
        text
    }
}

fn port(port: &StarterPort) -> (String, PortFile) {
    let list = |values: &[String; 3]| Some(values.iter().map(|v| quantity(v)).collect());
    let file = PortFile {
        center: list(&port.center),
        outward: list(&port.outward).map(OutwardFile::Vector),
        ..PortFile::default()
    };
    (port.name.clone(), file)
}

/// A plain number where the text is one, else the text.
fn quantity(text: &str) -> Quantity {
    let text = text.trim();
    let whole = text.parse::<i64>().ok().map(Number::from);
    let number = whole.or_else(|| text.parse::<f64>().ok().and_then(Number::from_f64));
    Quantity(number.map_or_else(|| Value::String(text.to_owned()), Value::Number))
}
