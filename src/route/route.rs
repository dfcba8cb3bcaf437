//! [`Route`]: a centerline as straights and bends.

use super::Bend;
use crate::geometry::{Direction, Point};
use crate::units::{Angle, Length};

/// Straights and bends from one port to another.
#[derive(Clone, Debug, PartialEq)]
pub struct Route {
    /// Center of the first port's face.
    pub start: Point,
    /// Center of the last port's face.
    pub end: Point,
    /// Bends in order of flow; none for a straight run.
    pub bends: Vec<Bend>,
}

impl Route {
    /// Straight tube before each bend and after the last, arc end to arc start.
    pub fn straights(&self) -> Vec<Length> {
        let mut straights = Vec::with_capacity(self.bends.len() + 1);
        let (mut from, mut taken) = (self.start, Length::ZERO);
        for bend in &self.bends {
            let leg = Length::from_mm((bend.corner - from).norm());
            straights.push(leg - taken - bend.take_out());
            (from, taken) = (bend.corner, bend.take_out());
        }
        straights.push(Length::from_mm((self.end - from).norm()) - taken);
        straights
    }

    /// The same route walked from its end.
    pub fn reversed(&self) -> Self {
        let bends = self.bends.iter().rev().map(Bend::reversed);
        Self {
            start: self.end,
            end: self.start,
            bends: bends.collect(),
        }
    }

    /// Sum of the turns.
    pub fn total_turn(&self) -> Angle {
        self.bends.iter().map(|bend| bend.turn).sum()
    }

    /// Directions of flow out of the first port and into the last; `None` if both ports
    /// are at one place.
    pub fn end_directions(&self) -> Option<[Direction; 2]> {
        match (self.bends.first(), self.bends.last()) {
            (Some(first), Some(last)) => Some([first.incoming, last.outgoing]),
            _ => {
                let chord = Direction::try_new(self.end - self.start, f64::MIN_POSITIVE)?;
                Some([chord; 2])
            }
        }
    }

    /// Whether another route goes the same way round: as many bends, none farther from
    /// its counterpart's corner than `apart`.
    pub fn is_near(&self, other: &Self, apart: Length) -> bool {
        let corners = self.bends.iter().zip(&other.bends);
        self.bends.len() == other.bends.len()
            && corners
                .into_iter()
                .all(|(a, b)| (a.corner - b.corner).norm() <= apart.mm())
    }
}
