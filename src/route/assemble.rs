//! From straights and bends to joints: where pies end, and how much of each stock
//! bend's legs is left.

use super::{Bend, Make, Route};
use crate::geometry::{Point, Polyline};
use crate::run::Centerline;
use crate::tube::StockBend;
use crate::units::Length;

/// Legs shorter than this are none: rounding of a run in meters.
const NO_LEG: Length = Length::from_mm(1e-5);

/// How the stock bends of a route are trimmed.
#[derive(Clone, Debug, PartialEq)]
pub struct Assembly {
    /// Joints, and the corners of stock bends.
    pub centerline: Centerline,
    /// Cuts that trim stock bends: ends of arcs, and of legs.
    pub trims: u32,
}

/// What a piece needs at least, and what is put into the ports.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fitting<'a> {
    pub stock: &'a [StockBend],
    /// Least length of a piece of straight tube beside a stock bend.
    pub least_piece: Length,
    pub sockets: [Length; 2],
    pub radius: Length,
}

/// Joints and corners of `route`; `None` where two of them fall on one point, or where
/// no piece fits between a stock bend and pies.
///
/// A stock bend that is cut down keeps one of its legs; which, is chosen for the fewest
/// pieces, then the least cuts. A straight that the legs can make needs no piece of its
/// own.
pub(super) fn assemble(route: &Route, fitting: &Fitting<'_>) -> Option<Assembly> {
    let cut_down: Vec<usize> = (0..route.bends.len())
        .filter(|&i| is_cut_down(&route.bends[i], fitting))
        .collect();
    (0..1_u32 << cut_down.len())
        .filter_map(|sides| {
            let mut kept = vec![[true; 2]; route.bends.len()];
            for (bit, &bend) in cut_down.iter().enumerate() {
                kept[bend][(sides >> bit & 1) as usize] = false;
            }
            with_legs(route, fitting, &kept)
        })
        .min_by_key(|(pieces, assembly)| (*pieces, assembly.trims))
        .map(|(_, assembly)| assembly)
}

fn is_cut_down(bend: &Bend, fitting: &Fitting<'_>) -> bool {
    bend.stock()
        .is_some_and(|item| fitting.stock[item].is_cut_down_to(bend.turn))
}

/// The assembly with legs at the arcs' ends where `kept` says so, and its number of
/// pieces.
fn with_legs(
    route: &Route,
    fitting: &Fitting<'_>,
    kept: &[[bool; 2]],
) -> Option<(usize, Assembly)> {
    let straights = route.straights();
    let leg_of = |bend: usize, side: usize| {
        let item = route.bends[bend].stock()?;
        Some(if kept[bend][side] {
            fitting.stock[item].leg
        } else {
            Length::ZERO
        })
    };
    let mut points = vec![(route.start, None)];
    let mut trims = kept.iter().flatten().filter(|kept| !**kept).count() as u32;
    for (i, straight) in straights.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|bend| leg_of(bend, 1));
        let after = (i < route.bends.len()).then(|| leg_of(i, 0)).flatten();
        let ends = Ends {
            straight: *straight,
            legs: [before, after],
            least: least_straight(route, fitting, i),
            socket: match i {
                0 => fitting.sockets[0],
                i if i == route.bends.len() => fitting.sockets[1],
                _ => Length::ZERO,
            },
            at_port: i == 0 || i == route.bends.len(),
        };
        let used = ends.share()?;
        trims += ends.trims(used);
        if let (Some(_), Some(bend)) = (before, i.checked_sub(1)) {
            let bend = &route.bends[bend];
            push(&mut points, after_arc(bend, used[0]));
        }
        if let Some(bend) = route.bends.get(i) {
            match bend.make {
                Make::Pies { .. } => points.extend(bend.vertices().into_iter().map(|p| (p, None))),
                Make::Stock { .. } => {
                    push(&mut points, before_arc(bend, used[1]));
                    points.push((bend.corner, Some(bend.clr)));
                }
            }
        }
    }
    push(&mut points, route.end);
    // The last point is the port's own, to the last bit.
    if let Some(last) = points.last_mut() {
        last.0 = route.end;
    }
    let (points, bends): (Vec<Point>, Vec<Option<Length>>) = points.into_iter().unzip();
    let pieces = bends.iter().filter(|bend| bend.is_none()).count();
    let centerline = Centerline::new(Polyline::new(points)?, bends)?;
    Some((pieces, Assembly { centerline, trims }))
}

/// Adds a joint, unless the last point is that joint already.
fn push(points: &mut Vec<(Point, Option<Length>)>, point: Point) {
    let near = |(last, _): &(Point, Option<Length>)| (point - last).norm() <= NO_LEG.mm();
    if !points.last().is_some_and(near) {
        points.push((point, None));
    }
}

fn before_arc(bend: &Bend, leg: Length) -> Point {
    bend.corner - bend.incoming.into_inner() * (bend.take_out() + leg).mm()
}

fn after_arc(bend: &Bend, leg: Length) -> Point {
    bend.corner + bend.outgoing.into_inner() * (bend.take_out() + leg).mm()
}

/// Least straight tube on leg `i`, arc end to arc start, that leaves a piece of its own:
/// with a half pie and a miter's slant where it meets pies.
fn least_straight(route: &Route, fitting: &Fitting<'_>, i: usize) -> Length {
    let beside = [i.checked_sub(1), Some(i)];
    let pies = beside
        .into_iter()
        .flatten()
        .filter_map(|bend| route.bends.get(bend));
    pies.filter(|bend| bend.stock().is_none())
        .fold(fitting.least_piece, |least, bend| {
            least - (bend.clr - fitting.radius) * bend.cut().tan()
        })
}

/// A straight between two arcs or a port, and the legs at its ends; `None` where there
/// is no stock bend.
struct Ends {
    straight: Length,
    legs: [Option<Length>; 2],
    least: Length,
    /// What goes into the port at one end.
    socket: Length,
    /// Whether one end is a port, where a leg needs no piece before it.
    at_port: bool,
}

impl Ends {
    /// How much of each leg is used; `None` if no piece is left between.
    fn share(&self) -> Option<[Length; 2]> {
        let [before, after] = self.legs;
        let straight = self.straight.max(Length::ZERO);
        let reaches = |leg: Length| self.at_port && straight + self.socket <= leg + NO_LEG;
        match (before, after) {
            (None, None) => Some([Length::ZERO; 2]),
            (Some(leg), None) if reaches(leg) => Some([straight, Length::ZERO]),
            (None, Some(leg)) if reaches(leg) => Some([Length::ZERO, straight]),
            (Some(a), Some(b)) if straight <= a + b + NO_LEG => {
                let first = a.min(straight);
                Some([first, straight - first])
            }
            _ => {
                let room = straight - self.least;
                if room < -NO_LEG {
                    return None;
                }
                let room = room.max(Length::ZERO);
                let first = before.unwrap_or(Length::ZERO).min(room);
                let second = after.unwrap_or(Length::ZERO).min(room - first);
                Some([first, second])
            }
        }
    }

    /// Cuts that shorten legs.
    fn trims(&self, used: [Length; 2]) -> u32 {
        let trimmed = self.legs.iter().zip(used).filter(|(leg, used)| {
            leg.is_some_and(|leg| leg > Length::ZERO && *used + self.socket < leg - NO_LEG)
        });
        trimmed.count() as u32
    }
}
