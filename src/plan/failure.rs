//! Saying why a run has no route.

use super::facing::facing_back;
use crate::job::{JobRun, Problem};
use crate::route::{Binding, Constraint, Narrow, NoRoute, Rejection, Relaxation};
use crate::units::{Angle, Length, Style};

/// Bindings that are named; the rest follow from them.
const NAMED_BINDINGS: usize = 3;

/// Doublings of the last digit by which a suggestion may give way more to work.
const MAX_STEPS: u32 = 9;

/// The problem to report for run `index` of the job.
pub(super) fn failure(
    index: usize,
    run: &JobRun,
    reason: &NoRoute,
    style: Style,
    explain: bool,
) -> Problem {
    let (from, to) = (&run.task.start.name, &run.task.end.name);
    let why = why(run, reason, style);
    let message = format!(
        "run '{}': no route of up to {} bends was found from '{from}' to '{to}'{why}",
        run.name, run.task.most_bends
    );
    Problem {
        path: format!("runs[{index}]"),
        message,
        help: help(run, reason, style, explain),
    }
}

fn why(run: &JobRun, reason: &NoRoute, style: Style) -> String {
    let named: Vec<String> = reason
        .bindings
        .iter()
        // What prints as nothing names nothing.
        .filter(|binding| binding.short_by >= style.last_digit())
        .take(NAMED_BINDINGS)
        .map(|binding| describe(run, binding, style))
        .collect();
    let nearest = if named.is_empty() {
        String::new()
    } else {
        let bends = [
            "no bend",
            "one bend",
            "two bends",
            "three bends",
            "four bends",
        ];
        let bends = bends.get(reason.bends).unwrap_or(&"five bends");
        format!("; with {bends}, {}", named.join(", "))
    };
    let refused = match &reason.rejection {
        Some(Rejection::Collides(clearance)) => format!(
            "; the longer ways round run into themselves, by {} at the last one tried",
            style.length(-clearance.distance),
        ),
        Some(Rejection::ShortSide { piece, short }) => format!(
            "; the last route tried leaves piece {piece} a short side of only {}",
            style.decimal(*short),
        ),
        Some(Rejection::Shelf { item }) => format!(
            "; there are not enough of stock bend '{}'",
            run.task.stock[*item].name,
        ),
        Some(Rejection::Limit(Constraint::Obstacle(i))) => {
            format!(
                "; the last route tried runs into '{}'",
                run.task.obstacles[*i].name
            )
        }
        Some(Rejection::Unbuildable(_) | Rejection::Limit(_)) | None => String::new(),
    };
    match &reason.narrow {
        Some(narrow) => blocked(run, narrow, style),
        None => nearest + &refused,
    }
}

/// Says where nothing gets through.
fn blocked(run: &JobRun, narrow: &Narrow, style: Style) -> String {
    format!(
        "; no tube of this size gets through within {} of the ports, however it is bent: where there is most room, about {}, '{}' leaves it at least {} too little",
        style.length(narrow.within),
        style.point(narrow.at.into()),
        run.task.obstacles[narrow.obstacle].name,
        style.length(narrow.short_by),
    )
}

fn describe(run: &JobRun, binding: &Binding, style: Style) -> String {
    let by = style.decimal(binding.short_by);
    let clr = run.task.limits.clr_min.mm();
    match binding.constraint {
        Constraint::StartStraight => {
            format!("the straight at '{}' is {by} short", run.task.start.name)
        }
        Constraint::EndStraight => format!("the straight at '{}' is {by} short", run.task.end.name),
        Constraint::Between(bend) => format!(
            "the straight between bends {bend} and {} is {by} short",
            bend + 1
        ),
        Constraint::Turn(bend) => format!(
            "bend {} turns {} too far",
            bend + 1,
            style.angle(Angle::from_radians(binding.short_by.mm() / clr)),
        ),
        Constraint::PieShortSide(bend) => {
            format!("the short side of bend {}'s pies is {by} short", bend + 1)
        }
        Constraint::ShortSide(straight) => format!(
            "the short side of the piece along straight {} is {by} short",
            straight + 1
        ),
        Constraint::ClrMin(bend) => format!("the CLR of bend {} is {by} too small", bend + 1),
        Constraint::ClrMax(bend) => format!("the CLR of bend {} is {by} too large", bend + 1),
        Constraint::TurnIs(bend) => format!(
            "bend {} is {} off a turn that can be made",
            bend + 1,
            style.angle(Angle::from_radians(binding.short_by.mm() / clr)),
        ),
        Constraint::SharedCut(bend) => format!(
            "bend {} is {} off a whole number of the shared cuts",
            bend + 1,
            style.angle(Angle::from_radians(binding.short_by.mm() / clr)),
        ),
        Constraint::Slide(end) => format!("'{}' would slide {by} too far", port_name(run, end)),
        Constraint::Cone(end) => format!("'{}' would lean too far", port_name(run, end)),
        Constraint::InLine => format!("the ports' axes miss each other by {by}"),
        Constraint::Obstacle(i) => {
            format!("'{}' is in the way by {by}", run.task.obstacles[i].name)
        }
        Constraint::SelfClear => format!("the run meets itself by {by}"),
        Constraint::Pass(i) => format!("the run misses '{}' by {by}", run.task.passes[i].name),
        Constraint::MostBends => "more bends are needed".to_owned(),
    }
}

fn port_name(run: &JobRun, end: usize) -> &str {
    if end == 0 {
        &run.task.start.name
    } else {
        &run.task.end.name
    }
}

fn help(run: &JobRun, reason: &NoRoute, style: Style, explain: bool) -> String {
    if !explain {
        return "mend the runs named before this one first, then plan again".to_owned();
    }
    let changes: Vec<String> = reason
        .relaxations
        .iter()
        .filter_map(|relaxation| settle(run, relaxation, style))
        .map(|relaxation| offer(run, relaxation, style))
        .chain(facing_back(&run.task).map(|(port, _)| {
            format!("'{port}' turned about, if its outward direction points into the flange")
        }))
        .collect();
    if changes.is_empty() {
        return "no single change of a limit was found to help; check both ports' centers, outward directions and units".to_owned();
    }
    format!("any one of these makes it possible: {}", changes.join("; "))
}

/// The relaxation as it will be printed, if what is printed works: rounded to the last
/// digit on the side that gives way, and further where the edge is ragged.
fn settle(run: &JobRun, relaxation: &Relaxation, style: Style) -> Option<Relaxation> {
    let digit = style.last_digit();
    let rounded = |more: u32| relaxation.rounded(digit, Angle::from_degrees(0.01), more);
    let tries = std::iter::once(0).chain((0..MAX_STEPS).map(|power| 1 << power));
    tries
        .map(rounded)
        .find(|relaxation| relaxation.holds(&run.task))
}

fn offer(run: &JobRun, relaxation: Relaxation, style: Style) -> String {
    let (from, to) = (&run.task.start.name, &run.task.end.name);
    let exact = |length: Length| style.decimal(length);
    match relaxation {
        Relaxation::SmallerClr(clr) | Relaxation::LargerClr(clr) => {
            format!("a CLR of {}", exact(clr))
        }
        Relaxation::StartStraight(straight) => {
            format!("a straight of {} at '{from}'", exact(straight))
        }
        Relaxation::EndStraight(straight) => format!("a straight of {} at '{to}'", exact(straight)),
        Relaxation::ShortSide(short) => format!("a least short side of {}", exact(short)),
        Relaxation::MaxCut(cut) => format!("cuts of up to {}", style.angle(cut)),
        Relaxation::Apart(by) => format!("'{to}' moved {} straight away from '{from}'", exact(by)),
        Relaxation::Back(by) => format!(
            "'{to}' moved back {}, against its outward direction",
            exact(by)
        ),
        Relaxation::StartLean(lean) => format!("a cone of {} at '{from}'", style.angle(lean)),
        Relaxation::EndLean(lean) => format!("a cone of {} at '{to}'", style.angle(lean)),
        Relaxation::Between(between) => {
            format!("a straight of {} between bends", exact(between))
        }
        Relaxation::Clearance(i, clearance) => {
            let name = &run.task.obstacles[i].name;
            if clearance >= Length::ZERO {
                format!("a clearance of {} to '{name}'", exact(clearance))
            } else {
                format!(
                    "'{name}' {} smaller all round, with no clearance",
                    exact(-clearance)
                )
            }
        }
        Relaxation::PassRadius(i, radius) => {
            format!(
                "a radius of {} at '{}'",
                exact(radius),
                run.task.passes[i].name
            )
        }
        Relaxation::AnyCut => "any saw angle at each bend".to_owned(),
        Relaxation::MoreBends => format!("up to {} bends", crate::route::MAX_BENDS),
    }
}
