//! The quote, mass and growth on `sheet.txt`, and the cautions of every sheet.

use super::sheet::table;
use crate::job::JobRun;
use crate::plan::{Column, Plan, PlannedRun};
use crate::shop::{Caution, Growth, Line, Made, OtherWay, Quote, RunQuote};
use crate::tube::Material;
use crate::units::{Style, counted};
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
        "  Tube by the meter used; whole sticks, flanges, clamps and freight are not in it."
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
    rows.push(sum("all costs", quote.cost.to_string()));
    rows.extend(quote.overhead.iter().chain(&quote.markup).map(row));
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
    mass(out, planned, style)?;
    growth(out, planned, job_run, style)?;
    let quoting = planned.quoting(job_run);
    let columns = quoting.side_by_side(&planned.name, planned.run().tube(), &plan.job.quote_rates);
    if planned.others.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "\n  PIES AGAINST STOCK BENDS, the run's own costs as in the quote"
    )?;
    side_by_side(out, &columns, style)?;
    for way in &planned.others {
        remark(out, way, style)?;
    }
    Ok(())
}

fn side_by_side(out: &mut String, columns: &[Column], style: Style) -> std::fmt::Result {
    let header = [
        "joints",
        "cuts",
        "bends bought",
        "weld",
        "run",
        "minutes",
        "money",
        "smallest",
        "made of",
    ];
    let rows = columns.iter().map(|column| {
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
    });
    table(out, &header, rows.collect())
}

fn remark(out: &mut String, way: &OtherWay, style: Style) -> std::fmt::Result {
    if way.work.is_none() {
        writeln!(out, "  of {} no run was found", way.made.words())?;
    }
    if let Made::MandrelBends { clr, leg } = way.made {
        writeln!(
            out,
            "  mandrel bends are taken to be 90°, CLR {}, with legs of {}: the shop lists none that fits",
            style.decimal(clr),
            style.decimal(leg),
        )?;
    }
    Ok(())
}

fn mass(out: &mut String, planned: &PlannedRun, style: Style) -> std::fmt::Result {
    let run = planned.run();
    match run.tube().mass_kg(run.cut_length()) {
        Some(kg) => writeln!(
            out,
            "\n  MASS {} without weld metal and flanges",
            style.mass(kg)
        ),
        None => writeln!(
            out,
            "\n  MASS is not known: the density of '{}' is not. Known are {};\n  or write tube.density",
            run.tube().material(),
            Material::known().join(", "),
        ),
    }
}

fn growth(
    out: &mut String,
    planned: &PlannedRun,
    job_run: &JobRun,
    style: Style,
) -> std::fmt::Result {
    let Some(growth) = planned.growth(job_run) else {
        return writeln!(
            out,
            "  GROWTH by heat is not known for '{}'; write tube.expansion",
            planned.run().tube().material()
        );
    };
    let [x, y, z] = growth.between.into();
    let part = |mm: f64| style.decimal(crate::units::Length::from_mm(mm));
    let heading = if growth.is_given {
        format!(
            "from {} to {}",
            style.temperature(growth.cold),
            style.temperature(growth.hot)
        )
    } else {
        "for 100 °C (180 °F) of rise, as an example: no runs[].hot is given".to_owned()
    };
    writeln!(
        out,
        "  GROWTH {heading}: one end free, the other moves {}\n  (x {}, y {}, z {}), whatever way the run goes; {}",
        style.decimal(growth.amount()),
        part(x),
        part(y),
        part(z),
        taken_up(&growth),
    )?;
    basis(out, &growth)
}

fn taken_up(growth: &Growth) -> &'static str {
    match (growth.is_given, growth.flex, growth.is_too_much()) {
        (false, _, _) => "the temperatures are yours to say",
        (_, true, _) => "a slip joint or flexible part takes it up",
        (_, _, true) => "MORE THAN A FIT-UP TAKES, and nothing that gives is named",
        _ => "a fit-up takes that",
    }
}

fn basis(out: &mut String, growth: &Growth) -> std::fmt::Result {
    let micro = growth.expansion.per_c * 1e6;
    let beyond = if growth.expansion.is_beyond {
        "; BEYOND WHAT IS PUBLISHED, where the nearest mean is held"
    } else {
        ""
    };
    match growth.source() {
        Some(source) => writeln!(
            out,
            "  at {micro:.2}e-6/°C, ±{:.0} % ({}, {}){beyond}",
            growth.spread() * 100.0,
            source.text,
            source.evidence.words(),
        ),
        None => writeln!(out, "  at {micro:.2}e-6/°C, the job's own"),
    }
}

/// What to mind, with sources, as paragraphs.
pub(super) fn cautions(out: &mut String, cautions: &[&Caution]) -> std::fmt::Result {
    writeln!(out, "BEFORE YOU CUT")?;
    for caution in cautions {
        let mut line = String::from(" ");
        for word in caution.sourced_text().split_whitespace() {
            if line.chars().count() + 1 + word.chars().count() > WIDTH {
                writeln!(out, "{line}")?;
                line = String::from("   ");
            }
            line.push(' ');
            line.push_str(word);
        }
        writeln!(out, "{line}")?;
    }
    writeln!(
        out,
        "  {} in all; those marked from memory are to be looked up before you rest on them.",
        counted(cautions.len(), "caution")
    )
}
