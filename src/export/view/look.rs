//! [`Look`]: how large a picture is and what it shows.

use crate::run::Run;
use crate::units::{Length, Style};

/// A run to show, and what its ends are called.
#[derive(Clone, Copy, Debug)]
pub struct Shown<'a> {
    /// The run's name; shown where there are several runs.
    pub name: &'a str,
    /// Pieces and joints.
    pub run: &'a Run,
    /// Names of the ports that it begins and ends at.
    pub ports: [&'a str; 2],
}

/// Size of a picture as it is printed, and what is on it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// Greatest width on the printed page.
    pub width: Length,
    /// Greatest height on the printed page.
    pub height: Length,
    /// Height of capitals and digits on the printed page; less where the page is too small
    /// for it.
    pub text: Length,
    /// Number the pieces, in discs.
    pub pieces: bool,
    /// Number the joints, in squares: 0 is the first port, as in the sheet.
    pub joints: bool,
    /// Name the ports, with an arrow along the flow.
    pub ports: bool,
    /// Put main sizes on the three views.
    pub sizes: bool,
    /// How sizes are written.
    pub style: Style,
}

impl Look {
    /// Everything shown, on the width of a page's text.
    pub const fn new(style: Style) -> Self {
        Self {
            width: Length::from_mm(180.0),
            height: Length::from_mm(150.0),
            text: Length::from_mm(1.8),
            pieces: true,
            joints: true,
            ports: true,
            sizes: true,
            style,
        }
    }

    /// Width, height and text height in mm, made such that something can be drawn:
    /// `rooms` is how many text heights the width and the height hold besides the picture.
    pub(super) fn measures(&self, rooms: [f64; 2]) -> [f64; 3] {
        let side = |length: Length| {
            let mm = length.mm();
            if mm.is_finite() {
                mm.clamp(LEAST_SIDE, MOST_SIDE)
            } else {
                LEAST_SIDE
            }
        };
        let (width, height) = (side(self.width), side(self.height));
        let most = (width / rooms[0]).min(height / rooms[1]) * MOST_ROOM;
        let text = self.text.mm();
        let text = if text.is_finite() && text > 0.0 {
            text.min(most)
        } else {
            most
        };
        [width, height, text]
    }
}

/// Smallest and largest side of a picture, mm.
const LEAST_SIDE: f64 = 10.0;
const MOST_SIDE: f64 = 3000.0;
/// Greatest part of a side that margins may take.
const MOST_ROOM: f64 = 0.6;

/// A finished picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// A whole SVG document, its size given in mm.
    pub svg: String,
    /// Its width, no more than asked for.
    pub width: Length,
    /// Its height, no more than asked for.
    pub height: Length,
    /// Numbers and names for which there was no room.
    pub left_out: usize,
}
