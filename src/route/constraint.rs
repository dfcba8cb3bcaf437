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
    /// A turn of this bend that its saw angle or stock bend makes.
    TurnIs(usize),
    /// One saw angle for all bends, at this bend.
    SharedCut(usize),
    /// The slides of the first (0) or last (1) port.
    Slide(usize),
    /// The cone of the first (0) or last (1) port.
    Cone(usize),
    /// Ports that face each other, or axes that meet.
    InLine,
    /// This obstacle of the task.
    Obstacle(usize),
    /// The run's own other parts.
    SelfClear,
    /// This pass of the task.
    Pass(usize),
    /// The number of bends.
    MostBends,
}

impl Constraint {
    /// The same limit for someone who walks a route of `corners` bends and `passes`
    /// passes backward.
    pub(super) fn reversed(self, corners: usize, passes: usize) -> Self {
        let bend = |i: usize| corners.saturating_sub(i + 1);
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
            Self::TurnIs(i) => Self::TurnIs(bend(i)),
            Self::SharedCut(i) => Self::SharedCut(bend(i)),
            Self::Slide(end) => Self::Slide(1 - end.min(1)),
            Self::Cone(end) => Self::Cone(1 - end.min(1)),
            Self::Pass(i) => Self::Pass(passes.saturating_sub(i + 1)),
            Self::InLine | Self::Obstacle(_) | Self::SelfClear | Self::MostBends => self,
        }
    }
}
