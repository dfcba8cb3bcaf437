//! Numbers as text files have them.

use super::error::{Place, ReadError};
use super::text::printable;

/// Characters of a bad number that a message shows.
const SHOWN: usize = 40;

/// A coordinate; what stands for no number or an infinite one is read as such.
pub(super) fn coordinate(word: Option<&[u8]>, place: Place) -> Result<f64, ReadError> {
    let Some(word) = word else {
        let what = "a number is missing".to_owned();
        return Err(ReadError::Malformed { place, what });
    };
    let number = text(word).and_then(|text| text.parse().ok());
    number
        .or_else(|| is_foreign_nan(word).then_some(f64::NAN))
        .ok_or_else(|| bad_number(word, place, "a number"))
}

/// A whole number.
pub(super) fn whole(word: &[u8], place: Place) -> Result<i64, ReadError> {
    let number = text(word).and_then(|text| text.parse().ok());
    number.ok_or_else(|| bad_number(word, place, "a whole number"))
}

/// Says that `word` should be what is `wanted`.
pub(super) fn bad_number(word: &[u8], place: Place, wanted: &'static str) -> ReadError {
    let text = printable(word).chars().take(SHOWN).collect();
    ReadError::BadNumber {
        place,
        text,
        wanted,
    }
}

fn text(word: &[u8]) -> Option<&str> {
    std::str::from_utf8(word).ok()
}

/// Whether it is what C libraries print for no number: `-nan(ind)`, `1.#QNAN`.
fn is_foreign_nan(word: &[u8]) -> bool {
    let word = word.strip_prefix(b"-").unwrap_or(word);
    word.starts_with(b"nan(") || word.starts_with(b"1.#")
}
