//! `run.svg`: a shaded isometric view of the runs with piece numbers.
//!
//! Drawn from back to front, in strips short enough that a strip's middle tells
//! what hides what.

use super::{ExportError, Exporter, OutFile};
use crate::geometry::{Direction, Plane, Point, Vector, perpendicular};
use crate::plan::Plan;
use crate::run::{Joint, JointKind, Placed};
use crate::tube::Facets;
use crate::units::{Angle, Length};
use svg::Document;
use svg::node::element::{Circle, Polygon, Polyline, Text};

const FILE: &str = "run.svg";

/// Longer side of the picture in its own units.
const SIZE: f64 = 900.0;
/// White round the runs.
const MARGIN: f64 = 30.0;
/// Flats round the tube: enough to look round.
const FLATS: u32 = 48;
/// Longest strip along the tube, in radii.
const STRIP: f64 = 0.5;
/// Strips in a whole picture, all flats of a piece counting as one: bounds its size.
const MOST_STRIPS: f64 = 3000.0;
/// Gray of a flat that faces away from the light, and what full light adds.
const SHADE: (f64, f64) = (140.0, 105.0);
/// Gray of an open end, seen into the bore.
const BORE: f64 = 60.0;
/// How much nearer than the flats beside it a joint's line counts, in radii.
const LINE_LIFT: f64 = 0.4;

/// Writes `run.svg`.
#[derive(Clone, Copy, Debug, Default)]
pub struct Drawing;

impl Exporter for Drawing {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let view = View::isometric();
        let mut shapes = Vec::new();
        let mut labels = Vec::new();
        let pieces: usize = plan.runs.iter().map(|run| run.run().pieces().len()).sum();
        let most_strips = (MOST_STRIPS / pieces.max(1) as f64).max(1.0);
        for planned in &plan.runs {
            let run = planned.run();
            let radius = run.tube().radius();
            for (i, placed) in run.pieces().iter().enumerate() {
                let stretches = stretches(placed, [&run.joints()[i], &run.joints()[i + 1]], radius);
                for stretch in &stretches {
                    stretch.draw(&view, most_strips, &mut shapes);
                }
                if let Some(middle) = stretches.get(stretches.len() / 2) {
                    labels.push((middle.label(&view), i + 1));
                }
            }
        }
        shapes.sort_by(|a, b| a.depth.total_cmp(&b.depth));
        let mut bytes = Vec::new();
        svg::write(
            &mut bytes,
            &Picture::around(&shapes, view).draw(&shapes, &labels),
        )
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
    /// From the corner (1, −1, 1), z up, light from above the viewer's left shoulder.
    fn isometric() -> Self {
        let toward = Direction::new_normalize(Vector::new(1.0, -1.0, 1.0));
        let right = Direction::new_normalize(Vector::z().cross(&toward));
        let up = Direction::new_normalize(toward.cross(&right));
        let light = toward.into_inner() + up.into_inner() * 0.8 - right.into_inner() * 0.6;
        Self {
            toward,
            right,
            up,
            light: Direction::new_normalize(light),
        }
    }

    /// Position on the picture, y down, not yet scaled.
    fn flat(&self, point: &Point) -> [f64; 2] {
        [point.coords.dot(&self.right), -point.coords.dot(&self.up)]
    }

    fn depth(&self, points: &[Point]) -> f64 {
        let sum = points.iter().fold(Vector::zeros(), |sum, p| sum + p.coords);
        sum.dot(&self.toward) / points.len().max(1) as f64
    }
}

/// Something to draw.
struct Shape {
    points: Vec<Point>,
    depth: f64,
    /// Filled with this gray, or else an open dark line.
    fill: Option<f64>,
}

/// A straight stretch of one piece, ready to be looked at.
struct Seen {
    axis: Direction,
    ends: [End; 2],
    radius: Length,
}

/// One end of a stretch.
struct End {
    plane: Plane,
    ring: Vec<Point>,
    /// What meets here; `None` within a stock bend.
    kind: Option<JointKind>,
}

/// Greatest turn of one stretch of a stock bend.
const BEND_STEP: Angle = Angle::from_degrees(10.0);

/// The stretches of a piece: one, or as many as show a stock bend round.
fn stretches(placed: &Placed, joints: [&Joint; 2], radius: Length) -> Vec<Seen> {
    let [first, last] = joints.map(|joint| (joint.plane, Some(joint.kind)));
    let mut planes = vec![first];
    if let Some(arc) = placed.arc {
        let steps = (arc.turn() / BEND_STEP).ceil().max(1.0);
        planes.extend((0..=steps as u32).map(|step| {
            let (point, normal) = arc.at(arc.turn() * (f64::from(step) / steps));
            (Plane { point, normal }, None)
        }));
    }
    planes.push(last);
    planes
        .windows(2)
        .filter_map(|pair| {
            let along = pair[1].0.point - pair[0].0.point;
            let axis = Direction::try_new(along, SHORTEST_STRETCH)?;
            Some(Seen::new(axis, [pair[0], pair[1]], radius))
        })
        .collect()
}

/// Stretches shorter than this, mm, cannot be seen.
const SHORTEST_STRETCH: f64 = 1e-6;

impl Seen {
    fn new(axis: Direction, ends: [(Plane, Option<JointKind>); 2], radius: Length) -> Self {
        let mark = perpendicular(&axis);
        let across = axis.cross(&mark);
        let ring = |plane: &Plane| -> Vec<Point> {
            let round = |clock: Angle| {
                let (sin, cos) = clock.sin_cos();
                let off = (mark.into_inner() * cos + across * sin) * radius.mm();
                let point = plane.point + off;
                point + axis.into_inner() * plane.reach(&point, &axis)
            };
            Facets::at_least(FLATS).clocks().map(round).collect()
        };
        Self {
            axis,
            ends: ends.map(|(plane, kind)| End {
                ring: ring(&plane),
                plane,
                kind,
            }),
            radius,
        }
    }

    /// Outward normal of the flat after point `i`.
    fn normal(&self, i: usize) -> Direction {
        let End { plane, ring, .. } = &self.ends[0];
        let middle = (ring[i] - plane.point) + (ring[(i + 1) % ring.len()] - plane.point);
        let axis = self.axis.into_inner();
        Direction::new_normalize(middle - axis * axis.dot(&middle))
    }

    fn draw(&self, view: &View, most_strips: f64, shapes: &mut Vec<Shape>) {
        let [from, to] = [&self.ends[0].ring, &self.ends[1].ring];
        let length = Length::from_mm((self.ends[1].plane.point - self.ends[0].plane.point).norm());
        let strips = (length / (self.radius * STRIP))
            .ceil()
            .clamp(1.0, most_strips);
        for i in 0..from.len() {
            let next = (i + 1) % from.len();
            let normal = self.normal(i);
            if normal.dot(&view.toward) <= 0.0 {
                continue;
            }
            let gray = SHADE.0 + SHADE.1 * normal.dot(&view.light).max(0.0);
            let along =
                |corner: usize, part: f64| from[corner] + (to[corner] - from[corner]) * part;
            for strip in 0..strips as u32 {
                let (a, b) = (f64::from(strip) / strips, f64::from(strip + 1) / strips);
                let points = vec![along(i, a), along(next, a), along(next, b), along(i, b)];
                shapes.push(Shape {
                    depth: view.depth(&points),
                    points,
                    fill: Some(gray),
                });
            }
        }
        for (is_end, end) in self.ends.iter().enumerate() {
            if let Some(kind) = end.kind {
                self.draw_end(end, kind, is_end == 1, view, shapes);
            }
        }
    }

    /// The near half of a joint's ellipse as a line; an open end as a dark face.
    fn draw_end(
        &self,
        end: &End,
        kind: JointKind,
        is_end: bool,
        view: &View,
        shapes: &mut Vec<Shape>,
    ) {
        let ring = &end.ring;
        let normal = if is_end {
            end.plane.normal
        } else {
            -end.plane.normal
        };
        let open = kind == JointKind::Flange && normal.dot(&view.toward) > 0.0;
        if open {
            shapes.push(Shape {
                depth: view.depth(ring),
                points: ring.clone(),
                fill: Some(BORE),
            });
        }
        for i in 0..ring.len() {
            if open || self.normal(i).dot(&view.toward) > 0.0 {
                let points = vec![ring[i], ring[(i + 1) % ring.len()]];
                shapes.push(Shape {
                    depth: view.depth(&points) + (self.radius * LINE_LIFT).mm(),
                    points,
                    fill: None,
                });
            }
        }
    }

    /// Where the piece's number goes: on the side that faces the viewer.
    fn label(&self, view: &View) -> Point {
        let [start, end] = &self.ends;
        let axis = self.axis.into_inner();
        let out = view.toward.into_inner() - axis * axis.dot(&view.toward);
        let out = out / out.norm().max(f64::EPSILON);
        nalgebra::center(&start.plane.point, &end.plane.point) + out * self.radius.mm()
    }
}

/// The page.
struct Picture {
    view: View,
    low: [f64; 2],
    scale: f64,
    size: [f64; 2],
}

impl Picture {
    fn around(shapes: &[Shape], view: View) -> Self {
        let points = shapes.iter().flat_map(|shape| &shape.points);
        let (low, high) = points.map(|p| view.flat(p)).fold(
            ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]),
            |(low, high): ([f64; 2], [f64; 2]), [x, y]| {
                (
                    [low[0].min(x), low[1].min(y)],
                    [high[0].max(x), high[1].max(y)],
                )
            },
        );
        let (width, height) = (high[0] - low[0], high[1] - low[1]);
        let scale = (SIZE - 2.0 * MARGIN) / width.max(height).max(1.0);
        Self {
            view,
            low,
            scale,
            size: [width, height].map(|side| side * scale + 2.0 * MARGIN),
        }
    }

    fn place(&self, point: &Point) -> [f64; 2] {
        let [x, y] = self.view.flat(point);
        [
            MARGIN + (x - self.low[0]) * self.scale,
            MARGIN + (y - self.low[1]) * self.scale,
        ]
    }

    fn draw(&self, shapes: &[Shape], labels: &[(Point, usize)]) -> Document {
        let [width, height] = self.size;
        let mut document = Document::new()
            .set("viewBox", format!("0 0 {width:.1} {height:.1}"))
            .set("width", format!("{width:.1}"))
            .set("height", format!("{height:.1}"))
            .set("font-family", "sans-serif")
            .set("stroke-linejoin", "round")
            .set("stroke-linecap", "round");
        for shape in shapes {
            document = self.draw_shape(document, shape);
        }
        for (point, number) in labels {
            let [x, y] = self.place(point);
            let disc = Circle::new()
                .set("cx", format!("{x:.1}"))
                .set("cy", format!("{y:.1}"))
                .set("r", 10)
                .set("fill", "white")
                .set("stroke", "#222");
            let text = Text::new(number.to_string())
                .set("x", format!("{x:.1}"))
                .set("y", format!("{:.1}", y + 4.5))
                .set("font-size", 13)
                .set("text-anchor", "middle");
            document = document.add(disc).add(text);
        }
        document
    }

    fn draw_shape(&self, document: Document, shape: &Shape) -> Document {
        let places: Vec<String> = shape
            .points
            .iter()
            .map(|point| self.place(point))
            .map(|[x, y]| format!("{x:.1},{y:.1}"))
            .collect();
        let points = places.join(" ");
        let Some(gray) = shape.fill else {
            return document.add(
                Polyline::new()
                    .set("points", points)
                    .set("fill", "none")
                    .set("stroke", "#222")
                    .set("stroke-width", 1.4),
            );
        };
        let (gray, blue) = (gray.round(), (gray + 8.0).round().min(255.0));
        let color = format!("rgb({gray},{gray},{blue})");
        document.add(
            Polygon::new()
                .set("points", points)
                .set("fill", color.as_str())
                .set("stroke", color)
                .set("stroke-width", 0.7),
        )
    }
}
