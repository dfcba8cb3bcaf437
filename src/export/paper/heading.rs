//! [`Heading`]: what stands above a pattern.

use crate::export::flat::{Drawing, Text, text_width};
use crate::tube::FlatPoint;

/// Height of a title's letters and of the lines' below it, mm.
const TITLE_SIZE: f64 = 4.6;
const LINE_SIZE: f64 = 3.0;
/// From the top to the title's line, from there to its next, and to the next of the others, mm.
const TITLE_DOWN: f64 = 4.2;
const TITLE_LINE: f64 = 5.2;
const LINE_DOWN: f64 = 4.6;
/// White below it, mm.
const BELOW: f64 = 2.5;

/// A title, and lines below it.
pub(super) struct Heading {
    title: Vec<String>,
    lines: Vec<String>,
    /// What is kept free at its right: width and height.
    aside: [f64; 2],
    width: f64,
}

impl Heading {
    /// Broken up into lines that leave `aside`, a width and a height, free at the right of
    /// `width`.
    pub(super) fn new(title: &str, paragraphs: &[&str], aside: [f64; 2], width: f64) -> Self {
        let free = width - aside[0];
        let lines = paragraphs.iter();
        let lines = lines.flat_map(|line| even(line, LINE_SIZE, false, free));
        Self {
            title: even(title, TITLE_SIZE, true, free),
            lines: lines.collect(),
            aside,
            width,
        }
    }

    /// What it takes from top to bottom, the white below it included.
    pub(super) fn height(&self) -> f64 {
        let more = self.title.len().max(1) - 1;
        let title = TITLE_DOWN + TITLE_LINE * more as f64;
        let lines = LINE_DOWN * self.lines.len() as f64;
        (title + lines).max(self.aside[1]) + BELOW
    }

    /// What it takes from side to side.
    pub(super) fn width(&self) -> f64 {
        if self.aside[0] > 0.0 {
            return self.width;
        }
        let title = self.title.iter();
        let title = title.map(|line| text_width(line, TITLE_SIZE, true));
        let lines = self.lines.iter();
        let lines = lines.map(|line| text_width(line, LINE_SIZE, false));
        title.chain(lines).fold(0.0, f64::max)
    }

    /// Right of and below `corner`.
    pub(super) fn draw(&self, drawing: &mut Drawing, [left, top]: FlatPoint) {
        let mut y = top - TITLE_DOWN;
        for (i, line) in self.title.iter().enumerate() {
            if i > 0 {
                y -= TITLE_LINE;
            }
            drawing.text(Text::new([left, y], TITLE_SIZE, line.as_str()).bold());
        }
        for line in &self.lines {
            y -= LINE_DOWN;
            drawing.text(Text::new([left, y], LINE_SIZE, line.as_str()));
        }
    }
}

/// Narrower by this, line by line, until the last has company.
const NARROWER: f64 = 0.97;
const NARROWER_TRIES: usize = 30;

/// The same as [`broken`], but with no word alone on the last line where as many lines that
/// are shorter hold all of it.
fn even(content: &str, size: f64, bold: bool, width: f64) -> Vec<String> {
    let lines = broken(content, size, bold, width);
    let alone = |lines: &[String]| lines.last().is_some_and(|line| !line.contains(' '));
    if lines.len() < 2 || !alone(&lines) {
        return lines;
    }
    let widths = (1..=NARROWER_TRIES).map(|i| width * NARROWER.powi(i as i32));
    let mut tried = widths.map(|width| broken(content, size, bold, width));
    let found = tried.find(|narrow| narrow.len() == lines.len() && !alone(narrow));
    found.unwrap_or(lines)
}

/// `content` in lines of at most `width`, broken between words, and within a word only
/// where it is longer than a line.
fn broken(content: &str, size: f64, bold: bool, width: f64) -> Vec<String> {
    let fits = |line: &str| text_width(line, size, bold) <= width;
    let mut lines: Vec<String> = Vec::new();
    for word in content.split_whitespace() {
        let longer = lines.last().map(|line| format!("{line} {word}"));
        match (longer.filter(|line| fits(line)), lines.last_mut()) {
            (Some(longer), Some(last)) => *last = longer,
            _ => lines.extend(chopped(word, fits)),
        }
    }
    lines
}

fn chopped(word: &str, fits: impl Fn(&str) -> bool) -> Vec<String> {
    let mut parts = vec![String::new()];
    for letter in word.chars() {
        let longer = parts.last().map(|part| format!("{part}{letter}"));
        match (longer.filter(|part| fits(part)), parts.last_mut()) {
            (Some(longer), Some(last)) => *last = longer,
            (_, Some(last)) if last.is_empty() => last.push(letter),
            _ => parts.push(letter.to_string()),
        }
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    /// "line" stood alone on the last line of most tiles' headings.
    #[test]
    fn no_word_is_left_alone_on_the_last_line() {
        let words = "long 7 11/16 in, center 7 11/32 in, short 7 in; cuts 8.31° and 8.31°, clock 315.22°; wrap printed side out, left edge to the dashed line";
        for width in (60..160).map(f64::from) {
            let (lines, usual) = (
                even(words, 3.0, false, width),
                broken(words, 3.0, false, width),
            );
            assert_eq!(lines.len(), usual.len(), "no more lines");
            assert_eq!(lines.join(" "), words);
            let last = lines.last().expect("lines");
            assert!(lines.len() < 2 || last.contains(' '), "{width}: {lines:?}");
            for line in &lines {
                assert!(text_width(line, 3.0, false) <= width, "{line}");
            }
        }
    }

    #[test]
    fn lines_keep_their_width_and_all_letters() {
        let words = "long 7 11/16 in, center 7.34 in; a-word-that-is-longer-than-a-line end";
        for width in [f64::NAN, 0.0, 1.0, 12.0, 30.0, 80.0, 1e3] {
            let lines = broken(words, 3.0, false, width);
            let kept: String = lines.concat().split_whitespace().collect();
            assert_eq!(kept, words.split_whitespace().collect::<String>());
            let letters = |line: &&String| line.chars().count() > 1;
            for line in lines.iter().filter(letters) {
                assert!(text_width(line, 3.0, false) <= width, "{line}");
            }
        }
    }
}
