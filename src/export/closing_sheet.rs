//! `closure.txt`: how to close a gap, for the bench.

use super::quote_sheet::cautions;
use super::sheet::{tube_line, warnings};
use super::{ExportError, OutFile};
use crate::closure::{
    Against, CUT_SLACK, Closure, NoPieces, Seam, Several, Side, Trim, Way, Widths,
};
use crate::plan::{Advice, BetweenEnds, Closing, Found, MetEnd};
use crate::shop::Caution;
use crate::tube::{Edge, Sleeve};
use crate::units::{Angle, Length, Style, counted, direction_text};
use std::fmt::Write;

const FILE: &str = "closure.txt";

/// Stations round the tube for marking by hand.
const STATIONS: [u32; 3] = [12, 16, 24];
/// Standard deviations, at a rim's worst side, that its worst side all round stays under in
/// nineteen of twenty: the rim's offset and its two slants are off independently.
const NEARLY_ALL: f64 = 2.5;

/// Writes `closure.txt`.
pub fn closing_sheet(closing: &Closing) -> Result<OutFile, ExportError> {
    let text = sheet(closing).map_err(|error| ExportError::new(FILE, error))?;
    Ok(OutFile::new(FILE, text))
}

fn sheet(closing: &Closing) -> Result<String, std::fmt::Error> {
    let mut out = String::new();
    let style = closing.style;
    match &closing.plan {
        Some(plan) => writeln!(
            out,
            "CLOSING '{}', piece {}, between {} and {}",
            plan.run.name,
            plan.piece,
            seam_name(closing, 0, plan.piece - 1),
            seam_name(closing, 1, plan.piece),
        )?,
        None => writeln!(out, "CLOSING A GAP")?,
    }
    warnings(&mut out, closing.warnings.iter())?;
    writeln!(out)?;
    tube_line(&mut out, &closing.tube, style)?;
    let fit_up = &closing.fit_up;
    writeln!(
        out,
        "  asked: root gap {}, walls step by {} at most, gap {} at most, short side {} at least,\n  cuts up to {} (the job's greatest, and {} for what a build is off)",
        style.decimal(fit_up.gap),
        style.decimal(fit_up.high_low),
        style.decimal(fit_up.most_gap),
        style.decimal(fit_up.short_side),
        style.angle(fit_up.most_cut + CUT_SLACK),
        style.angle(CUT_SLACK),
    )?;
    match &closing.found {
        Found::Ends(between) => between_ends(&mut out, closing, between)?,
        Found::Widths {
            widths,
            gap,
            against,
        } => {
            of_widths(&mut out, closing, widths, gap)?;
            for against in against {
                writeln!(out, "\n  AGAINST IT: {}", against_text(against, style))?;
            }
        }
    }
    writeln!(out)?;
    cautions(&mut out, &Caution::of([&closing.tube]))?;
    Ok(out)
}

/// The joint, or the port, that the gap ends at.
fn seam_name(closing: &Closing, end: usize, joint: usize) -> String {
    let port = match &closing.found {
        Found::Ends(between) => between.ends[end].port.as_ref(),
        Found::Widths { .. } => None,
    };
    match port {
        Some(port) => format!("port '{}'", port.name),
        None => format!("joint {joint}"),
    }
}

fn between_ends(out: &mut String, closing: &Closing, between: &BetweenEnds) -> std::fmt::Result {
    let style = closing.style;
    writeln!(out, "\nTHE ENDS, as they were built")?;
    for (end, side) in between.ends.iter().zip(Side::BOTH) {
        met_end(out, end, side, style)?;
    }
    ways(out, between, style)?;
    writeln!(out, "\nWHAT TO DO\n  {}", advice_text(closing, between))?;
    if between.advice != Advice::OnePiece && between.reclock.is_none() {
        let turning = if between.could_turn {
            "Turning the joints that are tacked does not help."
        } else {
            "If joints are only tacked, list them under 'tacked': turning one may do."
        };
        writeln!(out, "  {turning}")?;
    }
    if let Some(reclock) = between
        .reclock
        .as_ref()
        .filter(|_| between.advice == Advice::Reclock)
    {
        for turn in &reclock.turns {
            writeln!(
                out,
                "  At joint {}, {}turn what is between it and the gap by {} {} looking downstream,\n  {} round the outside; the walls step by {} there.",
                turn.joint.joint,
                if turn.joint.tacked {
                    "break the tacks and "
                } else {
                    ""
                },
                style.angle(turn.by.abs()),
                if turn.by > Angle::ZERO {
                    "clockwise"
                } else {
                    "counterclockwise"
                },
                style.length(closing.tube.radius() * turn.by.abs().radians()),
                style.decimal(turn.high_low),
            )?;
        }
        writeln!(
            out,
            "  Then measure both ends again before you cut the piece below."
        )?;
    }
    if let Some(closure) = between.closure() {
        piece(out, closing, between, closure)?;
    }
    if let Some(Ok(several)) = &between.several {
        pieces(out, closing, several)?;
    }
    Ok(())
}

fn met_end(out: &mut String, end: &MetEnd, side: Side, style: Style) -> std::fmt::Result {
    let built = &end.built;
    let joint = end
        .seam
        .map_or(String::new(), |joint| format!(" (joint {joint})"));
    let what = end.port.as_ref().map_or_else(
        || format!("the end {} the gap{joint}", side.word()),
        |port| format!("port '{}', where nothing is built", port.name),
    );
    writeln!(
        out,
        "  {what}: center {}, axis {} into the gap, cut {}",
        style.point(built.center.into()),
        direction_text(built.axis.into_inner()),
        match built.plane() {
            Some(plane) => style.angle(crate::geometry::angle_between(&plane.normal, &built.axis)),
            None => "ragged".to_owned(),
        },
    )?;
    writeln!(
        out,
        "    known to, two of three within: center {}, rim {} along the tube, axis {}",
        style.decimal(built.axis_scatter.distance()),
        style.decimal(built.rim_scatter.along(&built.normal())),
        style.angle(built.axis_scatter.lean(&built.axis)),
    )?;
    if let (Some(seam), Some(joint)) = (end.seam, end.joint)
        && seam != joint
    {
        let loose = match side {
            Side::Before => (joint + 1, seam),
            Side::After => (seam + 1, joint),
        };
        let pieces = if loose.0 == loose.1 {
            format!("piece {}", loose.0)
        } else {
            format!("pieces {} to {}", loose.0, loose.1)
        };
        writeln!(
            out,
            "    measured at joint {joint}: first put on {pieces} as planned, long side to long side"
        )?;
    }
    if let Some((shift, lean)) = &end.off {
        writeln!(
            out,
            "    measured {} (x {}, y {}, z {}) and {} off the plan",
            style.decimal(Length::from_mm(shift.norm())),
            style.decimal(Length::from_mm(shift.x)),
            style.decimal(Length::from_mm(shift.y)),
            style.decimal(Length::from_mm(shift.z)),
            style.angle(*lean),
        )?;
    }
    Ok(())
}

fn ways(out: &mut String, between: &BetweenEnds, style: Style) -> std::fmt::Result {
    writeln!(
        out,
        "\nWAYS, with one straight piece\n  {:<22} {:>12}  {:>9}  {:>15}  {:>17}  {:>7}",
        "ends", "long side", "step", "cuts", "comes off", "minutes"
    )?;
    for (i, way) in between.ways.list.iter().enumerate() {
        let name = ends_text(way);
        let closure = match &way.closure {
            Ok(closure) => closure,
            Err(reason) => {
                writeln!(out, "  {name:<22} none: {reason}")?;
                continue;
            }
        };
        writeln!(
            out,
            "  {name:<22} {:>12}  {:>9}  {:>15}  {:>17}  {:>7.0}{}",
            style.length(closure.sleeve.long_side().0),
            style.decimal(closure.high_low()),
            cuts(closure, style),
            comes_off(closure, style),
            closure.minutes,
            if between.ways.best == Some(i) {
                "  TAKE THIS"
            } else {
                ""
            },
        )?;
        for against in &closure.against {
            writeln!(out, "      against it: {}", against_text(against, style))?;
        }
    }
    writeln!(
        out,
        "  step: from wall to wall at the worst side of either seam"
    )
}

fn cuts(closure: &Closure, style: Style) -> String {
    let cut = |edge: &Edge| match edge {
        Edge::Cut(cut) => style.angle(cut.angle),
        Edge::Scribed(_) => "scribed".to_owned(),
    };
    let sleeve = &closure.sleeve;
    format!("{}, {}", cut(sleeve.start()), cut(sleeve.end()))
}

/// The most that comes off each end.
fn comes_off(closure: &Closure, style: Style) -> String {
    let off = closure.trims.iter().flatten();
    let off: Vec<String> = off.map(|trim| style.decimal(trim.most)).collect();
    match off.len() {
        0 => "nothing".to_owned(),
        _ => off.join(", "),
    }
}

fn ends_text(way: &Way) -> &'static str {
    match way.trimmed {
        [false, false] => "both ends as they are",
        [true, false] => "end before cut again",
        [false, true] => "end after cut again",
        [true, true] => "both ends cut again",
    }
}

/// What speaks against a closing piece, in words.
pub fn against_text(against: &Against, style: Style) -> String {
    match against {
        Against::HighLow { side, worst, most } => format!(
            "walls step by {} {}, {} can be welded",
            style.decimal(*worst),
            at_end(*side),
            style.decimal(*most)
        ),
        Against::Cut { side, cut, most } => format!(
            "cut {} {}, the job's greatest is {}",
            style.angle(*cut),
            at_end(*side),
            style.angle(*most)
        ),
        Against::Lean { side, lean, most } => format!(
            "leans {} {}, which is a port and takes {}",
            style.angle(*lean),
            at_end(*side),
            style.angle(*most)
        ),
        Against::ShortSide { short, least } => format!(
            "short side {}, {} is asked for",
            style.decimal(*short),
            style.decimal(*least)
        ),
        Against::Spare { side, off, spare } => format!(
            "{} comes off {}, which has {} to spare",
            style.decimal(*off),
            match side {
                Side::Before => "the end before",
                Side::After => "the end after",
            },
            style.decimal(*spare)
        ),
    }
}

const fn at_end(side: Side) -> &'static str {
    match side {
        Side::Before => "at the end before",
        Side::After => "at the end after",
    }
}

/// What to do, and why, on one line.
pub fn advice_text(closing: &Closing, between: &BetweenEnds) -> String {
    let style = closing.style;
    let fit_up = &closing.fit_up;
    match between.advice {
        Advice::OnePiece => {
            let Some((way, closure)) = between.ways.best.and_then(|best| {
                let way = &between.ways.list[best];
                Some((way, way.closure.as_ref().ok()?))
            }) else {
                return String::new();
            };
            let others = between.ways.list.iter().filter(|other| *other != way);
            let better = others
                .filter_map(|way| way.closure.as_ref().ok())
                .filter(|c| c.is_good());
            let dearer = better
                .map(|other| other.minutes - closure.minutes)
                .fold(None, |least: Option<f64>, more| {
                    Some(least.map_or(more, |least| least.min(more)))
                });
            let why = match dearer {
                Some(more) if more > 0.0 => format!("any other way takes {more:.0} minutes more"),
                Some(_) => "another way takes as long, but its walls meet less well".to_owned(),
                _ if between.ways.list.len() > 1 => {
                    "the other ways have what is said against them".to_owned()
                }
                _ => "the ends are true to each other".to_owned(),
            };
            let unsure = closure
                .seams
                .iter()
                .any(|seam| widest(seam) > fit_up.most_gap);
            let unsure = if unsure {
                " BUT the rims are known too poorly to be sure of the gap: measure them better before you cut."
            } else {
                ""
            };
            format!(
                "One piece, {}: the walls meet to {}, of {} that can be welded; {why}.{unsure}",
                ends_text(way),
                style.decimal(closure.high_low()),
                style.decimal(fit_up.high_low),
            )
        }
        Advice::Reclock => {
            let turns = between
                .reclock
                .as_ref()
                .map_or(&[][..], |reclock| &reclock.turns);
            let joints: Vec<String> = turns
                .iter()
                .map(|turn| turn.joint.joint.to_string())
                .collect();
            format!(
                "No one piece fits the ends as they stand. Turn {} {}, then close with one piece.",
                if joints.len() == 1 { "joint" } else { "joints" },
                joints.join(" and ")
            )
        }
        Advice::Several => {
            let count = between
                .several
                .as_ref()
                .and_then(|s| s.as_ref().ok())
                .map_or(0, |s| s.pieces().len());
            format!(
                "No one piece fits. Close it with {}.",
                counted(count, "piece")
            )
        }
        Advice::Nothing => {
            let why = match &between.several {
                Some(Err(NoPieces::NoneFits)) => {
                    "routes of several pieces leave one too short at a built end"
                }
                _ => "no route of several pieces keeps the job's limits",
            };
            let apart = between.ends[1].built.center - between.ends[0].built.center;
            let apart = Length::from_mm(apart.norm());
            if apart <= fit_up.most_gap {
                return format!(
                    "The two ends stand {} apart: no piece goes between, and a gap like that can be welded as it is.",
                    style.decimal(apart)
                );
            }
            format!(
                "Nothing that was tried can be welded: no one piece fits, and {why}. Cut a built end back to the joint before it and measure again."
            )
        }
    }
}

fn piece(
    out: &mut String,
    closing: &Closing,
    between: &BetweenEnds,
    closure: &Closure,
) -> std::fmt::Result {
    let style = closing.style;
    sizes(out, "THE PIECE", &closure.sleeve, style)?;
    for (i, side) in Side::BOTH.into_iter().enumerate() {
        let mark = closure.marks[i].zip(between.ends[i].built.mark.as_ref());
        let mark = mark.map_or(String::new(), |(clock, (_, name))| {
            format!(
                "{name} of that end stands at {}, {} round",
                style.clock(clock),
                style.length(closing.tube.radius() * clock.radians())
            )
        });
        seam(
            out,
            side,
            &closure.seams[i],
            &closing.fit_up.most_gap,
            &mark,
            style,
        )?;
    }
    for (i, side) in Side::BOTH.into_iter().enumerate() {
        if let Some(trim) = &closure.trims[i] {
            cut_again(
                out,
                side,
                trim,
                &between.ends[i],
                closing.tube.radius(),
                style,
            )?;
        }
    }
    ordinates(out, &closure.sleeve, style)
}

fn sizes(out: &mut String, title: &str, sleeve: &Sleeve, style: Style) -> std::fmt::Result {
    let ((long, at), (short, _)) = (sleeve.long_side(), sleeve.short_side());
    writeln!(
        out,
        "\n{title}\n  long side {} ({}) at {}, center {}, short side (heel) {}",
        style.length(long),
        style.decimal(long),
        style.clock(at),
        style.decimal(sleeve.length()),
        style.decimal(short),
    )?;
    let cut = |edge: &Edge| match edge {
        Edge::Cut(cut) if cut.angle > Angle::ZERO => {
            format!(
                "{} with its long side at {}",
                style.angle(cut.angle),
                style.clock(cut.clock)
            )
        }
        Edge::Cut(_) => "square".to_owned(),
        Edge::Scribed(_) => "scribed to the rim: by the pattern or the table".to_owned(),
    };
    writeln!(
        out,
        "  saw: start {}; end {}",
        cut(sleeve.start()),
        cut(sleeve.end())
    )?;
    let radius = sleeve.tube().radius();
    let blank = sleeve.length() + sleeve.start().range(radius).1 + sleeve.end().range(radius).1;
    writeln!(
        out,
        "  it comes out of {} of tube or more; what was left long for it will do if it holds that",
        style.length(blank)
    )?;
    writeln!(
        out,
        "  clocks are the piece's own, clockwise looking downstream; 0° is {}",
        match (sleeve.start(), sleeve.end()) {
            (Edge::Cut(cut), _) if cut.angle > Angle::ZERO => "its start's long side",
            (_, Edge::Cut(cut)) if cut.angle > Angle::ZERO => "its end's long side",
            _ => "where the marks below say",
        }
    )
}

fn seam(
    out: &mut String,
    side: Side,
    seam: &Seam,
    most_gap: &Length,
    mark: &str,
    style: Style,
) -> std::fmt::Result {
    writeln!(
        out,
        "  {}: cut {} to its own axis, the built end {} to its, the axes {} apart",
        at_end(side),
        style.angle(seam.cut),
        style.angle(seam.built_cut),
        style.angle(seam.deflection),
    )?;
    if !mark.is_empty() {
        writeln!(out, "    {mark}")?;
    }
    writeln!(
        out,
        "    the built wall stands {} by {} at worst, at {}; {} rms",
        if seam.high_low < Length::ZERO {
            "in"
        } else {
            "out"
        },
        style.decimal(seam.high_low.abs()),
        style.clock(seam.at),
        style.decimal(seam.rms),
    )?;
    let open = widest(seam);
    let verdict = if open > *most_gap {
        format!(
            ": MORE THAN THE {} THAT CAN BE WELDED",
            style.decimal(*most_gap)
        )
    } else {
        String::new()
    };
    writeln!(
        out,
        "    gap {} as cut; measured as well as it is, 19 of 20 such gaps stay under {}{verdict}",
        style.decimal(seam.gap),
        style.decimal(open),
    )
}

/// What nineteen of twenty gaps stay under, measured as well as they are.
fn widest(seam: &Seam) -> Length {
    seam.gap + seam.gap_good_to * NEARLY_ALL
}

/// How to cut a built end again: by the saw, and from the rim as it is, by hand.
fn cut_again(
    out: &mut String,
    side: Side,
    trim: &Trim,
    end: &MetEnd,
    radius: Length,
    style: Style,
) -> std::fmt::Result {
    writeln!(
        out,
        "\nCUT THE END {} AGAIN at {} off square: {} comes off at the middle, {} to {} round the outside",
        side.word().to_uppercase(),
        style.angle(trim.cut),
        style.decimal(trim.off),
        style.decimal(trim.least),
        style.decimal(trim.most),
    )?;
    writeln!(
        out,
        "  First carry the marks down the tube, past the cut. Back from the rim, clockwise looking downstream from {}:",
        end.built
            .mark
            .as_ref()
            .map_or("the pattern's zero", |(_, name)| name.as_str())
    )?;
    for row in trim.back(&end.built, side, radius, STATIONS[0]) {
        writeln!(
            out,
            "    {:>8}  {:>10}  {:>9}",
            style.clock(row.clock),
            style.length(radius * row.clock.radians()),
            style.decimal(row.back)
        )?;
    }
    Ok(())
}

/// Heights of both edges over a line square round the tube, at 12, 16 and 24 stations.
fn ordinates(out: &mut String, sleeve: &Sleeve, style: Style) -> std::fmt::Result {
    let radius = sleeve.tube().radius();
    let base = lowest(sleeve);
    writeln!(
        out,
        "\nORDINATES, up from a square line round the tube at the start's farthest point"
    )?;
    for count in STATIONS {
        writeln!(out, "  {count} stations")?;
        writeln!(
            out,
            "    {:>8}  {:>12}  {:>10}  {:>10}  {:>10}",
            "clock", "round", "start", "end", "length"
        )?;
        for i in 0..count {
            let clock = Angle::FULL * (f64::from(i) / f64::from(count));
            writeln!(
                out,
                "    {:>8}  {:>12}  {:>10}  {:>10}  {:>10}",
                style.clock(clock),
                style.length(radius * clock.radians()),
                style.decimal(sleeve.start_at(clock) - base),
                style.decimal(sleeve.end_at(clock) - base),
                style.decimal(sleeve.side(clock)),
            )?;
        }
    }
    Ok(())
}

/// The start edge's most upstream height.
fn lowest(sleeve: &Sleeve) -> Length {
    -sleeve.start().range(sleeve.tube().radius()).1
}

fn pieces(out: &mut String, closing: &Closing, several: &Several) -> std::fmt::Result {
    let style = closing.style;
    writeln!(
        out,
        "\nSEVERAL PIECES, in order of flow; about {:.0} minutes",
        several.minutes
    )?;
    for (i, trim) in several.trims.iter().enumerate() {
        if let (Some(trim), Found::Ends(between)) = (trim, &closing.found) {
            let radius = closing.tube.radius();
            cut_again(out, Side::BOTH[i], trim, &between.ends[i], radius, style)?;
        }
    }
    writeln!(
        out,
        "  {:>5}  {:>12}  {:>10}  {:>10}  {:>10}  {:>6}  {:>6}  {:>8}",
        "piece", "long", "long", "center", "short", "start", "end", "clock"
    )?;
    for (i, placed) in several.pieces().iter().enumerate() {
        let name = closing.piece_name(i);
        match placed.piece.straight() {
            Some(piece) => writeln!(
                out,
                "  {name:>5}  {:>12}  {:>10}  {:>10}  {:>10}  {:>6}  {:>6}  {:>8}",
                style.length(piece.long_side()),
                style.decimal(piece.long_side()),
                style.decimal(piece.length()),
                style.decimal(piece.short_side()),
                style.angle(piece.start().angle),
                style.angle(piece.end().angle),
                style.clock(piece.clock()),
            )?,
            None => stock_bend(out, closing, several, i)?,
        }
    }
    if let Found::Ends(between) = &closing.found {
        marks(out, closing, between, several)?;
    }
    writeln!(
        out,
        "  clock: from the start's long side to the end's, clockwise looking downstream"
    )?;
    for (i, joint) in several.joints().iter().enumerate() {
        writeln!(
            out,
            "  joint {:>5} at {}, cut {}",
            closing.joint_name(i, several.pieces().len()),
            style.point(joint.plane.point.into()),
            style.angle(joint.cut()),
        )?;
    }
    Ok(())
}

/// Where the marks on the built ends stand on the first and on the last of several pieces.
fn marks(
    out: &mut String,
    closing: &Closing,
    between: &BetweenEnds,
    several: &Several,
) -> std::fmt::Result {
    let ends = [&between.ends[0].built, &between.ends[1].built];
    let which = [0, several.pieces().len().saturating_sub(1)];
    for (i, mark) in several.marks(ends).into_iter().enumerate() {
        if let (Some(clock), Some((_, name))) = (mark, &ends[i].mark) {
            writeln!(
                out,
                "  {name} of the end {} stands at {} of piece {}, from its start's long side, or its end's where the start is square",
                Side::BOTH[i].word(),
                closing.style.clock(clock),
                closing.piece_name(which[i]),
            )?;
        }
    }
    Ok(())
}

/// A stock bend among several pieces.
fn stock_bend(
    out: &mut String,
    closing: &Closing,
    several: &Several,
    i: usize,
) -> std::fmt::Result {
    let style = closing.style;
    let placed = &several.pieces()[i];
    let Some(bent) = placed.piece.bent() else {
        return Ok(());
    };
    writeln!(
        out,
        "  {:>5}  stock bend, turn {}, CLR {}, legs {} and {}; its plane is clocked {} from the bend before",
        closing.piece_name(i),
        style.angle(bent.turn),
        style.decimal(bent.clr),
        style.decimal(bent.legs[0]),
        style.decimal(bent.legs[1]),
        style.clock(several.joints()[i].clock),
    )
}

fn of_widths(
    out: &mut String,
    closing: &Closing,
    widths: &Widths,
    gap: &crate::closure::Gap,
) -> std::fmt::Result {
    let style = closing.style;
    writeln!(
        out,
        "\nTHE GAP, {} wide at the axis",
        style.decimal(gap.width)
    )?;
    for (i, (station, left)) in widths.stations.iter().zip(&gap.left).enumerate() {
        let out_of_fit = gap.slips.iter().any(|slip| slip.stations == [i]);
        writeln!(
            out,
            "  station {:>2} at {:>8}: {:>10}, {:>9} off what fits all best{}",
            i + 1,
            style.clock(station.clock),
            style.decimal(station.width),
            style.decimal(*left),
            if out_of_fit { "; LEFT OUT" } else { "" },
        )?;
    }
    writeln!(
        out,
        "  widths good to {}; the fitted width to {} at its worst side, two of three within",
        style.decimal(widths.good_to),
        style.decimal(gap.fit_good_to),
    )?;
    writeln!(
        out,
        "  Widths do not show whether the two rims stand beside each other: hold straight tube of this size\n  against the gap, all round. Where a rim steps by more than {}, measure both rims instead.",
        style.decimal(closing.fit_up.high_low)
    )?;
    sizes(out, "THE PIECE", &gap.sleeve, style)?;
    writeln!(
        out,
        "  station 1 is at {}",
        style.clock(widths.stations[0].clock)
    )?;
    ordinates(out, &gap.sleeve, style)
}
