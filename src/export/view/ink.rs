//! A painting on a plate: shades, outlines, joints and open ends, from back to front.

use super::canvas::{INK, Paint, number};
use super::shade::{Stop, across};
use super::{Body, Convex, Curve, EndKind, Offset, Painting, Plate, Spot, Step};
use std::collections::BTreeMap;
use std::f64::consts::{PI, TAU};
use svg::Node;
use svg::node::element::Element;

/// How far the shade of a stretch runs under the next one of the same tube, in widths of a
/// thin line, so that no hairline is left between them.
const UNDER: f64 = 1.5;
/// Color of a cut wall, and of a bore at its dark and its light side.
const WALL: &str = "#eef1f4";
const BORE: [&str; 2] = ["#39424e", "#9aa3ad"];

/// From a view's mm to the page's.
#[derive(Clone, Copy, Debug)]
pub struct Scale {
    /// Page mm for one mm.
    pub factor: f64,
    /// Where the view's zero is on the page.
    pub origin: Offset,
}

impl Scale {
    /// Where a spot of the view is on the page.
    pub fn place(&self, spot: &Spot) -> Spot {
        Spot::from(spot.coords * self.factor + self.origin)
    }

    /// A curve on the page.
    fn curve(&self, curve: &Curve) -> Curve {
        let mut placed = Curve::from(self.place(&curve.start));
        placed
            .steps
            .extend(curve.steps.iter().map(|step| match step {
                Step::Line(end) => Step::Line(self.place(end)),
                Step::Cubic(three) => Step::Cubic(three.map(|spot| self.place(&spot))),
            }));
        placed
    }

    /// A polygon on the page.
    pub fn convex(&self, polygon: &Convex) -> Convex {
        Convex::hull(
            polygon
                .corners()
                .iter()
                .map(|spot| self.place(spot))
                .collect(),
        )
    }
}

/// Puts a painting on the plate.
pub fn ink(plate: &mut Plate, painting: &Painting, scale: &Scale) {
    let under = UNDER * plate.lines()[1] / scale.factor;
    let beyond = neighbors(painting);
    for (index, body) in painting.bodies().iter().enumerate() {
        plate.room.show_tube(&scale.convex(body.hull()));
        let later = |neighbor: Option<usize>| neighbor.is_some_and(|other| other > index);
        let inked = Inked {
            body,
            painting,
            scale,
            beyond: beyond[index].map(|n| if later(n) { under } else { 0.0 }),
            before: beyond[index].map(|n| {
                let before = n.filter(|&other| other < index)?;
                is_bare(painting, &beyond, before, index).then(|| &painting.bodies()[before])
            }),
        };
        inked.draw(plate);
    }
}

/// The body on the other side of each seam, by its index.
fn neighbors(painting: &Painting) -> Vec<[Option<usize>; 2]> {
    let bodies = painting.bodies();
    let mut of_piece: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
    for (index, body) in bodies.iter().enumerate() {
        let piece = (body.run, body.piece);
        of_piece.entry(piece).or_default().push(index);
    }
    let neighbor = |index: usize, end: usize| {
        let body = &bodies[index];
        let here = &body.ends[end];
        let goes_on = |other: usize| here.ring.center == bodies[other].ends[1 - end].ring.center;
        let mut same = of_piece.get(&(body.run, body.piece))?.iter().copied();
        same.find(|&other| here.kind == EndKind::Seam && other != index && goes_on(other))
    };
    let indices = 0..bodies.len();
    indices
        .map(|i| [0, 1].map(|end| neighbor(i, end)))
        .collect()
}

/// Whether nothing but its own neighbors is painted over a stretch of a bend before
/// `index` is: its sides may then be drawn again with those that they run on into, whose
/// shade has taken a part of their width.
fn is_bare(
    painting: &Painting,
    neighbors: &[[Option<usize>; 2]],
    before: usize,
    index: usize,
) -> bool {
    let body = &painting.bodies()[before];
    body.is_bent()
        && (before + 1..index).all(|other| {
            neighbors[before].contains(&Some(other))
                || !painting.bodies()[other].hull().is_near(body.hull())
        })
}

/// A body to be drawn.
struct Inked<'a> {
    body: &'a Body,
    painting: &'a Painting,
    scale: &'a Scale,
    /// How far its shade goes beyond its ends, mm.
    beyond: [f64; 2],
    /// Stretches of the same bend whose sides are drawn again with it.
    before: [Option<&'a Body>; 2],
}

impl Inked<'_> {
    fn draw(&self, plate: &mut Plate) {
        let [thick, thin] = plate.lines();
        let shade = self.shade(plate);
        let outline = self.body.outline_beyond(self.beyond);
        let outline = self.scale.curve(&outline);
        plate.canvas.curves(&[outline], true, Paint::fill(&shade));
        let (mut heavy, mut light) = (self.body.sides(), Vec::new());
        heavy.extend(self.before.iter().flatten().flat_map(|body| body.sides()));
        for end in 0..2 {
            self.draw_end(plate, end, &mut heavy, &mut light);
        }
        for (curves, width) in [(light, thin), (heavy, thick)] {
            let placed: Vec<Curve> = curves.iter().map(|curve| self.scale.curve(curve)).collect();
            plate.canvas.curves(&placed, false, Paint::line(INK, width));
        }
    }

    /// The edge of an end that is seen: of a joint the arc on the piece that is nearer,
    /// thin where the other goes on behind it, thick where nothing does.
    fn draw_end(
        &self,
        plate: &mut Plate,
        end: usize,
        heavy: &mut Vec<Curve>,
        light: &mut Vec<Curve>,
    ) {
        let it = &self.body.ends[end];
        let arc = |from: f64, to: f64| self.body.ring_curve(end, self.body.radius, from, to);
        match it.kind {
            EndKind::Open if it.shows => self.draw_opening(plate, end, heavy, light),
            EndKind::Open => heavy.push(arc(0.0, PI)),
            EndKind::Joint(neighbor) if !it.shows => {
                let toward = self.painting.gaze().toward;
                // Where the neighbor's side turns out of sight.
                let across = toward.cross(&neighbor);
                let turn = it.ring.clock(&across);
                let mut breaks = vec![0.0, PI];
                for t in [turn, turn + PI, turn - PI] {
                    if t > 0.0 && t < PI && across.norm() > 0.0 {
                        breaks.push(t);
                    }
                }
                breaks.sort_by(f64::total_cmp);
                for pair in breaks.windows(2) {
                    let middle = it.ring.outward(f64::midpoint(pair[0], pair[1]));
                    let facing =
                        toward.into_inner() - neighbor.into_inner() * neighbor.dot(&toward);
                    let lines = if facing.dot(&middle) > 0.0 {
                        &mut *light
                    } else {
                        &mut *heavy
                    };
                    lines.push(arc(pair[0], pair[1]));
                }
            }
            EndKind::Joint(_) | EndKind::Seam => {}
        }
    }

    /// Wall and bore of an open end that is turned to the viewer.
    fn draw_opening(
        &self,
        plate: &mut Plate,
        end: usize,
        heavy: &mut Vec<Curve>,
        light: &mut Vec<Curve>,
    ) {
        let round = |radius: f64| self.body.ring_curve(end, radius, 0.0, TAU);
        let [outer, inner] = [round(self.body.radius), round(self.body.bore)];
        let bore = self.bore(plate);
        for (curve, fill) in [(&outer, WALL), (&inner, bore.as_str())] {
            let placed = self.scale.curve(curve);
            plate.canvas.curves(&[placed], true, Paint::fill(fill));
        }
        heavy.push(outer);
        light.push(inner);
    }

    /// A reference to the shade across the body, defined once for each direction.
    fn shade(&self, plate: &mut Plate) -> String {
        let [start, end] = &self.body.ends;
        let ring = &start.ring;
        let colors = across(ring, self.painting.gaze(), self.body.run);
        let middle = self
            .painting
            .gaze()
            .place(&nalgebra::center(&ring.center, &end.ring.center));
        let across = if self.body.is_bent() && !self.body.swaps() {
            ring.across.into_inner() + end.ring.across.into_inner()
        } else {
            ring.across.into_inner()
        };
        let across = self.painting.gaze().flatten(&across).normalize() * self.body.radius;
        let [from, to] = [middle + across, middle - across].map(|spot| self.scale.place(&spot));
        let ends = [from.x, from.y, to.x, to.y];
        define(plate, &colors, ends, true)
    }

    /// A reference to the shade of a bore, lit on the side away from the lamp.
    fn bore(&self, plate: &mut Plate) -> String {
        let [dark, light] = BORE.map(str::to_owned);
        let colors = [(0.0, dark), (1.0, light)];
        define(plate, &colors, [0.2, 0.0, 0.7, 1.0], false)
    }
}

/// A reference to a new gradient from one spot to another, on the page or as parts of what
/// it fills. Colors are written once.
fn define(plate: &mut Plate, colors: &[Stop], ends: [f64; 4], on_page: bool) -> String {
    let mut gradient = Element::new("linearGradient");
    let id = format!("g{}", plate.places);
    plate.places += 1;
    gradient.assign("id", id.as_str());
    for (name, value) in ["x1", "y1", "x2", "y2"].into_iter().zip(ends) {
        gradient.assign(name, number(value));
    }
    if on_page {
        gradient.assign("gradientUnits", "userSpaceOnUse");
    }
    let text = colors
        .iter()
        .fold(String::new(), |text, (_, color)| text + color);
    match plate.shades.get(&text) {
        Some(known) => gradient.assign("href", format!("#{known}")),
        None => {
            for (offset, color) in colors {
                let mut stop = Element::new("stop");
                stop.assign("offset", number(*offset));
                stop.assign("stop-color", color.as_str());
                gradient.append(stop);
            }
            plate.shades.insert(text, id.clone());
        }
    }
    plate.canvas.define(gradient);
    format!("url(#{id})")
}
