//! How wide words are: DejaVu Sans by its own advances.
//!
//! Drawings ask for that font and fall back on any plain one; most of those run
//! narrower, so that what fits here fits there.

use std::sync::OnceLock;
use ttf_parser::Face;

/// Width of a letter that the font has not, as a part of the size: its widest common
/// ones.
const UNKNOWN: f64 = 1.0;
/// How far letters rise above their line and hang below it, as parts of the size: those
/// of DejaVu Sans that are not accented capitals.
pub(super) const RISE: f64 = 0.8;
pub(super) const HANG: f64 = 0.25;
/// Height of its capitals, as a part of the size.
pub(super) const CAPITALS: f64 = 0.729;

/// Width of `content` in letters of `size`, mm.
pub fn text_width(content: &str, size: f64, bold: bool) -> f64 {
    content.chars().map(|c| advance(c, bold)).sum::<f64>() * size
}

/// A letter's width. Those of one byte, nearly all that a drawing writes, are looked up in
/// the font once: places for words are tried by the thousand.
fn advance(letter: char, bold: bool) -> f64 {
    static ADVANCES: OnceLock<[Vec<f64>; 2]> = OnceLock::new();
    let kept = ADVANCES.get_or_init(|| {
        let letters = || (0..=u8::MAX).map(char::from);
        [false, true].map(|bold| letters().map(|c| looked_up(c, bold)).collect())
    });
    let kept = kept[usize::from(bold)].get(letter as usize);
    kept.copied().unwrap_or_else(|| looked_up(letter, bold))
}

/// A letter's width by the font's own tables.
fn looked_up(letter: char, bold: bool) -> f64 {
    let advance = || {
        let face = face(bold)?;
        let glyph = face.glyph_index(letter)?;
        let units = face.glyph_hor_advance(glyph)?;
        Some(f64::from(units) / f64::from(face.units_per_em()))
    };
    advance().unwrap_or(UNKNOWN)
}

fn face(bold: bool) -> Option<&'static Face<'static>> {
    static FACES: OnceLock<[Option<Face<'static>>; 2]> = OnceLock::new();
    let [regular, strong] = FACES.get_or_init(|| {
        let files = [dejavu::sans::regular(), dejavu::sans::bold()];
        files.map(|file| Face::parse(file, 0).ok())
    });
    if bold { strong } else { regular }.as_ref()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_are_the_fonts() {
        // DejaVu Sans 2.37: every digit is 1303 units of 2048 wide, the space 651.
        let digits = text_width("0123456789", 1.0, false);
        assert!((digits - 10.0 * 1303.0 / 2048.0).abs() < 1e-9, "{digits}");
        assert!((text_width(" ", 2.0, false) - 2.0 * 651.0 / 2048.0).abs() < 1e-9);
        assert!(text_width("to joint 4", 3.0, true) > text_width("to joint 4", 3.0, false));
        assert_eq!(text_width("\u{10FFFF}", 2.0, false), 2.0);
    }
}
