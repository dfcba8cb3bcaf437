//! [`Edge`]: one end of a sleeve, whichever way it is cut.

use super::{Cut, Scribed};
use crate::units::{Angle, Length};

/// One end of a [`Sleeve`](super::Sleeve).
#[derive(Clone, Debug, PartialEq)]
pub enum Edge {
    /// Cut in one plane, as a saw does.
    Cut(Cut),
    /// Cut along a line through points marked on the outside.
    Scribed(Scribed),
}

impl Edge {
    /// A square end.
    pub const SQUARE: Self = Self::Cut(Cut::SQUARE);

    /// How much longer the tube is at `clock` than at its center, at `radius` from
    /// the axis: the same sense at both ends.
    ///
    /// A plane cut reaches less far at the bore than outside; a scribed edge is cut
    /// square to the wall, so that its bore is as long as its outside.
    pub fn extension(&self, radius: Length, clock: Angle) -> Length {
        match self {
            Self::Cut(cut) => cut.extension(radius, clock),
            Self::Scribed(scribed) => scribed.extension(clock),
        }
    }

    /// How fast the extension grows with the clock, mm a radian.
    pub fn slope(&self, radius: Length, clock: Angle) -> f64 {
        match self {
            Self::Cut(cut) => cut.slope(radius, clock),
            Self::Scribed(scribed) => scribed.slope(clock),
        }
    }

    /// The least and the greatest extension, exactly.
    pub fn range(&self, radius: Length) -> (Length, Length) {
        match self {
            Self::Cut(cut) => (-cut.reach(radius), cut.reach(radius)),
            Self::Scribed(scribed) => scribed.range(),
        }
    }

    /// Clocks between which the edge is smooth, where it is one of many curves.
    pub(super) fn knots(&self) -> Vec<Angle> {
        match self {
            Self::Cut(_) => Vec::new(),
            Self::Scribed(scribed) => scribed.knots().map(|(clock, _)| clock).collect(),
        }
    }
}

impl From<Cut> for Edge {
    fn from(cut: Cut) -> Self {
        Self::Cut(cut)
    }
}

impl From<Scribed> for Edge {
    fn from(scribed: Scribed) -> Self {
        Self::Scribed(scribed)
    }
}
