//! [`Choice`]: how each bend of a route is to be made, before its size is known.

/// Most bends that a route may have.
pub const MAX_BENDS: usize = 5;

/// Straight stretches that a true arc is tested in for room.
pub(super) const ARC_PARTS: u32 = 8;

/// How one bend is to be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Making {
    /// A true arc of the CLR at this place of the field's list, without regard to
    /// pieces: what every other way is longer than.
    Arc { radius: usize },
    /// Miter joints of the CLR at this place of the field's list.
    Pies {
        radius: usize,
        joints: u32,
        cut: CutRule,
    },
    /// The task's stock bend at this place of its list: as it is (`whole`), or cut down
    /// to a smaller turn.
    Stock { item: usize, whole: bool },
}

/// What the saw may be set to at a pie bend.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum CutRule {
    /// Any angle.
    Free,
    /// The task's saw angle at this place of its list.
    Listed(usize),
    /// The same angle at every bend with this rule.
    Shared,
}

/// How every bend of a route is to be made, and on which legs it passes through the
/// task's passes.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Choice {
    /// One a bend, in order of flow.
    pub bends: Vec<Making>,
    /// The leg of each pass.
    pub pass_legs: Vec<usize>,
}

impl Making {
    /// Miter joints; none in arcs and stock bends.
    pub const fn joints(self) -> u32 {
        match self {
            Self::Pies { joints, .. } => joints,
            Self::Arc { .. } | Self::Stock { .. } => 0,
        }
    }

    /// Vertices that stand for the bend where what is built must be known.
    pub const fn vertices(self) -> usize {
        match self {
            Self::Pies { joints, .. } => joints as usize,
            Self::Arc { .. } | Self::Stock { .. } => ARC_PARTS as usize,
        }
    }

    pub const fn is_pies(self) -> bool {
        matches!(self, Self::Pies { .. })
    }

    const fn with_joints(self, number: u32) -> Self {
        match self {
            Self::Pies { radius, cut, .. } => Self::Pies {
                radius,
                joints: number,
                cut,
            },
            other => other,
        }
    }
}

impl Choice {
    /// `count` bends, all made alike.
    pub fn alike(making: Making, count: usize, pass_legs: &[usize]) -> Self {
        Self {
            bends: vec![making; count],
            pass_legs: pass_legs.to_vec(),
        }
    }

    /// What tells families of one task apart but for how their bends are made: the number
    /// of bends, and the legs of the passes.
    pub fn course(&self) -> (usize, Vec<usize>) {
        (self.bends.len(), self.pass_legs.clone())
    }

    /// The same route with its bends made as `bends`.
    pub fn with_bends(&self, bends: Vec<Making>) -> Self {
        Self {
            bends,
            pass_legs: self.pass_legs.clone(),
        }
    }

    /// The same route with every bend made of pies, with these joints.
    pub fn with_pies(&self, joints: &[u32], radius: usize, cut: CutRule) -> Self {
        let pies = joints.iter().map(|&joints| Making::Pies {
            radius,
            joints,
            cut,
        });
        self.with_bends(pies.collect())
    }

    /// Whether pie bends share one saw setting by rule.
    pub fn is_shared(&self) -> bool {
        let shared = |making: &Making| {
            matches!(
                making,
                Making::Pies {
                    cut: CutRule::Shared,
                    ..
                }
            )
        };
        self.bends.iter().any(shared)
    }

    /// All miter joints.
    pub fn joints(&self) -> u32 {
        self.bends.iter().map(|making| making.joints()).sum()
    }

    /// Number of pie bends.
    pub fn pie_bends(&self) -> usize {
        self.bends.iter().filter(|making| making.is_pies()).count()
    }

    /// Choices with one joint less at one bend.
    pub fn fewer(&self) -> Vec<Self> {
        let less =
            |i: usize| self.with_bend(i, self.bends[i].with_joints(self.bends[i].joints() - 1));
        (0..self.bends.len())
            .filter(|&i| self.bends[i].joints() > 1)
            .map(less)
            .collect()
    }

    /// Choices with a joint less or a joint more at one bend.
    pub fn one_off(&self) -> Vec<Self> {
        let more =
            |i: usize| self.with_bend(i, self.bends[i].with_joints(self.bends[i].joints() + 1));
        let mut choices = self.fewer();
        choices.extend(
            (0..self.bends.len())
                .filter(|&i| self.bends[i].is_pies())
                .map(more),
        );
        choices
    }

    /// Choices one step away: a joint less at one bend, or moved from one bend to
    /// another.
    pub fn nearby(&self) -> Vec<Self> {
        let mut nearby = Vec::new();
        for (from, fewer) in (0..self.bends.len())
            .filter(|&i| self.bends[i].joints() > 1)
            .zip(self.fewer())
        {
            for to in (0..self.bends.len()).filter(|&to| to != from && self.bends[to].is_pies()) {
                nearby.push(
                    fewer.with_bend(to, self.bends[to].with_joints(self.bends[to].joints() + 1)),
                );
            }
            nearby.push(fewer);
        }
        nearby
    }

    /// The same with bend `i` made as `making`.
    pub fn with_bend(&self, i: usize, making: Making) -> Self {
        let mut bends = self.bends.clone();
        bends[i] = making;
        self.with_bends(bends)
    }

    /// The same with every pie bend cut at one shared angle.
    pub fn shared(&self) -> Self {
        let share = |making: &Making| match *making {
            Making::Pies { radius, joints, .. } => Making::Pies {
                radius,
                joints,
                cut: CutRule::Shared,
            },
            other => other,
        };
        self.with_bends(self.bends.iter().map(share).collect())
    }
}
