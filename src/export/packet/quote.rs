//! The quote, and what stands beside it: other ways, growth, mass.

use super::data::{BesideData, QuoteData, QuoteRunData, TableData};
use crate::export::sheet::{
    SIDE_BY_SIDE, growth_warns, growth_words, mass_words, remarks, side_by_side,
};
use crate::plan::{FileRun, PlanFile};
use crate::shop::{Line, Quote, RunQuote};

const NOTES: [&str; 2] = [
    "Each line is rounded as it is printed, then added.",
    "Tube by the length used; whole sticks, flanges, clamps and freight are not in it.",
];

/// What the job costs and what to charge; nothing where the plan does not say what there
/// is to do.
pub(super) fn quote(plan: &PlanFile) -> Option<QuoteData> {
    let quote = plan.quote();
    if quote.runs.is_empty() {
        return None;
    }
    Some(QuoteData {
        currency: quote.currency.clone(),
        runs: quote.runs.iter().map(run).collect(),
        job: lines(&quote.shared),
        totals: totals(&quote),
        notes: NOTES.map(str::to_owned).to_vec(),
    })
}

fn run(run: &RunQuote) -> QuoteRunData {
    QuoteRunData {
        name: run.name.clone(),
        lines: lines(&run.lines),
        money: run.money.to_string(),
        apart: lines(&run.apart),
        notes: run.notes.clone(),
    }
}

fn lines(lines: &[Line]) -> Vec<[String; 4]> {
    let line = |line: &Line| {
        let what = match line.how.as_str() {
            "" => line.item.words().to_owned(),
            how => format!("{}: {how}", line.item.words()),
        };
        [
            what,
            line.quantity_text(),
            line.rate_text(),
            line.money.to_string(),
        ]
    };
    lines.iter().map(line).collect()
}

fn totals(quote: &Quote) -> Vec<(String, String)> {
    let percent = |line: &Line| {
        let label = format!("{}, {}", line.item.words(), line.rate_text());
        (label, line.money.to_string())
    };
    let mut totals = Vec::new();
    if let Some(overhead) = &quote.overhead {
        totals.push(("costs before overhead".to_owned(), quote.cost.to_string()));
        totals.push(percent(overhead));
    }
    totals.push(("all costs".to_owned(), quote.all_costs().to_string()));
    totals.extend(quote.markup.iter().map(percent));
    totals.push((format!("price{}", currency(quote)), quote.price.to_string()));
    totals
}

fn currency(quote: &Quote) -> String {
    match quote.currency.as_str() {
        "" => String::new(),
        sign => format!(", {sign}"),
    }
}

/// The cover's line: time and price.
pub(super) fn cost_line(plan: &PlanFile) -> String {
    let quote = plan.quote();
    if quote.runs.is_empty() {
        return String::new();
    }
    format!(
        "{:.0} minutes in the shop; costs {}, price {}{}",
        quote.minutes,
        quote.all_costs(),
        quote.price,
        currency(&quote)
    )
}

/// What stands beside one run's quote.
pub(super) fn beside(plan: &PlanFile, file: &FileRun) -> BesideData {
    let (style, quoting) = (plan.style, &file.quoting);
    let tube = file.run.tube();
    let columns = quoting.side_by_side(&file.name, tube, &plan.quote_rates);
    let compare = if quoting.others.is_empty() {
        TableData::default()
    } else {
        TableData {
            header: SIDE_BY_SIDE.map(str::to_owned).to_vec(),
            rows: side_by_side(&columns, style),
        }
    };
    let growth = file.growth();
    BesideData {
        compare,
        compare_notes: quoting
            .others
            .iter()
            .flat_map(|way| remarks(way, style))
            .collect(),
        growth: growth_words(growth.as_ref(), tube, style),
        growth_warns: growth.as_ref().is_some_and(growth_warns),
        mass: mass_words(&file.run, style),
    }
}
