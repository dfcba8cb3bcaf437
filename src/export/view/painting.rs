//! [`Painting`]: runs as bodies in the order in which they are painted.

use super::order::back_to_front;
use super::{Body, Gaze, Spot, bodies::bodies};
use crate::run::Run;

/// Runs seen along one direction, hidden parts under what hides them.
#[derive(Clone, Debug)]
pub struct Painting {
    gaze: Gaze,
    bodies: Vec<Body>,
}

impl Painting {
    /// The runs seen along `gaze`.
    pub fn new(runs: &[&Run], gaze: Gaze) -> Self {
        let all = runs.iter().enumerate();
        let all = all
            .flat_map(|(index, run)| bodies(index, run, &gaze))
            .collect();
        Self {
            gaze,
            bodies: back_to_front(all),
        }
    }

    /// The direction.
    pub const fn gaze(&self) -> &Gaze {
        &self.gaze
    }

    /// The bodies from back to front.
    pub fn bodies(&self) -> &[Body] {
        &self.bodies
    }

    /// Least and greatest coordinates of the picture; `None` with nothing in it.
    pub fn bounds(&self) -> Option<(Spot, Spot)> {
        let boxes = self.bodies.iter().map(|body| body.hull().bounds());
        boxes.reduce(|(low, high), (a, b)| (low.inf(&a), high.sup(&b)))
    }

    /// The body that is seen at a spot, by its index.
    pub fn top_at(&self, spot: &Spot) -> Option<usize> {
        self.bodies
            .iter()
            .rposition(|body| body.hull().contains(spot))
    }
}
