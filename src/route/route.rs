//! [`Route`]: a centerline as straights and bends.

use super::Bend;
use crate::geometry::{Point, Polyline};
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
        let bends = self.bends.iter().rev().map(|bend| Bend {
            incoming: -bend.outgoing,
            outgoing: -bend.incoming,
            ..*bend
        });
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

    /// Number of miter joints.
    pub fn joint_count(&self) -> u32 {
        self.bends.iter().map(|bend| bend.joints).sum()
    }

    /// The centerline as it is built: the joints of every bend. `None` if two of
    /// them fall on one point.
    pub fn centerline(&self) -> Option<Polyline> {
        let mut points = vec![self.start];
        points.extend(self.bends.iter().flat_map(Bend::vertices));
        points.push(self.end);
        Polyline::new(points)
    }
}
