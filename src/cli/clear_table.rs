//! What `runwright clear` prints.

use crate::clear::{Exempt, Place, Rule};
use crate::units::{Length, Style, counted};
use std::collections::BTreeMap;

/// A place with the names to tell it by.
pub(super) struct Line<'a> {
    /// The run, or the mesh's group.
    pub of: &'a str,
    /// What it is near to.
    pub obstacle: &'a str,
    /// Where.
    pub place: &'a Place,
}

/// The first `most` lines as a table. `part` is what numbers count.
pub(super) fn places(part: &str, lines: &[Line<'_>], most: usize, style: Style) -> String {
    let (runs, header) = header(part, lines);
    let mut rows = vec![header];
    rows.extend(lines.iter().take(most).map(|line| row(line, runs, style)));
    let mut text = aligned(&rows, if runs { &[0, 2] } else { &[1] });
    if lines.len() > most {
        let more = counted(lines.len() - most, "place");
        text += &format!("and {more} with more room; --all lists them\n");
    }
    if lines.is_empty() {
        text += "nothing of it is checked\n";
    }
    text
}

/// Whether lines name runs, and the table's head.
fn header(part: &str, lines: &[Line<'_>]) -> (bool, Vec<String>) {
    let runs = part == "piece" && lines.windows(2).any(|pair| pair[0].of != pair[1].of);
    let run = runs.then_some("run");
    let rest = [part, "obstacle", "room", "clear", "at"];
    let words = run.into_iter().chain(rest).map(str::to_owned);
    (runs, words.collect())
}

fn row(line: &Line<'_>, runs: bool, style: Style) -> Vec<String> {
    let place = line.place;
    let words = [
        place.number.to_string(),
        line.obstacle.to_owned(),
        style.decimal(place.room),
        style.decimal(place.clear),
        style.point(place.on_part.into()),
    ];
    let run = runs.then(|| line.of.to_owned());
    run.into_iter().chain(words).collect()
}

/// Columns two spaces apart, the `left` ones and the last flush left.
fn aligned(rows: &[Vec<String>], left: &[usize]) -> String {
    let columns = rows.first().map_or(0, Vec::len);
    let width = |column: usize| {
        let cells = rows.iter().map(|row| row[column].chars().count());
        cells.max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let line = |row: &Vec<String>| {
        let cells = row.iter().enumerate().map(|(i, cell)| {
            let width = widths[i];
            match i {
                i if i + 1 == columns => cell.clone(),
                i if left.contains(&i) => format!("{cell:<width$}"),
                _ => format!("{cell:>width$}"),
            }
        });
        cells.collect::<Vec<String>>().join("  ") + "\n"
    };
    rows.iter().map(line).collect()
}

/// What the ports exempt: how much, and the nearest there, for each length once.
pub(super) fn exempt(run: &str, exempt: &[Exempt], rules: &[Rule], style: Style) -> String {
    let mut nearest: BTreeMap<(usize, u64), &Exempt> = BTreeMap::new();
    for one in exempt {
        // Lengths are not negative: their bits have their order.
        let key = (one.end, one.length.max(Length::ZERO).mm().to_bits());
        let best = nearest.entry(key).or_insert(one);
        if one.nearest.clear < best.nearest.clear {
            *best = one;
        }
    }
    let lines = nearest.into_values().map(|one| {
        format!(
            "run '{run}': at its {} port the first {} of centerline is not checked; nearest there: {} from '{}' at {}\n",
            if one.end == 0 { "first" } else { "last" },
            style.decimal(one.length),
            style.decimal(one.nearest.clear),
            rules[one.nearest.obstacle].obstacle.name,
            style.point(one.nearest.on_part.into()),
        )
    });
    lines.collect()
}

/// How many places are too near, and the worst; lines are in order.
pub(super) fn bad(part: &str, lines: &[Line<'_>], style: Style) -> Option<String> {
    let count = lines.iter().filter(|line| !line.place.is_clear()).count();
    let worst = lines.first().filter(|_| count > 0)?;
    let place = worst.place;
    let how = if place.clear <= Length::ZERO {
        "runs into".to_owned()
    } else {
        format!("is {} from", style.decimal(place.clear))
    };
    let whose = if part == "piece" {
        format!(" of '{}'", worst.of)
    } else {
        String::new()
    };
    Some(format!(
        "is too near in {}; worst: {part} {}{whose} {how} '{}' at {}, {} short of the clearance",
        counted(count, "place"),
        place.number,
        worst.obstacle,
        style.point(place.on_part.into()),
        style.decimal(-place.room),
    ))
}
