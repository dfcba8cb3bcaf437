//! [`Spot`]: which of the readings.

/// A reading, by its place in what was given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Spot {
    /// A joint's middle.
    Joint(usize),
    /// A point on the outside of a piece: which piece, which of its points.
    Outside(usize, usize),
    /// A point of the centerline.
    Center(usize),
    /// The tube's first (0) or last (1) end.
    End(usize),
}
