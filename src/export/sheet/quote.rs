//! The quote, mass and growth on `sheet.txt`, and the cautions of every sheet.

use super::text::table;
use crate::job::JobRun;
use crate::plan::{Column, Plan, PlannedRun};
use crate::run::Run;
use crate::shop::{Caution, Growth, Line, Made, OtherWay, Quote, RunQuote};
use crate::tube::{Material, Tube};
use crate::units::{Length, Style, counted};
use std::fmt::Write;

/// Columns of a line of cautions.
const WIDTH: usize = 80;

/// What the job costs and what to charge.
pub(super) fn quote(out: &mut String, plan: &Plan) -> std::fmt::Result {
    let quote = plan.quote();
    let currency = match quote.currency.as_str() {
        "" => String::new(),
        sign => format!(", in {sign}"),
    };
    writeln!(
        out,
        "\nQUOTE{currency}: quantity × rate, each line rounded, then added"
    )?;
    for run in &quote.runs {
        run_lines(out, run)?;
    }
    totals(out, &quote)?;
    writeln!(
        out,
        "  Tube by the length used; whole sticks, flanges, clamps and freight are not in it."
    )
}

fn run_lines(out: &mut String, run: &RunQuote) -> std::fmt::Result {
    writeln!(out, "  run '{}'", run.name)?;
    let mut rows: Vec<Vec<String>> = run.lines.iter().map(row).collect();
    rows.push(sum(&format!("run '{}'", run.name), run.money.to_string()));
    table(out, &HEADER, rows)?;
    if !run.apart.is_empty() {
        writeln!(
            out,
            "  not counted, should both flanges be welded on here (runs[].weld_flanges):"
        )?;
        table(out, &HEADER, run.apart.iter().map(row).collect())?;
    }
    for note in &run.notes {
        writeln!(out, "  {note}")?;
    }
    Ok(())
}

fn totals(out: &mut String, quote: &Quote) -> std::fmt::Result {
    let mut rows: Vec<Vec<String>> = quote.shared.iter().map(row).collect();
    if let Some(overhead) = &quote.overhead {
        rows.push(sum("costs before overhead", quote.cost.to_string()));
        rows.push(row(overhead));
    }
    rows.push(sum("all costs", quote.all_costs().to_string()));
    rows.extend(quote.markup.iter().map(row));
    rows.push(sum("PRICE", quote.price.to_string()));
    writeln!(out, "  the job, {:.0} minutes in all", quote.minutes)?;
    table(out, &HEADER, rows)
}

const HEADER: [&str; 4] = ["quantity", "rate", "money", "for"];

fn row(line: &Line) -> Vec<String> {
    vec![
        line.quantity_text(),
        line.rate_text(),
        line.money.to_string(),
        match line.how.as_str() {
            "" => line.item.words().to_owned(),
            how => format!("{}: {how}", line.item.words()),
        },
    ]
}

fn sum(what: &str, money: String) -> Vec<String> {
    vec![String::new(), String::new(), money, what.to_owned()]
}

/// Pie cuts against stock bends, mass and growth of one run.
pub(super) fn beside(
    out: &mut String,
    plan: &Plan,
    planned: &PlannedRun,
    job_run: &JobRun,
) -> std::fmt::Result {
    let style = plan.job.style;
    let run = planned.run();
    writeln!(out)?;
    paragraph(out, "  MASS", &mass_words(run, style))?;
    let growth = planned.growth(job_run);
    let mut words = growth_words(growth.as_ref(), run.tube(), style).into_iter();
    paragraph(out, "  GROWTH", &words.next().unwrap_or_default())?;
    for sentence in words {
        paragraph(out, "   ", &sentence)?;
    }
    let quoting = planned.quoting(job_run, style.unit);
    let columns = quoting.side_by_side(&planned.name, planned.run().tube(), &plan.job.quote_rates);
    if planned.others.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "\n  PIES AGAINST STOCK BENDS, the run's own costs as in the quote; what stands beside the\n  plan was looked for at a glance and may not be the cheapest of its kind"
    )?;
    table(out, &SIDE_BY_SIDE, side_by_side(&columns, style))?;
    for way in &planned.others {
        for remark in remarks(way, style) {
            writeln!(out, "  {remark}")?;
        }
    }
    Ok(())
}

/// Heads of the columns of [`side_by_side`].
pub(in crate::export) const SIDE_BY_SIDE: [&str; 9] = [
    "joints",
    "cuts",
    "bends bought",
    "weld",
    "centerline",
    "minutes",
    "money",
    "short",
    "made of",
];

/// One row a way to make a run.
pub(in crate::export) fn side_by_side(columns: &[Column], style: Style) -> Vec<Vec<String>> {
    let row = |column: &Column| {
        let work = &column.work;
        let made = match &column.way {
            None => "as planned",
            Some(way) => way.made.words(),
        };
        vec![
            work.joints.to_string(),
            work.cuts.to_string(),
            work.stock_bends().to_string(),
            style.length(work.weld),
            style.length(work.length),
            format!("{:.0}", column.minutes),
            column
                .money
                .map_or("no price".to_owned(), |money| money.to_string()),
            work.smallest
                .map_or("none".to_owned(), |short| style.length(short)),
            made.to_owned(),
        ]
    };
    columns.iter().map(row).collect()
}

/// What there is to say of another way to make a run.
pub(in crate::export) fn remarks(way: &OtherWay, style: Style) -> Vec<String> {
    let mut remarks = Vec::new();
    if way.work.is_none() {
        remarks.push(format!("of {} no run was found", way.made.words()));
    }
    if let Made::MandrelBends { clr, leg } = way.made {
        remarks.push(format!(
            "mandrel bends are taken to be 90°, CLR {}, with legs of {}: the shop lists none that fits",
            style.decimal(clr),
            style.decimal(leg),
        ));
    }
    remarks
}

/// What a run weighs.
pub(in crate::export) fn mass_words(run: &Run, style: Style) -> String {
    match run.tube().mass_kg(run.cut_length()) {
        Some(kg) => format!("{} without weld metal and flanges", style.mass(kg)),
        None => format!(
            "not known: the density of '{}' is not. Known are {}; or write tube.density",
            run.tube().material(),
            Material::known().join(", "),
        ),
    }
}

/// How heat moves a run's ends, in sentences; the first one warns where it must.
pub(in crate::export) fn growth_words(
    growth: Option<&Growth>,
    tube: &Tube,
    style: Style,
) -> Vec<String> {
    let Some(growth) = growth else {
        let material = tube.material();
        return vec![format!("Not known for '{material}'; write tube.expansion")];
    };
    let [x, y, z] = growth.between.into();
    let part = |mm: f64| style.decimal(Length::from_mm(mm));
    let heading = if growth.is_given {
        format!(
            "From {} to {}",
            style.temperature(growth.cold),
            style.temperature(growth.hot)
        )
    } else {
        "For 100 °C (180 °F) of rise, as an example, since no runs[].hot is given".to_owned()
    };
    let moves = format!(
        "{heading}: one end free, the other moves {} (x {}, y {}, z {}), whatever way the run goes; {}.",
        style.decimal(growth.amount()),
        part(x),
        part(y),
        part(z),
        taken_up(growth),
    );
    vec![moves, basis(growth)]
}

/// Whether growth is more than what is known to take it up.
pub(in crate::export) fn growth_warns(growth: &Growth) -> bool {
    growth.is_given && !growth.flex && growth.is_too_much()
}

fn taken_up(growth: &Growth) -> &'static str {
    match (growth.is_given, growth.flex) {
        (false, _) => "the temperatures are yours to say",
        (_, true) => "a slip joint or flexible part takes it up",
        _ if growth_warns(growth) => {
            "MORE THAN A FIT-UP TAKES, and nothing that gives is named (runs[].flex)"
        }
        _ => "a fit-up takes that",
    }
}

fn basis(growth: &Growth) -> String {
    let micro = growth.expansion.per_c * 1e6;
    let beyond = if growth.expansion.is_beyond {
        "; BEYOND WHAT IS PUBLISHED, where the nearest mean is held"
    } else {
        ""
    };
    let of = match growth.source() {
        Some(source) => format!(
            "Taken: {micro:.2} × 10⁻⁶/°C, ±{:.0} % ({}, {}){beyond}",
            growth.spread() * 100.0,
            source.text,
            source.evidence.words(),
        ),
        None => format!("Taken: {micro:.2} × 10⁻⁶/°C, the job's own"),
    };
    format!("{of}. Not an analysis of stress.")
}

/// A paragraph in lines of a sheet's width, the first after `first`.
fn paragraph(out: &mut String, first: &str, text: &str) -> std::fmt::Result {
    let mut line = String::from(first);
    for word in text.split_whitespace() {
        if line.chars().count() + 1 + word.chars().count() > WIDTH {
            writeln!(out, "{line}")?;
            line = String::from("   ");
        }
        line.push(' ');
        line.push_str(word);
    }
    writeln!(out, "{line}")
}

/// What to mind, with sources, as paragraphs.
pub(in crate::export) fn cautions(out: &mut String, cautions: &[&Caution]) -> std::fmt::Result {
    writeln!(out, "BEFORE YOU CUT")?;
    for caution in cautions {
        paragraph(out, " ", &caution.sourced_text())?;
    }
    writeln!(
        out,
        "  {} in all; those marked from memory are to be looked up before you rest on them.",
        counted(cautions.len(), "caution")
    )
}
