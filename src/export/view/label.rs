//! [`Label`]: a number or a name that finds its own place.

use super::canvas::{FAINT, INK, Paint};
use super::{Area, Offset, Plate, Spot, shade};
use std::f64::consts::TAU;

/// Ways to go from what is named, and distances to it, in text heights, nearest first.
const WAYS: u32 = 24;
const DISTANCES: [f64; 9] = [1.2, 1.9, 2.7, 3.6, 4.6, 6.0, 8.0, 11.0, 15.0];
/// What speaks against a place, in text heights of distance: all of it over tube; its way
/// opposite to the one that is wished for; each text height of tube under the leader.
const OVER_TUBE: f64 = 9.0;
const WRONG_WAY: f64 = 1.6;
const TUBE_UNDER_LEADER: f64 = 0.35;
/// Room between labels, and of what is in a frame to the frame, in text heights.
const BETWEEN: f64 = 0.2;
const PADDING: f64 = 0.38;
/// Radius of the dot at a leader's end, in text heights.
const DOT: f64 = 0.2;

/// What is round a label's text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Frame {
    /// A piece's number.
    Disc,
    /// A joint's number.
    Square,
    /// A name.
    None,
}

/// A text and what it names.
#[derive(Clone, Debug)]
pub struct Label {
    /// The text.
    pub text: String,
    /// What is round it.
    pub frame: Frame,
    /// Half its sides, mm.
    pub half: [f64; 2],
    /// The run, for its color.
    pub run: usize,
    /// What it names, on the page.
    pub anchor: Spot,
    /// Whether that is hidden.
    pub hidden: bool,
    /// Where it would best go from there; any length.
    pub way: Offset,
}

impl Label {
    /// A number in a frame that holds `widest` too.
    pub fn numbered(plate: &Plate, number: usize, widest: usize, frame: Frame) -> Self {
        let [half_width, _] = plate.half_size(&"8".repeat(widest.to_string().len()));
        let half_height = plate.text / 2.0;
        let padding = PADDING * plate.text;
        let half = match frame {
            Frame::Disc => half_width.hypot(half_height) + padding * 0.7,
            _ => half_width.max(half_height) + padding,
        };
        Self {
            text: number.to_string(),
            frame,
            half: [half; 2],
            run: 0,
            anchor: Spot::origin(),
            hidden: false,
            way: Offset::zeros(),
        }
    }

    /// Area that it takes about a center.
    pub fn area(&self, center: Spot) -> Area {
        Area::about(center, self.half[0], self.half[1])
    }

    /// Puts it at `center` if there is room.
    pub fn put(&self, plate: &mut Plate, center: Spot) -> bool {
        let area = self.area(center).grown(BETWEEN * plate.text);
        let free = plate.room.is_free(&area);
        if free {
            plate.room.take(&area);
            self.draw(plate, center);
        }
        free
    }

    /// Finds it a place near what it names, with a leader or, a name, without; counts it as
    /// left out if there is none.
    pub fn place(&self, plate: &mut Plate) {
        let Some(center) = self.best(plate) else {
            plate.left_out += 1;
            return;
        };
        let area = self.area(center).grown(BETWEEN * plate.text);
        if self.frame != Frame::None {
            let end = self.leader_end(center);
            plate.room.take_line(self.anchor, end);
            let [_, thin] = plate.lines();
            let paint = Paint::line(FAINT, thin * 1.4);
            if self.hidden {
                plate.canvas.dashes(self.anchor, end, paint);
            } else {
                plate.canvas.polyline(&[self.anchor, end], false, paint);
                let dot = DOT * plate.text;
                plate.canvas.disc(self.anchor, dot, Paint::fill(INK));
            }
        }
        plate.room.take(&area);
        self.draw(plate, center);
    }

    /// The cheapest free place.
    fn best(&self, plate: &Plate) -> Option<Spot> {
        let mut best: Option<(f64, Spot)> = None;
        for distance in DISTANCES {
            if best.is_some_and(|(cost, _)| cost <= distance) {
                break;
            }
            for way in 0..WAYS {
                let (sin, cos) = (TAU * f64::from(way) / f64::from(WAYS)).sin_cos();
                let way = Offset::new(cos, sin);
                let off = way * (distance * plate.text);
                let center = self.anchor + off + Offset::new(cos * self.half[0], sin * self.half[1]);
                let Some(cost) = self.cost(plate, center, way) else {
                    continue;
                };
                let cost = cost + distance;
                if best.is_none_or(|(least, _)| cost < least - 1e-9) {
                    best = Some((cost, center));
                }
            }
        }
        best.map(|(_, center)| center)
    }

    /// What speaks against a center beside its distance; `None` where there is no room.
    fn cost(&self, plate: &Plate, center: Spot, way: Offset) -> Option<f64> {
        let area = self.area(center);
        if !plate.room.is_free(&area.grown(BETWEEN * plate.text)) {
            return None;
        }
        let mut cost = OVER_TUBE * plate.room.tube_under(&area);
        let wish = self.way.norm();
        if wish > 0.0 {
            cost += WRONG_WAY * (1.0 - way.dot(&self.way) / wish) / 2.0;
        }
        if self.frame != Frame::None {
            let under = plate.room.tube_along(self.anchor, self.leader_end(center))?;
            cost += TUBE_UNDER_LEADER * under / plate.text;
        }
        Some(cost)
    }

    /// Where the leader meets the frame.
    fn leader_end(&self, center: Spot) -> Spot {
        let back = self.anchor - center;
        let part = match self.frame {
            Frame::Disc => self.half[0] / back.norm(),
            _ => (self.half[0] / back.x.abs()).min(self.half[1] / back.y.abs()),
        };
        if part.is_finite() && part < 1.0 {
            center + back * part
        } else {
            center
        }
    }

    fn draw(&self, plate: &mut Plate, center: Spot) {
        let [thick, _] = plate.lines();
        let edge = if self.run == 0 {
            INK.to_owned()
        } else {
            shade::color(0.0, self.run)
        };
        let paint = Paint {
            fill: "white",
            stroke: &edge,
            width: thick * 0.8,
        };
        match self.frame {
            Frame::Disc => plate.canvas.disc(center, self.half[0], paint),
            Frame::Square => plate.canvas.rectangle(&self.area(center), paint),
            Frame::None => {}
        }
        plate.canvas.text(&self.text, center, plate.text, false, INK);
    }
}
