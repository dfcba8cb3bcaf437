//! How well a copied run fits the tube that it is a copy of, as plain text.

use super::text::table;
use crate::job::JobCopy;
use crate::run::Run;
use crate::survey::{OwnLines, Spot, TracedJoint};
use crate::units::{Angle, Length, Style, counted};
use std::fmt::Write;

/// A joint is loose along the tube alone if it is this many times as loose as across.
const ALONG: f64 = 4.0;

/// Ends that moved less than this are where they were measured.
const STAYED: Length = Length::from_mm(1e-3);

/// Ends that turned less than this are as they were measured.
const UNTURNED: Angle = Angle::from_degrees(1e-3);

/// Writes the table of a copied run's joints; `ports` are the names of its ends.
///
/// # Errors
///
/// Those of `out`.
pub fn copied_table(
    out: &mut String,
    copy: &JobCopy,
    run: &Run,
    ports: [&str; 2],
    style: Style,
) -> std::fmt::Result {
    let traced = &copy.traced;
    let aside = traced.left.iter().filter(|left| !left.counted).count();
    write!(
        out,
        "\n  COPIED FROM {}: {} of {} each",
        copy.touched,
        counted(traced.left.len(), "point"),
        style.decimal(copy.accuracy),
    )?;
    match aside {
        0 => writeln!(out, "; fit at each joint.")?,
        aside => writeln!(out, ", {aside} left out; fit at each joint.")?,
    }
    out.push_str(LEGEND);
    joints(out, copy, run, style)?;
    overall(out, copy, style)?;
    for (end, port) in traced.ends.iter().zip(ports) {
        if end.shift > STAYED || end.lean > UNTURNED {
            writeln!(
                out,
                "  '{port}' came to lie {} from where it is given, its axis {} off",
                style.decimal(end.shift),
                style.angle(end.lean),
            )?;
        }
    }
    for suspect in &traced.suspects {
        let aside = match (suspect.spot, suspect.left_out) {
            (Spot::End(_), _) => "; the copy keeps to it",
            (_, true) => "; left out",
            (_, false) => "; used all the same",
        };
        let lean = match suspect.lean {
            Some(lean) => format!(" and {}", style.angle(lean)),
            None => String::new(),
        };
        writeln!(
            out,
            "  measure again: {} is {}{lean} off what the others say{aside}",
            copy.place(suspect.spot, ports),
            style.decimal(suspect.off.abs()),
        )?;
    }
    Ok(())
}

const LEGEND: &str =
    "  ±: one standard deviation; of the place the greatest any way. Apart: how far the two
  pieces' own lines pass each other. Rms: what is left of the points beside the joint.
";

fn joints(out: &mut String, copy: &JobCopy, run: &Run, style: Style) -> std::fmt::Result {
    let traced = &copy.traced;
    if traced.joints.is_empty() {
        return writeln!(out, "  no joints: one straight piece");
    }
    let unknown = || "not known".to_owned();
    let rows = traced
        .joints
        .iter()
        .zip(run.joints().iter().skip(1))
        .enumerate();
    let rows = rows.map(|(i, (joint, built))| {
        vec![
            (i + 1).to_string(),
            style.point(joint.at.into()),
            spread(joint, style),
            style.angle(joint.turn),
            style.angle(joint.turn_sigma),
            style.clock(built.clock),
            joint
                .own
                .apart()
                .map_or_else(unknown, |apart| style.decimal(apart)),
            joint.rms.map_or_else(unknown, |rms| style.decimal(rms)),
            String::new(),
        ]
    });
    let header = ["joint", "at", "±", "turn", "±", "clock", "apart", "rms", ""];
    table(out, &header, rows.collect())?;
    if traced
        .joints
        .iter()
        .any(|joint| joint.own == OwnLines::TooFew)
    {
        writeln!(
            out,
            "  not known: a piece beside the joint has too few points for a line of its own"
        )?;
    }
    Ok(())
}

/// How far a joint may be off; one that hardly turns is loose along the tube alone.
fn spread(joint: &TracedJoint, style: Style) -> String {
    let [(most, _), (next, _), _] = joint.scatter.ellipsoid();
    if next * ALONG < most {
        format!("{} along the tube", style.decimal(most))
    } else {
        style.decimal(most)
    }
}

fn overall(out: &mut String, copy: &JobCopy, style: Style) -> std::fmt::Result {
    let traced = &copy.traced;
    let Some(rms) = traced.rms else {
        return writeln!(out, "  no points: the ends alone hold the copy");
    };
    if traced.spare == 0 {
        return writeln!(
            out,
            "  all points: {} rms; no more readings than it takes, so nothing checks them",
            style.decimal(rms)
        );
    }
    writeln!(
        out,
        "  all points: {} rms; {} to spare, which scatter {:.2} times as much as said",
        style.decimal(rms),
        counted(traced.spare, "reading"),
        (traced.squares / traced.spare as f64).sqrt(),
    )
}
