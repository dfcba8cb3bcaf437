//! Wrap patterns as blocks on pages: whole where a page holds one, else in tiles.

use super::heading::Heading;
use super::layout::Layout;
use super::wrap::Wrap;
use crate::export::flat::{Anchor, Area, Block, Drawing, Grid, PaperSize, Text, Tile};

/// White between a pattern and what is beside it, mm; half the width of the cut line too.
const ABOUT: f64 = 0.5;
/// Least width that words above a pattern run to, mm.
const HEADING_WIDTH: f64 = 110.0;
/// Least size of tiles across the direction in which they are joined, mm: room for their
/// marks and names.
const LEAST_TILE: f64 = 36.0;
/// Times that a grid is tried again, where words beside a pattern need more room.
const GRID_TRIES: usize = 4;
/// Room at the right of a tile's heading for its name and the key map, mm.
const ASIDE: [f64; 2] = [64.0, 13.0];
/// Height of a tile's name, and white between it and the key map, mm.
const NAME_SIZE: f64 = 9.0;
const NAME_GAP: f64 = 4.0;
/// What a sum of lengths on a page may be off by, mm.
const ROUNDING: f64 = 1e-6;
/// Said above every tile.
const JOINING: &str =
    "tiles: cut one along the dotted line, lay it on the neighbor's, diamond on diamond";

/// A drawing that may have to be split, and what is said above it.
pub(super) struct Split<'a, F: Fn(&[Area]) -> (Drawing, Vec<String>)> {
    /// What it is.
    pub title: &'a str,
    /// More about it.
    pub facts: &'a str,
    /// The drawing whose words keep off some areas, and notes to it.
    pub draw: F,
}

/// The blocks of one wrap pattern: of all of it, or of its shaped ends alone where that
/// takes fewer.
pub(super) fn wrap_blocks(wrap: &Wrap, paper: PaperSize) -> Vec<Block> {
    let whole = all_of(wrap, paper);
    if whole.len() <= wrap.ends.len().max(1) || wrap.ends.is_empty() {
        return whole;
    }
    let ends = wrap.ends.iter().flat_map(|end| all_of(end, paper));
    let ends: Vec<Block> = ends.collect();
    if ends.len() < whole.len() {
        ends
    } else {
        whole
    }
}

fn all_of(wrap: &Wrap, paper: PaperSize) -> Vec<Block> {
    let split = Split {
        title: &wrap.title,
        facts: &wrap.facts,
        draw: |keep_off: &[Area]| {
            let layout = Layout::of(wrap, keep_off);
            (layout.drawing, layout.notes)
        },
    };
    split.blocks(paper)
}

impl<F: Fn(&[Area]) -> (Drawing, Vec<String>)> Split<'_, F> {
    /// One block, or as few tiles as hold the drawing.
    pub(super) fn blocks(&self, paper: PaperSize) -> Vec<Block> {
        let (drawing, notes) = (self.draw)(&[]);
        let area = drawing.area().grown(ABOUT);
        let whole = [false, true]
            .into_iter()
            .find_map(|on_side| self.whole(&drawing, &notes, &area, paper.room(on_side), on_side));
        if let Some(block) = whole {
            return vec![block];
        }
        let [upright, side] = [false, true].map(|on_side| self.tiles(&area, paper, on_side));
        if side.len() < upright.len() {
            side
        } else {
            upright
        }
    }

    fn paragraphs<'b>(&'b self, notes: &'b [String], tiled: bool) -> Vec<&'b str> {
        let joining = tiled.then_some(JOINING);
        let notes = notes.iter().map(String::as_str);
        std::iter::once(self.facts)
            .chain(notes)
            .chain(joining)
            .collect()
    }

    /// The block with all of it, if `room` holds it.
    fn whole(
        &self,
        drawing: &Drawing,
        notes: &[String],
        area: &Area,
        room: [f64; 2],
        on_side: bool,
    ) -> Option<Block> {
        let width = area.width().max(HEADING_WIDTH.min(room[0]));
        let heading = Heading::new(self.title, &self.paragraphs(notes, false), [0.0; 2], width);
        let block = under(&heading, drawing, area, on_side);
        (block.area.width() <= room[0] && block.area.height() <= room[1]).then_some(block)
    }

    fn tiles(&self, area: &Area, paper: PaperSize, on_side: bool) -> Vec<Block> {
        let room = paper.room(on_side);
        let (_, mut notes) = (self.draw)(&[]);
        let mut blocks = Vec::new();
        for more in 0..GRID_TRIES {
            // Words that keep off join lines may take a note each, or stand outside.
            let heading = self.tile_heading(&notes, room[0]).height();
            let window = [room[0], (room[1] - heading).max(LEAST_TILE)];
            let grid = Grid::fitting(&roomy(area, window), window, more);
            let (drawing, found) = (self.draw)(&grid.keep_off(area));
            notes = found;
            let drawn = roomy(&drawing.area().grown(ABOUT), window);
            let heading = self.tile_heading(&notes, room[0]);
            let tiles = grid.tiles(&drawing, &drawn);
            let block = |tile: &Tile| {
                let mut block = under(&heading, &tile.drawing, &tile.window, on_side);
                name_tile(&mut block, tile, &grid, room[0]);
                block
            };
            blocks = tiles.iter().map(block).collect();
            let fits = |block: &Block| {
                let size = [block.area.width(), block.area.height()];
                size[0] <= room[0] + ROUNDING && size[1] <= room[1] + ROUNDING
            };
            if blocks.iter().all(fits) {
                break;
            }
        }
        blocks
    }

    fn tile_heading(&self, notes: &[String], width: f64) -> Heading {
        Heading::new(self.title, &self.paragraphs(notes, true), ASIDE, width)
    }
}

/// The tile's name in the upper right corner, and beside it where it belongs.
fn name_tile(block: &mut Block, tile: &Tile, grid: &Grid, width: f64) {
    let [right, top] = [block.area.left + width, block.area.high];
    let at = [right, top - 0.8 * NAME_SIZE];
    let name = Text::new(at, NAME_SIZE, tile.name.as_str()).bold();
    let name = name.anchored(Anchor::End);
    let corner = [right - name.length() - NAME_GAP, top];
    block.drawing.text(name);
    grid.key_map(&mut block.drawing, corner, tile.place);
}

/// Large enough across for marks, where it is split the other way.
fn roomy(area: &Area, [width, height]: [f64; 2]) -> Area {
    let mut area = *area;
    let short = LEAST_TILE - area.height();
    if area.width() > width && short > 0.0 {
        area.low -= short / 2.0;
        area.high += short / 2.0;
    }
    let narrow = LEAST_TILE - area.width();
    if area.height() > height && narrow > 0.0 {
        area.left -= narrow / 2.0;
        area.right += narrow / 2.0;
    }
    area
}

/// A drawing with its heading above it.
fn under(heading: &Heading, drawing: &Drawing, area: &Area, on_side: bool) -> Block {
    let mut drawing = drawing.clone();
    let high = area.high + heading.height();
    heading.draw(&mut drawing, [area.left, high]);
    let right = area.left + area.width().max(heading.width());
    Block {
        drawing,
        area: Area {
            right,
            high,
            ..*area
        },
        on_side,
    }
}
