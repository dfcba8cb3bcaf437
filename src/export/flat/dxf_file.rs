//! A drawing as DXF: millimeters, each layer by its name in plain words.

use super::drawing::{Drawing, Shape};
use super::flatten::points;
use super::layer::Layer;
use super::letters::CAPITALS;
use super::pen::{Dash, Pen};
use super::svg_file::rounded;
use super::text::{Anchor, Text};
use crate::tube::FlatPoint;
use dxf::entities::{self, Circle, Entity, EntityType, Line, LwPolyline};
use dxf::enums::{AcadVersion, DrawingUnits, HorizontalTextJustification, Units};
use dxf::tables::{self, LineType};
use dxf::{Color, LwPolylineVertex, Point};

/// How far a chord may lie off the curve that it stands for, mm: a tenth of what a laser
/// is good to (common practice, no source).
const TOLERANCE: f64 = 0.002;
/// The variables that hold when a file was made: they are all set to [`MADE`], so that
/// the same drawing is the same bytes.
const TIMES: [&str; 4] = ["$TDCREATE", "$TDUCREATE", "$TDUPDATE", "$TDUUPDATE"];
/// The variable that holds the next free handle.
const SEED: &str = "$HANDSEED";
/// Start of the year 2000 as a Julian date.
const MADE: &str = "2451544.5";

impl Drawing {
    /// The drawing as a DXF file of the year 2000's format, which machines and programs
    /// read alike. Curves become polylines within 0.002 mm.
    pub fn dxf(&self) -> Result<Vec<u8>, dxf::DxfError> {
        let mut file = dxf::Drawing::new();
        file.header.version = AcadVersion::R2000;
        file.header.default_drawing_units = Units::Millimeters;
        file.header.drawing_units = DrawingUnits::Metric;
        // A new one's are random.
        file.header.fingerprint_guid = Default::default();
        file.header.version_guid = Default::default();
        let area = self.area();
        if area.left <= area.right {
            file.header.minimum_drawing_extents = point([area.left, area.low]);
            file.header.maximum_drawing_extents = point([area.right, area.high]);
        }
        for dash in Dash::ALL {
            add_dash(&mut file, dash);
        }
        for layer in Layer::ALL {
            let drawn = self.items().iter().any(|item| item.layer == layer);
            if drawn {
                file.add_layer(tables::Layer {
                    name: layer.name().to_owned(),
                    color: Color::from_index(layer.color().0),
                    ..Default::default()
                });
            }
        }
        for item in self.items() {
            for (specific, dash) in entities_of(&item.shape) {
                let mut entity = Entity::new(specific);
                entity.common.layer = item.layer.name().to_owned();
                if dash != Dash::Solid {
                    entity.common.line_type_name = dash.name().to_owned();
                }
                file.add_entity(entity);
            }
        }
        let mut bytes = Vec::new();
        file.save(&mut bytes)?;
        Ok(finished(&bytes))
    }
}

fn add_dash(file: &mut dxf::Drawing, dash: Dash) {
    let lengths = dash.lengths();
    if lengths.is_empty() {
        return;
    }
    // Gaps are written as negative lengths.
    let signed = lengths.iter().enumerate();
    let signed = signed.map(|(i, length)| if i % 2 == 0 { *length } else { -length });
    file.add_line_type(LineType {
        name: dash.name().to_owned(),
        description: dash.name().to_lowercase(),
        element_count: lengths.len() as i32,
        total_pattern_length: lengths.iter().sum(),
        dash_dot_space_lengths: signed.collect(),
        complex_line_type_element_types: vec![0; lengths.len()],
        ..Default::default()
    });
}

fn entities_of(shape: &Shape) -> Vec<(EntityType, Dash)> {
    match shape {
        Shape::Line([from, to], Pen { dash, .. }) => {
            let line = Line::new(point(*from), point(*to));
            vec![(EntityType::Line(line), *dash)]
        }
        Shape::Path(path, pen) => {
            let strokes = path.strokes();
            let closed = path.is_closed() && strokes.len() == 1;
            let polyline = |stroke: &Vec<_>| {
                let points = points(stroke, TOLERANCE);
                (EntityType::LwPolyline(polyline(&points, closed)), pen.dash)
            };
            strokes.iter().map(polyline).collect()
        }
        Shape::Dot(center, radius) => {
            let circle = Circle::new(point(*center), *radius);
            vec![(EntityType::Circle(circle), Dash::Solid)]
        }
        Shape::Text(text) => vec![(EntityType::Text(words(text)), Dash::Solid)],
    }
}

fn polyline(points: &[FlatPoint], closed: bool) -> LwPolyline {
    // A closed one goes back by itself.
    let points = match points {
        [first, rest @ .., last] if closed && first == last && !rest.is_empty() => {
            points.split_last().map_or(points, |(_, before)| before)
        }
        _ => points,
    };
    let vertex = |&[x, y]: &FlatPoint| LwPolylineVertex {
        x: rounded(x),
        y: rounded(y),
        ..Default::default()
    };
    let mut line = LwPolyline {
        vertices: points.iter().map(vertex).collect(),
        ..Default::default()
    };
    line.set_is_closed(closed);
    line
}

fn words(text: &Text) -> entities::Text {
    let justification = match text.anchor {
        Anchor::Start => HorizontalTextJustification::Left,
        Anchor::Middle => HorizontalTextJustification::Center,
        Anchor::End => HorizontalTextJustification::Right,
    };
    let at = point(text.at);
    entities::Text {
        location: at.clone(),
        second_alignment_point: match text.anchor {
            Anchor::Start => Point::origin(),
            Anchor::Middle | Anchor::End => at,
        },
        text_height: text.size * CAPITALS,
        value: text.content.clone(),
        rotation: if text.upward { 90.0 } else { 0.0 },
        horizontal_text_justification: justification,
        ..Default::default()
    }
}

fn point([x, y]: FlatPoint) -> Point {
    Point::new(rounded(x), rounded(y), 0.0)
}

/// The file with its times fixed, and with handles for its tables, which the library
/// leaves out and the format asks for.
fn finished(bytes: &[u8]) -> Vec<u8> {
    // What the library writes for this version is plain ASCII, code and value in turn.
    let text = String::from_utf8_lossy(bytes);
    let lines: Vec<&str> = text.split("\r\n").collect();
    let pairs: Vec<[&str; 2]> = lines
        .chunks_exact(2)
        .map(|pair| [pair[0], pair[1]])
        .collect();
    let is = |i: usize, code: &str, value: &str| {
        let pair = pairs.get(i);
        pair.is_some_and(|pair| pair[0].trim() == code && pair[1] == value)
    };
    let seed = (0..pairs.len()).find(|&i| is(i, "9", SEED));
    let seed = seed.and_then(|i| u64::from_str_radix(pairs.get(i + 1)?[1], 16).ok());
    let first = seed.unwrap_or(0);
    let tables = (0..pairs.len()).filter(|&i| is(i, "0", "TABLE")).count() as u64;
    let mut handles = first..;
    let mut finished = String::with_capacity(text.len() + 1024);
    for (i, [code, value]) in pairs.iter().copied().enumerate() {
        let after = |name: &str| i.checked_sub(1).is_some_and(|before| is(before, "9", name));
        let value = match () {
            () if TIMES.into_iter().any(after) => MADE.to_owned(),
            () if after(SEED) => format!("{:X}", first + tables),
            () => value.to_owned(),
        };
        finished.push_str(&format!("{code}\r\n{value}\r\n"));
        let names_table = i
            .checked_sub(1)
            .is_some_and(|before| is(before, "0", "TABLE"));
        if names_table && let Some(handle) = handles.next() {
            finished.push_str(&format!("  5\r\n{handle:X}\r\n"));
        }
    }
    finished.into_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::flat::Path;

    fn sample() -> Drawing {
        let mut drawing = Drawing::default();
        let corners = [[0.0, 0.0], [10.0, 0.0], [10.0, 5.0]];
        drawing.path(Layer::Cut, Pen::CUT, Path::through(corners).closed(true));
        drawing.line(Layer::Fold, Pen::FOLD, [[0.0, 1.0], [1.0, 1.0]]);
        drawing.dot(Layer::Marks, [2.0, 2.0], 0.5);
        drawing.text(Text::new([1.0, 2.0], 3.0, "↑ 90°\nnot a line").anchored(Anchor::Middle));
        drawing
    }

    #[test]
    fn it_reads_back_by_layer_in_millimeters() {
        let bytes = sample().dxf().unwrap();
        let read = dxf::Drawing::load(&mut bytes.as_slice()).unwrap();
        assert_eq!(read.header.default_drawing_units, Units::Millimeters);
        let layers: Vec<&str> = read.entities().map(|e| e.common.layer.as_str()).collect();
        assert_eq!(layers, ["cut", "fold", "marks", "text"]);
        let closed = read.entities().find_map(|entity| match &entity.specific {
            EntityType::LwPolyline(line) => Some((line.is_closed(), line.vertices.len())),
            _ => None,
        });
        assert_eq!(closed, Some((true, 3)));
    }

    #[test]
    fn the_same_drawing_is_the_same_bytes() {
        let bytes = sample().dxf().unwrap();
        std::thread::sleep(std::time::Duration::from_millis(1100));
        assert!(bytes == sample().dxf().unwrap());
        let text = String::from_utf8(bytes).unwrap();
        assert_eq!(text.matches(MADE).count(), TIMES.len());
    }
}
