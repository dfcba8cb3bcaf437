//! [`TackUp`]: in which order a run is put together, and what a tape should read on the way.

use super::built_face::{BuiltFace, Spot};
use super::lines::Lines;
use super::marks::MatchMarks;
use super::origin::Origin;
use super::port_mark::PortMark;
use super::reach::Reach;
use super::sight::Sight;
use super::tack_gap::TackGap;
use super::tape::{CENTER_TAPES, Candidate, Fixed, Tape, choose};
use crate::geometry::{Level, Point, Scatter, Segment, Vector, toward};
use crate::run::{Allowance, Port, Run};
use crate::shop::stack_up::Accuracy;
use crate::shop::stack_up::Build;
use crate::shop::stack_up::DEVIATIONS;
use crate::survey::Pin;
use crate::units::{Angle, Length};
use nalgebra::Vector6;

/// Most pins that one face is taped from: those nearest to it. Choosing takes some n³
/// steps.
const NEAREST_PINS: usize = 24;

/// What a tack-up is made from: all of it is in a plan's file.
#[derive(Clone, Copy, Debug)]
pub struct Tacking<'a> {
    /// The run as it is planned.
    pub run: &'a Run,
    /// Its first and last port; their names, sockets and scatters count, their places are
    /// the run's ends.
    pub ports: [&'a Port; 2],
    /// How well the shop works.
    pub accuracy: &'a Accuracy,
    /// Gap and shrinkage at each joint.
    pub allowance: Allowance,
    /// Fixed places of the job; may be none.
    pub pins: &'a [Pin],
    /// The piece that is left for last, from 1.
    pub closure: Option<usize>,
    /// What finds a port's top.
    pub level: Level,
}

/// How a run is tacked up: from both ports toward the piece that is left for last, or from
/// the first port to the last.
///
/// **Tapes** are straight lines in space from fixed places to the newest built face: from
/// the job's pins, or where it has fewer than three from the four quarter points of the
/// tube's outside at the face of the port that was built from, too. Their distances hold
/// while joints are tacked; [`Tape::welded`] is what they become.
///
/// **Tolerance** is [`TackUp::deviations`] times the standard deviation of the distance, to
/// first order √(gᵀ·C·g): g is the distance's gradient with respect to the face's small
/// motion and C the covariance of what was built so far from that port ([`StackUp`] has the
/// sources), the face's own cut included. From a pin there are beside it the scatter of that
/// port and of the pin; marks on the port's own rim move with it. What the tape itself is
/// off is not counted.
///
/// [`StackUp`]: crate::shop::StackUp
#[derive(Clone, Debug, PartialEq)]
pub struct TackUp {
    /// How many standard deviations a tolerance is.
    pub deviations: f64,
    /// One a joint, in the order of the work; the two joints of a closure come last.
    pub steps: Vec<TackStep>,
    /// What is left open before the closure is cut.
    pub gap: Option<TackGap>,
    /// What finds the top of a port.
    pub level: Level,
}

/// What is done at one joint.
#[derive(Clone, Debug, PartialEq)]
pub struct TackStep {
    /// Which port it is built from. A closure counts as built from the first.
    pub origin: Origin,
    /// The joint, from 0 at the first port.
    pub joint: usize,
    /// The piece that is put on here, from 1; none where the joint only closes what stands.
    pub piece: Option<usize>,
    /// What is brought together.
    pub marks: MatchMarks,
    /// How the piece is turned on a port; none at other joints.
    pub port: Option<PortMark>,
    /// The angle between the axes that a protractor shows.
    pub deflection: Angle,
    /// The face that is then newest; none of a closure, which is cut to fit.
    pub face: Option<BuiltFace>,
    /// What a tape should read to it.
    pub tapes: Vec<Tape>,
}

/// A fixed place that a tape may be held at.
struct Place {
    fixed: Fixed,
    at: Point,
    /// Variance of each of its coordinates, mm²; none of a mark that moves with its port.
    variance: Option<f64>,
}

impl TackUp {
    /// Of a run. A closure that is no piece of it counts as none.
    pub fn new(tacking: &Tacking<'_>) -> Self {
        let pieces = tacking.run.pieces().len();
        let closure = tacking.closure.and_then(|number| number.checked_sub(1));
        let closure = closure.filter(|&index| index < pieces);
        let bench = Bench::new(tacking, closure);
        let order = order(pieces, closure);
        let mut built: Vec<usize> = Vec::new();
        let steps = order.into_iter().map(|(origin, joint, piece)| {
            let put_on = piece.filter(|index| Some(*index) != closure);
            built.extend(put_on);
            let face = put_on.map(|index| bench.face(origin, index));
            TackStep {
                origin,
                joint,
                piece: piece.map(|index| index + 1),
                marks: MatchMarks::new(tacking.run, &bench.lines, joint),
                port: PortMark::new(tacking.run, &bench.lines, &tacking.level, joint),
                deflection: tacking.run.joints()[joint].deflection,
                face,
                tapes: face.map_or(Vec::new(), |face| bench.tapes(&face, &built)),
            }
        });
        let steps = steps.collect();
        Self {
            deviations: DEVIATIONS,
            steps,
            gap: closure.map(|index| TackGap::new(&bench, index)),
            level: tacking.level,
        }
    }
}

/// Joints in the order of the work, each with the piece that is put on there.
fn order(pieces: usize, closure: Option<usize>) -> Vec<(Origin, usize, Option<usize>)> {
    let Some(closure) = closure else {
        let onward = (0..pieces).map(|index| (Origin::First, index, Some(index)));
        return onward.chain([(Origin::First, pieces, None)]).collect();
    };
    let onward = (0..closure).map(|index| (Origin::First, index, Some(index)));
    let back = (closure + 1..pieces).rev();
    let back = back.map(|index| (Origin::Last, Origin::Last.joined_at(index), Some(index)));
    let last = [
        (Origin::First, closure, Some(closure)),
        (Origin::First, closure + 1, None),
    ];
    onward.chain(back).chain(last).collect()
}

/// A tack-up and what is worked out once for all its faces.
pub(in crate::shop) struct Bench<'a> {
    pub tacking: &'a Tacking<'a>,
    pub build: Build<'a>,
    pub lines: Lines,
}

impl<'a> Bench<'a> {
    fn new(tacking: &'a Tacking<'a>, closure: Option<usize>) -> Self {
        let build = Build::new(tacking.run, tacking.ports, tacking.accuracy);
        Self {
            tacking,
            build: closure.map_or(build, |index| build.leaving(index)),
            lines: Lines::new(tacking.run),
        }
    }

    pub fn face(&self, origin: Origin, index: usize) -> BuiltFace {
        let Tacking {
            run,
            ports,
            allowance,
            ..
        } = *self.tacking;
        BuiltFace::new(run, ports, allowance, &self.lines, origin, index)
    }

    /// Variance, mm², of a place along a direction by what is not known of a port, with which
    /// it moves.
    pub fn port_variance(&self, origin: Origin, place: &Point, along: &Vector) -> f64 {
        let port = self.tacking.run.centerline().ends()[origin.index()].0;
        let scatter: &Scatter = &self.tacking.ports[origin.index()].scatter;
        let turn = (place - port).cross(along);
        let slope = Vector6::new(along.x, along.y, along.z, turn.x, turn.y, turn.z);
        slope.dot(&(scatter.covariance() * slope)).max(0.0)
    }

    /// The tapes to a face, when the pieces at `built` stand.
    fn tapes(&self, face: &BuiltFace, built: &[usize]) -> Vec<Tape> {
        let places = self.places(face);
        let sight = Sight::new(self.tacking.run, built, face);
        let radius = self.tacking.run.tube().radius();
        let mut candidates = Vec::new();
        for spot in Spot::ALL {
            for (i, place) in places.iter().enumerate() {
                let line = Segment {
                    start: place.at,
                    end: face.at(spot),
                };
                let free = sight.is_free(&line);
                candidates.extend(Candidate::new((i, &place.at), spot, face, radius, free));
            }
        }
        let reach = Reach::new(&self.build, face);
        let chosen = choose(&candidates).into_iter();
        chosen
            .map(|i| self.tape(&places[candidates[i].place], &candidates[i], face, &reach))
            .collect()
    }

    fn tape(&self, place: &Place, taken: &Candidate, face: &BuiltFace, reach: &Reach) -> Tape {
        let at = face.at(taken.spot);
        let to_at = at + face.unshrunk;
        let made = reach.variance(&at, &taken.way);
        let known = place.variance.map_or(0.0, |pin| {
            pin + self.port_variance(face.origin, &at, &taken.way)
        });
        Tape {
            from: place.fixed.clone(),
            from_at: place.at,
            to: taken.spot,
            to_at,
            distance: Length::from_mm((to_at - place.at).norm()),
            welded: Length::from_mm((at - place.at).norm()),
            tolerance: Length::from_mm(DEVIATIONS * (made + known).sqrt()),
            free: taken.free,
        }
    }

    /// Fixed places for a face: pins, nearest first where there are many, or else marks.
    fn places(&self, face: &BuiltFace) -> Vec<Place> {
        let pins = self.tacking.pins;
        let mut near: Vec<usize> = (0..pins.len()).collect();
        if pins.len() > NEAREST_PINS {
            let apart = |i: &usize| (pins[*i].at - face.center).norm();
            near.sort_by(|a, b| apart(a).total_cmp(&apart(b)));
            near.truncate(NEAREST_PINS);
            near.sort_unstable();
        }
        let near = near.into_iter().map(|i| &pins[i]);
        let pins = near.map(|pin| Place {
            fixed: Fixed::Pin(pin.name.clone()),
            at: pin.at,
            variance: Some(pin.good_to.mm().powi(2)),
        });
        let mut places: Vec<Place> = pins.collect();
        if places.len() < CENTER_TAPES {
            places.extend(self.rim(face.origin));
        }
        places
    }

    /// Quarter points of the tube's outside at the face of the port that is built from.
    fn rim(&self, origin: Origin) -> [Place; 4] {
        let run = self.tacking.run;
        let last = run.pieces().len() - 1;
        let (joint, axis, zero) = match origin {
            Origin::First => (0, run.pieces()[0].axis, self.lines.start(0)),
            Origin::Last => (
                last + 1,
                run.pieces()[last].end_axis(),
                self.lines.end(last),
            ),
        };
        let center = run.joints()[joint].plane.point;
        let radius = run.tube().radius().mm();
        [0.0, 90.0, 180.0, 270.0].map(|degrees| {
            let clock = Angle::from_degrees(degrees);
            Place {
                fixed: Fixed::Rim {
                    port: self.tacking.ports[origin.index()].name.clone(),
                    clock,
                },
                at: center + toward(&axis, &zero, clock).into_inner() * radius,
                variance: None,
            }
        })
    }
}
