//! A run that is copied from a tube, not searched for.

use super::answer::Reason;
use super::cost::Prices;
use super::solver::Stop;
use super::{Bend, Candidate, Cost, Make, Rejection, Route, Solution, Task};
use crate::geometry::{Point, Polyline, angle_between};
use crate::run::{Freedom, Port, Run};
use crate::units::Length;

impl Task {
    /// The run along `vertices`, face to face, each of the others a miter joint, with its
    /// ports where its ends are. No limit refuses it: the tube exists.
    pub fn copied(&self, vertices: &[Point]) -> Result<Solution, Rejection> {
        let centerline = Polyline::new(vertices.to_vec()).ok_or(Rejection::Unbuildable(None))?;
        let [first, last] = centerline.ends();
        let met = |port: &Port, (center, outward)| Port {
            center,
            outward,
            freedom: Freedom::default(),
            ..port.clone()
        };
        let (start, end) = (met(&self.start, first), met(&self.end, last));
        let run = Run::new(&self.tube, &start, &end, centerline, self.allowance)
            .map_err(|error| Rejection::Unbuildable(Some(error)))?;
        let route = route_of(run.centerline());
        let prices = Prices {
            rates: &self.rates,
            stock: &self.stock,
            wish: None,
        };
        let cost = Cost::of(&route, &run, &prices);
        Ok(Solution {
            best: Candidate { route, run, cost },
            reasons: vec![Reason::Copied],
            alternatives: Vec::new(),
            stop: Stop::Copied,
            searches: 0,
        })
    }
}

/// Each joint a bend of one joint, whose arc takes up half of the shorter of its edges.
fn route_of(centerline: &Polyline) -> Route {
    let (points, axes) = (centerline.points(), centerline.directions());
    let last = points.len() - 1;
    let bend = |vertex: usize| {
        let edge = |from: usize| (points[from + 1] - points[from]).norm();
        let turn = angle_between(&axes[vertex - 1], &axes[vertex]);
        let take_out = edge(vertex - 1).min(edge(vertex)) / 2.0;
        Bend {
            corner: points[vertex],
            incoming: axes[vertex - 1],
            outgoing: axes[vertex],
            turn,
            clr: Length::from_mm(take_out / (turn / 2.0).tan()),
            make: Make::Pies { joints: 1 },
        }
    };
    Route {
        start: points[0],
        end: points[last],
        bends: (1..last).map(bend).collect(),
    }
}
