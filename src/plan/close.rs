//! [`Closing`]: the gap of a run as it was built, and how to close it.

use super::FileRun;
use super::plan::UNSETTABLE_CUT;
use super::planned_end::{PlannedEnd, planned_end};
use crate::closure::{
    Against, BuiltEnd, Closure, FitUp, Gap, LooseJoint, NoPieces, Open, Reclock, Rim, Several,
    Side, Slip, Ways, Widths,
};
use crate::geometry::{
    Direction, Plane, Point, Scatter, Segment, Vector, across, angle_between, clock_between,
};
use crate::job::{Built, BuiltCut, BuiltEndSurvey, Opening, Path, Problem};
use crate::route::{Control, Task};
use crate::run::{Freedom, Joint, Port};
use crate::survey::{Face, Observed, Surveyed};
use crate::tube::{Part, Scribed, StockBend, Tube};
use crate::units::{Angle, Length, Style};

/// How well the plan's direction is taken to say a built end's, one standard deviation:
/// some twice what a run of pies is off by where it ends.
const AS_PLANNED: Angle = Angle::from_degrees(4.0);
/// An end that stands further than this from where it was planned is likely another one,
/// or in another unit: 4 in.
const FAR: Length = Length::from_inches(4.0);
/// Fewest rim points that a ragged end is scribed through.
const FEWEST_RAGGED: usize = 8;
/// Standard deviation of the height that a ragged end's center is given: none, it is what
/// the center is.
const BY_DEFINITION: Length = Length::from_mm(1e-3);
/// An axis that is known no better than this is not good enough to cut an end again by:
/// 1 mm over a tube of 57 mm.
const POOR_AXIS: Angle = Angle::from_degrees(1.0);

/// The gap of a run as it was built, and how to close it.
#[derive(Clone, Debug)]
pub struct Closing {
    /// How the shop writes numbers.
    pub style: Style,
    /// The tube.
    pub tube: Tube,
    /// Stock bends that the run may have.
    pub stock: Vec<StockBend>,
    /// What the piece must keep.
    pub fit_up: FitUp,
    /// The run as planned, if there is a plan.
    pub plan: Option<PlannedGap>,
    /// What came of it.
    pub found: Found,
    /// What the user should know before cutting.
    pub warnings: Vec<Problem>,
}

/// The planned run and which of its pieces is the closure.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedGap {
    /// The run.
    pub run: FileRun,
    /// Number of the piece, from 1.
    pub piece: usize,
}

/// What closes the gap.
#[derive(Clone, Debug)]
pub enum Found {
    /// Between two ends in space.
    Ends(Box<BetweenEnds>),
    /// From its widths.
    Widths {
        /// What was measured.
        widths: Widths,
        /// The piece.
        gap: Box<Gap>,
        /// What speaks against it.
        against: Vec<Against>,
    },
}

/// A gap between two ends in space.
#[derive(Clone, Debug)]
pub struct BetweenEnds {
    /// The ends, in order of flow.
    pub ends: [MetEnd; 2],
    /// Ways to close it with one piece.
    pub ways: Ways,
    /// Joints turned, where one piece does not do and some can be turned.
    pub reclock: Option<Reclock>,
    /// Two pieces or more, where one does not do or where they are asked for.
    pub several: Option<Result<Several, NoPieces>>,
    /// What to do.
    pub advice: Advice,
}

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Advice {
    /// One piece, the best of the ways.
    OnePiece,
    /// Turn joints, then one piece.
    Reclock,
    /// Several pieces.
    Several,
    /// Nothing that was tried can be welded.
    Nothing,
}

/// An end of the gap.
#[derive(Clone, Debug)]
pub struct MetEnd {
    /// As it is.
    pub built: BuiltEnd,
    /// The fit of what was measured; `None` for a port that nothing is built from.
    pub survey: Option<(BuiltEndSurvey, Surveyed)>,
    /// Where the plan has it.
    pub planned: Option<PlannedEnd>,
    /// How far it is off that: the center, and the axis.
    pub off: Option<(Vector, Angle)>,
    /// Number of the plan's joint that it is at.
    pub joint: Option<usize>,
    /// The port, if it is one.
    pub port: Option<Port>,
}

/// Closes the gap that `built` tells of, in the run that it was planned as. Also looks for
/// several pieces where `pieces` asks for it.
pub fn close(
    built: &Built,
    plan: Option<PlannedGap>,
    pieces: bool,
    control: &Control<'_>,
) -> Result<Closing, Vec<Problem>> {
    let mut warnings = Vec::new();
    if let Some(problem) = plan.as_ref().and_then(|plan| unlike_tube(plan, built)) {
        return Err(vec![problem]);
    }
    let found = match &built.measured {
        Opening::Widths(widths, path) => {
            let gap = Gap::new(&built.task.tube, widths, built.fit_up.gap).map_err(|error| {
                let help = "check the widths and where each was measured";
                vec![Problem::at(path, error.to_string(), help)]
            })?;
            warnings.extend(slips(&gap, path, built.style));
            Found::Widths {
                widths: widths.clone(),
                against: gap.against(&built.fit_up),
                gap: Box::new(gap),
            }
        }
        Opening::Ends(ends) => {
            let meeting = Meeting {
                built,
                plan: plan.as_ref(),
            };
            let between = meeting.close(ends, pieces, control, &mut warnings)?;
            Found::Ends(Box::new(between))
        }
    };
    Ok(Closing {
        style: built.style,
        tube: built.task.tube.clone(),
        stock: built.task.stock.clone(),
        fit_up: built.fit_up.clone(),
        plan,
        found,
        warnings,
    })
}

impl Closing {
    /// What the piece number `i`, from 0, of several is called: the plan's piece with a
    /// letter, so that all others keep their names.
    pub fn piece_name(&self, i: usize) -> String {
        match &self.plan {
            Some(plan) => format!("{}{}", plan.piece, letter(i)),
            None => (i + 1).to_string(),
        }
    }

    /// What the joint number `i`, from 0, of `pieces` is called: those of the gap as the
    /// plan has them, those between by a letter.
    pub fn joint_name(&self, i: usize, pieces: usize) -> String {
        let Some(plan) = &self.plan else {
            return i.to_string();
        };
        match i {
            0 => (plan.piece - 1).to_string(),
            _ if i == pieces => plan.piece.to_string(),
            _ => format!("{}{}", plan.piece - 1, letter(i - 1)),
        }
    }

    /// Whether there is something to cut that can be welded.
    pub const fn is_closed(&self) -> bool {
        match &self.found {
            Found::Ends(between) => !matches!(between.advice, Advice::Nothing),
            Found::Widths { against, .. } => against.is_empty(),
        }
    }

    /// The piece to cut, where one piece does it.
    pub fn closure(&self) -> Option<&Closure> {
        match &self.found {
            Found::Ends(between) => between.closure(),
            Found::Widths { .. } => None,
        }
    }
}

impl BetweenEnds {
    /// The piece to cut, where one piece does it.
    pub fn closure(&self) -> Option<&Closure> {
        match self.advice {
            Advice::OnePiece => self.ways.best(),
            Advice::Reclock => self.reclock.as_ref().map(|reclock| &reclock.closure),
            Advice::Several | Advice::Nothing => None,
        }
    }
}

/// That the plan was made for another tube than the job has.
fn unlike_tube(plan: &PlannedGap, built: &Built) -> Option<Problem> {
    let (planned, own) = (plan.run.run.tube(), &built.task.tube);
    let apart = |a: Length, b: Length| (a - b).abs() > SAME_TUBE;
    if !apart(planned.od(), own.od()) && !apart(planned.wall(), own.wall()) {
        return None;
    }
    let style = built.style;
    let size = |tube: &Tube| {
        format!(
            "{} OD × {} wall",
            style.decimal(tube.od()),
            style.decimal(tube.wall())
        )
    };
    let message = format!(
        "the plan is for tube of {}, the job has {}",
        size(planned),
        size(own)
    );
    Some(problem(
        "plan",
        message,
        "name the plan that was made from this job",
    ))
}

/// Points that are of a tube so much larger or smaller, in mm or as a part, are of another
/// tube: more than a probe's radius makes.
const OTHER_TUBE: Length = Length::from_mm(3.0);
const OTHER_PART: f64 = 0.05;
/// Tubes whose sizes differ by no more are one.
const SAME_TUBE: Length = Length::from_mm(0.05);

/// a, b, … z, aa, ab, …
fn letter(i: usize) -> String {
    let last = char::from(b'a' + (i % 26) as u8);
    match i / 26 {
        0 => last.to_string(),
        more => format!("{}{last}", letter(more - 1)),
    }
}

/// What to do about readings that nobody took.
fn told(mut problem: Problem) -> Problem {
    for (name, help) in [
        (
            PLAN_DIRECTION,
            "a joint behind this end may be turned: check it against the sheet",
        ),
        (
            SAW_ANGLE,
            "check how this end was cut, or say \"cut\": \"miter\"",
        ),
    ] {
        if problem.message.starts_with(name) {
            problem.help = help.to_owned();
        }
    }
    problem
}

/// What readings that come from the plan and the shop are called.
const PLAN_DIRECTION: &str = "the plan's direction";
const DIAMETER: &str = "the tube's diameter";
const SAW_ANGLE: &str = "the saw's angle";

fn problem(path: &str, message: String, help: &str) -> Problem {
    Problem {
        path: path.to_owned(),
        message,
        help: help.to_owned(),
    }
}

/// Stations that do not go with the others.
fn slips(gap: &Gap, path: &Path, style: Style) -> Vec<Problem> {
    let one = |slip: &Slip| {
        let off = style.decimal(slip.off.abs());
        let way = if slip.off > Length::ZERO {
            "wider"
        } else {
            "narrower"
        };
        if let [station] = slip.stations[..] {
            let number = station + 1;
            let message =
                format!("station {number} is {off} off what the others say: {way}; it is left out");
            return Problem::at(&path.index(station), message, "measure it again");
        }
        let named = slip
            .stations
            .iter()
            .map(|station| (station + 1).to_string());
        let named = named.collect::<Vec<_>>().join(", ");
        let message =
            format!("one of stations {named} is off, perhaps by {off}, and nothing tells which");
        Problem::at(path, message, "measure them again, or at more stations")
    };
    let mut all: Vec<Problem> = gap.slips.iter().map(one).collect();
    if gap.disagreement > 1.0 {
        let message = format!(
            "the stations disagree {:.1} times as much as their accuracy explains",
            gap.disagreement
        );
        let help = "measure again; or the rims are not flat, or the tube is not round: then say \"ragged\": true, or measure both rims";
        all.push(Problem::at(path, message, help));
    }
    all
}

/// What is known of both ends before they are met.
struct Meeting<'a> {
    built: &'a Built,
    plan: Option<&'a PlannedGap>,
}

impl Meeting<'_> {
    fn close(
        &self,
        ends: &[Option<BuiltEndSurvey>; 2],
        pieces: bool,
        control: &Control<'_>,
        warnings: &mut Vec<Problem>,
    ) -> Result<BetweenEnds, Vec<Problem>> {
        let mut problems = Vec::new();
        let loose = self.loose_joints(ends, &mut problems);
        let met = [0, 1].map(|i| {
            let met = match &ends[i] {
                Some(end) => self.meet(end, Side::BOTH[i], warnings),
                None => self.port(Side::BOTH[i]),
            };
            met.map_err(|problem| problems.push(problem)).ok()
        });
        let [Some(before), Some(after)] = met else {
            return Err(problems);
        };
        if !problems.is_empty() {
            return Err(problems);
        }
        let ends = [before, after];
        let fit_up = FitUp {
            spare: [0, 1].map(|i| self.spare(&ends[i], Side::BOTH[i])),
            at_port: [0, 1].map(|i| ends[i].port.is_some()),
            ..self.built.fit_up.clone()
        };
        let (tube, built) = (&self.built.task.tube, [&ends[0].built, &ends[1].built]);
        let may_trim = [0, 1].map(|i| ends[i].port.is_none());
        let ways = Ways::new(tube, built, may_trim, &fit_up);
        let loose = self.stand(&loose, &ends);
        let one = ways.best.is_some();
        let reclock = (!one && !loose.is_empty())
            .then(|| Reclock::new(tube, built, &loose, &fit_up))
            .flatten();
        let several = (!one || pieces).then(|| {
            let open = [0, 1].map(|i| match &ends[i].port {
                Some(port) => Open::Port(port),
                None => Open::Built(&ends[i].built),
            });
            Several::new(&self.rest(&ends), open, &fit_up, control)
        });
        let advice = advise(&ways, reclock.as_ref(), several.as_ref());
        warnings.extend(self.doubts(&ends, &ways, advice));
        warnings.extend(tiny_joints(several.as_ref(), self.built.style));
        Ok(BetweenEnds {
            ends,
            ways,
            reclock,
            several,
            advice,
        })
    }

    /// The task that is left between the two ends: passes that the built part goes through
    /// are done.
    fn rest(&self, ends: &[MetEnd; 2]) -> Task {
        let mut task = self.built.task.clone();
        let Some(plan) = self.plan else {
            task.passes.clear();
            return task;
        };
        let run = &plan.run.run;
        let points = run.centerline().points();
        let legs: Vec<Segment> = points
            .windows(2)
            .map(|pair| Segment {
                start: pair[0],
                end: pair[1],
            })
            .collect();
        let vertex = |end: &MetEnd| {
            let at = run.joints()[end.joint.unwrap_or(0)].plane.point;
            let off = |point: &Point| (point - at).norm();
            let all = 0..points.len();
            all.min_by(|&a, &b| off(&points[a]).total_cmp(&off(&points[b])))
        };
        let [from, to] = ends.each_ref().map(|end| vertex(end).unwrap_or(0));
        task.passes.retain(|pass| {
            let off = |leg: &Segment| (leg.closest_to(&pass.center) - pass.center).norm();
            let all = 0..legs.len();
            let nearest = all.min_by(|&a, &b| off(&legs[a]).total_cmp(&off(&legs[b])));
            nearest.is_some_and(|leg| (from..to).contains(&leg))
        });
        task
    }

    /// The plan's joint at which `side` of the closure is.
    fn seam(&self, side: Side) -> Option<usize> {
        let piece = self.plan?.piece;
        Some(match side {
            Side::Before => piece - 1,
            Side::After => piece,
        })
    }

    fn planned(&self, joint: usize, side: Side) -> Option<PlannedEnd> {
        let plan = self.plan?;
        planned_end(&plan.run.run, joint, side, self.built.task.allowance)
    }

    /// A built end as it was measured; carried on to the closure by the pieces that are
    /// cut and not tacked on yet.
    fn meet(
        &self,
        end: &BuiltEndSurvey,
        side: Side,
        warnings: &mut Vec<Problem>,
    ) -> Result<MetEnd, Problem> {
        let seam = self.seam(side);
        let joint = end.joint.or(seam);
        self.check_joint(end, side)?;
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
        let survey = self.survey(end, planned.as_ref())?;
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
        let built = self.end(&survey, &found)?;
        let off = planned.as_ref().map(|planned| {
            let shift = built.center - planned.center;
            (shift, angle_between(&built.axis, &planned.axis))
        });
        if let Some((shift, _)) = off.filter(|(shift, _)| shift.norm() > FAR.mm()) {
            let away = self.built.style.length(Length::from_mm(shift.norm()));
            let message = format!("stands {away} from where the plan has it");
            let help = "check the unit, the frame, and that this is the right end and joint";
            warnings.push(Problem::at(&end.path, message, help));
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
            survey: Some((survey, found)),
            planned,
            off,
            joint,
            port: None,
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
    ) -> Result<BuiltEndSurvey, Problem> {
        let mut end = end.clone();
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

    /// That what was measured is of the tube.
    fn check_diameter(&self, end: &BuiltEndSurvey, found: &Surveyed) -> Result<(), Problem> {
        let readings = &end.survey.readings.list;
        let is_radius = |i: &usize| matches!(readings[*i].what, Observed::RimRadius { .. });
        let left_out = found.suspicions.iter().any(|suspicion| {
            suspicion.is_left_out() && suspicion.readings.iter().any(|i| is_radius(i))
        });
        let (Some(across), true) = (found.rim, left_out) else {
            return Ok(());
        };
        let od = self.built.task.tube.od();
        if (across - od).abs() <= OTHER_TUBE.max(od * OTHER_PART) {
            return Ok(());
        }
        let style = self.built.style;
        let message = format!(
            "the points are of a tube {} across, not {}",
            style.decimal(across),
            style.decimal(od)
        );
        let help =
            "check the unit, the tube, and that all points are on its outside and outer edge";
        Err(Problem::at(&end.path.key("measured"), message, help))
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
        let out = |at: &Point| {
            let arm = at - found.center;
            let along = found.outward.dot(&arm);
            let out = arm - found.outward.into_inner() * along;
            Some((
                Direction::try_new(out, f64::EPSILON)?,
                Length::from_mm(along),
            ))
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
        Ok(BuiltEnd {
            rim: Rim::Ragged { zero, edge },
            ..built
        })
    }

    /// A port that nothing is built from.
    fn port(&self, side: Side) -> Result<MetEnd, Problem> {
        let missing = |message: &str| {
            let help =
                "measure that end too, or name the job and the plan for its port to stand in";
            Problem {
                path: side.word().to_owned(),
                message: message.to_owned(),
                help: help.to_owned(),
            }
        };
        let Some(plan) = self.plan.filter(|_| self.built.has_job) else {
            return Err(missing("is missing"));
        };
        let task = &self.built.task;
        let asked = match side {
            Side::Before => &task.start,
            Side::After => &task.end,
        };
        // Where the run meets it: it may have been free to move.
        let ends = plan.run.run.centerline().ends();
        let (center, outward) = ends[side as usize];
        let port = Port {
            center,
            outward,
            freedom: Freedom::default(),
            ..asked.clone()
        };
        let depth = if port.socket > Length::ZERO {
            port.socket + self.built.fit_up.gap
        } else {
            Length::ZERO
        };
        let center = port.center - port.outward.into_inner() * depth.mm();
        let built = BuiltEnd {
            axis_scatter: port.scatter,
            rim_scatter: port.scatter,
            ..BuiltEnd::flat(center, port.outward, port.outward)
        };
        Ok(MetEnd {
            built,
            survey: None,
            planned: None,
            off: None,
            joint: Some(match side {
                Side::Before => 0,
                Side::After => plan.run.run.pieces().len(),
            }),
            port: Some(port),
        })
    }

    /// How much a built end can lose before its own piece is too short; `None` where
    /// nothing is known of it.
    fn spare(&self, end: &MetEnd, side: Side) -> Option<Length> {
        let plan = self.plan?;
        if end.port.is_some() {
            return Some(Length::ZERO);
        }
        let seam = self.seam(side)?;
        let piece = match side {
            Side::Before => seam.checked_sub(1)?,
            Side::After => seam,
        };
        let least = self.built.fit_up.short_side;
        Some(match &plan.run.run.pieces().get(piece)?.piece {
            Part::Straight(piece) => (piece.short_side() - least).max(Length::ZERO),
            Part::Bent(bent) => bent.legs[usize::from(side == Side::Before)],
        })
    }

    /// Joints between the ports and the gap that can be turned, by number and whether they
    /// are tacked.
    fn loose_joints(
        &self,
        ends: &[Option<BuiltEndSurvey>; 2],
        problems: &mut Vec<Problem>,
    ) -> Vec<(usize, Side, bool)> {
        let Some(plan) = self.plan else {
            if !self.built.tacked.is_empty() {
                let message = "says nothing without a plan".to_owned();
                problems.push(problem(
                    "tacked",
                    message,
                    "name the plan that the run was built from",
                ));
            }
            return Vec::new();
        };
        let joints = plan.run.run.joints().len();
        let [first, last] = [plan.piece - 1, plan.piece];
        let mut loose = Vec::new();
        for (i, &joint) in self.built.tacked.iter().enumerate() {
            let side = if joint < first {
                Side::Before
            } else {
                Side::After
            };
            let wrong = if joint >= joints {
                Some(format!(
                    "is {joint}, but the plan's last joint is {}",
                    joints - 1
                ))
            } else if joint == first || joint == last {
                Some(format!("is joint {joint}, which is one of the gap's own"))
            } else if ends[side as usize].is_none() {
                Some(format!("is joint {joint}, where nothing is built"))
            } else {
                None
            };
            match wrong {
                Some(message) => {
                    let help =
                        "give numbers of joints between a port and the gap, as the sheet has them";
                    problems.push(problem(&format!("tacked[{i}]"), message, help));
                }
                None => loose.push((joint, side, true)),
            }
        }
        for (i, end) in ends.iter().enumerate() {
            let (Some(at), side) = (end.as_ref().and_then(|end| end.joint), Side::BOTH[i]) else {
                continue;
            };
            let open = match side {
                Side::Before => at..first,
                Side::After => last + 1..at + 1,
            };
            loose.extend(open.map(|joint| (joint, side, false)));
        }
        // Those nearest the gap first; each once, loose before tacked.
        let away = |joint: usize| joint.abs_diff(if joint < last { first } else { last });
        loose.sort_by_key(|(joint, _, tacked)| (away(*joint), *joint, *tacked));
        loose.dedup_by_key(|(joint, ..)| *joint);
        loose
    }

    /// Loose joints where they stand: the plan's, moved as the measured end is.
    fn stand(&self, loose: &[(usize, Side, bool)], ends: &[MetEnd; 2]) -> Vec<LooseJoint> {
        let Some(plan) = self.plan else {
            return Vec::new();
        };
        let stood = loose.iter().filter_map(|&(joint, side, tacked)| {
            let end = &ends[side as usize];
            let planned = end.planned.as_ref()?;
            let measured = end.measured()?;
            let map = moved(planned, &measured);
            let plane = plan.run.run.joints()[joint].plane;
            Some(LooseJoint {
                joint,
                side,
                plane: Plane {
                    point: map * plane.point,
                    normal: Direction::new_normalize(map * plane.normal.into_inner()),
                },
                cut: plan.run.run.joints()[joint].cut(),
                tacked,
            })
        });
        stood.collect()
    }

    /// What is too poorly known to cut by.
    fn doubts(&self, ends: &[MetEnd; 2], ways: &Ways, advice: Advice) -> Vec<Problem> {
        let style = self.built.style;
        let mut all = Vec::new();
        for (i, end) in ends.iter().enumerate() {
            let lean = end.built.axis_scatter.lean(&end.built.axis);
            let is_cut = advice == Advice::OnePiece
                && ways
                    .best()
                    .is_some_and(|closure| closure.trims[i].is_some());
            let kept = advice == Advice::Several;
            if end.survey.is_some() && (is_cut || kept) && lean > POOR_AXIS {
                let message = format!(
                    "the direction of the tube {} the gap is only known to {}: too poorly to cut by",
                    Side::BOTH[i].word(),
                    style.angle(lean)
                );
                let help = "touch four points or more on the tube's outside, 2 in and more back from its end, and add them as 'outside'";
                all.push(problem(Side::BOTH[i].word(), message, help));
            }
        }
        all
    }
}

impl MetEnd {
    /// The end that was measured, before it was carried on.
    pub(super) fn measured(&self) -> Option<BuiltEnd> {
        let (_, found) = self.survey.as_ref()?;
        Some(BuiltEnd::flat(found.center, found.outward, found.normal))
    }
}

/// Of what can be welded, the least work; one piece first.
fn advise(
    ways: &Ways,
    reclock: Option<&Reclock>,
    several: Option<&Result<Several, NoPieces>>,
) -> Advice {
    let several = several.and_then(|several| several.as_ref().ok());
    match (ways.best(), reclock, several) {
        (Some(_), _, _) => Advice::OnePiece,
        (None, Some(reclock), Some(several)) if several.minutes < reclock.minutes => {
            Advice::Several
        }
        (None, Some(_), _) => Advice::Reclock,
        (None, None, Some(_)) => Advice::Several,
        (None, None, None) => Advice::Nothing,
    }
}

/// Joints of several pieces that turn less than a saw can be set to.
fn tiny_joints(several: Option<&Result<Several, NoPieces>>, style: Style) -> Vec<Problem> {
    let Some(Ok(several)) = several else {
        return Vec::new();
    };
    let tiny = |cut: &Angle| *cut > Angle::ZERO && *cut < UNSETTABLE_CUT;
    let cuts = several.joints().iter().map(Joint::cut).filter(tiny);
    cuts.map(|cut| {
        let message = format!(
            "a joint of the several pieces is cut at {}",
            style.angle(cut)
        );
        problem(
            "",
            message,
            "no saw is set so finely: cut it square and weld it so",
        )
    })
    .collect()
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
    BuiltEnd {
        center,
        axis: turn(&on.axis),
        rim: Rim::Flat(turn(&on.normal)),
        axis_scatter: built.axis_scatter.plus(&roll).seen_at(&arm),
        rim_scatter: built.rim_scatter.plus(&roll).seen_at(&arm),
        mark: None,
    }
}
