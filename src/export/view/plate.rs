//! [`Plate`]: a page on which one or more views are put together.

use super::letters;
use super::{Area, Canvas, Look, Picture, Room, Spot};
use crate::units::Length;
use std::collections::BTreeMap;

/// White round everything, in text heights.
const WHITE: f64 = 0.5;
/// Widths of thick and thin lines, in text heights: a tenth and half of that. Source: ISO
/// 3098 and ISO 128 (from memory).
const THICK: f64 = 0.1;
const THIN: f64 = 0.05;
/// Widths of frames and leaders, in text heights.
const FRAME: f64 = 0.08;
const LEADER: f64 = 0.07;

/// A page, its marks, its room, and the sizes of lines and letters.
pub struct Plate {
    /// What is drawn.
    pub canvas: Canvas,
    /// Where there is room.
    pub room: Room,
    /// Height of capitals, mm.
    pub text: f64,
    /// How many labels found no room.
    pub left_out: usize,
    /// The shades that are defined: colors, and the id under which.
    pub shades: BTreeMap<String, String>,
    /// How many places of shades are defined.
    pub places: usize,
    sheet: Area,
}

impl Plate {
    /// An empty page; `rooms` is how many text heights its width and its height hold
    /// besides pictures.
    pub fn new(look: &Look, rooms: [f64; 2]) -> Self {
        let [width, height, text] = look.measures(rooms);
        let sheet = Area {
            low: Spot::origin(),
            high: Spot::new(width, height),
        };
        Self {
            canvas: Canvas::new(text, [THIN, LEADER, FRAME].map(|width| width * text)),
            room: Room::new(sheet.grown(-WHITE * text)),
            text,
            left_out: 0,
            shades: BTreeMap::new(),
            places: 0,
            sheet,
        }
    }

    /// Widths of thick and thin lines, mm.
    pub fn lines(&self) -> [f64; 2] {
        [THICK, THIN].map(|width| width * self.text)
    }

    /// Half the sides of what holds `text`.
    pub fn half_size(&self, text: &str) -> [f64; 2] {
        [
            letters::width(text, self.text) / 2.0,
            self.text * TALL / 2.0,
        ]
    }

    /// The finished picture.
    pub fn finish(self) -> Picture {
        let (svg, width, height) = self.canvas.finish(&self.sheet, WHITE * self.text);
        Picture {
            svg,
            width: width.max(Length::ZERO),
            height: height.max(Length::ZERO),
            left_out: self.left_out,
        }
    }
}

/// Height of a line of text, in heights of its capitals: what reaches below the line
/// counts on both sides.
const TALL: f64 = 1.0 + 2.0 * letters::DESCENT / letters::CAPITAL;
