//! [`Next`]: the one more reading that would help most.

use super::adjust::Hold;
use super::reading::{Observed, Readings};
use super::stance::{Chart, Stance};
use crate::geometry::{Direction, Point, Scatter, across};
use crate::units::{Angle, Length, Style, line_text};
use nalgebra::DMatrix;
use std::f64::consts::TAU;

/// How far from the port its direction is felt: a lean counts as the shift that it makes
/// there. 10 in, about where a run's first joints are.
const REACH: f64 = 254.0;
/// How far out of the face a point on a rod would be measured: 12 in, or 300 mm.
const ROD: Length = Length::from_mm(300.0);
/// How far back from the face points on the outside would be touched: 2 and 3 in.
const BACK: [Length; 2] = [Length::from_inches(2.0), Length::from_inches(3.0)];
/// Nearer to its end than this nobody touches a tube's outside for its direction.
const LEAST_BACK: Length = Length::from_mm(3.0);
/// Places round the rim that are tried.
const ROUND: u32 = 12;
/// Part by which the mean square must fall to be worth another reading.
const WORTHWHILE: f64 = 0.1;

/// The one more reading that would help most, and what it would bring the greatest
/// standard deviations to.
#[derive(Clone, Debug, PartialEq)]
pub struct Next {
    /// What to measure.
    pub what: Wanted,
    /// Of the center.
    pub place: Length,
    /// Of the direction.
    pub lean: Angle,
}

/// What to measure.
#[derive(Clone, Debug, PartialEq)]
pub enum Wanted {
    /// A point on the rim, about here.
    RimPoint(Point),
    /// A point on the tube's outside.
    OutsidePoint {
        /// About here.
        at: Point,
        /// How far back from the end, along the tube.
        back: Length,
        /// To which side of the axis.
        side: Direction,
        /// Whether the tube is known to go back so far; else whoever touches must see.
        is_there: bool,
    },
    /// A point on a rod held on the axis, so far out of the face.
    RodPoint(Length),
    /// A tape from this pin to the center.
    TapeToCenter(String),
    /// A tape from this pin to the rod's tip.
    TapeToTip(String),
    /// One of the center's coordinates: 0, 1 or 2.
    Coordinate(usize),
    /// The outward direction, by numbers.
    Direction,
    /// This reading once more.
    Again(String),
}

impl Wanted {
    /// In words, as the shop writes numbers.
    pub fn written(&self, style: Style) -> String {
        match self {
            Self::RimPoint(at) => format!("a point on the rim near {}", style.point((*at).into())),
            Self::OutsidePoint {
                at,
                back,
                side,
                is_there,
            } => format!(
                "a point on the tube's outside, {} back from its end{}, {} from its axis, near {}",
                if BACK.contains(back) {
                    rounded(*back, style)
                } else {
                    style.length(*back)
                },
                if *is_there {
                    ""
                } else {
                    " if the same straight piece goes back so far"
                },
                line_text(side.into_inner()),
                style.point((*at).into())
            ),
            Self::RodPoint(out) => format!(
                "a point on a straight rod held in the middle of the port, {} out of the face",
                rounded(*out, style)
            ),
            Self::TapeToCenter(pin) => format!("a tape from '{pin}' to the center"),
            Self::TapeToTip(pin) => format!("a tape from '{pin}' to the rod's tip"),
            Self::Coordinate(axis) => format!("the center's {}", ["x", "y", "z"][axis % 3]),
            Self::Direction => "the outward direction, another way".to_owned(),
            Self::Again(name) => format!("{name} once more"),
        }
    }
}

/// A length that is anything near, in the shop's whole numbers: inches, or centimeters.
pub(super) fn rounded(length: Length, style: Style) -> String {
    let whole = if style.unit.is_imperial() {
        Length::from_inches(length.inches().round())
    } else {
        Length::from_mm((length.mm() / 10.0).round() * 10.0)
    };
    style.length(whole)
}

/// The reading that lowers the mean square of the port's error most, felt at [`REACH`]:
/// tr Σ(shift) + reach²·tr Σ(lean), with the leans of a mitered face too, by which the
/// next tube's axis is turned. `None` where none is worth it.
///
/// With rows s of a further reading the covariance P becomes P − P·sᵀ(1 + s·P·sᵀ)⁻¹s·P.
pub(super) fn next(
    readings: &Readings,
    chart: &Chart<'_>,
    stance: &Stance,
    hold: &Hold,
    disagreement: f64,
) -> Option<Next> {
    let port = |covariance: &DMatrix<f64>| {
        let own = chart.scatter(covariance).scaled(disagreement);
        own.plus(&readings.frame)
    };
    let is_mitered = readings.face.is_mitered();
    let felt = |s: &Scatter, covariance: &DMatrix<f64>| {
        let of_port = s.shift().trace() + REACH * REACH * s.turn().trace();
        if !is_mitered {
            return of_port;
        }
        let of_face = chart.face_scatter(covariance).scaled(disagreement);
        of_port + REACH * REACH * of_face.plus(&readings.frame).turn().trace()
    };
    let now = felt(&port(&hold.covariance), &hold.covariance);
    let tried = wanted(readings, stance)
        .into_iter()
        .filter_map(|(what, observed)| {
            let rows = chart.slopes_of(&observed);
            let gain = &hold.covariance * rows.transpose();
            let count = rows.nrows();
            let own = DMatrix::identity(count, count) + &rows * &gain;
            let after = &hold.covariance - &gain * own.try_inverse()? * gain.transpose();
            let scatter = port(&after);
            Some((felt(&scatter, &after), what, scatter))
        });
    let (least, what, scatter) = tried.min_by(|a, b| a.0.total_cmp(&b.0))?;
    (least < (1.0 - WORTHWHILE) * now).then(|| Next {
        what,
        place: scatter.ellipsoid()[0].0,
        lean: scatter.lean(&stance.outward),
    })
}

/// Readings that could be taken with what is at hand.
fn wanted(readings: &Readings, stance: &Stance) -> Vec<(Wanted, Observed)> {
    let tools = &readings.measuring;
    let mut all = Vec::new();
    // Nobody holds a rod or a protractor in a slanted end who can touch its outside.
    let rod = readings.has(|what| matches!(what, Observed::OnRod { .. }));
    if rod || !readings.face.is_mitered() {
        let what = Observed::OnRod {
            at: stance.center + stance.outward.into_inner() * ROD.mm(),
            good_to: tools.point,
            out: None,
        };
        all.push((Wanted::RodPoint(ROD), what));
    }
    if readings.has(|what| matches!(what, Observed::OnRim { .. })) {
        all.extend(rim_points(stance).map(|at| {
            let good_to = tools.point;
            (Wanted::RimPoint(at), Observed::OnRim { at, good_to })
        }));
    }
    let on_tube = readings.has(Observed::is_on_tube);
    let outside = readings.has(|what| matches!(what, Observed::OnOutside { .. }));
    // A port may have no outside; a tube that was built has.
    if on_tube && (outside || readings.face.is_mitered()) {
        all.extend(outside_points(stance, readings.behind).map(|(what, at)| {
            let good_to = tools.point;
            (what, Observed::OnOutside { at, good_to })
        }));
    }
    let tip = readings.has(|what| matches!(what, Observed::ToTip { .. }));
    for (pin, fixed) in readings.pins.iter().enumerate() {
        // A pin that no tape was held to has no unknowns of its own.
        let both = tools.tape.mm().hypot(fixed.good_to.mm());
        let (distance, good_to) = (Length::ZERO, Length::from_mm(both));
        let name = || fixed.name.clone();
        let (center, to_tip) = (
            Observed::ToCenter {
                pin,
                distance,
                good_to,
            },
            Observed::ToTip {
                pin,
                distance,
                good_to,
            },
        );
        all.push((Wanted::TapeToCenter(name()), center));
        if tip {
            all.push((Wanted::TapeToTip(name()), to_tip));
        }
    }
    all.extend((0..3).map(|axis| {
        let (at, good_to) = (Length::ZERO, tools.point);
        (
            Wanted::Coordinate(axis),
            Observed::Coordinate { axis, at, good_to },
        )
    }));
    if !readings.face.is_mitered() {
        let what = Observed::Outward {
            direction: stance.outward,
            across: across(&stance.outward),
            good_to: [tools.direction; 2],
        };
        all.push((Wanted::Direction, what));
    }
    let again = readings.list.iter().filter(|r| r.what.rows() == 1);
    all.extend(again.map(|r| (Wanted::Again(r.name.clone()), r.what.clone())));
    all
}

fn rim_points(stance: &Stance) -> impl Iterator<Item = Point> + use<> {
    let (center, radius) = (stance.center, stance.rim);
    let (outward, face) = (stance.outward.into_inner(), stance.face);
    let slant = face.dot(&outward);
    sides(stance).map(move |side| {
        let spoke = side.into_inner() * radius;
        if face.into_inner() == outward {
            return center + spoke;
        }
        center + spoke - outward * (face.dot(&spoke) / slant)
    })
}

/// Places on the tube's outside, back from its end: on the straight tube that goes back as
/// far as `behind`, where that is known.
fn outside_points(
    stance: &Stance,
    behind: Option<Length>,
) -> impl Iterator<Item = (Wanted, Point)> + use<> {
    let (center, radius, outward) = (stance.center, stance.rim, stance.outward);
    let is_there = behind.is_some();
    let most = behind.unwrap_or(BACK[1]);
    let mut backs: Vec<Length> = BACK.into_iter().filter(|back| *back <= most).collect();
    if backs.is_empty() && most > LEAST_BACK {
        backs.push(most);
    }
    sides(stance).flat_map(move |side| {
        let at = move |back: Length| {
            center + side.into_inner() * radius - outward.into_inner() * back.mm()
        };
        let backs = backs.clone().into_iter();
        backs.map(move |back| {
            let what = Wanted::OutsidePoint {
                at: at(back),
                back,
                side,
                is_there,
            };
            (what, at(back))
        })
    })
}

/// Directions square to the axis, all round.
fn sides(stance: &Stance) -> impl Iterator<Item = Direction> + use<> {
    let [first, second] = across(&stance.outward);
    (0..ROUND).map(move |i| {
        let (sin, cos) = (f64::from(i) * TAU / f64::from(ROUND)).sin_cos();
        Direction::new_unchecked(first.into_inner() * cos + second.into_inner() * sin)
    })
}
