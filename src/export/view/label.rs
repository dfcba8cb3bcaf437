//! [`Label`]: a number or a name that finds its own place.

use super::canvas::{INK, Paint};
use super::{Area, Offset, Plate, Spot, shade};
use std::f64::consts::TAU;

/// Ways to go from what is named, and distances to it, in text heights, nearest first.
const WAYS: u32 = 24;
const DISTANCES: [f64; 9] = [1.2, 1.9, 2.7, 3.6, 4.6, 6.0, 8.0, 11.0, 15.0];
/// What speaks against a place, in text heights of distance: all of it over tube, for a
/// number and for a name; its way opposite to the one that is wished for; each text height
/// of tube under the leader; each better spot to point at.
const OVER_TUBE: f64 = 9.0;
const NAME_OVER_TUBE: f64 = 40.0;
const WRONG_WAY: f64 = 1.6;
const TUBE_UNDER_LEADER: f64 = 0.35;
const LATER_ANCHOR: f64 = 0.15;
/// Costs that differ by less are equal, and the first place is taken: rounding.
const TIE: f64 = 1e-9;
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
    /// Where on the page what it names may be pointed at, the best first.
    pub anchors: Vec<Spot>,
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
            anchors: Vec::new(),
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
        let Some((anchor, center)) = self.best(plate) else {
            plate.left_out += 1;
            return;
        };
        let area = self.area(center).grown(BETWEEN * plate.text);
        if self.frame != Frame::None {
            let end = self.leader_end(anchor, center);
            plate.room.take_line(anchor, end);
            let dot = DOT * plate.text;
            plate.canvas.leader(anchor, end, dot, self.hidden);
        }
        plate.room.take(&area);
        self.draw(plate, center);
    }

    /// Where it points at the cheapest free place, and that place.
    fn best(&self, plate: &Plate) -> Option<(Spot, Spot)> {
        let mut best: Option<(f64, Spot, Spot)> = None;
        for distance in DISTANCES {
            if best.is_some_and(|(cost, ..)| cost <= distance) {
                break;
            }
            for (rank, &anchor) in self.anchors.iter().enumerate() {
                let worth = distance + LATER_ANCHOR * rank as f64;
                for way in 0..WAYS {
                    let (sin, cos) = (TAU * f64::from(way) / f64::from(WAYS)).sin_cos();
                    let way = Offset::new(cos, sin);
                    let size = Offset::new(cos * self.half[0], sin * self.half[1]);
                    let center = anchor + way * (distance * plate.text) + size;
                    let most = best.map_or(f64::INFINITY, |(least, ..)| least - TIE) - worth;
                    let Some(cost) = self.cost(plate, [anchor, center], way, most) else {
                        continue;
                    };
                    best = Some((worth + cost, anchor, center));
                }
            }
        }
        best.map(|(_, anchor, center)| (anchor, center))
    }

    /// What speaks against a center beside its distance; `None` where there is no room, or
    /// it costs `most` or more.
    fn cost(
        &self,
        plate: &Plate,
        [anchor, center]: [Spot; 2],
        way: Offset,
        most: f64,
    ) -> Option<f64> {
        let wish = self.way.norm();
        let mut cost = 0.0;
        if wish > 0.0 {
            cost += WRONG_WAY * (1.0 - way.dot(&self.way) / wish) / 2.0;
        }
        let area = self.area(center);
        if cost >= most || !plate.room.is_free(&area.grown(BETWEEN * plate.text)) {
            return None;
        }
        let name = self.frame == Frame::None;
        let over = if name { NAME_OVER_TUBE } else { OVER_TUBE };
        cost += over * plate.room.tube_under(&area);
        if !name && cost < most {
            let under = plate
                .room
                .tube_along(anchor, self.leader_end(anchor, center))?;
            cost += TUBE_UNDER_LEADER * under / plate.text;
        }
        (cost < most).then_some(cost)
    }

    /// Where the leader meets the frame.
    fn leader_end(&self, anchor: Spot, center: Spot) -> Spot {
        let back = anchor - center;
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
        let edge = if self.run == 0 {
            INK.to_owned()
        } else {
            shade::color(0.0, self.run)
        };
        match self.frame {
            Frame::Disc => plate.canvas.frame_disc(center, self.half[0], &edge),
            Frame::Square => plate.canvas.frame_rectangle(&self.area(center), &edge),
            Frame::None if plate.room.tube_under(&self.area(center)) > 0.0 => {
                plate
                    .canvas
                    .rectangle(&self.area(center), Paint::fill("white"));
            }
            Frame::None => {}
        }
        plate
            .canvas
            .text(&self.text, center, plate.text, false, INK);
    }
}
