//! An end of the gap, from what was measured of it.

use super::close::Meeting;
use super::closing::MetEnd;
use super::doubts::{PLAN_DIRECTION, SAW_ANGLE, spikes, told, twice, wrong_unit};
use super::planned_end::PlannedEnd;
use crate::closure::{Axis, BuiltEnd, Rim, Side};
use crate::geometry::{Direction, Point, Scatter, Vector, across, angle_between, clock_between};
use crate::job::{BuiltCut, BuiltEndSurvey, Problem};
use crate::survey::{Face, Observed, Surveyed, survey};
use crate::tube::{Part, Scribed};
use crate::units::{Angle, Length};

/// How well the plan's direction is taken to say a built end's, one standard deviation:
/// some twice what a run of pies is off by where it ends.
const AS_PLANNED: Angle = Angle::from_degrees(4.0);
/// Nobody touches a tube so near to its weld.
const WELD_ROOM: Length = Length::from_inches(0.25);
/// Fewest rim points that a ragged end is scribed through.
const FEWEST_RAGGED: usize = 8;
/// Standard deviation of the height that a ragged end's center is given: none, it is what
/// the center is.
const BY_DEFINITION: Length = Length::from_mm(1e-3);
/// A cut of so much is no square cut that went wrong.
const ASLANT: Angle = Angle::from_degrees(2.0);

impl Meeting<'_> {
    /// A built end as it was measured; carried on to the closure by the pieces that are
    /// cut and not tacked on yet.
    pub(super) fn meet(
        &self,
        end: &BuiltEndSurvey,
        side: Side,
        warnings: &mut Vec<Problem>,
    ) -> Result<MetEnd, Problem> {
        let seam = self.seam(side);
        let joint = end.joint.or(seam);
        self.check_joint(end, side)?;
        warnings.extend(self.uncut(end)?);
        let planned = match joint {
            Some(joint) => {
                let planned = self.planned(joint, side);
                let none = || match end.joint {
                    Some(joint) => {
                        let message = format!("there is no built end at joint {joint} of the plan");
                        let help =
                            "give the number of the joint that the end is at, as the sheet has it";
                        Problem::at(&end.path.key("joint"), message, help)
                    }
                    None => {
                        let word = side.word();
                        let message = "is measured, but the closing piece begins at the port there";
                        let help = format!("leave '{word}' out, or give another 'piece'");
                        Problem::at(&end.path, message, help)
                    }
                };
                planned
                    .map(Some)
                    .or_else(|| self.plan.is_none().then_some(None))
                    .ok_or_else(none)?
            }
            None => None,
        };
        let tube = &self.built.task.tube;
        if let Some(problem) = wrong_unit(end, tube, self.built.style) {
            return Err(problem);
        }
        warnings.extend(twice(end));
        let survey = self
            .survey(end, planned.as_ref(), self.behind(joint, side))
            .map_err(|error| self.no_fit(end, error))?;
        let Some(found) = survey.survey.found.clone() else {
            return Err(Problem::at(
                &end.path,
                "could not be fitted",
                "measure it again",
            ));
        };
        self.check_diameter(&survey, &found)?;
        warnings.extend(
            survey
                .survey
                .warnings(self.built.style)
                .into_iter()
                .map(told),
        );
        let (to_weld, pull) = joint.map_or_else(Default::default, |at| self.pull(at, side));
        let built = self.end(&survey, &found)?.shifted(&pull);
        if let Rim::Ragged { .. } = built.rim {
            warnings.extend(self.ragged_spikes(&survey, &found));
        }
        let off = planned.as_ref().map(|planned| {
            let shift = built.center - planned.center;
            (shift, angle_between(&built.axis, &planned.axis))
        });
        if let Some(problem) = self.rather_mitered(&survey, &found) {
            return Err(problem);
        }
        let built = match (joint, seam, &planned) {
            (Some(joint), Some(seam), Some(planned)) if joint != seam => {
                let carried = self.planned(seam, side);
                let carried = carried.ok_or_else(|| {
                    Problem::at(
                        &end.path.key("joint"),
                        "is not on this side of the piece",
                        "",
                    )
                })?;
                let carried = carry(&built, planned, &carried);
                let place = Length::from_mm(carried.axis_scatter.distance().mm());
                if place > self.built.fit_up.high_low {
                    let message = format!(
                        "the loose pieces are put on as planned, which places their end to {} only: how the built end is turned about its axis is not known well enough",
                        self.built.style.decimal(place)
                    );
                    let help = "tack them on and measure the end at the gap before you cut";
                    warnings.push(Problem::at(&end.path, message, help));
                }
                carried
            }
            _ => built,
        };
        Ok(MetEnd {
            built,
            to_weld,
            pull,
            survey: Some((survey, found)),
            planned,
            off,
            seam,
            joint,
            port: None,
        })
    }

    /// How far the planned piece behind an end goes back straight, all round, up to where it
    /// is welded to the next.
    pub(super) fn behind(&self, joint: Option<usize>, side: Side) -> Option<Length> {
        let (plan, joint) = (self.plan?, joint?);
        let piece = match side {
            Side::Before => joint.checked_sub(1)?,
            Side::After => joint,
        };
        let back = match &plan.run.run.pieces().get(piece)?.piece {
            Part::Straight(piece) => {
                let far = match side {
                    Side::Before => piece.start(),
                    Side::After => piece.end(),
                };
                piece.length() - far.reach(plan.run.run.tube().radius())
            }
            Part::Bent(bent) => bent.legs[usize::from(side == Side::Before)],
        };
        Some((back - WELD_ROOM).max(Length::ZERO))
    }

    /// That nothing tells how an end is cut: an error where the file names a job, whose plan
    /// would. With neither job nor plan it is taken as square, with a warning.
    fn uncut(&self, end: &BuiltEndSurvey) -> Result<Option<Problem>, Problem> {
        if self.plan.is_some() || end.cut != BuiltCut::Planned {
            return Ok(None);
        }
        let path = end.path.key("cut");
        let message = "is not said, and there is no plan to tell it";
        if self.built.has_job {
            let help = "give --plan results/plan.json, or write \"cut\": \"square\", \"miter\" or the saw's angle";
            return Err(Problem::at(&path, message, help));
        }
        let message = format!("{message}: the end is taken as cut square");
        let help = "write \"cut\": \"square\" if it is, else \"miter\" or the saw's angle";
        Ok(Some(Problem::at(&path, message, help)))
    }

    /// What to do about an end that cannot be fitted.
    fn no_fit(&self, end: &BuiltEndSurvey, mut error: Problem) -> Problem {
        if end.rim.is_empty() {
            let message = "has no rim points, which are what shows how it is cut";
            let path = end.path.key("measured").key("rim");
            return Problem::at(
                &path,
                message,
                "touch eight or more, all round its outer edge",
            );
        }
        if error.message.contains("ahead of the face") {
            error.help += "; or 'before' and 'after' are swapped";
        }
        if error.message.contains("two ports fit") {
            error.help += "; 'toward' is about which way the end looks, x, y, z";
        }
        error
    }

    /// That an end taken as square is clearly cut aslant: fitted as a miter, its readings
    /// agree, and as a square end they do not.
    fn rather_mitered(&self, end: &BuiltEndSurvey, found: &Surveyed) -> Option<Problem> {
        let torn = found.disagreement > 1.0 || !found.suspicions.is_empty();
        let square = end.survey.readings.face == Face::Square && end.cut != BuiltCut::Ragged;
        if !(torn && square) {
            return None;
        }
        let mut readings = end.survey.readings.clone();
        readings.face = Face::Mitered;
        readings.toward.get_or_insert(found.outward);
        let mitered = survey(&readings).ok()?;
        let cut = angle_between(&mitered.outward, &mitered.normal);
        let agrees = mitered.disagreement <= 1.0 && mitered.suspicions.is_empty();
        (agrees && cut > ASLANT).then(|| {
            let message = format!(
                "is taken as cut square, but its rim points lie about {} off square",
                self.built.style.angle(cut)
            );
            let help =
                "say \"cut\": \"miter\", or the saw's angle; or name the plan that it was cut by";
            Problem::at(&end.path, message, help)
        })
    }

    /// That the end is on its own side of the closing piece.
    fn check_joint(&self, end: &BuiltEndSurvey, side: Side) -> Result<(), Problem> {
        let (Some(joint), path) = (end.joint, end.path.key("joint")) else {
            return Ok(());
        };
        let Some(seam) = self.seam(side) else {
            let help = "name the plan that the run was built from, or leave 'joint' out";
            return Err(Problem::at(&path, "says nothing without a plan", help));
        };
        let is_right = match side {
            Side::Before => joint <= seam,
            Side::After => joint >= seam,
        };
        if is_right {
            return Ok(());
        }
        let piece = self.plan.map_or(0, |plan| plan.piece);
        let message = format!("is {joint}, on the other side of the closing piece, {piece}");
        let help = format!(
            "an end {} the gap is at joint {seam} or nearer to its port",
            side.word()
        );
        Err(Problem::at(&path, message, help))
    }

    /// The readings with what the plan says beside them, fitted.
    fn survey(
        &self,
        end: &BuiltEndSurvey,
        planned: Option<&PlannedEnd>,
        behind: Option<Length>,
    ) -> Result<BuiltEndSurvey, Problem> {
        let mut end = end.clone();
        end.survey.readings.behind = behind;
        let (accuracy, path) = (self.built.accuracy, end.path.clone());
        let mitered = planned.is_some_and(|planned| planned.cut > Angle::ZERO);
        let angle = match end.cut {
            BuiltCut::Planned if mitered => planned.map(|planned| planned.cut),
            BuiltCut::At(angle) => Some(angle),
            _ => None,
        };
        end.survey.readings.face = match (end.cut, angle) {
            (BuiltCut::Miter, _) | (_, Some(_)) => Face::Mitered,
            _ => Face::Square,
        };
        if let Some(angle) = angle {
            let saw = accuracy.cut.radians().hypot(accuracy.setting.radians());
            let what = Observed::Cut {
                angle,
                good_to: Angle::from_radians(saw),
            };
            end.survey.add(SAW_ANGLE.to_owned(), what, &path);
        }
        if let Some(planned) = planned {
            end.survey.readings.toward.get_or_insert(planned.axis);
            let square = end.cut == BuiltCut::Square || end.cut == BuiltCut::Planned && !mitered;
            if !square {
                let what = Observed::Outward {
                    direction: planned.axis,
                    across: across(&planned.axis),
                    good_to: [AS_PLANNED; 2],
                };
                end.survey.add(PLAN_DIRECTION.to_owned(), what, &path);
            }
        }
        if end.cut == BuiltCut::Ragged {
            ragged(&mut end);
        }
        end.survey.settle(self.built.style)?;
        Ok(end)
    }

    /// Points of a ragged rim that stand far from both their neighbors.
    fn ragged_spikes(&self, end: &BuiltEndSurvey, found: &Surveyed) -> Vec<Problem> {
        let height = |at: &Point| Length::from_mm(found.outward.dot(&(at - found.center)));
        let heights: Vec<Length> = end.rim.iter().map(height).collect();
        let far = spikes(&heights, &self.built.task.tube).into_iter();
        far.map(|(i, off)| {
            let path = end.path.key("measured").key("rim").index(i);
            let off = self.built.style.decimal(off);
            let message = format!("rim point {} stands {off} from both its neighbors", i + 1);
            Problem::at(
                &path,
                message,
                "touch it again, or grind that place flush first",
            )
        })
        .collect()
    }

    /// The end in the closure's terms.
    fn end(&self, end: &BuiltEndSurvey, found: &Surveyed) -> Result<BuiltEnd, Problem> {
        let mark = end.rim.first().map(|at| (*at, "rim point 1".to_owned()));
        let built = BuiltEnd {
            center: found.center,
            axis: found.outward,
            rim: Rim::Flat(found.normal),
            axis_scatter: found.scatter,
            rim_scatter: found.face_scatter,
            mark,
        };
        if end.cut != BuiltCut::Ragged {
            return Ok(built);
        }
        let few = || {
            let message = format!("has {} rim points", end.rim.len());
            let help = format!(
                "touch {FEWEST_RAGGED} or more, round all of a ragged end, each at a place of its own"
            );
            Problem::at(&end.path.key("measured").key("rim"), message, help)
        };
        let axis = Axis {
            through: found.center,
            along: found.outward,
        };
        let out = |at: &Point| {
            let out = Direction::try_new(axis.out(at), f64::EPSILON)?;
            Some((out, Length::from_mm(axis.reach(at))))
        };
        let sides: Option<Vec<(Direction, Length)>> = end.rim.iter().map(out).collect();
        let sides = sides
            .filter(|sides| sides.len() >= FEWEST_RAGGED)
            .ok_or_else(few)?;
        let zero = sides[0].0;
        let knots: Vec<(Angle, Length)> = sides
            .iter()
            .map(|(out, height)| (clock_between(&found.outward, &zero, out), *height))
            .collect();
        let edge = Scribed::new(&knots).ok_or_else(few)?;
        // Each of its points is known no better than it was touched.
        let point = end.survey.readings.measuring.point.mm();
        let along = found.outward.into_inner() * point;
        let touched = Scatter::of_motion(&along, &Vector::zeros());
        Ok(BuiltEnd {
            rim_scatter: built.rim_scatter.plus(&touched),
            rim: Rim::Ragged { zero, edge },
            ..built
        })
    }
}

/// Reads a ragged rim's points as points of the outside, and their mean height as the
/// center's.
fn ragged(end: &mut BuiltEndSurvey) {
    let Some(first) = end.rim.first() else {
        return;
    };
    let sum: Vector = end.rim.iter().map(|at| at - first).sum();
    let middle = first + sum / end.rim.len() as f64;
    for reading in &mut end.survey.readings.list {
        if let Observed::OnRim { at, good_to } = reading.what {
            reading.what = Observed::OnOutside { at, good_to };
        }
    }
    let what = Observed::OnFace {
        at: middle,
        good_to: BY_DEFINITION,
    };
    let path = end.path.clone();
    end.survey
        .add("the rim's mean height".to_owned(), what, &path);
}

/// The motion from where an end is planned to where it is.
///
/// A miter shows how far it is turned about its axis; a square end does not, and is taken
/// not to be.
pub(super) fn moved(planned: &PlannedEnd, built: &BuiltEnd) -> nalgebra::Isometry3<f64> {
    let frame = |axis: &Direction, normal: &Direction| {
        let side = normal.into_inner() - axis.into_inner() * axis.dot(normal);
        let side = Direction::try_new(side, MITER)?;
        let third = axis.cross(&side);
        Some(nalgebra::Matrix3::from_columns(&[
            axis.into_inner(),
            side.into_inner(),
            third,
        ]))
    };
    let pair = (
        frame(&planned.axis, &planned.normal),
        frame(&built.axis, &built.normal()),
    );
    let rotation = match pair {
        (Some(from), Some(to)) => {
            let turn = nalgebra::Rotation3::from_matrix_unchecked(to * from.transpose());
            nalgebra::UnitQuaternion::from_rotation_matrix(&turn)
        }
        _ => nalgebra::UnitQuaternion::rotation_between(&planned.axis, &built.axis)
            .unwrap_or_default(),
    };
    let shift = built.center - rotation * planned.center;
    nalgebra::Isometry3::from_parts(shift.into(), rotation)
}

/// Sine of the least cut whose long side shows how a tube is turned: 1°.
const MITER: f64 = 0.017;

/// How far an end may be turned about its own axis: by its miter's two leans, each over
/// tan κ; or where it is too square to show, by what a clock is off in a few joints.
fn roll_scatter(built: &BuiltEnd) -> Scatter {
    let normal = built.normal();
    let slant = angle_between(&normal, &built.axis).tan();
    let lean = built.axis_scatter.lean(&built.axis).radians();
    let face = built.rim_scatter.lean(&normal).radians();
    let shown = lean.hypot(face) / slant.max(MITER);
    let roll = if slant < MITER {
        UNSEEN_ROLL.radians()
    } else {
        shown
    };
    Scatter::of_motion(&Vector::zeros(), &(built.axis.into_inner() * roll))
}

/// Standard deviation of how a square end is turned about its axis: a clock's error in
/// three or four joints.
const UNSEEN_ROLL: Angle = Angle::from_degrees(2.0);

/// The end that stands at the closure when pieces that are cut are put on to a measured
/// one as planned.
fn carry(built: &BuiltEnd, planned: &PlannedEnd, on: &PlannedEnd) -> BuiltEnd {
    let map = moved(planned, built);
    let turn = |direction: &Direction| Direction::new_normalize(map * direction.into_inner());
    let center = map * on.center;
    let arm = center - built.center;
    let roll = roll_scatter(built);
    let (axis, normal) = (turn(&on.axis), turn(&on.normal));
    BuiltEnd {
        center,
        axis,
        rim: Rim::Flat(normal),
        axis_scatter: built.axis_scatter.plus(&roll).seen_at(&arm),
        rim_scatter: built.rim_scatter.plus(&roll).seen_at(&arm),
        // What was touched is on another piece: the loose piece's own long side is known.
        mark: long_side(&center, &axis, &normal),
    }
}

/// A point toward the long side of an end, unless it is square.
fn long_side(center: &Point, axis: &Direction, normal: &Direction) -> Option<(Point, String)> {
    let side = axis.into_inner() * axis.dot(normal) - normal.into_inner();
    let side = Direction::try_new(side, MITER)?;
    Some((center + side.into_inner(), "the long side".to_owned()))
}
