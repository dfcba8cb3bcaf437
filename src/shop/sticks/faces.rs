//! [`Faces`]: the saw angles of one tube's pieces, and what lies between two cuts.

use crate::route::saw_settings;
use crate::units::{Angle, Length};

/// The different faces of a tube's pieces, by their number in order of saw angle;
/// number 0 is the square face.
///
/// **What a cut takes.** A cut at κ takes kerf/cos κ along the axis. Where two pieces
/// follow each other with faces of one κ, that one cut makes both. Between faces of
/// different κ there are two cuts, and with both long sides of the waste turned alike
/// what drops out between them is a wedge of r·|tan κ₁ − tan κ₂| at its center and of
/// nothing at one side. A stick's own end is taken to be square but not to be a face: a
/// cut at κ next to it takes kerf/cos κ and a wedge of r·tan κ.
///
/// **Halves.** Each end of a piece is charged half its cut. A shared cut is then paid
/// for, and what is left to pay between two faces, or between a face and a stick's end,
/// is [`Faces::jump`]: half of each cut, and the wedge. All in mm.
#[derive(Clone, Debug)]
pub(super) struct Faces {
    angles: Vec<Angle>,
    /// Half of kerf/cos κ.
    halves: Vec<f64>,
    /// r·tan κ.
    reaches: Vec<f64>,
}

/// A face, or a stick's own end.
pub(super) type Place = Option<usize>;

impl Faces {
    /// The faces cut at `cuts`, and the number of each.
    pub fn new(cuts: &[Angle], radius: Length, kerf: Length) -> (Self, Vec<usize>) {
        let mut all = vec![Angle::ZERO];
        all.extend_from_slice(cuts);
        let numbers = saw_settings(&all);
        let count = numbers.iter().max().map_or(1, |last| last + 1);
        let angles: Vec<Angle> = (0..count)
            .map(|face| {
                let first = numbers.iter().position(|&number| number == face);
                first.map_or(Angle::ZERO, |first| all[first])
            })
            .collect();
        let faces = Self {
            halves: angles.iter().map(|a| (kerf / a.cos()).mm() / 2.0).collect(),
            reaches: angles.iter().map(|a| (radius * a.tan()).mm()).collect(),
            angles,
        };
        (faces, numbers.into_iter().skip(1).collect())
    }

    /// How many there are.
    pub const fn len(&self) -> usize {
        self.angles.len()
    }

    /// The saw angle of one.
    pub fn angle(&self, face: usize) -> Angle {
        self.angles[face]
    }

    /// What its cut takes along the axis.
    pub fn cut(&self, face: usize) -> f64 {
        2.0 * self.halves[face]
    }

    /// How far its long side reaches past its center: r·tan κ.
    pub fn reach(&self, place: Place) -> f64 {
        place.map_or(0.0, |face| self.reaches[face])
    }

    /// Half of what its cut takes.
    pub fn half(&self, place: Place) -> f64 {
        place.map_or(0.0, |face| self.halves[face])
    }

    /// The wedge between two faces, or a face and a stick's end, at its center.
    pub fn wedge(&self, from: Place, to: Place) -> f64 {
        (self.reach(from) - self.reach(to)).abs()
    }

    /// What is to pay from one face to the next beside the halves that their pieces pay.
    pub fn jump(&self, from: Place, to: Place) -> f64 {
        if from.is_some() && from == to {
            return 0.0;
        }
        self.half(from) + self.half(to) + self.wedge(from, to)
    }
}
