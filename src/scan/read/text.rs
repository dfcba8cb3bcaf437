//! Bytes of a file as text that a terminal may show.

use std::char::REPLACEMENT_CHARACTER;

/// The text, with what is no text or would steer a terminal replaced.
pub(super) fn printable(bytes: &[u8]) -> String {
    let shown = |c: char| match c {
        '\t' => ' ',
        c if c.is_control() => REPLACEMENT_CHARACTER,
        c => c,
    };
    String::from_utf8_lossy(bytes).chars().map(shown).collect()
}
