//! What `runwright check` says of a port.

use crate::job::{Job, PortSurvey};
use crate::run::Port;
use crate::survey::{Amount, LeftOver, Surveyed};
use crate::units::{Angle, Length, Style, counted, direction_text, line_text};
use std::fmt::Write;

/// Most readings that are listed.
const MOST_LISTED: usize = 40;
/// A slip of this size would spoil a fit-up: worth a word where it would not show.
const HIDDEN: Length = Length::from_mm(12.0);

/// Where a port is, how that is known, and what would make it better known.
pub(super) fn describe_port(
    out: &mut String,
    job: &Job,
    port: &Port,
    style: Style,
) -> std::fmt::Result {
    writeln!(
        out,
        "port '{}': center {}, outward {}, straight {}, socket {}",
        port.name,
        style.point(port.center.into()),
        direction_text(port.outward.into_inner()),
        style.length(port.straight),
        style.length(port.socket),
    )?;
    let survey = job.surveys.iter().find(|survey| survey.port == port.name);
    hold(out, port, style)?;
    if let Some(survey) = survey
        && let Some(found) = &survey.found
    {
        if !survey.is_stated() {
            measured(out, survey, found, style)?;
        }
        if !survey.is_exact() {
            advice(out, found, style)?;
        }
    }
    freedom(out, port, style)?;
    if let Some(flange) = port.flange {
        writeln!(
            out,
            "  flange and wrench need a radius of {} and {} out of the face",
            style.length(flange.radius),
            style.length(flange.wrench),
        )?;
    }
    Ok(())
}

/// How well it is known.
fn hold(out: &mut String, port: &Port, style: Style) -> std::fmt::Result {
    if port.scatter.is_none() {
        return writeln!(out, "  taken as exact");
    }
    let sizes = port
        .scatter
        .ellipsoid()
        .map(|(size, _)| style.decimal(size));
    let [most, least] = port
        .scatter
        .leans(&port.outward)
        .map(|(lean, _)| style.angle(lean));
    let place = if sizes[0] == sizes[2] {
        format!("{} any way", sizes[0])
    } else {
        let worst = line_text(port.scatter.ellipsoid()[0].1.into_inner());
        format!("{} {worst}, {} and {} across", sizes[0], sizes[1], sizes[2])
    };
    let lean = if most == least {
        format!("{most} any way")
    } else {
        let worst = line_text(port.scatter.leans(&port.outward)[0].1.into_inner());
        format!("{most} leaning {worst}, {least} square to that")
    };
    writeln!(
        out,
        "  known to, two of three within: center {place}; direction {lean}"
    )
}

/// What was measured, and what is left over at each reading.
fn measured(
    out: &mut String,
    survey: &PortSurvey,
    found: &Surveyed,
    style: Style,
) -> std::fmt::Result {
    for (value, name) in [
        (found.rim, "rim across"),
        (found.bolt_circle, "bolt circle"),
        (found.tip, "rod's tip out of the face"),
    ] {
        if let Some(value) = value {
            writeln!(out, "  {name}: {}", style.decimal(value))?;
        }
    }
    writeln!(
        out,
        "  {}, {}; each less what fits all best:",
        counted(survey.readings.list.len(), "reading"),
        match found.spare {
            0 => "no number more than it takes: a wrong one would not show".to_owned(),
            spare => format!("{} more than it takes", counted(spare, "number")),
        },
    )?;
    let all = survey.readings.list.iter().zip(&found.left);
    for (reading, left) in all.take(MOST_LISTED) {
        writeln!(
            out,
            "    {}: {}",
            reading.name,
            left_over(left, found.spare, style)
        )?;
    }
    if let Some(more) = found
        .left
        .len()
        .checked_sub(MOST_LISTED)
        .filter(|more| *more > 0)
    {
        let rest = found.left[MOST_LISTED..].iter().filter_map(LeftOver::worst);
        let lengths = rest.filter_map(|amount| match amount {
            Amount::Length(length) => Some(length),
            Amount::Angle(_) => None,
        });
        let worst = lengths.fold(Length::ZERO, Length::max);
        writeln!(
            out,
            "    and {more} more, none above {}",
            style.decimal(worst)
        )?;
    }
    Ok(())
}

/// What is left of a reading, and what it would take for a slip to show.
fn left_over(left: &LeftOver, spare: usize, style: Style) -> String {
    let parts = left.parts.iter().map(|(word, amount)| {
        let amount = amount.written(style);
        format!("{amount} {word}").trim_end().to_owned()
    });
    let text = parts.collect::<Vec<_>>().join(", ");
    match left.shows {
        None if spare > 0 => format!("{text} (nothing checks it)"),
        Some(shows) if is_hidden(shows) => {
            format!(
                "{text} (a slip under {} would not show)",
                shows.written(style)
            )
        }
        _ => text,
    }
}

/// Whether a slip that does not show would matter to a fit-up.
fn is_hidden(shows: Amount) -> bool {
    match shows {
        Amount::Length(length) => length > HIDDEN,
        Amount::Angle(angle) => angle > HIDDEN_LEAN,
    }
}

/// The same for a direction: 17 mm at the end of 500.
const HIDDEN_LEAN: Angle = Angle::from_degrees(2.0);

/// The one more reading that would help most.
fn advice(out: &mut String, found: &Surveyed, style: Style) -> std::fmt::Result {
    let Some(next) = &found.next else {
        return Ok(());
    };
    writeln!(
        out,
        "  one reading more that would help most: {}; then {} and {}",
        next.what.written(style),
        style.decimal(next.place),
        style.angle(next.lean),
    )
}

/// How far a port may still be moved.
fn freedom(out: &mut String, port: &Port, style: Style) -> std::fmt::Result {
    for slide in &port.freedom.slides {
        writeln!(
            out,
            "  may slide {} back and {} ahead along {}",
            style.length(slide.back),
            style.length(slide.ahead),
            direction_text(slide.along.into_inner()),
        )?;
    }
    if port.freedom.cone > Angle::ZERO {
        writeln!(out, "  may lean {} any way", style.angle(port.freedom.cone))?;
    }
    Ok(())
}

/// How good the shop's measuring is taken to be.
pub(super) fn describe_measuring(out: &mut String, job: &Job, style: Style) -> std::fmt::Result {
    let Some(survey) = job.surveys.first() else {
        return Ok(());
    };
    let tools = survey.readings.measuring;
    writeln!(
        out,
        "measuring, two of three within: point {}, tape {}, caliper {}, scan {}, pin {}; level {}, heading {}, direction {}",
        style.decimal(tools.point),
        style.decimal(tools.tape),
        style.decimal(tools.caliper),
        style.decimal(tools.scan),
        style.decimal(tools.pin),
        style.angle(tools.level),
        style.angle(tools.heading),
        style.angle(tools.direction),
    )
}
