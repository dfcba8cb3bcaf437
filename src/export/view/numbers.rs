//! Numbers of pieces and joints on a painting.

use super::label::{Frame, Label};
use super::{Body, EndKind, Look, Offset, Painting, Plate, Scale, Shown, Spot};
use crate::run::Run;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_3};

/// Where along a body, and at which clocks, its number may stand on it.
const ALONG: [f64; 7] = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8];
const CLOCKS: [f64; 3] = [FRAC_PI_2, FRAC_PI_3, 2.0 * FRAC_PI_3];
/// A disc stands on its piece if a circle so many times as large is seen whole.
const CLEAR: f64 = 1.12;
/// Looks round that circle.
const ROUND: u32 = 12;
/// Clocks of a joint at which a leader may end, nearest to the viewer first.
const JOINT_CLOCKS: [f64; 5] = [0.5, 0.35, 0.65, 0.2, 0.8];
/// Most spots on a piece that its leader may point at.
const MOST_ANCHORS: usize = 5;

/// Numbers on a view of runs.
pub struct Numbers<'a> {
    /// What is painted.
    pub painting: &'a Painting,
    /// Where.
    pub scale: &'a Scale,
    /// The runs.
    pub runs: &'a [Shown<'a>],
    /// Whether to number what is hidden too, with broken leaders: where no other view shows
    /// it.
    pub hidden: bool,
}

impl Numbers<'_> {
    /// Puts on all that the look asks for: discs that stand on their pieces first.
    pub fn put(&self, plate: &mut Plate, look: &Look) {
        let mut led = Vec::new();
        if look.pieces {
            for (index, shown) in self.runs.iter().enumerate() {
                for piece in 0..shown.run.pieces().len() {
                    led.extend(self.put_piece(plate, index, piece));
                }
            }
        }
        if look.joints {
            for (index, shown) in self.runs.iter().enumerate() {
                let joints = 0..shown.run.joints().len();
                led.extend(joints.filter_map(|joint| self.joint(plate, index, joint)));
            }
        }
        led.retain(|label| self.hidden || !label.hidden);
        // What is hidden takes the room that is left.
        led.sort_by_key(|label| label.hidden);
        for label in led {
            label.place(plate);
        }
    }

    fn widest(&self) -> usize {
        let counts = self.runs.iter().map(|shown| shown.run.pieces().len());
        counts.max().unwrap_or(0)
    }

    /// Puts a piece's number on the piece, or gives it to be put beside it.
    fn put_piece(&self, plate: &mut Plate, run: usize, piece: usize) -> Option<Label> {
        let bodies = self.painting.bodies().iter();
        let bodies: Vec<&Body> = bodies
            .filter(|b| b.run == run && b.piece == piece)
            .collect();
        let mut spots: Vec<Spot> = Vec::new();
        for along in ALONG {
            for clock in CLOCKS {
                spots.extend(bodies.iter().map(|body| self.on(body, along, clock)));
            }
        }
        let middle = spots
            .iter()
            .fold(Offset::zeros(), |sum, spot| sum + spot.coords);
        let middle = Spot::from(middle / spots.len().max(1) as f64);
        if bodies.len() > 1 {
            let off = |spot: &Spot| (spot - middle).norm();
            spots.sort_by(|a, b| off(a).total_cmp(&off(b)));
        }
        let mut label = Label::numbered(plate, piece + 1, self.widest(), Frame::Disc);
        label.run = run;
        let radius = label.half[0] * CLEAR / self.scale.factor;
        for spot in &spots {
            if self.is_whole(spot, radius, run, piece) && label.put(plate, self.scale.place(spot)) {
                return None;
            }
        }
        let seen = spots.iter().filter(|spot| self.is_seen(spot, run, piece));
        let seen: Vec<Spot> = seen.take(MOST_ANCHORS).copied().collect();
        label.hidden = seen.is_empty();
        let anchors = if label.hidden { spots.get(..1)? } else { &seen };
        label.anchors = anchors.iter().map(|spot| self.scale.place(spot)).collect();
        // Inside of the bends beside it, for their joints take the outside.
        let out = |joint: usize| self.outside(self.runs[run].run, joint);
        label.way = -(out(piece) + out(piece + 1));
        Some(label)
    }

    fn joint(&self, plate: &Plate, run: usize, joint: usize) -> Option<Label> {
        let beside = |body: &Body| {
            let ends = body.ends.iter().enumerate();
            let mut ends = ends.filter(|(at, end)| {
                end.kind != EndKind::Seam && body.run == run && body.piece + at == joint
            });
            ends.next().map(|(at, _)| at)
        };
        let rings = self.painting.bodies().iter().enumerate();
        let rings: Vec<(usize, usize)> = rings
            .filter_map(|(index, body)| Some((index, beside(body)?)))
            .collect();
        let spot = |index: usize, end: usize, part: f64| {
            let body = &self.painting.bodies()[index];
            let clock = part * std::f64::consts::PI;
            body.ends[end]
                .ring
                .seen(self.painting.gaze(), body.radius, clock)
                .0
        };
        let out = self.outside(self.runs[run].run, joint);
        let (mut seen, mut hidden) = (Vec::new(), Vec::new());
        for &(index, end) in rings.iter().rev() {
            let body = &self.painting.bodies()[index];
            if body.ends[end].shows && body.ends[end].kind != EndKind::Open {
                continue;
            }
            for part in JOINT_CLOCKS {
                let at = spot(index, end, part);
                let top = self.painting.top_at(&at);
                let top = top.map(|top| &self.painting.bodies()[top]);
                let is_seen = top.is_none_or(|top| {
                    top.run == run && (top.piece == joint || top.piece + 1 == joint)
                });
                if is_seen { &mut seen } else { &mut hidden }.push(at);
            }
        }
        let mut label = Label::numbered(plate, joint, self.widest(), Frame::Square);
        label.run = run;
        label.hidden = seen.is_empty();
        let anchors = if label.hidden {
            hidden.get_mut(..1)?
        } else {
            &mut seen
        };
        // Nearest to the outside of the bend, where the number best stands.
        let off = |spot: &Spot| spot.coords.dot(&out);
        anchors.sort_by(|a, b| off(b).total_cmp(&off(a)));
        label.anchors = anchors.iter().map(|spot| self.scale.place(spot)).collect();
        label.way = out;
        Some(label)
    }

    /// Where the outside of the bend at a joint is in the picture.
    fn outside(&self, run: &Run, joint: usize) -> Offset {
        let pieces = run.pieces();
        let before = joint.checked_sub(1).and_then(|i| pieces.get(i));
        match (before, pieces.get(joint)) {
            (Some(before), Some(after)) => {
                let out = before.end_axis().into_inner() - after.axis.into_inner();
                self.painting.gaze().flatten(&out)
            }
            _ => Offset::zeros(),
        }
    }

    fn on(&self, body: &Body, along: f64, clock: f64) -> Spot {
        let [a, b] = body
            .ends
            .each_ref()
            .map(|end| end.ring.seen(self.painting.gaze(), body.radius, clock).0);
        a + (b - a) * along
    }

    fn is_seen(&self, spot: &Spot, run: usize, piece: usize) -> bool {
        let top = self.painting.top_at(spot);
        let top = top.map(|top| &self.painting.bodies()[top]);
        top.is_some_and(|top| top.run == run && top.piece == piece)
    }

    fn is_whole(&self, spot: &Spot, radius: f64, run: usize, piece: usize) -> bool {
        self.is_seen(spot, run, piece)
            && (0..ROUND).all(|i| {
                let turn = std::f64::consts::TAU * f64::from(i) / f64::from(ROUND);
                let off = Offset::new(turn.cos(), turn.sin()) * radius;
                self.is_seen(&(spot + off), run, piece)
            })
    }
}
