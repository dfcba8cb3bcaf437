//! [`Part`]: what a piece of a run is, straight tube or a stock bend.

use super::{BentPiece, Cut, Facets, Mesh, Piece, Tube};
use crate::units::{Angle, Length};

/// One piece of a run.
#[derive(Clone, Debug, PartialEq)]
pub enum Part {
    /// Straight tube with a plane cut at each end.
    Straight(Piece),
    /// A stock bend, both ends square.
    Bent(BentPiece),
}

impl Part {
    /// A stable name of its kind, for files.
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Straight(_) => "straight",
            Self::Bent(_) => "stock-bend",
        }
    }

    /// The straight piece, if it is one.
    pub const fn straight(&self) -> Option<&Piece> {
        match self {
            Self::Straight(piece) => Some(piece),
            Self::Bent(_) => None,
        }
    }

    /// The stock bend, if it is one.
    pub const fn bent(&self) -> Option<&BentPiece> {
        match self {
            Self::Straight(_) => None,
            Self::Bent(bent) => Some(bent),
        }
    }

    /// The stock.
    pub const fn tube(&self) -> &Tube {
        match self {
            Self::Straight(piece) => piece.tube(),
            Self::Bent(bent) => &bent.tube,
        }
    }

    /// Length along the centerline, cut to cut.
    pub fn length(&self) -> Length {
        match self {
            Self::Straight(piece) => piece.length(),
            Self::Bent(bent) => bent.length(),
        }
    }

    /// The longest side; on a stock bend the outside of the bend.
    pub fn long_side(&self) -> Length {
        match self {
            Self::Straight(piece) => piece.long_side(),
            Self::Bent(bent) => bent.long_side(),
        }
    }

    /// The shortest side; on a stock bend the inside of the bend.
    pub fn short_side(&self) -> Length {
        match self {
            Self::Straight(piece) => piece.short_side(),
            Self::Bent(bent) => bent.short_side(),
        }
    }

    /// The upstream cut.
    pub fn start(&self) -> Cut {
        self.straight().map_or(Cut::SQUARE, Piece::start)
    }

    /// The downstream cut.
    pub fn end(&self) -> Cut {
        self.straight().map_or(Cut::SQUARE, Piece::end)
    }

    /// Clock from the start's long side to the end's; zero where either is square.
    pub fn clock(&self) -> Angle {
        self.straight().map_or(Angle::ZERO, Piece::clock)
    }

    /// The piece as a closed mesh in its own frame.
    pub fn mesh(&self, facets: Facets) -> Mesh {
        match self {
            Self::Straight(piece) => piece.mesh(facets),
            Self::Bent(bent) => bent.mesh(facets),
        }
    }
}
