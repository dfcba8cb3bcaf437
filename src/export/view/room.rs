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
        for (index, center) in self.cells(&Area { low, high }) {
            if polygon.contains(&center) {
                self.tube[index] = true;
            }
        }
    }

    /// Takes an area.
    pub fn take(&mut self, area: &Area) {
        for (index, _) in self.cells(area) {
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
        self.page.holds(area) && !self.cells(area).iter().any(|&(index, _)| self.taken[index])
    }

    /// Part of an area that shows tube, 0 to 1.
    pub fn tube_under(&self, area: &Area) -> f64 {
        let cells = self.cells(area);
        let shown = cells.iter().filter(|&&(index, _)| self.tube[index]).count();
        shown as f64 / cells.len().max(1) as f64
    }

    /// How much tube a line crosses, mm; `None` where it crosses what is taken.
    pub fn tube_along(&self, from: Spot, to: Spot) -> Option<f64> {
        let line = self.line(from, to);
        if line.iter().any(|&index| self.taken[index]) {
            return None;
        }
        let shown = line.iter().filter(|&&index| self.tube[index]).count();
        Some((to - from).norm() * shown as f64 / line.len().max(1) as f64)
    }

    /// Cells that an area touches, each with its middle.
    fn cells(&self, area: &Area) -> Vec<(usize, Spot)> {
        let (low, high) = (area.low - self.page.low, area.high - self.page.low);
        let rows = self.taken.len() / self.columns;
        let range = |low: f64, high: f64, count: usize| {
            let first = (low / self.cell).floor().max(0.0) as usize;
            let last = ((high / self.cell).floor().max(-1.0) + 1.0) as usize;
            first..last.min(count)
        };
        let mut cells = Vec::new();
        for row in range(low.y, high.y, rows) {
            for column in range(low.x, high.x, self.columns) {
                let middle = Offset::new(column as f64 + 0.5, row as f64 + 0.5) * self.cell;
                cells.push((row * self.columns + column, self.page.low + middle));
            }
        }
        cells
    }

    /// Cells along a line, some of them twice.
    fn line(&self, from: Spot, to: Spot) -> Vec<usize> {
        let steps = ((to - from).norm() / self.cell * 2.0).ceil().clamp(1.0, 4.0 * CELLS);
        let rows = self.taken.len() / self.columns;
        (0..=steps as u32)
            .filter_map(|step| {
                let at = from + (to - from) * (f64::from(step) / steps) - self.page.low;
                let (column, row) = ((at.x / self.cell).floor(), (at.y / self.cell).floor());
                let inside = column >= 0.0
                    && row >= 0.0
                    && column < self.columns as f64
                    && row < rows as f64;
                inside.then(|| row as usize * self.columns + column as usize)
            })
            .collect()
    }
}
