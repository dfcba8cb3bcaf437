//! [`Constraint`]: what holds a layout back.

/// A limit that a layout can run into. Bends and straights count from 0 in order
/// of flow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Constraint {
    /// Straight tube asked for at the first port.
    StartStraight,
    /// Straight tube asked for at the last port.
    EndStraight,
    /// Straight tube asked for between this bend and the one before it.
    Between(usize),
    /// Turn that this bend's joints can take.
    Turn(usize),
    /// Short side of this bend's pies.
    PieShortSide(usize),
    /// Short side of the piece that this straight is part of.
    ShortSide(usize),
    /// Least CLR of this bend.
    ClrMin(usize),
    /// Greatest CLR of this bend.
    ClrMax(usize),
}

impl Constraint {
    /// The same limit for someone who walks a route of `corners` bends backward.
    pub(super) fn reversed(self, corners: usize) -> Self {
        let bend = |i: usize| corners - 1 - i.min(corners - 1);
        let leg = |i: usize| corners - i.min(corners);
        match self {
            Self::StartStraight => Self::EndStraight,
            Self::EndStraight => Self::StartStraight,
            Self::Between(i) => Self::Between(leg(i)),
            Self::Turn(i) => Self::Turn(bend(i)),
            Self::PieShortSide(i) => Self::PieShortSide(bend(i)),
            Self::ShortSide(i) => Self::ShortSide(leg(i)),
            Self::ClrMin(i) => Self::ClrMin(bend(i)),
            Self::ClrMax(i) => Self::ClrMax(bend(i)),
        }
    }
}
