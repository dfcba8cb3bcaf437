//! [`Origin`]: which end of a run something is built from.

/// The port that a part of a run is tacked up from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// Where flow enters.
    First,
    /// Where flow leaves.
    Last,
}

impl Origin {
    /// Its place among a run's two ports.
    pub const fn index(self) -> usize {
        match self {
            Self::First => 0,
            Self::Last => 1,
        }
    }

    /// +1 where what is built grows downstream, −1 where it grows upstream.
    pub const fn sign(self) -> f64 {
        match self {
            Self::First => 1.0,
            Self::Last => -1.0,
        }
    }

    /// The joint at the built face of the piece at `index`.
    pub const fn face_joint(self, index: usize) -> usize {
        match self {
            Self::First => index + 1,
            Self::Last => index,
        }
    }

    /// The joint by which the piece at `index` is put on.
    pub const fn joined_at(self, index: usize) -> usize {
        match self {
            Self::First => index,
            Self::Last => index + 1,
        }
    }
}
