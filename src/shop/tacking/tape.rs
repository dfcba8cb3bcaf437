//! [`Tape`]: a distance that checks a built face, and which few to take.

use super::built_face::{BuiltFace, Spot};
use crate::geometry::{Point, Vector};
use crate::units::{Angle, Length};
use nalgebra::{Matrix6, Vector6};

/// Tapes to the center of a face: fewer do not hold a point.
pub const CENTER_TAPES: usize = 3;
/// Most tapes to one face: as many as a body has ways to move.
pub const MOST_TAPES: usize = 6;
/// Shortest distance that a tape is pulled over: its hook takes that much (common practice,
/// no source).
const SHORTEST: Length = Length::from_mm(40.0);
/// Longest distance that one hand holds a tape over (common practice, no source).
const LONGEST: Length = Length::from_mm(7500.0);
/// Distances below this, mm, have no direction.
const NONE: f64 = 1.0;
/// How much better a face is foretold before any tape than by one: (σ of a tape/σ of a
/// face)², a tape good to a tenth of what a face may be off.
const FORETOLD: f64 = 0.01;
/// What a tape must tell beyond the others, in variances of its own reading. Below 1 the
/// others foretell it better than it reads.
const WORTH: f64 = 1.0;
/// Choices that differ by less than this part are alike, and the first is taken: rounding
/// must not choose.
const ALIKE: f64 = 1e-6;

/// A fixed place.
#[derive(Clone, Debug, PartialEq)]
pub enum Fixed {
    /// One of the job's pins.
    Pin(String),
    /// A mark on a port's rim, where the tube's outside meets the face.
    Rim {
        /// The port's name.
        port: String,
        /// Clock from the line of the piece that is put on there, clockwise looking
        /// downstream.
        clock: Angle,
    },
}

impl Fixed {
    /// As it is written beside a tape: the pin's name, or the port's and the clock.
    pub fn words(&self) -> String {
        match self {
            Self::Pin(name) => name.clone(),
            Self::Rim { port, clock } => format!("{port} {:.0}°", clock.degrees()),
        }
    }
}

/// One distance to check, a straight line in space.
#[derive(Clone, Debug, PartialEq)]
pub struct Tape {
    /// Where the tape is held.
    pub from: Fixed,
    /// That place.
    pub from_at: Point,
    /// What it is pulled to.
    pub to: Spot,
    /// That place while the joints are tacked.
    pub to_at: Point,
    /// What it reads while the joints are tacked and no weld has pulled yet.
    pub distance: Length,
    /// What it reads once all joints on the way are welded: the same where the job knows of
    /// no shrinkage.
    pub welded: Length,
    /// How far the reading may be off, either way.
    pub tolerance: Length,
    /// Whether the line keeps out of the tube.
    pub free: bool,
}

/// A tape that might be taken.
#[derive(Clone, Debug)]
pub(in crate::shop) struct Candidate {
    /// Which of the fixed places.
    pub place: usize,
    pub spot: Spot,
    pub free: bool,
    distance: Length,
    /// From the fixed place to the spot.
    pub way: Vector,
    /// How much the reading grows with a shift of the face, and with its turn about its
    /// center times the tube's radius.
    slope: Vector6<f64>,
}

impl Candidate {
    /// `None` where the two points are too near each other for a direction, or one is
    /// nowhere.
    pub fn new(
        (place, at): (usize, &Point),
        spot: Spot,
        face: &BuiltFace,
        radius: Length,
        free: bool,
    ) -> Option<Self> {
        let to = face.at(spot);
        let distance = (to - at).norm();
        if !(distance > NONE && distance.is_finite()) {
            return None;
        }
        let way = (to - at) / distance;
        let turn = (to - face.center).cross(&way) / radius.mm();
        Some(Self {
            place,
            spot,
            free,
            distance: Length::from_mm(distance),
            way,
            slope: Vector6::new(way.x, way.y, way.z, turn.x, turn.y, turn.z),
        })
    }

    fn has_length(&self) -> bool {
        (SHORTEST..=LONGEST).contains(&self.distance)
    }
}

/// The few of `all` that pin a face down best, by their places in the list: to the center
/// first.
///
/// Three tapes to the center whose directions span the most, then up to six in all, each
/// the one that tells most beyond those already taken (the greatest gᵀM⁻¹g, which makes the
/// determinant of M = δI + Σ g·gᵀ grow most), while it tells anything. Only lines that are
/// free of the tube and long enough to tape count, as long as there are three of those;
/// where fewer than three such lead to the center, the edges stand in for it.
pub(in crate::shop) fn choose(all: &[Candidate]) -> Vec<usize> {
    let of = |wanted: &dyn Fn(&Candidate) -> bool| -> Vec<usize> {
        let places = (0..all.len()).filter(|&i| wanted(&all[i]));
        places.collect()
    };
    let good = of(&|one| one.free && one.has_length());
    let to_center: Vec<usize> = good
        .iter()
        .copied()
        .filter(|&i| all[i].spot == Spot::Center)
        .collect();
    let mut chosen: Vec<usize> = widest(all, &to_center).into_iter().flatten().collect();
    extend(all, &mut chosen, &good, MOST_TAPES, WORTH);
    let poorer = [of(&|one| one.free), of(&|_| true)];
    for some in poorer {
        extend(all, &mut chosen, &some, CENTER_TAPES, 0.0);
    }
    chosen.sort_unstable();
    chosen
}

/// The three whose directions span the most.
fn widest(all: &[Candidate], some: &[usize]) -> Option<[usize; CENTER_TAPES]> {
    let mut best: Option<(f64, [usize; CENTER_TAPES])> = None;
    for (i, &a) in some.iter().enumerate() {
        for (j, &b) in some.iter().enumerate().skip(i + 1) {
            let across = all[a].way.cross(&all[b].way);
            for &c in &some[j + 1..] {
                let volume = across.dot(&all[c].way).abs();
                if best.is_none_or(|(most, _)| volume > most * (1.0 + ALIKE) + ALIKE * ALIKE) {
                    best = Some((volume, [a, b, c]));
                }
            }
        }
    }
    best.map(|(_, three)| three)
}

/// Adds those of `some` that tell most, up to `most` in all.
fn extend(all: &[Candidate], chosen: &mut Vec<usize>, some: &[usize], most: usize, worth: f64) {
    let mut known = Matrix6::identity() * FORETOLD;
    for &i in chosen.iter() {
        known += all[i].slope * all[i].slope.transpose();
    }
    while chosen.len() < most {
        let Some(inverse) = known.try_inverse() else {
            return;
        };
        let mut best: Option<(f64, usize)> = None;
        for &i in some.iter().filter(|i| !chosen.contains(i)) {
            let slope = &all[i].slope;
            let told = slope.dot(&(inverse * slope));
            if told > worth && best.is_none_or(|(most, _)| told > most * (1.0 + ALIKE)) {
                best = Some((told, i));
            }
        }
        let Some((_, next)) = best else {
            return;
        };
        known += all[next].slope * all[next].slope.transpose();
        chosen.push(next);
    }
}
