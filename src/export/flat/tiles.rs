//! [`Grid`]: a drawing larger than a page, as tiles that are joined again.
//!
//! Neighbors overlap. In the middle of what they share runs a join line with register
//! marks, drawn on both: cut one tile along it and lay it on the other's line.

use super::area::Area;
use super::drawing::{Drawing, Shape};
use super::layer::Layer;
use super::path::Path;
use super::pen::{Dash, Pen};
use super::text::{Anchor, Text};
use crate::tube::FlatPoint;

/// What two neighbors share, mm.
const OVERLAP: f64 = 14.0;
/// How far words keep off a join line, mm: as far as its marks and names reach, and so
/// far that words beside it are whole on one tile.
const KEEP_OFF: f64 = 6.0;
/// Half the width of a register mark's diamond, and of its cross, mm.
const DIAMOND: f64 = 2.2;
const CROSS: f64 = 4.0;
const JOIN: Pen = Pen::broken(0.18, Dash::Dotted);
const REGISTER: Pen = Pen::solid(0.25);
/// Where marks stand along a tile's side, as parts of it, and how far from there they are
/// tried so that they lie on no other line.
const MARKS_AT: [f64; 2] = [0.2, 0.8];
const TRIED: [f64; 7] = [0.0, 0.03, -0.03, 0.06, -0.06, 0.09, -0.09];
/// White kept round a mark and its names, mm.
const ABOUT_MARKS: f64 = 1.0;
/// Height of tiles' names beside a join line, mm; how far they are from it and from the
/// mark that they stand above.
const NAME: f64 = 2.4;
const NAME_GAP: [f64; 2] = [1.0, 5.2];
/// Most tiles side by side or one above another: 20 m and more.
const MOST: usize = 100;
/// A square of the key map, mm, and the most that the whole map may take.
const KEY: f64 = 4.0;
const KEY_MOST: f64 = 12.0;

/// Where a drawing is split.
#[derive(Clone, Debug, PartialEq)]
pub struct Grid {
    /// Join lines across, from left to right: their x.
    columns: Vec<f64>,
    /// Join lines along, from the bottom up: their y.
    rows: Vec<f64>,
}

/// One tile.
#[derive(Clone, Debug, PartialEq)]
pub struct Tile {
    /// Rows by letter from the top, columns by number from the left: `A1`.
    pub name: String,
    /// Its part of the drawing.
    pub window: Area,
    /// What is in it, in the whole drawing's coordinates.
    pub drawing: Drawing,
    /// Its row from the top and its column from the left.
    pub place: [usize; 2],
}

impl Grid {
    /// The fewest tiles of at most `window` that hold `area`, alike in size, and `more`
    /// of them in either direction that is split.
    pub fn fitting(area: &Area, window: [f64; 2], more: usize) -> Self {
        let joins = |from: f64, size: f64, most: f64| {
            if size <= most {
                return Vec::new();
            }
            let (rest, step) = (size - OVERLAP, (most - OVERLAP).max(1.0));
            // `as` saturates, and NaN is nothing.
            let count = ((rest / step).ceil() as usize).saturating_add(more);
            let count = count.clamp(2, MOST);
            let at = |k: usize| from + OVERLAP / 2.0 + rest * (k as f64 / count as f64);
            (1..count).map(at).collect()
        };
        Self {
            columns: joins(area.left, area.width(), window[0]),
            rows: joins(area.low, area.height(), window[1]),
        }
    }

    /// Columns and rows.
    pub fn size(&self) -> [usize; 2] {
        [self.columns.len() + 1, self.rows.len() + 1]
    }

    /// Strips along the join lines of a drawing that takes `area`: words keep off them.
    pub fn keep_off(&self, area: &Area) -> Vec<Area> {
        let far = area.grown(area.width() + area.height() + 1e3);
        let columns = self.columns.iter().map(|x| Area {
            left: x - KEEP_OFF,
            right: x + KEEP_OFF,
            ..far
        });
        let rows = self.rows.iter().map(|y| Area {
            low: y - KEEP_OFF,
            high: y + KEEP_OFF,
            ..far
        });
        columns.chain(rows).collect()
    }

    /// The tiles of a drawing that takes `area`, row by row from the top.
    pub fn tiles(&self, drawing: &Drawing, area: &Area) -> Vec<Tile> {
        let mut whole = drawing.clone();
        self.draw_joins(&mut whole, area);
        let [columns, rows] = self.size();
        let places = (0..rows).flat_map(|row| (0..columns).map(move |column| [row, column]));
        let tile = |place: [usize; 2]| {
            let [row, column] = place;
            let (left, right) = span(&self.columns, column, (area.left, area.right));
            let (low, high) = span(&self.rows, rows - 1 - row, (area.low, area.high));
            let window = Area {
                left,
                right,
                low,
                high,
            };
            Tile {
                name: name(place),
                drawing: whole.clipped(&window),
                window,
                place,
            }
        };
        places.map(tile).collect()
    }

    fn draw_joins(&self, drawing: &mut Drawing, area: &Area) {
        let [columns, rows] = self.size();
        // A line along the join is passed over: marks would have no place beside it.
        let free = |marks: &Drawing, by: FlatPoint, axis: usize| {
            let along = |ends: &[FlatPoint; 2]| {
                ends.iter()
                    .all(|end| (end[axis] - by[axis]).abs() < OVERLAP / 2.0)
            };
            let mut items = drawing.items().iter();
            items.all(|item| {
                let far = match &item.shape {
                    Shape::Line(ends, _) if along(ends) => return true,
                    Shape::Line(ends, _) => Area::around(*ends),
                    Shape::Text(text) => text.area(),
                    Shape::Path(..) | Shape::Dot(..) => return true,
                };
                marks.area().moved(by).is_clear_of(&far, ABOUT_MARKS)
            })
        };
        let mut joins = Drawing::default();
        for (i, &x) in self.columns.iter().enumerate() {
            joins.line(Layer::Help, JOIN, [[x, area.low], [x, area.high]]);
            for row in 0..rows {
                let (low, high) = between(&self.rows, row, (area.low, area.high));
                let top = rows - 1 - row;
                let names = [name([top, i]), name([top, i + 1])];
                for (k, part) in MARKS_AT.into_iter().enumerate() {
                    let id = format!("register-column-{}-{}-{}", i + 1, top + 1, k + 1);
                    let marks = column_marks(&id, &names, k == 0);
                    let at = |aside: f64| [x, low + (high - low) * (part + aside)];
                    let found = TRIED.map(at).into_iter().find(|at| free(&marks, *at, 0));
                    joins.place(&marks, found.unwrap_or(at(0.0)));
                }
            }
        }
        for (i, &y) in self.rows.iter().enumerate() {
            joins.line(Layer::Help, JOIN, [[area.left, y], [area.right, y]]);
            for column in 0..columns {
                let (left, right) = between(&self.columns, column, (area.left, area.right));
                let top = rows - 2 - i;
                let names = [name([top, column]), name([top + 1, column])];
                for (k, part) in MARKS_AT.into_iter().enumerate() {
                    let id = format!("register-row-{}-{}-{}", top + 1, column + 1, k + 1);
                    let marks = row_marks(&id, &names, k == 0);
                    let at = |aside: f64| [left + (right - left) * (part + aside), y];
                    let found = TRIED.map(at).into_iter().find(|at| free(&marks, *at, 1));
                    joins.place(&marks, found.unwrap_or(at(0.0)));
                }
            }
        }
        drawing.place(&joins, [0.0; 2]);
    }

    /// Draws a map of all tiles with one of them filled, right of and below `corner`.
    pub fn key_map(&self, drawing: &mut Drawing, [right, top]: FlatPoint, place: [usize; 2]) {
        let side = self.key_side();
        let [columns, rows] = self.size();
        for row in 0..rows {
            for column in 0..columns {
                let left = right - side * (columns - column) as f64;
                let high = top - side * row as f64;
                let square = Area::of_size([left, high - side], [side; 2]);
                let corners = |a: &Area| {
                    let corners = [
                        [a.left, a.low],
                        [a.right, a.low],
                        [a.right, a.high],
                        [a.left, a.high],
                    ];
                    Path::through(corners).closed(true)
                };
                drawing.path(Layer::Help, Pen::HELP, corners(&square));
                if [row, column] == place {
                    let middle = [left + side / 2.0, high - side / 2.0];
                    drawing.dot(Layer::Help, middle, side * 0.3);
                }
            }
        }
    }

    fn key_side(&self) -> f64 {
        let [columns, rows] = self.size();
        KEY.min(KEY_MOST / rows as f64)
            .min(3.0 * KEY_MOST / columns as f64)
    }
}

/// What tile `i` takes in one direction: to beyond its join lines.
fn span(joins: &[f64], i: usize, ends: (f64, f64)) -> (f64, f64) {
    let half = OVERLAP / 2.0;
    let from = i.checked_sub(1).and_then(|i| joins.get(i));
    (
        from.map_or(ends.0, |at| at - half),
        joins.get(i).map_or(ends.1, |at| at + half),
    )
}

/// What lies between the join lines of tile `i`.
fn between(joins: &[f64], i: usize, ends: (f64, f64)) -> (f64, f64) {
    let from = i.checked_sub(1).and_then(|i| joins.get(i));
    (
        from.copied().unwrap_or(ends.0),
        joins.get(i).copied().unwrap_or(ends.1),
    )
}

/// Rows by letter, columns by number.
fn name([row, column]: [usize; 2]) -> String {
    let letter = char::from(b'A' + (row % 26) as u8);
    let round = match row / 26 {
        0 => String::new(),
        round => round.to_string(),
    };
    let joint = if round.is_empty() { "" } else { "-" };
    format!("{letter}{round}{joint}{}", column + 1)
}

/// A register mark at the origin with its neighbors' names left and right of the line,
/// above it or below.
fn column_marks(id: &str, [left, right]: &[String; 2], above: bool) -> Drawing {
    let mut marks = Drawing::default();
    register(&mut marks, id, [0.0; 2]);
    let [gap, away] = NAME_GAP;
    let y = if above { away } else { -away - NAME };
    let label = |x: f64, name: &String| Text::new([x, y], NAME, name.as_str());
    marks.text(label(-gap, left).anchored(Anchor::End));
    marks.text(label(gap, right));
    marks
}

/// The same with the names above and below the line, right of it or left.
fn row_marks(id: &str, [above, below]: &[String; 2], right: bool) -> Drawing {
    let mut marks = Drawing::default();
    register(&mut marks, id, [0.0; 2]);
    let [gap, away] = NAME_GAP;
    let (x, anchor) = match right {
        true => (away, Anchor::Start),
        false => (-away, Anchor::End),
    };
    let label = |y: f64, name: &String| Text::new([x, y], NAME, name.as_str()).anchored(anchor);
    marks.text(label(gap, above));
    marks.text(label(-gap - 0.75 * NAME, below));
    marks
}

fn register(drawing: &mut Drawing, id: &str, [x, y]: FlatPoint) {
    let corners = [
        [x - DIAMOND, y],
        [x, y - DIAMOND],
        [x + DIAMOND, y],
        [x, y + DIAMOND],
    ];
    let diamond = Path::through(corners).closed(true);
    drawing.named_path(Layer::Help, REGISTER, id, diamond);
    drawing.line(Layer::Help, REGISTER, [[x - CROSS, y], [x + CROSS, y]]);
    drawing.line(Layer::Help, REGISTER, [[x, y - CROSS], [x, y + CROSS]]);
}
