//! A run as bodies to look at: one a straight piece, more along a stock bend.

use super::{Body, Cut, EndKind, Gaze, Owner, Ring};
use crate::geometry::{Direction, Plane};
use crate::run::{Arc, JointKind, Run};
use crate::units::Angle;

/// Greatest turn of one stretch of a stock bend: the sides of its outline, cubics with
/// the true ends and tangents, are then within 1e-5 of the bend's radius, and shades turn
/// with the bend.
const BEND_STEP: Angle = Angle::from_degrees(5.0);
/// Cosine of the greatest turn of a bend's sides in the picture along one stretch: 15°.
const SIDE_TURN: f64 = 0.966;
/// Halvings of a stretch on whose way the sides turn faster: some 0.1° of bend.
const HALVINGS: u32 = 6;

/// The bodies of a run that is number `index`.
pub fn bodies(index: usize, run: &Run, gaze: &Gaze) -> Vec<Body> {
    let joints = run.joints();
    let pieces = run.pieces();
    let mut bodies = Vec::new();
    for (i, placed) in pieces.iter().enumerate() {
        let owner = Owner {
            run: index,
            piece: i,
            radii: [run.tube().radius().mm(), run.tube().bore_radius().mm()],
        };
        let kind = |joint: usize, neighbor: Option<Direction>| match neighbor {
            Some(axis) if joints[joint].kind != JointKind::Flange => EndKind::Joint(axis),
            _ => EndKind::Open,
        };
        let before = i.checked_sub(1).map(|before| pieces[before].end_axis());
        let after = pieces.get(i + 1).map(|after| after.axis);
        let mut cuts = vec![(joints[i].plane, placed.axis, kind(i, before))];
        if let Some(arc) = &placed.arc {
            cuts.extend(stations(arc, gaze));
        }
        cuts.push((joints[i + 1].plane, placed.end_axis(), kind(i + 1, after)));
        bodies.extend(between(owner, cuts, gaze));
    }
    bodies
}

/// Bodies between cuts in order of flow. A leg of no length gives its joint to the arc.
fn between(owner: Owner, mut cuts: Vec<Cut>, gaze: &Gaze) -> Vec<Body> {
    let mut i = 1;
    while cuts.len() > 2 && i < cuts.len() {
        if (cuts[i].0.point - cuts[i - 1].0.point).norm() > NO_LEG {
            i += 1;
        } else if cuts[i].2 == EndKind::Seam {
            cuts.remove(i);
        } else {
            cuts.remove(i - 1);
        }
    }
    let pairs = cuts.windows(2);
    pairs
        .filter_map(|pair| Body::new(owner, [pair[0], pair[1]], gaze))
        .collect()
}

/// Legs shorter than this, mm, are none.
const NO_LEG: f64 = 1e-5;

/// Where a bend is cut for the picture, so that neither it nor its sides turn much.
fn stations(arc: &Arc, gaze: &Gaze) -> Vec<Cut> {
    let steps = (arc.turn() / BEND_STEP).ceil().max(1.0);
    let turned = |step: u32| arc.turn() * (f64::from(step) / steps);
    let mut cuts = vec![cut(arc, Angle::ZERO)];
    for step in 0..steps as u32 {
        halve(
            arc,
            gaze,
            [turned(step), turned(step + 1)],
            HALVINGS,
            &mut cuts,
        );
    }
    cuts
}

/// Adds the cuts after the first of two angles up to the second.
fn halve(arc: &Arc, gaze: &Gaze, [from, to]: [Angle; 2], left: u32, cuts: &mut Vec<Cut>) {
    let across = |turned: Angle| {
        let (plane, axis, _) = cut(arc, turned);
        Ring::new(&plane, &axis, gaze).across
    };
    if left > 0 && across(from).dot(&across(to)) < SIDE_TURN {
        let middle = (from + to) / 2.0;
        halve(arc, gaze, [from, middle], left - 1, cuts);
        halve(arc, gaze, [middle, to], left - 1, cuts);
    } else {
        cuts.push(cut(arc, to));
    }
}

fn cut(arc: &Arc, turned: Angle) -> Cut {
    let (point, axis) = arc.at(turned);
    let plane = Plane {
        point,
        normal: axis,
    };
    (plane, axis, EndKind::Seam)
}
