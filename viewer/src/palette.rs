//! Colors: few, told apart by lightness before hue, so that they hold for every kind of
//! color vision, on a bright screen and on a gray printer.
//!
//! Sources: contrast by WCAG 2.2, "contrast ratio" and "relative luminance" (W3C
//! Recommendation); 7 for text is its level AAA, 3 for what is not text its level AA.

/// A color as red, green and blue of sRGB, 0 to 255.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Color(pub u8, pub u8, pub u8);

/// Text and lines.
pub const INK: Color = Color(0x12, 0x1c, 0x26);
/// Second to ink: units, hints, what is not chosen.
pub const SOFT_INK: Color = Color(0x3f, 0x4b, 0x57);
/// Panels.
pub const PAPER: Color = Color(0xff, 0xff, 0xff);
/// Behind the run.
pub const BACKDROP: Color = Color(0xee, 0xf0, 0xee);
/// Fields that can be written in, and rows that are pointed at.
pub const FIELD: Color = Color(0xf1, 0xf4, 0xf6);
/// Frames of fields and panels.
pub const FRAME: Color = Color(0x7b, 0x86, 0x90);
/// What is to be pressed.
pub const ACTION: Color = Color(0x0b, 0x4f, 0x7a);
/// What is chosen: a piece, a way, a step.
pub const CHOSEN: Color = Color(0xe8, 0x8a, 0x00);
/// Behind what is chosen in lists.
pub const CHOSEN_PAPER: Color = Color(0xff, 0xe9, 0xc4);
/// What is wrong.
pub const WRONG: Color = Color(0x9a, 0x0f, 0x2e);
/// Pieces in order of flow, by turns.
pub const TUBE: [Color; 2] = [Color(0x8f, 0xb0, 0xcc), Color(0xd5, 0xe0, 0xe8)];
/// Ports.
pub const PORT: Color = Color(0x1d, 0x3b, 0x53);
/// Bodies to keep out of.
pub const KEEP_OUT: Color = Color(0x7a, 0x5c, 0x9e);
/// Scans.
pub const SCAN: Color = Color(0xb3, 0xa8, 0x98);
/// The tightest place.
pub const TIGHT: Color = Color(0x8a, 0x00, 0x5c);
/// Measured distances.
pub const MEASURED: Color = Color(0x0a, 0x5a, 0x46);

/// Room from none to plenty: ever lighter.
pub const HEAT: [Color; 5] = [
    Color(0x4a, 0x0d, 0x4f),
    Color(0xa3, 0x26, 0x5b),
    Color(0xe0, 0x65, 0x3a),
    Color(0xf5, 0xb2, 0x5a),
    Color(0xfb, 0xf0, 0xc0),
];

impl Color {
    /// Relative luminance, 0 to 1 (WCAG 2.2).
    pub fn luminance(self) -> f64 {
        let linear = |part: u8| {
            let c = f64::from(part) / 255.0;
            if c <= 0.040_45 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * linear(self.0) + 0.7152 * linear(self.1) + 0.0722 * linear(self.2)
    }

    /// Contrast ratio with another color, 1 to 21 (WCAG 2.2).
    pub fn contrast(self, other: Self) -> f64 {
        let (a, b) = (self.luminance(), other.luminance());
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// A part of the way, 0 to 1, to another color.
    pub fn toward(self, other: Self, part: f64) -> Self {
        let part = part.clamp(0.0, 1.0);
        let mix =
            |a: u8, b: u8| (f64::from(a) + (f64::from(b) - f64::from(a)) * part).round() as u8;
        Self(
            mix(self.0, other.0),
            mix(self.1, other.1),
            mix(self.2, other.2),
        )
    }
}

/// The color for a part of the room shown, 0 (none) to 1 (plenty or more).
pub fn heat(part: f64) -> Color {
    let steps = HEAT.len() - 1;
    let at = part.clamp(0.0, 1.0) * steps as f64;
    let step = (at.floor() as usize).min(steps - 1);
    HEAT[step].toward(HEAT[step + 1], at - step as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// WCAG 2.2, success criterion 1.4.6: text.
    const TEXT: f64 = 7.0;
    /// WCAG 2.2, success criterion 1.4.11: what is not text.
    const SHAPES: f64 = 3.0;

    #[test]
    fn contrast_is_that_of_the_recommendation() {
        let (black, white) = (Color(0, 0, 0), Color(255, 255, 255));
        assert!((black.contrast(white) - 21.0).abs() < 1e-9);
        // #767676 on white is the well known 4.54 (from memory).
        assert!((Color(0x76, 0x76, 0x76).contrast(white) - 4.54).abs() < 0.01);
    }

    #[test]
    fn text_is_legible_on_whatever_is_behind_it() {
        for paper in [PAPER, FIELD, BACKDROP, CHOSEN_PAPER] {
            for ink in [INK, SOFT_INK, WRONG, ACTION] {
                assert!(
                    ink.contrast(paper) >= TEXT,
                    "{ink:?} on {paper:?}: {}",
                    ink.contrast(paper)
                );
            }
        }
        assert!(PAPER.contrast(ACTION) >= TEXT);
        assert!(PAPER.contrast(TIGHT) >= TEXT && PAPER.contrast(MEASURED) >= TEXT);
        assert!(INK.contrast(CHOSEN) >= 4.5);
    }

    #[test]
    fn frames_and_ports_stand_out() {
        assert!(FRAME.contrast(PAPER) >= SHAPES && FRAME.contrast(FIELD) >= SHAPES);
        assert!(PORT.contrast(BACKDROP) >= SHAPES);
        assert!(TIGHT.contrast(BACKDROP) >= SHAPES && MEASURED.contrast(BACKDROP) >= SHAPES);
    }

    #[test]
    fn neighbors_differ_in_lightness_alone() {
        assert!(TUBE[0].contrast(TUBE[1]) >= 1.5);
        for pair in HEAT.windows(2) {
            assert!(pair[1].luminance() > pair[0].luminance());
            assert!(pair[0].contrast(pair[1]) >= 1.4, "{pair:?}");
        }
    }

    /// What is chosen is told from the rest by more than lightness: with one kind of
    /// cone missing too. Matrices for linear RGB: Viénot, Brettel and Mollon 1999,
    /// "Digital video colourmaps for checking the legibility of displays by dichromats",
    /// Color Research and Application 24 (from memory).
    #[test]
    fn the_chosen_piece_shows_without_red_or_green_cones() {
        let red_blind = [
            [0.112, 0.888, 0.0],
            [0.112, 0.888, 0.0],
            [0.004, -0.004, 1.0],
        ];
        let green_blind = [
            [0.293, 0.707, 0.0],
            [0.293, 0.707, 0.0],
            [-0.022, 0.022, 1.0],
        ];
        let linear = |c: Color| [c.0, c.1, c.2].map(|part| (f64::from(part) / 255.0).powf(2.2));
        for matrix in [red_blind, green_blind] {
            let seen = |c: Color| {
                let rgb = linear(c);
                matrix.map(|row: [f64; 3]| (0..3).map(|i| row[i] * rgb[i]).sum::<f64>())
            };
            for other in [TUBE[0], TUBE[1], KEEP_OUT, SCAN, PORT] {
                let (a, b) = (seen(CHOSEN), seen(other));
                let apart = (0..3).map(|i| (a[i] - b[i]).powi(2)).sum::<f64>().sqrt();
                assert!(apart > 0.15, "{other:?}: {apart}");
            }
        }
    }
}
