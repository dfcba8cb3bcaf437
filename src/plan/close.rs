//! [`close`]: the gap of a run as it was built, met and closed.

use super::closing::{Advice, BetweenEnds, Closing, Found, MetEnd, PlannedGap};
use super::doubts::{
    beside_plan, problem, slips, spikes, tiny_joints, unknown_pull, unlike_plan, unlikely_width,
};
use super::met_end::moved;
use super::planned_end::{PlannedEnd, planned_end};
use crate::closure::{
    BuiltEnd, FitUp, Gap, LooseJoint, NoPieces, Open, Reclock, Several, Side, Ways, Widths,
};
use crate::geometry::{Direction, Plane, Point, Segment, Vector};
use crate::job::{Built, BuiltEndSurvey, Opening, Problem, Welded};
use crate::route::{Control, Task};
use crate::run::{Freedom, Port};
use crate::tube::Part;
use crate::units::{Angle, Length};

/// Closes the gap that `built` tells of, in the run that it was planned as. Also looks for
/// several pieces where `pieces` asks for it.
pub fn close(
    built: &Built,
    plan: Option<PlannedGap>,
    pieces: bool,
    control: &Control<'_>,
) -> Result<Closing, Vec<Problem>> {
    let built = &as_planned(built, plan.as_ref());
    let mut warnings = Vec::new();
    if let Some(plan) = &plan {
        let (errors, odd) = unlike_plan(plan, built);
        if !errors.is_empty() {
            return Err(errors);
        }
        warnings.extend(odd);
    }
    warnings.extend(unknown_pull(plan.as_ref(), built));
    let meeting = Meeting {
        built,
        plan: plan.as_ref(),
    };
    meeting.check_welded()?;
    let found =
        match &built.measured {
            Opening::Widths(widths, path) => {
                if let Some(problem) = plan
                    .as_ref()
                    .and_then(|plan| missing_cut(plan, built, widths))
                {
                    return Err(vec![problem]);
                }
                warnings.extend(uncut(plan.as_ref(), built)?);
                let (to_weld, opens) = meeting.opens();
                let gap = Gap::new(&built.task.tube, &widths.opened(opens), built.fit_up.gap);
                let gap = gap.map_err(|error| {
                    let help = "check the widths and where each was measured";
                    vec![Problem::at(path, error.to_string(), help)]
                })?;
                warnings.extend(slips(&gap, path, built.style));
                let plan = plan.as_ref();
                warnings.extend(plan.and_then(|plan| unlikely_width(plan, built, &gap, path)));
                if widths.ragged {
                    let heights: Vec<Length> = widths.stations.iter().map(|at| at.width).collect();
                    warnings.extend(spikes(&heights, &built.task.tube).into_iter().map(
                        |(i, off)| {
                            let (number, off) = (i + 1, built.style.decimal(off));
                            let message =
                                format!("station {number} is {off} off both its neighbors");
                            Problem::at(&path.index(i), message, "measure it again")
                        },
                    ));
                }
                Found::Widths {
                    widths: widths.clone(),
                    opens,
                    to_weld,
                    against: gap.against(&built.fit_up),
                    gap: Box::new(gap),
                }
            }
            Opening::Ends(ends) => {
                let between = meeting.close(ends, pieces, control, &mut warnings)?;
                Found::Ends(Box::new(between))
            }
        };
    Ok(Closing {
        style: built.style,
        tube: built.task.tube.clone(),
        stock: built.task.stock.clone(),
        fit_up: built.fit_up.clone(),
        accuracy: built.accuracy,
        allowance: built.task.allowance,
        plan,
        found,
        warnings,
    })
}

/// What was built, with the allowances that the plan's pieces were cut for.
fn as_planned(built: &Built, plan: Option<&PlannedGap>) -> Built {
    let mut built = built.clone();
    let Some(plan) = plan else {
        return built;
    };
    built.task.allowance = plan.run.allowance;
    if !built.says_root_gap {
        let root = plan.run.allowance.root();
        built.fit_up.gap = root;
        built.fit_up.most_gap = built.fit_up.most_gap.max(root);
    }
    built
}

/// That the file names a job and neither the plan nor how the piece starts: an error. With
/// neither job nor plan it is taken as square, with a warning.
fn uncut(plan: Option<&PlannedGap>, built: &Built) -> Result<Option<Problem>, Vec<Problem>> {
    if plan.is_some() || built.says_gap_cut {
        return Ok(None);
    }
    let message = "says no 'cut', and there is no plan to tell it".to_owned();
    if built.has_job {
        let help = "give --plan results/plan.json, or write \"cut\": 0 for a square start";
        return Err(vec![problem("gap", message, help)]);
    }
    let message = format!("{message}: the piece is taken to start square");
    let help = "write \"cut\": 0 if it does, else its angle and \"long_side\"";
    Ok(Some(problem("gap", message, help)))
}

/// That the plan cuts the end before the gap aslant and the file says nothing of it.
fn missing_cut(plan: &PlannedGap, built: &Built, widths: &Widths) -> Option<Problem> {
    let joint = plan.piece - 1;
    let planned = planned_end(&plan.run.run, joint, Side::Before, built.task.allowance)?;
    if widths.before.angle > Angle::ZERO || planned.cut == Angle::ZERO {
        return None;
    }
    let cut = built.style.angle(planned.cut);
    let message = format!("says no 'cut', but the plan cuts joint {joint} at {cut}");
    let help = format!("add \"cut\": \"{cut}\" and \"long_side\", or measure both rims");
    Some(problem("gap", message, &help))
}

/// What is known of both ends before they are met.
pub(super) struct Meeting<'a> {
    pub built: &'a Built,
    pub plan: Option<&'a PlannedGap>,
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
        if let Some(plan) = self.plan {
            warnings.extend(beside_plan(plan, self.built, &ends));
        }
        let fit_up = FitUp {
            spare: [0, 1].map(|i| self.spare(&ends[i], Side::BOTH[i])),
            at_port: [0, 1].map(|i| ends[i].port.is_some()),
            ..self.built.fit_up.clone()
        };
        let (tube, built) = (&self.built.task.tube, [&ends[0].built, &ends[1].built]);
        let may_trim = [0, 1].map(|i| ends[i].port.is_none());
        let ways = Ways::new(tube, built, may_trim, &fit_up);
        let loose = self.stand(&loose, &ends);
        let could_turn = !loose.is_empty();
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
            could_turn,
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
    pub(super) fn seam(&self, side: Side) -> Option<usize> {
        let piece = self.plan?.piece;
        Some(match side {
            Side::Before => piece - 1,
            Side::After => piece,
        })
    }

    pub(super) fn planned(&self, joint: usize, side: Side) -> Option<PlannedEnd> {
        let plan = self.plan?;
        planned_end(&plan.run.run, joint, side, self.built.task.allowance)
    }

    /// How far the port's side of the gap will still be moved, at `joint`, by the welds
    /// between it and the port, and which these are.
    pub(super) fn pull(&self, joint: usize, side: Side) -> (Vec<usize>, Vector) {
        let allowance = self.built.task.allowance;
        let Some(plan) = self.plan.filter(|_| allowance.shrinkage > Length::ZERO) else {
            return (Vec::new(), Vector::zeros());
        };
        let run = &plan.run.run;
        let (joints, back) = match side {
            Side::Before => (0..joint, -1.0),
            Side::After => (joint + 1..run.joints().len(), 1.0),
        };
        let to_weld: Vec<usize> = joints
            .filter(|&joint| !self.built.is_welded(joint))
            .collect();
        let pull = allowance.pull(run, plan.run.sockets, to_weld.iter().copied());
        (to_weld, pull * back)
    }

    /// Which welds will still open the planned gap, and by how much along its piece.
    fn opens(&self) -> (Vec<usize>, Length) {
        let Some(plan) = self.plan else {
            return (Vec::new(), Length::ZERO);
        };
        let (mut to_weld, before) = self.pull(plan.piece - 1, Side::Before);
        let (others, after) = self.pull(plan.piece, Side::After);
        to_weld.extend(others);
        let axis = plan.run.run.pieces()[plan.piece - 1].axis;
        (to_weld, Length::from_mm((after - before).dot(&axis)))
    }

    /// That joints said to be welded are in the plan, and not said to be loose.
    fn check_welded(&self) -> Result<(), Vec<Problem>> {
        let Welded::Joints(joints) = &self.built.welded else {
            return Ok(());
        };
        let last = self.plan.map(|plan| plan.run.run.joints().len() - 1);
        let wrong = |joint: usize| match (last, self.plan) {
            (Some(last), _) if joint > last => {
                Some(format!("is {joint}, but the plan's last joint is {last}"))
            }
            (_, Some(plan)) if joint + 1 == plan.piece || joint == plan.piece => {
                Some(format!("is joint {joint}, which is one of the gap's own"))
            }
            _ if self.built.tacked.contains(&joint) => Some(format!(
                "is joint {joint}, which is listed under 'tacked' too"
            )),
            _ => None,
        };
        let help = "give numbers of joints between a port and the gap, as the sheet has them";
        let all = joints.iter().enumerate().filter_map(|(i, &joint)| {
            let message = wrong(joint)?;
            Some(problem(&format!("welded[{i}]"), message, help))
        });
        let all: Vec<Problem> = all.collect();
        if all.is_empty() { Ok(()) } else { Err(all) }
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
        let at = match side {
            Side::Before => 0,
            Side::After => plan.run.run.pieces().len(),
        };
        Ok(MetEnd {
            built,
            to_weld: Vec::new(),
            pull: Vector::zeros(),
            survey: None,
            planned: None,
            off: None,
            seam: Some(at),
            joint: Some(at),
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
