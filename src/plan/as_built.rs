//! The run as it was built and closed, as far as measurements tell.

use super::met_end::moved;
use super::{Advice, BetweenEnds, MetEnd, PlannedGap};
use crate::closure::Side;
use crate::geometry::{Point, Polyline};
use crate::run::{Allowance, Centerline, Port, Run};
use crate::units::{Angle, Length};
use nalgebra::Rotation3;

/// Corners nearer than this, mm, are one.
const SAME: f64 = 1e-6;

/// The centerline of a run that is built from both ports and closed as advised, with
/// true miters at every joint; `None` where nothing closes it, or where that is no run: a
/// stock bend's square end does not stand square to what is built on, or a joint does not
/// turn at all.
///
/// What was measured are the two ends. Corners between a port and an end are the plan's,
/// each moved by the part of the end's motion that its way from the port is of the whole;
/// corners beyond a measured end, of pieces that were loose, by all of it. On a side with
/// stock bends, which must keep their arcs, they stay where the plan has them.
pub fn as_built(plan: &PlannedGap, between: &BetweenEnds, allowance: Allowance) -> Option<Run> {
    let run = &plan.run.run;
    let points = run.centerline().points();
    let seams = [plan.piece - 1, plan.piece];
    let ends = [0, 1].map(|i| match between.ends[i].port {
        // Nothing of that side is built, and nothing of it is kept.
        Some(_) => None,
        None => vertex_at(run, seams[i]),
    });
    let mut vertices: Vec<Point> = Vec::new();
    if let Some(end) = ends[0] {
        let kept = (0..end).map(|i| stand(plan, between, Side::Before, (0, end), i));
        vertices.extend(kept);
    }
    vertices.extend(closing(between)?);
    if let Some(end) = ends[1] {
        let last = points.len() - 1;
        let kept = (end + 1..=last).map(|i| stand(plan, between, Side::After, (last, end), i));
        vertices.extend(kept);
    }
    let clr = |i: usize, vertex: &Point| clr_at(plan, between, ends, vertices.len(), i, vertex);
    let clrs: Vec<Option<Length>> = vertices
        .iter()
        .enumerate()
        .map(|(i, v)| clr(i, v))
        .collect();
    let polyline = Polyline::new(vertices)?;
    let [first, last] = polyline.ends();
    let port = |(center, outward), socket| Port {
        socket,
        ..Port::new("", center, outward)
    };
    let [from, to] = plan.run.sockets;
    let ports = [port(first, from), port(last, to)];
    let centerline = Centerline::new(polyline, clrs)?;
    Run::new(run.tube(), &ports[0], &ports[1], centerline, allowance).ok()
}

/// The vertex at which a joint is.
fn vertex_at(run: &Run, joint: usize) -> Option<usize> {
    let at = run.joints().get(joint)?.plane.point;
    let mut points = run.centerline().points().iter();
    points.position(|point| (point - at).norm() <= SAME)
}

/// Corners of what closes the gap.
fn closing(between: &BetweenEnds) -> Option<Vec<Point>> {
    if between.advice == Advice::Several {
        let several = between.several.as_ref()?.as_ref().ok()?;
        return Some(several.vertices().to_vec());
    }
    let closure = between.closure()?;
    let corner = |i: usize| match &between.ends[i].port {
        Some(port) => port.center,
        None => closure.corners[i],
    };
    Some(vec![corner(0), corner(1)])
}

/// Where the plan's vertex `i` stands, on the way from the port's vertex to the end's.
fn stand(
    plan: &PlannedGap,
    between: &BetweenEnds,
    side: Side,
    (port, seam): (usize, usize),
    i: usize,
) -> Point {
    let points = plan.run.run.centerline().points();
    let at = points[i];
    let end = &between.ends[side as usize];
    let Some(moved) = displaced(end, &at) else {
        return at;
    };
    // The vertex of the joint that was measured, which carries all of the motion.
    let own = end.joint.and_then(|joint| vertex_at(&plan.run.run, joint));
    let measured = own.unwrap_or(seam);
    let way = |to: usize| -> f64 {
        let (from, to) = (port.min(to), port.max(to));
        points[from..=to]
            .windows(2)
            .map(|pair| (pair[1] - pair[0]).norm())
            .sum()
    };
    let (low, high) = (port.min(seam), port.max(seam));
    let has_bend = plan.run.run.pieces().iter().any(|placed| {
        let corner = placed.arc.map(|arc| arc.corner);
        corner.is_some_and(|corner| {
            points[low..=high]
                .iter()
                .any(|p| (p - corner).norm() <= SAME)
        })
    });
    let part = if has_bend {
        0.0
    } else {
        (way(i) / way(measured).max(SAME)).min(1.0)
    };
    let stood = at + (moved - at) * part;
    turned(plan, between, side, i, stood)
}

fn displaced(end: &MetEnd, at: &Point) -> Option<Point> {
    let (planned, measured) = (end.planned.as_ref()?, end.measured()?);
    Some(moved(planned, &measured) * at)
}

/// After joints were turned: those that lie between the vertex and the port.
fn turned(plan: &PlannedGap, between: &BetweenEnds, side: Side, i: usize, at: Point) -> Point {
    let Some(reclock) = between
        .reclock
        .as_ref()
        .filter(|_| between.advice == Advice::Reclock)
    else {
        return at;
    };
    let run = &plan.run.run;
    let own = reclock.turns.iter().filter(|turn| turn.joint.side == side);
    let beyond = own.filter(|turn| {
        vertex_at(run, turn.joint.joint).is_some_and(|vertex| match side {
            Side::Before => i > vertex,
            Side::After => i < vertex,
        })
    });
    let mut turns: Vec<_> = beyond.collect();
    turns.sort_by_key(|turn| turn.joint.joint.abs_diff(plan.piece));
    turns.into_iter().fold(at, |at, turn| {
        let plane = turn.joint.plane;
        let by: Angle = turn.by;
        let rotation = Rotation3::from_axis_angle(&plane.normal, by.radians());
        plane.point + rotation * (at - plane.point)
    })
}

/// The radius of the stock bend whose corner the new vertex `i` is.
fn clr_at(
    plan: &PlannedGap,
    between: &BetweenEnds,
    ends: [Option<usize>; 2],
    count: usize,
    i: usize,
    vertex: &Point,
) -> Option<Length> {
    let of = |run: &Run, corner: Point| {
        let arcs = run.pieces().iter().filter_map(|placed| placed.arc);
        let mut own = arcs.filter(|arc| (arc.corner - corner).norm() <= SAME);
        own.next().map(|arc| arc.clr)
    };
    let run = &plan.run.run;
    let points = run.centerline().points();
    let before = ends[0].unwrap_or(0);
    let after = ends[1].map_or(0, |end| points.len() - 1 - end);
    if i < before {
        return of(run, points[i]);
    }
    if i >= count - after {
        return of(run, points[points.len() - (count - i)]);
    }
    let several = between.several.as_ref()?.as_ref().ok()?;
    (between.advice == Advice::Several)
        .then(|| of(&several.candidate.run, *vertex))
        .flatten()
}
