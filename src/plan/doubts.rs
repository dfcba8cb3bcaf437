//! What is odd about what was measured of a gap, or too poorly known to cut by.

use super::close::Meeting;
use super::closing::{Advice, MetEnd, PlannedGap};
use super::plan::UNSETTABLE_CUT;
use crate::closure::{Gap, NoPieces, Several, Side, Slip, Ways};
use crate::geometry::Point;
use crate::job::{Built, BuiltEndSurvey, Path, Problem, Welded};
use crate::run::{Joint, Port};
use crate::shop::StackUp;
use crate::survey::{Observed, Surveyed};
use crate::tube::Tube;
use crate::units::{Angle, Length, Style};

/// An axis that is known no better than this is not good enough to cut an end again by:
/// 1 mm over a tube of 57 mm.
const POOR_AXIS: Angle = Angle::from_degrees(1.0);

/// That the plan was made for another tube than the job has.
pub(super) fn unlike_tube(plan: &PlannedGap, built: &Built) -> Option<Problem> {
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

/// What to do about readings that nobody took.
pub(super) fn told(mut problem: Problem) -> Problem {
    for (name, help) in [
        (
            PLAN_DIRECTION,
            "a joint behind this end may be turned: check it against the sheet",
        ),
        (
            DIAMETER,
            "check that all points are on the outside and the outer edge, not the inner, and allow for the probe's own radius",
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
pub(super) const PLAN_DIRECTION: &str = "the plan's direction";
const DIAMETER: &str = "the tube's diameter";
pub(super) const SAW_ANGLE: &str = "the saw's angle";

pub(super) fn problem(path: &str, message: String, help: &str) -> Problem {
    Problem {
        path: path.to_owned(),
        message,
        help: help.to_owned(),
    }
}

/// Stations that do not go with the others.
pub(super) fn slips(gap: &Gap, path: &Path, style: Style) -> Vec<Problem> {
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

/// Joints of several pieces that turn less than a saw can be set to.
pub(super) fn tiny_joints(
    several: Option<&Result<Several, NoPieces>>,
    style: Style,
) -> Vec<Problem> {
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

/// That the plan's ports are not where the job has them now.
fn unlike_ports(plan: &PlannedGap, built: &Built) -> Vec<Problem> {
    let ends = plan.run.run.centerline().ends();
    let ports = [&built.task.start, &built.task.end];
    let away = ports
        .into_iter()
        .zip(ends)
        .filter_map(|(port, (center, outward))| {
            let off = port.freedom.overshoot(&(center - port.center));
            let lean = port.freedom.overlean(&port.outward, &outward);
            if off <= SAME_PLACE.mm() && lean <= SAME_LEAN {
                return None;
            }
            let message = format!(
                "has port '{}' {} and {} off where the job has it now",
                port.name,
                built.style.decimal(Length::from_mm(off)),
                built.style.angle(lean),
            );
            let help = "if the run was built from another plan, name that one";
            Some(problem("plan", message, help))
        });
    away.collect()
}

/// Ports that differ by no more are one.
const SAME_PLACE: Length = Length::from_mm(0.1);
const SAME_LEAN: Angle = Angle::from_degrees(0.1);

/// What the plan and the job do not agree in: errors, then warnings.
pub(super) fn unlike_plan(plan: &PlannedGap, built: &Built) -> (Vec<Problem>, Vec<Problem>) {
    let ports = if built.has_job {
        unlike_ports(plan, built)
    } else {
        Vec::new()
    };
    (unlike_tube(plan, built).into_iter().collect(), ports)
}

/// That welds will still pull what was measured, by what nobody can tell without a plan.
pub(super) fn unknown_pull(plan: Option<&PlannedGap>, built: &Built) -> Option<Problem> {
    let shrinkage = built.task.allowance.shrinkage;
    let known = plan.is_some() || built.welded == Welded::All;
    if known || shrinkage <= Length::ZERO {
        return None;
    }
    let message = format!(
        "the job's welds pull in {} each; without the plan nobody knows how many will still pull, and what was measured is taken to stay where it is",
        built.style.decimal(shrinkage)
    );
    let help = "give --plan results/plan.json; or write \"welded\": true if all was welded when you measured";
    Some(problem("plan", message, help))
}

/// How far the two ends of a gap may stand off the plan, and lean, before one asks why:
/// three times what builds are off by at that piece, as the sheet of the plan says.
fn usual_misfit(plan: &PlannedGap, built: &Built) -> (Length, Angle) {
    let run = &plan.run.run;
    let ends = run.centerline().ends();
    let port = |i: usize, own: &Port| Port {
        center: ends[i].0,
        outward: ends[i].1,
        ..own.clone()
    };
    let ports = [port(0, &built.task.start), port(1, &built.task.end)];
    let stack_up = StackUp::new(
        run,
        [&ports[0], &ports[1]],
        &built.accuracy,
        built.fit_up.short_side,
    );
    let own = stack_up
        .could_close
        .iter()
        .find(|one| one.piece == plan.piece);
    let (place, lean) = own.map_or((Length::ZERO, Angle::ZERO), |one| {
        let sideways = one.sideways[0].max(one.sideways[1]);
        let place = Length::from_mm(one.along.mm().hypot(sideways.mm()));
        (place, stack_up.gap.lean(&stack_up.axis))
    });
    (
        (place * TIMES).max(LEAST_MISFIT),
        (lean * TIMES).max(LEAST_MISLEAN),
    )
}

/// Deviations beyond which a build is odd.
const TIMES: f64 = 3.0;
/// What no shop asks about.
const LEAST_MISFIT: Length = Length::from_mm(5.0);
const LEAST_MISLEAN: Angle = Angle::from_degrees(3.0);

/// Ends that stand further from where the plan has them than builds do.
pub(super) fn beside_plan(plan: &PlannedGap, built: &Built, ends: &[MetEnd; 2]) -> Vec<Problem> {
    let (most, most_lean) = usual_misfit(plan, built);
    let style = built.style;
    let odd = ends.iter().zip(Side::BOTH).filter_map(|(end, side)| {
        let (shift, lean) = end.off?;
        let away = Length::from_mm(shift.norm());
        if away <= most && lean <= most_lean {
            return None;
        }
        let message = format!(
            "stands {} and {} off the plan; builds like this are seldom off by more than {} and {}",
            style.decimal(away),
            style.angle(lean),
            style.decimal(most),
            style.angle(most_lean),
        );
        let help = "check the unit, the frame, the numbers, and that this is the right end, piece and plan, before you cut";
        Some(problem(side.word(), message, help))
    });
    odd.collect()
}

/// A gap whose width is not what the plan leaves there.
pub(super) fn unlikely_width(
    plan: &PlannedGap,
    built: &Built,
    gap: &Gap,
    path: &Path,
) -> Option<Problem> {
    let edge = plan.run.run.pieces()[plan.piece - 1].edge;
    let (most, _) = usual_misfit(plan, built);
    let off = (gap.width - edge).abs();
    let style = built.style;
    (off > most).then(|| {
        let message = format!(
            "the gap is {} wide, the plan has {} there",
            style.length(gap.width),
            style.length(edge)
        );
        Problem::at(
            path,
            message,
            "check the unit, and that this is the right piece and plan",
        )
    })
}

/// Points of a ragged rim, or widths beside it, that stand far from both of their
/// neighbors.
pub(super) fn spikes(heights: &[Length], tube: &Tube) -> Vec<(usize, Length)> {
    let count = heights.len();
    let most = tube.radius() * SPIKE;
    let at = |i: usize| heights[i % count];
    let off = |i: usize| {
        let [before, after] = [at(i + count - 1), at(i + 1)].map(|other| at(i) - other);
        let same_way = before.mm() * after.mm() > 0.0;
        let least = before.abs().min(after.abs());
        (same_way && least > most).then_some((i, least))
    };
    (0..count).filter_map(off).collect()
}

/// Step from both neighbors, in radii, that no torch or disk leaves.
const SPIKE: f64 = 0.25;

/// Points that were touched at one place.
pub(super) fn twice(end: &BuiltEndSurvey) -> Vec<Problem> {
    let touched: Vec<(&str, Point)> = end
        .survey
        .readings
        .list
        .iter()
        .filter_map(|reading| match reading.what {
            Observed::OnRim { at, .. } | Observed::OnOutside { at, .. } => {
                Some((reading.name.as_str(), at))
            }
            _ => None,
        })
        .collect();
    let again = touched.iter().enumerate().filter_map(|(i, (name, at))| {
        let mut others = touched[..i].iter();
        let (first, _) = others.find(|(_, other)| (at - other).norm() <= ONE_PLACE.mm())?;
        let message = format!("{name} is at the place of {first}");
        Some(Problem::at(
            &end.path,
            message,
            "each touch counts; touch places of their own",
        ))
    });
    again.collect()
}

/// Points nearer than this are one place.
const ONE_PLACE: Length = Length::from_mm(0.2);

/// That the rim points are of another size than the tube: a slip of the unit.
pub(super) fn wrong_unit(end: &BuiltEndSurvey, tube: &Tube, style: Style) -> Option<Problem> {
    let rim = &end.rim;
    let pairs = rim.iter().enumerate();
    let apart = pairs.flat_map(|(i, a)| rim[i + 1..].iter().map(move |b| (a - b).norm()));
    let across = Length::from_mm(apart.fold(0.0, f64::max));
    if rim.len() < 3 || (LIKELY_ACROSS[0]..=LIKELY_ACROSS[1]).contains(&(across / tube.od())) {
        return None;
    }
    let message = format!(
        "the rim points are {} apart at most, the tube is {} across",
        style.decimal(across),
        style.decimal(tube.od())
    );
    let path = end.path.key("measured").key("rim");
    Some(Problem::at(
        &path,
        message,
        "check the unit: an inch is 25.4 mm",
    ))
}

/// The farthest two points of a rim are apart by so many diameters, from a few points on
/// one side of it to a rim at 45°.
const LIKELY_ACROSS: [f64; 2] = [0.25, 2.0];

impl Meeting<'_> {
    /// That what was measured is of the tube.
    pub(super) fn check_diameter(
        &self,
        end: &BuiltEndSurvey,
        found: &Surveyed,
    ) -> Result<(), Problem> {
        let readings = &end.survey.readings.list;
        let is_radius = |i: &usize| matches!(readings[*i].what, Observed::RimRadius { .. });
        let left_out = found
            .suspicions
            .iter()
            .any(|suspicion| suspicion.is_left_out() && suspicion.readings.iter().any(is_radius));
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
        let help = "check the unit, the tube, and that all points are on its outside and outer edge, not the inner";
        Err(Problem::at(&end.path.key("measured"), message, help))
    }

    /// What is too poorly known to cut by.
    pub(super) fn doubts(&self, ends: &[MetEnd; 2], ways: &Ways, advice: Advice) -> Vec<Problem> {
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
                let back = match self.behind(end.joint, Side::BOTH[i]) {
                    Some(back) => format!("as far back as {} from its end", style.length(back)),
                    None => "as far back from its end as the same piece goes".to_owned(),
                };
                let help = format!(
                    "touch eight points or more on the tube's outside, all round and {back}, and add them as 'outside'"
                );
                all.push(problem(Side::BOTH[i].word(), message, &help));
            }
        }
        all
    }
}
