//! [`Reach`]: what every error made so far does to a point of a built face.

use super::built_face::BuiltFace;
use super::origin::Origin;
use crate::geometry::{Point, Vector, perpendicular};
use crate::run::JointKind;
use crate::shop::stack_up::Build;
use crate::shop::stack_up::Motion;
use std::f64::consts::FRAC_1_SQRT_2;

/// What one error of one standard deviation does to a point.
#[derive(Clone, Copy, Debug)]
enum Effect {
    /// Carries it along as a part of a body.
    Body(Motion),
    /// The face's own saw angle: R·cos t·ε/cos²κ along the tube at the clock t from the
    /// long side. The rim stays on the tube, so this is no turn of a body.
    Sawn {
        center: Point,
        /// Direction of the long side, square to the axis.
        long: Vector,
        /// Along the axis, ε/cos²κ long.
        along: Vector,
    },
}

impl Effect {
    fn at(&self, place: &Point) -> Vector {
        match self {
            Self::Body(motion) => motion.seen_at(place).0,
            Self::Sawn {
                center,
                long,
                along,
            } => along * long.dot(&(place - center)),
        }
    }
}

/// Errors of what is built from one port up to a face, and of the face itself: everything
/// that moves the face's points, to first order.
///
/// Beside the sources of [`StackUp`](crate::shop::StackUp) up to the joint by which the piece was
/// put on, and the piece's own, the face is sawn itself: its saw angle ε (not 2ε: it is one
/// side of the cut), its clock, or the lean of a square face. Saw settings are kept by
/// themselves, because faces on both sides of a gap share them.
pub(in crate::shop) struct Reach {
    independent: Vec<Vec<Effect>>,
    /// One a setting, in the order of [`Build::miters_by_setting`].
    settings: Vec<Vec<Effect>>,
}

impl Reach {
    /// Of a build with no errors.
    pub fn none() -> Self {
        Self {
            independent: Vec::new(),
            settings: Vec::new(),
        }
    }

    pub fn new(build: &Build<'_>, face: &BuiltFace) -> Self {
        let index = face.piece - 1;
        let (joints, pieces) = match face.origin {
            Origin::First => (0..index + 1, 0..index + 1),
            Origin::Last => {
                let last = build.run.pieces().len();
                (index + 1..last + 1, index..last)
            }
        };
        let carried = |motion: Motion| {
            Effect::Body(match face.origin {
                Origin::First => motion,
                Origin::Last => motion.reversed(),
            })
        };
        let at_joints = joints.clone().flat_map(|joint| build.at_joint(joint));
        let sources = at_joints.chain(pieces.flat_map(|piece| build.of_piece(piece)));
        let mut independent: Vec<Vec<Effect>> = sources
            .map(|source| source.motions.into_iter().map(carried).collect())
            .collect();
        independent.extend(own(build, face).into_iter().map(|effect| vec![effect]));
        let own_joint = face.origin.face_joint(index);
        let of_setting = |miters: Vec<usize>| {
            let mut effects: Vec<Effect> = miters
                .iter()
                .filter(|joint| joints.contains(joint))
                .map(|&joint| carried(build.by_setting(joint)))
                .collect();
            if miters.contains(&own_joint) {
                effects.push(sawn(face, build.accuracy.setting.radians()));
            }
            effects
        };
        let settings = build.miters_by_setting().into_iter().map(of_setting);
        let settings = settings.collect();
        Self {
            independent,
            settings,
        }
    }

    /// Variance, mm², of a point of the face along a direction.
    pub fn variance(&self, place: &Point, along: &Vector) -> f64 {
        self.variance_between(place, &Self::none(), &Point::origin(), along)
    }

    /// Variance, mm², of how far a point of this face and one of another stand off each
    /// other along a direction.
    pub fn variance_between(
        &self,
        here: &Point,
        other: &Self,
        there: &Point,
        along: &Vector,
    ) -> f64 {
        let part = |effects: &[Effect], place: &Point| -> f64 {
            effects.iter().map(|one| one.at(place).dot(along)).sum()
        };
        let own = self.independent.iter().map(|one| part(one, here));
        let others = other.independent.iter().map(|one| part(one, there));
        let count = self.settings.len().max(other.settings.len());
        let setting = |reach: &Self, index: usize, place: &Point| {
            let effects = reach.settings.get(index);
            effects.map_or(0.0, |effects| part(effects, place))
        };
        let shared = (0..count).map(|i| setting(other, i, there) - setting(self, i, here));
        own.chain(others)
            .chain(shared)
            .map(|part| part * part)
            .sum()
    }
}

/// The face's own errors.
fn own(build: &Build<'_>, face: &BuiltFace) -> Vec<Effect> {
    let accuracy = build.accuracy;
    let joint = &build.run.joints()[face.origin.face_joint(face.piece - 1)];
    let turn = |axis: Vector, angle: f64| Effect::Body(Motion::turn(axis * angle, face.center));
    if joint.kind == JointKind::Miter {
        return vec![
            sawn(face, accuracy.cut.radians()),
            turn(face.axis.into_inner(), accuracy.clock.radians()),
        ];
    }
    // Half the variance about either axis, as of every square face.
    let lean = accuracy.cut.radians() * FRAC_1_SQRT_2;
    let first = perpendicular(&face.axis);
    let second = face.axis.cross(&first);
    vec![turn(first.into_inner(), lean), turn(second, lean)]
}

/// The face sawn steeper by `angle`, rad: its long side grows out of the tube.
fn sawn(face: &BuiltFace, angle: f64) -> Effect {
    let out = face.axis.into_inner() * face.origin.sign();
    Effect::Sawn {
        center: face.center,
        long: face.long.into_inner(),
        along: out * (angle / face.cut.cos().powi(2)),
    }
}
