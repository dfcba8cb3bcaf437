//! [`Room`]: which parts of a page labels have taken, and which show tube.

use super::{Area, Convex, Offset, Spot};

/// Cells along the longer side of a page: fine enough for labels side by side.
const CELLS: f64 = 400.0;

/// A page in cells.
pub struct Room {
    page: Area,
    cell: f64,
    columns: usize,
    taken: Vec<bool>,
    tube: Vec<bool>,
}

impl Room {
    /// Nothing taken yet.
    pub fn new(page: Area) -> Self {
        let cell = page.width().max(page.height()) / CELLS;
        let count = |side: f64| (side / cell).ceil() as usize + 1;
        let columns = count(page.width());
        let cells = columns * count(page.height());
        Self {
            page,
            cell,
            columns,
            taken: vec![false; cells],
            tube: vec![false; cells],
        }
    }

    /// The page.
    pub const fn page(&self) -> &Area {
        &self.page
    }

    /// Says that a polygon, in page coordinates, shows tube.
    pub fn show_tube(&mut self, polygon: &Convex) {
        let (low, high) = polygon.bounds();
        for index in self.cells(&Area { low, high }) {
            if polygon.contains(&self.middle(index)) {
                self.tube[index] = true;
            }
        }
    }

    /// Takes an area.
    pub fn take(&mut self, area: &Area) {
        for index in self.cells(area) {
            self.taken[index] = true;
        }
    }

    /// Takes what a line runs through.
    pub fn take_line(&mut self, from: Spot, to: Spot) {
        for index in self.line(from, to) {
            self.taken[index] = true;
        }
    }

    /// Whether an area is on the page and nothing has taken a part of it.
    pub fn is_free(&self, area: &Area) -> bool {
        self.page.holds(area) && !self.cells(area).any(|index| self.taken[index])
    }

    /// Part of an area that shows tube, 0 to 1.
    pub fn tube_under(&self, area: &Area) -> f64 {
        let (mut shown, mut all) = (0.0, 0.0);
        for index in self.cells(area) {
            all += 1.0;
            shown += f64::from(u8::from(self.tube[index]));
        }
        if all > 0.0 { shown / all } else { 0.0 }
    }

    /// How much tube a line crosses, mm; `None` where it crosses what is taken.
    pub fn tube_along(&self, from: Spot, to: Spot) -> Option<f64> {
        let (mut shown, mut all) = (0.0, 0.0);
        for index in self.line(from, to) {
            if self.taken[index] {
                return None;
            }
            all += 1.0;
            shown += f64::from(u8::from(self.tube[index]));
        }
        Some(if all > 0.0 {
            (to - from).norm() * shown / all
        } else {
            0.0
        })
    }

    fn rows(&self) -> usize {
        self.taken.len() / self.columns
    }

    fn middle(&self, index: usize) -> Spot {
        let (row, column) = (index / self.columns, index % self.columns);
        self.page.low + Offset::new(column as f64 + 0.5, row as f64 + 0.5) * self.cell
    }

    /// Cells that an area touches.
    fn cells(&self, area: &Area) -> impl Iterator<Item = usize> + use<> {
        let (low, high) = (area.low - self.page.low, area.high - self.page.low);
        let (cell, columns) = (self.cell, self.columns);
        let range = |low: f64, high: f64, count: usize| {
            let first = (low / cell).floor().max(0.0) as usize;
            let last = ((high / cell).floor().max(-1.0) + 1.0) as usize;
            first..last.min(count)
        };
        let across = range(low.x, high.x, columns);
        range(low.y, high.y, self.rows())
            .flat_map(move |row| across.clone().map(move |column| row * columns + column))
    }

    /// Cells along a line, some of them twice.
    fn line(&self, from: Spot, to: Spot) -> impl Iterator<Item = usize> + use<> {
        let (low, cell, columns, rows) = (self.page.low, self.cell, self.columns, self.rows());
        let steps = ((to - from).norm() / cell * 2.0)
            .ceil()
            .clamp(1.0, 4.0 * CELLS);
        (0..=steps as u32).filter_map(move |step| {
            let at = (from + (to - from) * (f64::from(step) / steps) - low) / cell;
            let inside = at.x >= 0.0 && at.y >= 0.0 && at.x < columns as f64 && at.y < rows as f64;
            inside.then(|| at.y as usize * columns + at.x as usize)
        })
    }
}
