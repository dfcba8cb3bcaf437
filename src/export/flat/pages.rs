//! Blocks put on pages: shelf by shelf, in order.

use super::area::Area;
use super::check::{BARS_SIZE, check_bars};
use super::drawing::Drawing;
use super::paper::PaperSize;
use super::sheet::Sheet;
use super::text::{Anchor, Text};
use crate::units::Length;

/// White round a page, mm: more than any printer needs; common practice, no source.
const MARGIN: f64 = 10.0;
/// From the check bars to what is above them, mm.
const ABOVE_BARS: f64 = 4.0;
/// Between one block and the next, mm.
const GAP: f64 = 6.0;
/// Height of the words beside the check bars, mm, and from one line to the next.
const FOOT: (f64, f64) = (2.6, 4.0);

/// Something that is printed whole on one page.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// What is drawn.
    pub drawing: Drawing,
    /// What it takes, in the drawing's own millimeters.
    pub area: Area,
    /// Whether its page lies on its side.
    pub on_side: bool,
}

impl PaperSize {
    /// Width and height of a page, upright or on its side, mm.
    fn page(self, on_side: bool) -> [f64; 2] {
        let (width, height) = self.size();
        if on_side {
            [height.mm(), width.mm()]
        } else {
            [width.mm(), height.mm()]
        }
    }

    /// Width and height that a block may take, mm.
    pub(in crate::export) fn room(self, on_side: bool) -> [f64; 2] {
        let body = body(self.page(on_side));
        [body.width(), body.height()]
    }
}

/// The part of a page that blocks go on.
fn body([width, height]: [f64; 2]) -> Area {
    Area {
        left: MARGIN,
        right: width - MARGIN,
        low: MARGIN + BARS_SIZE[1] + ABOVE_BARS,
        high: height - MARGIN,
    }
}

/// A page that is being filled.
struct Open {
    size: [f64; 2],
    drawing: Drawing,
    /// Where the next block of this shelf begins.
    x: f64,
    /// Top of the shelf, and its height so far.
    shelf: (f64, f64),
}

impl Open {
    fn new(size: [f64; 2]) -> Self {
        let body = body(size);
        Self {
            size,
            drawing: Drawing::default(),
            x: body.left,
            shelf: (body.high, 0.0),
        }
    }

    /// Puts a block on this shelf or the next, if there is room.
    fn put(&mut self, block: &Block) -> bool {
        let body = body(self.size);
        let (width, height) = (block.area.width(), block.area.height());
        let fits = |x: f64, top: f64| {
            x + width <= body.right + ROUNDING && top - height >= body.low - ROUNDING
        };
        let (mut x, (mut top, mut shelf)) = (self.x, self.shelf);
        if !fits(x, top) {
            (x, top, shelf) = (body.left, top - shelf - GAP, 0.0);
            // The first block of a page goes on it whatever its size.
            if self.shelf.1 > 0.0 && !fits(x, top) {
                return false;
            }
            if self.shelf.1 == 0.0 {
                top = body.high;
            }
        }
        let corner = [x - block.area.left, top - block.area.high];
        self.drawing.place(&block.drawing, corner);
        self.x = x + width + GAP;
        self.shelf = (top, shelf.max(height));
        true
    }
}

/// What a sum of lengths on a page may be off by, mm.
const ROUNDING: f64 = 1e-6;

/// The blocks on as few pages as one after the other takes. Every page has bars to check
/// its scale by, and beside them `title` and the page's number.
pub fn pages(blocks: &[Block], paper: PaperSize, title: &str) -> Vec<Sheet> {
    let mut open: Vec<Open> = Vec::new();
    for block in blocks {
        let size = paper.page(block.on_side);
        let last = open.last_mut().filter(|page| page.size == size);
        if !last.is_some_and(|page| page.put(block)) {
            let mut page = Open::new(size);
            page.put(block);
            open.push(page);
        }
    }
    let count = open.len();
    let finish = |(i, page): (usize, Open)| finish(page, title, (i + 1, count));
    open.into_iter().enumerate().map(finish).collect()
}

fn finish(page: Open, title: &str, (number, count): (usize, usize)) -> Sheet {
    let [width, height] = page.size;
    let mut drawing = page.drawing;
    check_bars(&mut drawing, [MARGIN, MARGIN]);
    let lines = [
        title.to_owned(),
        "print at 100 %, measure a bar before you cut".to_owned(),
        format!("page {number} of {count}"),
    ];
    let (size, step) = FOOT;
    for (line, y) in lines.iter().zip([2.0, 1.0, 0.0]) {
        let at = [width - MARGIN, MARGIN + 1.0 + step * y];
        let text = Text::new(at, size, line.as_str()).anchored(Anchor::End);
        drawing.text(shortened(text, width - 2.0 * MARGIN - BARS_SIZE[0]));
    }
    Sheet {
        width: Length::from_mm(width),
        height: Length::from_mm(height),
        drawing,
    }
}

/// A text with what does not fit left out of it.
pub(in crate::export) fn shortened(mut text: Text, width: f64) -> Text {
    while text.length() > width && text.content.chars().count() > 1 {
        text.content.pop();
        if text.content.ends_with('…') {
            text.content.pop();
        }
        text.content.push('…');
    }
    text
}
