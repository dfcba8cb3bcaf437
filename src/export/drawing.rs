//! `run.svg`: a shaded isometric view of the runs with piece numbers.
//!
//! Pieces are convex and do not overlap, so drawing them from back to front hides
//! what is behind.

use super::{ExportError, Exporter, OutFile};
use crate::geometry::{Direction, Point, Vector, perpendicular};
use crate::plan::Plan;
use crate::run::{Joint, Placed};
use crate::tube::Facets;
use crate::units::Length;
use svg::Document;
use svg::node::element::{Circle, Polygon, Text};

const FILE: &str = "run.svg";

/// Width of the picture in its own units; height follows.
const WIDTH: f64 = 900.0;
/// White round the runs.
const MARGIN: f64 = 40.0;
/// Flats round the tube: enough to look round.
const FLATS: u32 = 48;
/// Gray of a flat that faces away from the light, and what full light adds.
const SHADE: (f64, f64) = (95.0, 145.0);

/// Writes `run.svg`.
#[derive(Clone, Copy, Debug, Default)]
pub struct Drawing;

impl Exporter for Drawing {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let view = View::isometric();
        let mut faces = Vec::new();
        let mut labels = Vec::new();
        for planned in &plan.runs {
            let run = planned.run();
            let radius = run.tube().radius();
            for (i, placed) in run.pieces().iter().enumerate() {
                let (start, end) = (&run.joints()[i], &run.joints()[i + 1]);
                faces.extend(piece_faces(placed, start, end, radius, &view));
                let middle = nalgebra::center(&start.plane.point, &end.plane.point);
                labels.push((middle + view.toward.into_inner() * radius.mm(), i + 1));
            }
        }
        faces.sort_by(|a, b| a.depth.total_cmp(&b.depth));
        let mut bytes = Vec::new();
        svg::write(&mut bytes, &draw(&faces, &labels, &view))
            .map_err(|error| ExportError::new(FILE, error))?;
        bytes.push(b'\n');
        Ok(vec![OutFile::new(FILE, bytes)])
    }
}

/// Where one looks from.
struct View {
    toward: Direction,
    right: Direction,
    up: Direction,
    light: Direction,
}

impl View {
    /// From the corner (1, −1, 1), z up.
    fn isometric() -> Self {
        let toward = Direction::new_normalize(Vector::new(1.0, -1.0, 1.0));
        let right = Direction::new_normalize(Vector::z().cross(&toward));
        let up = Direction::new_normalize(toward.cross(&right));
        let light = Direction::new_normalize(
            toward.into_inner() + up.into_inner() * 0.8 - right.into_inner() * 0.5,
        );
        Self {
            toward,
            right,
            up,
            light,
        }
    }

    /// Position on the picture, y down, not yet scaled.
    fn flat(&self, point: &Point) -> [f64; 2] {
        [point.coords.dot(&self.right), -point.coords.dot(&self.up)]
    }
}

/// One flat, ready to be drawn.
struct Face {
    corners: Vec<Point>,
    depth: f64,
    gray: f64,
    edge: bool,
}

/// The visible flats of one piece and the ends that face the viewer.
fn piece_faces(
    placed: &Placed,
    start: &Joint,
    end: &Joint,
    radius: Length,
    view: &View,
) -> Vec<Face> {
    let mark = perpendicular(&placed.axis);
    let ring = |joint: &Joint| -> Vec<Point> {
        let across = placed.axis.cross(&mark);
        Facets::at_least(FLATS)
            .clocks()
            .map(|clock| {
                let (sin, cos) = clock.sin_cos();
                let off = (mark.into_inner() * cos + across * sin) * radius.mm();
                let point = joint.plane.point + off;
                point + placed.axis.into_inner() * joint.plane.reach(&point, &placed.axis)
            })
            .collect()
    };
    let (from, to) = (ring(start), ring(end));
    let mut faces = Vec::new();
    for i in 0..from.len() {
        let next = (i + 1) % from.len();
        let out = (from[i] - start.plane.point) + (from[next] - start.plane.point);
        let out = out - placed.axis.into_inner() * placed.axis.dot(&out);
        faces.push((
            vec![from[i], from[next], to[next], to[i]],
            Direction::new_normalize(out),
            false,
        ));
    }
    faces.push((from, -start.plane.normal, true));
    faces.push((to, end.plane.normal, true));
    faces
        .into_iter()
        .filter(|(_, normal, _)| normal.dot(&view.toward) > 0.0)
        .map(|(corners, normal, edge)| {
            let sum = corners
                .iter()
                .fold(Vector::zeros(), |sum, p| sum + p.coords);
            Face {
                depth: sum.dot(&view.toward) / corners.len() as f64,
                gray: SHADE.0 + SHADE.1 * normal.dot(&view.light).max(0.0),
                corners,
                edge,
            }
        })
        .collect()
}

fn draw(faces: &[Face], labels: &[(Point, usize)], view: &View) -> Document {
    let corners = faces
        .iter()
        .flat_map(|face| &face.corners)
        .map(|p| view.flat(p));
    let (low, high) = corners.fold(
        ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]),
        |(low, high), [x, y]| {
            (
                [low[0].min(x), low[1].min(y)],
                [high[0].max(x), high[1].max(y)],
            )
        },
    );
    let scale = (WIDTH - 2.0 * MARGIN) / (high[0] - low[0]).max(high[1] - low[1]).max(1.0);
    let place = |p: &Point| {
        let [x, y] = view.flat(p);
        [MARGIN + (x - low[0]) * scale, MARGIN + (y - low[1]) * scale]
    };
    let width = (high[0] - low[0])
        .mul_add(scale, 2.0 * MARGIN)
        .max(2.0 * MARGIN);
    let height = (high[1] - low[1])
        .mul_add(scale, 2.0 * MARGIN)
        .max(2.0 * MARGIN);
    let mut document = Document::new()
        .set("viewBox", format!("0 0 {width:.1} {height:.1}"))
        .set("width", format!("{width:.1}"))
        .set("height", format!("{height:.1}"))
        .set("font-family", "sans-serif");
    for face in faces {
        let points: Vec<String> = face
            .corners
            .iter()
            .map(&place)
            .map(|[x, y]| format!("{x:.2},{y:.2}"))
            .collect();
        let gray = face.gray.round();
        let fill = format!("rgb({gray},{gray},{})", (gray + 8.0).min(255.0));
        let stroke = if face.edge {
            "#222".to_owned()
        } else {
            fill.clone()
        };
        document = document.add(
            Polygon::new()
                .set("points", points.join(" "))
                .set("fill", fill)
                .set("stroke", stroke)
                .set("stroke-width", if face.edge { 1.2 } else { 0.6 })
                .set("stroke-linejoin", "round"),
        );
    }
    for (point, number) in labels {
        let [x, y] = place(point);
        document = document
            .add(
                Circle::new()
                    .set("cx", format!("{x:.2}"))
                    .set("cy", format!("{y:.2}"))
                    .set("r", 9)
                    .set("fill", "white")
                    .set("stroke", "#222"),
            )
            .add(
                Text::new(number.to_string())
                    .set("x", format!("{x:.2}"))
                    .set("y", format!("{:.2}", y + 4.0))
                    .set("font-size", 12)
                    .set("text-anchor", "middle"),
            );
    }
    document
}
