//! [`Term`]: one thing that holds a layout back.

use super::Constraint;

/// Bends, straights and ends count from 0 in order of flow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Term {
    /// At least this much straight tube on a leg.
    Straight { leg: usize, least: f64 },
    /// A turn that the bend's joints can take at its CLR.
    Turn { bend: usize },
    /// At most this turn, rad.
    TurnAtMost { bend: usize, most: f64 },
    /// Exactly this turn, rad.
    TurnIs { bend: usize, turn: f64 },
    /// A turn of this many shared cuts, exactly.
    TurnShared { bend: usize, cuts: f64 },
    /// The least short side on a bend's pies.
    PieShort { bend: usize, least: f64 },
    /// The least short side on the piece that a straight is part of.
    ShortSide { leg: usize, least: f64 },
    /// The least CLR.
    ClrLeast { bend: usize, least: f64 },
    /// The greatest CLR.
    ClrMost { bend: usize, most: f64 },
    /// A port no farther back, or ahead, along a slide.
    Slide {
        end: usize,
        slide: usize,
        ahead: bool,
    },
    /// A port's direction within its cone.
    Cone { end: usize },
    /// One bend or none: both ports' axes meet, along one axis of the frame.
    Closed { axis: usize },
    /// No bend: the ports face each other.
    Facing { axis: usize },
    /// Edges of what is built, from this one up to the last but not with it, clear of an
    /// obstacle: a leg's straight part, or a bend.
    Clear {
        first: usize,
        last: usize,
        obstacle: usize,
    },
    /// A part of what is built clear of a scan.
    ClearScan(ScanPart),
    /// The run clear of itself.
    SelfClear,
    /// A leg through a pass, by its room.
    PassRoom { leg: usize, pass: usize },
    /// A pass on its leg's straight, after the bend before.
    PassAfter { leg: usize, pass: usize },
    /// A pass on its leg's straight, before the bend after.
    PassBefore { leg: usize, pass: usize },
}

/// A part of a leg, or some edges of a bend, and a scan that they keep clear of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct ScanPart {
    /// Edges from this one…
    pub first: usize,
    /// …up to this one, but not with it.
    pub last: usize,
    /// Whether the edge is a leg's straight part.
    pub is_leg: bool,
    /// From which part of each edge to which.
    pub span: [f64; 2],
    /// Which of the task's obstacles.
    pub obstacle: usize,
    /// Its place among the layout's corrections.
    pub slot: usize,
}

impl Term {
    /// Whether the margin must be zero rather than not negative.
    pub const fn is_equality(&self) -> bool {
        matches!(
            self,
            Self::TurnIs { .. }
                | Self::TurnShared { .. }
                | Self::Closed { .. }
                | Self::Facing { .. }
        )
    }

    /// How well a margin keeps the term: negative is violated; an equality's is never
    /// positive.
    pub fn kept(&self, margin: f64) -> f64 {
        if self.is_equality() {
            -margin.abs()
        } else {
            margin
        }
    }

    /// What the user would call it.
    pub fn constraint(&self, bends: usize) -> Constraint {
        match *self {
            Self::Straight { leg: 0, .. } => Constraint::StartStraight,
            Self::Straight { leg, .. } if leg == bends => Constraint::EndStraight,
            Self::Straight { leg, .. } => Constraint::Between(leg),
            Self::Turn { bend } | Self::TurnAtMost { bend, .. } => Constraint::Turn(bend),
            Self::TurnIs { bend, .. } => Constraint::TurnIs(bend),
            Self::TurnShared { bend, .. } => Constraint::SharedCut(bend),
            Self::PieShort { bend, .. } => Constraint::PieShortSide(bend),
            Self::ShortSide { leg, .. } => Constraint::ShortSide(leg),
            Self::ClrLeast { bend, .. } => Constraint::ClrMin(bend),
            Self::ClrMost { bend, .. } => Constraint::ClrMax(bend),
            Self::Slide { end, .. } => Constraint::Slide(end),
            Self::Cone { end } => Constraint::Cone(end),
            Self::Closed { .. } | Self::Facing { .. } => Constraint::InLine,
            Self::Clear { obstacle, .. } | Self::ClearScan(ScanPart { obstacle, .. }) => {
                Constraint::Obstacle(obstacle)
            }
            Self::SelfClear => Constraint::SelfClear,
            Self::PassRoom { pass, .. }
            | Self::PassAfter { pass, .. }
            | Self::PassBefore { pass, .. } => Constraint::Pass(pass),
        }
    }
}
