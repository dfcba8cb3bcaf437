//! Bars to check a print's scale by.

use super::drawing::Drawing;
use super::layer::Layer;
use super::path::Path;
use super::pen::Pen;
use super::text::Text;
use crate::tube::FlatPoint;
use crate::units::Length;

/// The bars: id, label, length, divisions and how many of them make a long tick.
const BARS: [(&str, &str, Length, u32, u32); 2] = [
    ("check-100-mm", "100 mm", Length::from_mm(100.0), 10, 5),
    ("check-4-in", "4 in", Length::from_inches(4.0), 8, 2),
];
/// From one bar to the next, mm.
const STEP: f64 = 6.5;
/// Length of short and long ticks, mm.
const TICKS: (f64, f64) = (1.1, 2.0);
const BAR: Pen = Pen::solid(0.25);
/// Height of their labels, mm.
const LABEL: f64 = 3.0;
/// From a bar's end to its label, mm.
const LABEL_GAP: f64 = 1.8;

/// What the bars take: from side to side with their labels, and from bottom to top, mm.
pub(super) const BARS_SIZE: [f64; 2] = [118.0, 12.0];

/// Draws a bar of 100 mm and one of 4 in, their lower left corner at `corner`.
pub fn check_bars(drawing: &mut Drawing, [left, low]: FlatPoint) {
    for (i, (id, label, length, divisions, long)) in BARS.into_iter().enumerate() {
        let y = low + STEP * (BARS.len() - 1 - i) as f64 + TICKS.1;
        let right = left + length.mm();
        let bar = Path::through([[left, y], [right, y]]);
        drawing.named_path(Layer::Help, BAR, id, bar);
        for tick in 0..=divisions {
            let x = left + length.mm() * f64::from(tick) / f64::from(divisions);
            let high = if tick % long == 0 { TICKS.1 } else { TICKS.0 };
            drawing.line(Layer::Help, BAR, [[x, y], [x, y + high]]);
        }
        drawing.text(Text::new([right + LABEL_GAP, y - 0.3], LABEL, label));
    }
}
