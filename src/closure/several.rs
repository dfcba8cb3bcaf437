//! [`Several`]: two pieces or more where one cannot close the gap; or the rest of a run,
//! from what is built.

use super::trim::spread;
use super::{Axis, BuiltEnd, FitUp, Trim};
use crate::geometry::{Direction, Plane, Point, Polyline, angle_between, transport};
use crate::route::{Candidate, Control, NoRoute, Task, solve_with};
use crate::run::{Allowance, Centerline, Freedom, Joint, Placed, Port, Run, RunError};
use crate::tube::{Facets, Mesh};
use crate::units::{Angle, Length};

/// Length of built tube, in diameters, that stands for the end in the run that is made:
/// any will do.
const STUB: f64 = 4.0;
/// Cuts below this are square: the joint is none to turn at.
const SQUARE: Angle = Angle::from_radians(1e-6);
/// A corner of a stock bend is this vertex, mm.
const SAME: f64 = 1e-6;

/// Why no pieces close the gap.
#[derive(Clone, Debug, PartialEq)]
pub enum NoPieces {
    /// There is no route from end to end within the job's limits.
    NoRoute(Box<NoRoute>),
    /// There are routes, but their first or last piece is too short for the slant of the
    /// built end, or more would come off a built end than it has to spare.
    NoneFits,
}

/// Where pieces begin or end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Open<'a> {
    /// At a built end.
    Built(&'a BuiltEnd),
    /// At a port of the job.
    Port(&'a Port),
}

/// Pieces between two ends, of which at least one is built.
///
/// A built end that is kept as it is cut sends the next piece off along its axis mirrored
/// in its rim's plane: d' = 2(n·d)n − d, which is what makes the joint a true miter. From
/// there the route is searched for as for any run, with the job's own limits. Or the built
/// end is cut square, and the route begins along its own axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Several {
    /// The route, between the middles of the two gaps, and its cost.
    pub candidate: Candidate,
    /// The pieces with a stub of built tube at each mitered end.
    run: Run,
    /// Stubs at the start and at the end.
    stubs: [bool; 2],
    /// What each joint takes of the pieces beside it.
    allowance: Allowance,
    /// How far tube goes into a port past its face, at the start.
    socket: Length,
    /// Built ends that are cut again.
    pub trims: [Option<Trim>; 2],
    /// Minutes of the shop's time, cuts of built ends included.
    pub minutes: f64,
}

impl Several {
    /// The cheapest pieces between two ends under the limits of `task`, whose ports are
    /// not looked at; with built ends kept as they are cut, or cut square, whichever
    /// costs less.
    pub fn new(
        task: &Task,
        ends: [Open<'_>; 2],
        fit_up: &FitUp,
        control: &Control<'_>,
    ) -> Result<Self, NoPieces> {
        let squares: Vec<[bool; 2]> = [[false, false], [true, true]]
            .into_iter()
            .filter(|square| worth_it(&ends, *square))
            .collect();
        let mut best: Option<Self> = None;
        let mut failure = None;
        for square in squares {
            match Self::with(task, ends, square, fit_up, control) {
                Ok(found) => {
                    if best
                        .as_ref()
                        .is_none_or(|best| found.minutes < best.minutes)
                    {
                        best = Some(found);
                    }
                }
                Err(reason) => failure = failure.or(Some(reason)),
            }
        }
        match (best, failure) {
            (Some(best), _) => Ok(best),
            (None, Some(reason)) => Err(reason),
            (None, None) => Err(NoPieces::NoneFits),
        }
    }

    /// Pieces in order of flow.
    pub fn pieces(&self) -> &[Placed] {
        let pieces = self.run.pieces();
        &pieces[usize::from(self.stubs[0])..pieces.len() - usize::from(self.stubs[1])]
    }

    /// Joints in order of flow: that with the end before, those between the pieces, that
    /// with the end after.
    pub fn joints(&self) -> &[Joint] {
        let joints = self.run.joints();
        &joints[usize::from(self.stubs[0])..joints.len() - usize::from(self.stubs[1])]
    }

    /// Where the marks of the two ends stand on the first and the last piece, by the
    /// piece's own clock.
    pub fn marks(&self, ends: [&BuiltEnd; 2]) -> [Option<Angle>; 2] {
        let (pieces, joints) = (self.pieces(), self.joints());
        let (Some(first), Some(last)) = (pieces.first(), pieces.last()) else {
            return [None, None];
        };
        let at = [&joints[0], &joints[joints.len() - 1]];
        let of = |placed: &Placed, i: usize, along: Direction| {
            let (mark, _) = ends[i].mark.as_ref()?;
            let axis = Axis {
                through: at[i].plane.point,
                along,
            };
            // A stock bend's clock is carried along its arc.
            let zero = transport(&placed.zero, &placed.axis, &along);
            Some(axis.clock(&zero, mark))
        };
        [of(first, 0, first.axis), of(last, 1, last.end_axis())]
    }

    /// The pieces as they stand, as meshes of the job's frame.
    pub fn meshes(&self, facets: Facets) -> Vec<Mesh> {
        let joints = self.joints();
        let placed = self.pieces().iter().zip(joints).enumerate();
        placed
            .map(|(i, (placed, joint))| {
                // A piece is set back from its joint along its own axis, or goes into it.
                let socket = if i == 0 { self.socket } else { Length::ZERO };
                let past = self.allowance.past(joint, socket);
                let start = joint.plane.point - placed.axis.into_inner() * past.mm();
                let axis = Axis {
                    through: start,
                    along: placed.axis,
                };
                axis.place(&placed.zero, placed.piece.mesh(facets))
            })
            .collect()
    }

    /// Corners from the middle of one gap to the middle of the other; at a square end from
    /// its face.
    pub fn vertices(&self) -> &[Point] {
        self.candidate.run.centerline().points()
    }

    fn with(
        task: &Task,
        ends: [Open<'_>; 2],
        square: [bool; 2],
        fit_up: &FitUp,
        control: &Control<'_>,
    ) -> Result<Self, NoPieces> {
        let starts = [0, 1].map(|i| Start::new(ends[i], i, square[i], task, fit_up));
        let too_much = |i: usize| {
            let off = starts[i].trim.map(|trim| trim.most);
            off.zip(fit_up.spare[i])
                .is_some_and(|(off, spare)| off > spare)
        };
        if (0..2).any(too_much) {
            return Err(NoPieces::NoneFits);
        }
        let task = Task {
            start: starts[0].port.clone(),
            end: starts[1].port.clone(),
            wish: None,
            // What shrinkage takes is in the gap that is asked for.
            allowance: Allowance {
                gap: fit_up.gap.max(Length::ZERO),
                shrinkage: (-fit_up.gap).max(Length::ZERO),
            },
            ..task.clone()
        };
        let solution =
            solve_with(&task, control).map_err(|reason| NoPieces::NoRoute(Box::new(reason)))?;
        let others = solution
            .alternatives
            .into_iter()
            .map(|(candidate, _)| candidate);
        let made = std::iter::once(solution.best)
            .chain(others)
            .find_map(|candidate| Self::made(&task, candidate, &starts, fit_up));
        made.ok_or(NoPieces::NoneFits)
    }

    /// The pieces as they are cut, if each keeps its short side.
    fn made(
        task: &Task,
        candidate: Candidate,
        starts: &[Start; 2],
        fit_up: &FitUp,
    ) -> Option<Self> {
        let (run, stubs) = with_stubs(task, &candidate.run, starts).ok()?;
        let trims = [0, 1].map(|i| starts[i].trim);
        let rates = &fit_up.rates;
        let again = trims.iter().flatten().count() as f64;
        // Joints with built ends are fitted up and welded too.
        let built = starts.iter().filter(|start| start.is_built).count() as f64;
        let minutes =
            candidate.cost.minutes + built * rates.fit_up_minutes + again * fit_up.again_minutes();
        let several = Self {
            candidate,
            run,
            stubs,
            allowance: task.allowance,
            socket: task.start.socket,
            trims,
            minutes,
        };
        let straight = several
            .pieces()
            .iter()
            .filter_map(|placed| placed.piece.straight());
        let mut short = straight.map(|piece| piece.short_side());
        short
            .all(|short| short >= fit_up.short_side)
            .then_some(several)
    }
}

/// Cutting ends square is worth a search only where one is built and not square.
fn worth_it(ends: &[Open<'_>; 2], square: [bool; 2]) -> bool {
    let flat = |open: &Open<'_>| match open {
        Open::Built(end) => end
            .plane()
            .map(|plane| angle_between(&plane.normal, &end.axis)),
        Open::Port(_) => Some(Angle::ZERO),
    };
    let cuts = ends.each_ref().map(flat);
    match square {
        // A ragged end cannot be kept: it has no plane to mirror in.
        [false, false] => cuts.iter().all(Option::is_some),
        _ => cuts.iter().any(|cut| cut.is_none_or(|cut| cut > SQUARE)),
    }
}

/// Where the solver's route begins or ends.
struct Start {
    /// The end as a port, along the next piece's axis: in the middle of the gap where the
    /// joint is mitered; a square end's own face, which like a flange gives nothing of it.
    port: Port,
    /// The built tube's axis, outward, where the joint there is mitered.
    stub: Option<Direction>,
    trim: Option<Trim>,
    is_built: bool,
}

impl Start {
    fn new(open: Open<'_>, i: usize, square: bool, task: &Task, fit_up: &FitUp) -> Self {
        let end = match open {
            Open::Built(end) => end,
            Open::Port(port) => {
                return Self {
                    port: port.clone(),
                    stub: None,
                    trim: None,
                    is_built: false,
                };
            }
        };
        let name = ["the built end before", "the built end after"][i];
        let radius = task.tube.radius();
        let half = fit_up.gap / 2.0;
        let normal = end.normal();
        let cut = angle_between(&normal, &end.axis);
        let kept = !square && cut > SQUARE;
        let (center, trim) = if square && (cut > SQUARE || end.plane().is_none()) {
            let (least, _) = spread(end, &end.axis, radius);
            let back = fit_up.shave - least;
            let at = end.center - end.axis.into_inner() * back.mm();
            let plane = Plane {
                point: at,
                normal: end.axis,
            };
            (at, Some(Trim::new(end, plane, radius)))
        } else if kept {
            (end.extended(half).center, None)
        } else {
            (end.center, None)
        };
        let axis = end.axis.into_inner();
        let outward = if kept {
            let along = normal.dot(&end.axis);
            Direction::new_normalize(normal.into_inner() * (2.0 * along) - axis)
        } else {
            end.axis
        };
        let slant = if kept {
            radius * cut.tan()
        } else {
            Length::ZERO
        };
        let port = Port {
            straight: slant + fit_up.short_side,
            freedom: Freedom::default(),
            ..Port::new(name, center, outward)
        };
        Self {
            port,
            stub: kept.then_some(end.axis),
            trim,
            is_built: true,
        }
    }
}

/// `run` with a stub of built tube before and after it where its ends are mitered, so that
/// its first and last piece are cut for those joints.
fn with_stubs(task: &Task, run: &Run, starts: &[Start; 2]) -> Result<(Run, [bool; 2]), RunError> {
    let tube = &task.tube;
    let mut points = run.centerline().points().to_vec();
    let stub = tube.od().mm() * STUB;
    let back = |i: usize, at: Point| {
        starts[i]
            .stub
            .map(|axis| (at - axis.into_inner() * stub, axis))
    };
    let ends = run.centerline().ends();
    let stubs = [back(0, ends[0].0), back(1, ends[1].0)];
    if let Some((at, _)) = stubs[0] {
        points.insert(0, at);
    }
    if let Some((at, _)) = stubs[1] {
        points.push(at);
    }
    let clr = |point: &Point| {
        let arcs = run.pieces().iter().filter_map(|placed| placed.arc);
        let mut at = arcs.filter(|arc| (arc.corner - point).norm() <= SAME);
        at.next().map(|arc| arc.clr)
    };
    let clrs: Vec<Option<Length>> = points.iter().map(clr).collect();
    let again = |polyline| Centerline::new(polyline, clrs);
    let centerline = Polyline::new(points).and_then(again);
    let centerline = centerline.ok_or(RunError::Straight { vertex: 0 })?;
    let [first, last] = centerline.polyline().ends();
    let socket = |i: usize| match stubs[i] {
        Some(_) => Length::ZERO,
        None => starts[i].port.socket,
    };
    let port = |i: usize, (center, outward)| Port {
        socket: socket(i),
        ..Port::new(&starts[i].port.name, center, outward)
    };
    let made = Run::new(
        tube,
        &port(0, first),
        &port(1, last),
        centerline,
        task.allowance,
    )?;
    Ok((made, stubs.map(|stub| stub.is_some())))
}
