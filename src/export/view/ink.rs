//! A painting on a plate: shades, outlines, joints and open ends, from back to front.

use super::canvas::{INK, Paint, number};
use super::shade::{Stop, across};
use super::{Body, Convex, Curve, EndKind, Offset, Painting, Plate, Spot, Step};
use std::f64::consts::{PI, TAU};
use svg::Node;
use svg::node::element::Element;

/// How much wider than a thin line the shade of a stretch runs under the next one of the
/// same tube, so that no hairline is left between them.
const UNDER: f64 = 1.6;
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
        placed.steps.extend(curve.steps.iter().map(|step| match step {
            Step::Line(end) => Step::Line(self.place(end)),
            Step::Cubic(three) => Step::Cubic(three.map(|spot| self.place(&spot))),
        }));
        placed
    }

    /// A polygon on the page.
    pub fn convex(&self, polygon: &Convex) -> Convex {
        Convex::hull(polygon.corners().iter().map(|spot| self.place(spot)).collect())
    }
}

/// Puts a painting on the plate.
pub fn ink(plate: &mut Plate, painting: &Painting, scale: &Scale) {
    for body in painting.bodies() {
        let polygon = scale.convex(body.hull());
        plate.room.show_tube(&polygon);
        Inked { body, painting, scale }.draw(plate);
    }
}

/// A body to be drawn.
struct Inked<'a> {
    body: &'a Body,
    painting: &'a Painting,
    scale: &'a Scale,
}

impl Inked<'_> {
    fn draw(&self, plate: &mut Plate) {
        let [thick, thin] = plate.lines();
        let shade = self.shade(plate);
        let seamed = self.body.ends.iter().any(|end| end.kind == EndKind::Seam);
        let paint = Paint {
            fill: &shade,
            stroke: if seamed { &shade } else { "none" },
            width: thin * UNDER,
        };
        let outline = self.scale.curve(&self.body.outline());
        plate.canvas.curves(&[outline], true, paint);
        let (mut heavy, mut light) = (self.body.sides(), Vec::new());
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
    fn draw_end(&self, plate: &mut Plate, end: usize, heavy: &mut Vec<Curve>, light: &mut Vec<Curve>) {
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
                    let facing = toward.into_inner() - neighbor.into_inner() * neighbor.dot(&toward);
                    let lines = if facing.dot(&middle) > 0.0 { &mut *light } else { &mut *heavy };
                    lines.push(arc(pair[0], pair[1]));
                }
            }
            EndKind::Joint(_) | EndKind::Seam => {}
        }
    }

    /// Wall and bore of an open end that is turned to the viewer.
    fn draw_opening(&self, plate: &mut Plate, end: usize, heavy: &mut Vec<Curve>, light: &mut Vec<Curve>) {
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
        let shade = define(plate, &colors);
        let middle = self.painting.gaze().place(&nalgebra::center(&ring.center, &end.ring.center));
        let across = if self.body.is_bent() && !self.body.swaps() {
            ring.across.into_inner() + end.ring.across.into_inner()
        } else {
            ring.across.into_inner()
        };
        let across = self.painting.gaze().flatten(&across).normalize() * self.body.radius;
        let [from, to] = [middle + across, middle - across].map(|spot| self.scale.place(&spot));
        let id = format!("p{}", plate.places);
        plate.places += 1;
        let mut place = Element::new("linearGradient");
        place.assign("id", id.as_str());
        place.assign("href", format!("#{shade}"));
        place.assign("gradientUnits", "userSpaceOnUse");
        for (name, value) in [("x1", from.x), ("y1", from.y), ("x2", to.x), ("y2", to.y)] {
            place.assign(name, number(value));
        }
        plate.canvas.define(place);
        format!("url(#{id})")
    }

    /// A reference to the shade of a bore, lit on the side away from the lamp.
    fn bore(&self, plate: &mut Plate) -> String {
        let [dark, light] = BORE.map(str::to_owned);
        let shade = define(plate, &[(0.0, dark), (1.0, light)]);
        let id = format!("p{}", plate.places);
        plate.places += 1;
        let mut place = Element::new("linearGradient");
        place.assign("id", id.as_str());
        place.assign("href", format!("#{shade}"));
        for (name, value) in [("x1", 0.2), ("y1", 0.0), ("x2", 0.7), ("y2", 1.0)] {
            place.assign(name, number(value));
        }
        plate.canvas.define(place);
        format!("url(#{id})")
    }
}

/// The id of a shade, which is defined if it is new.
fn define(plate: &mut Plate, colors: &[Stop]) -> String {
    let mut shade = Element::new("linearGradient");
    for (offset, color) in colors {
        let mut stop = Element::new("stop");
        stop.assign("offset", number(*offset));
        stop.assign("stop-color", color.as_str());
        shade.append(stop);
    }
    let text = colors.iter().fold(String::new(), |text, (_, color)| text + color);
    let known = plate.shades.iter().position(|other| *other == text);
    let index = known.unwrap_or_else(|| {
        shade.assign("id", format!("s{}", plate.shades.len()));
        plate.canvas.define(shade);
        plate.shades.push(text);
        plate.shades.len() - 1
    });
    format!("s{index}")
}
