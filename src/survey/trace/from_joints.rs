//! A tube from the middles of its welds.

use super::blame::Hints;
use super::end::TubeEnd;
use super::error::TraceError;
use super::finish::finish;
use super::lines::Line;
use super::readings::{On, Readings};
use super::spot::Spot;
use super::touched::Trace;
use super::traced::Traced;
use crate::geometry::Point;
use crate::units::Length;

/// Deviations within which two points are one place.
const TOGETHER: f64 = 3.0;

/// An end's axis.
pub(super) fn axis(end: &TubeEnd) -> Line {
    Line {
        point: end.center,
        direction: end.outward.into_inner(),
    }
}

pub(super) fn from_joints(trace: &Trace, points: &[Point]) -> Result<Traced, Vec<TraceError>> {
    let near = TOGETHER * trace.accuracy.mm();
    let mut all = vec![trace.ends[0].center];
    all.extend(points);
    all.push(trace.ends[1].center);
    let together: Vec<TraceError> = all
        .windows(2)
        .enumerate()
        .filter(|(_, pair)| (pair[1] - pair[0]).norm() <= near)
        .map(|(i, pair)| TraceError::Together {
            joint: i.min(points.len().saturating_sub(1)),
            apart: Length::from_mm((pair[1] - pair[0]).norm()),
        })
        .collect();
    if !together.is_empty() {
        return Err(together);
    }
    let readings = Readings::of(trace, points.len(), |spot| match spot {
        Spot::Joint(i) => On::Vertex(i + 1),
        _ => On::Vertex(0),
    });
    let last = all.len() - 1;
    if last >= 2 {
        all[last - 1] = axis(&trace.ends[1]).nearest_to(&all[last - 1]);
        all[1] = axis(&trace.ends[0]).nearest_to(&all[1]);
    }
    let fit = readings.fit(&all).ok_or(vec![TraceError::Astray])?;
    finish(&readings, fit, Length::ZERO, &Hints::default())
}
