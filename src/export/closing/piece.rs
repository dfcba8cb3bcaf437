//! The closing piece: sizes, how it meets both ends, tables for marking by hand.

use super::ends::{NEARLY_ALL, at_end};
use super::saw::at_the_saw;
use crate::closure::{Closure, Seam, Side, Trim};
use crate::plan::{BetweenEnds, Closing, MetEnd};
use crate::tube::{Edge, Sleeve};
use crate::units::{Angle, Length, Style};
use std::fmt::Write;

/// Stations round the tube for marking by hand.
const STATIONS: [u32; 3] = [12, 16, 24];
/// Clocks this near to zero print as zero.
const ONE_LINE: Angle = Angle::from_degrees(0.005);

pub(super) fn piece(
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
    at_the_saw(out, closing, &closure.sleeve)?;
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

pub(super) fn sizes(
    out: &mut String,
    title: &str,
    sleeve: &Sleeve,
    style: Style,
) -> std::fmt::Result {
    let ((long, at), (short, _)) = (sleeve.long_side(), sleeve.short_side());
    writeln!(
        out,
        "\n{title}\n  longest line {} ({}) at {}, center {}, shortest line {}",
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
        "  it comes out of {} of tube or more with square ends",
        style.length(blank)
    )?;
    writeln!(
        out,
        "  clocks are the piece's own, clockwise looking downstream; 0° is {}",
        match (sleeve.start(), sleeve.end()) {
            (start, _) if is_long_at_zero(start) => "its start's long side",
            (_, end) if is_long_at_zero(end) => "its end's long side",
            _ => "where the marks below say",
        }
    )
}

/// Whether clocks are counted from the long side of a cut; where a gap was taped round,
/// they may be from its first station.
fn is_long_at_zero(edge: &Edge) -> bool {
    let Edge::Cut(cut) = edge else {
        return false;
    };
    let clock = cut.clock.wrapped();
    let off = clock.min(Angle::FULL - clock);
    cut.angle > Angle::ZERO && off < ONE_LINE
}

pub(super) fn seam(
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
        "    {} as cut; measured as well as it is, 19 of 20 such gaps stay under {}{verdict}",
        if seam.gap < Length::ZERO {
            let over = style.decimal(seam.gap.abs());
            format!("{over} too long, which the weld pulls in,")
        } else {
            format!("gap {}", style.decimal(seam.gap))
        },
        style.decimal(open),
    )
}

/// What nineteen of twenty gaps stay under, measured as well as they are.
pub(super) fn widest(seam: &Seam) -> Length {
    seam.gap + seam.gap_good_to * NEARLY_ALL
}

/// How to cut a built end again: by the saw, and from the rim as it is, by hand.
pub(super) fn cut_again(
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
pub(super) fn ordinates(out: &mut String, sleeve: &Sleeve, style: Style) -> std::fmt::Result {
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
pub(super) fn lowest(sleeve: &Sleeve) -> Length {
    -sleeve.start().range(sleeve.tube().radius()).1
}
