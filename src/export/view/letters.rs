//! How wide text is, at most, in DejaVu Sans.

/// Height of a capital as a part of the font's size. Source: the font, 1493 of 2048 units.
pub const CAPITAL: f64 = 0.729;
/// How far letters reach below the line, as a part of the font's size. Source: the font,
/// 483 of 2048 units.
pub const DESCENT: f64 = 0.236;

/// Width of `text` with capitals of `height`: no less than the font's advances.
pub fn width(text: &str, height: f64) -> f64 {
    text.chars().map(advance).sum::<f64>() * height / CAPITAL
}

/// Bounds on the font's advances, in its size; all its letters but a few ligatures are
/// within 1.1.
fn advance(letter: char) -> f64 {
    match letter {
        '0'..='9' | 'a'..='h' | 'k' | 'n'..='v' | 'x'..='z' | '_' | '?' => 0.64,
        'i' | 'j' | 'l' | ' ' | '.' | ',' | ':' | ';' | '/' | '-' | '\'' | '|' => 0.37,
        '(' | ')' | '[' | ']' | '"' | '!' => 0.47,
        'm' | 'W' | '%' | '@' | '\u{2026}' => 1.01,
        'A'..='L' | 'P'..='V' | 'X'..='Z' | 'N' | 'O' | 'w' | '+' | '=' | '<' | '>' | '#' | '~' => {
            0.84
        }
        _ => 1.1,
    }
}

/// `text` cut to `most` wide, with an ellipsis where something is left out.
pub fn fitted(text: &str, height: f64, most: f64) -> String {
    if width(text, height) <= most {
        return text.to_owned();
    }
    let mut kept = String::new();
    for letter in text.chars() {
        kept.push(letter);
        if width(&kept, height) + width("\u{2026}", height) > most {
            kept.pop();
            break;
        }
    }
    let mut kept = kept.trim_end().to_owned();
    kept.push('\u{2026}');
    kept
}
