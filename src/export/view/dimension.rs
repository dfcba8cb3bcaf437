//! [`Dimension`]: a size on a view, with its lines.

use super::arrow::arrow;
use super::canvas::{FAINT, INK, Paint};
use super::{Area, Plate, Spot, letters};

/// Extension lines begin this far from what they measure, and pass the dimension line by
/// as much, in text heights.
const EXTENSION: f64 = 0.5;
/// Text stands this far from its line, in text heights.
const LIFT: f64 = 0.4;
/// Arrows shorter than this each, in text heights, go outside.
const LEAST_ARROW: f64 = 1.1;
/// Length of arrows that point at a short size from outside, in text heights.
const OUTSIDE: f64 = 2.2;

/// The size between two spots, along the page's x or, `upright`, its y.
#[derive(Clone, Debug)]
pub struct Dimension {
    /// What it measures between.
    pub ends: [Spot; 2],
    /// Whether it runs along y.
    pub upright: bool,
    /// Where its line is: the other coordinate.
    pub line: f64,
    /// The size.
    pub text: String,
}

impl Dimension {
    /// A spot by the coordinate along the dimension and the one across.
    fn spot(&self, along: f64, across: f64) -> Spot {
        if self.upright {
            Spot::new(across, along)
        } else {
            Spot::new(along, across)
        }
    }

    fn parts(&self, spot: &Spot) -> [f64; 2] {
        if self.upright {
            [spot.y, spot.x]
        } else {
            [spot.x, spot.y]
        }
    }

    /// Draws it and takes its room.
    pub fn draw(&self, plate: &mut Plate) {
        let text = plate.text;
        let [_, thin] = plate.lines();
        let [a, b] = self.ends.map(|spot| self.parts(&spot));
        for [along, across] in [a, b] {
            let way = (self.line - across).signum() * EXTENSION * text;
            let ends = [across + way, self.line + way].map(|c| self.spot(along, c));
            if (self.line - across).abs() > EXTENSION * text {
                plate
                    .canvas
                    .polyline(&ends, false, Paint::line(FAINT, thin));
            }
        }
        let (low, high) = (a[0].min(b[0]), a[0].max(b[0]));
        let width = letters::width(&self.text, text);
        let [from, to] = [low, high].map(|along| self.spot(along, self.line));
        let middle = f64::midpoint(low, high);
        let inside = high - low >= 2.0 * LEAST_ARROW * text;
        if inside {
            let halfway = self.spot(middle, self.line);
            arrow(plate, halfway, from, thin, INK, 1.0);
            arrow(plate, halfway, to, thin, INK, 1.0);
        } else {
            let beyond = OUTSIDE * text;
            arrow(
                plate,
                self.spot(low - beyond, self.line),
                from,
                thin,
                INK,
                1.0,
            );
            arrow(
                plate,
                self.spot(high + beyond, self.line),
                to,
                thin,
                INK,
                1.0,
            );
            plate
                .canvas
                .polyline(&[from, to], false, Paint::line(INK, thin));
        }
        // Text that does not fit over its line goes on beyond it, where there is page.
        let reach = if inside { 0.3 } else { OUTSIDE + 0.3 } * text;
        let page = self.parts(&plate.room.page().low)[0];
        let over = high - low >= width + 0.6 * text;
        let along = match (over, low - reach - width >= page) {
            (true, _) => middle,
            (false, true) => low - reach - width / 2.0,
            (false, false) => high + reach + width / 2.0,
        };
        let center = self.spot(along, self.line - (LIFT + 0.5) * text);
        plate
            .canvas
            .text(&self.text, center, text, self.upright, INK);
        let [half_width, half_height] = plate.half_size(&self.text);
        let half = if self.upright {
            [half_height, half_width]
        } else {
            [half_width, half_height]
        };
        plate.room.take(&Area::about(center, half[0], half[1]));
        plate.room.take_line(from, to);
    }
}
