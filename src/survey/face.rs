//! [`Face`]: how an end's face stands to its tube.

/// How the face of what is surveyed stands to its axis.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Face {
    /// Square to it: a port, or a tube that was cut square.
    #[default]
    Square,
    /// Slanted: a built tube that ends in a miter. Its face has a normal of its own, and
    /// its rim is an ellipse on a circle's cylinder.
    Mitered,
}

impl Face {
    /// Whether it has a normal of its own.
    pub(super) fn is_mitered(self) -> bool {
        self == Self::Mitered
    }
}
