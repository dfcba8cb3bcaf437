//! [`Fan`]: a polygon as triangles about its first corner.

use super::error::{Place, ReadError};
use super::soup::Soup;

/// A polygon whose corners come one after the other.
#[derive(Default)]
pub(super) struct Fan {
    first: Option<u32>,
    last: Option<u32>,
    triangles: usize,
}

impl Fan {
    /// The next corner.
    pub fn corner(&mut self, corner: u32, soup: &mut Soup, place: Place) -> Result<(), ReadError> {
        match (self.first, self.last) {
            (None, _) => self.first = Some(corner),
            (Some(_), None) => self.last = Some(corner),
            (Some(first), Some(last)) => {
                soup.triangle([first, last, corner], place)?;
                self.triangles += 1;
                self.last = Some(corner);
            }
        }
        Ok(())
    }

    /// After the last corner.
    pub fn end(self, soup: &mut Soup) {
        soup.thin += usize::from(self.triangles == 0);
    }
}
