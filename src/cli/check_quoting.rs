//! What `runwright check` shows of materials, heat and the quote's rates.

use crate::job::{Job, JobRun};
use crate::tube::{Evidence, Material, Tube};
use crate::units::Style;
use std::fmt::Write;

/// What a quote counts beside each run's rates.
pub(super) fn describe_quote_rates(out: &mut String, job: &Job) -> std::fmt::Result {
    let (rates, style) = (&job.quote_rates, job.style);
    let purge = match rates.purge {
        None => "as the material calls for",
        Some(true) => "always",
        Some(false) => "never",
    };
    let currency = match rates.currency.as_str() {
        "" => "no currency",
        sign => sign,
    };
    writeln!(
        out,
        "quote, {currency}: filler {}, {} of the wall's square in a weld, rod {}; gas {}, {} for {} of the weld's time",
        rates.filler,
        rates.filler_factor,
        style.decimal(rates.rod),
        rates.gas,
        rates.gas_flow,
        rates.arc_share,
    )?;
    writeln!(
        out,
        "  purge {purge}: bore {} times over, then {}; {} minutes for the job; overhead {} % of labor, markup {} %",
        rates.purge_changes,
        rates.purge_flow,
        rates.job_minutes,
        rates.overhead_percent,
        rates.markup_percent,
    )?;
    let price = match job.mandrel_bend.price {
        Some(price) => format!("{price:.2}"),
        None => "no price".to_owned(),
    };
    writeln!(
        out,
        "  to compare with where no stock bends are listed: 90° mandrel bend, leg {}, {price}",
        style.decimal(job.mandrel_bend.leg),
    )
}

/// What is known of a run's material, and how it is used.
pub(super) fn describe_service(out: &mut String, run: &JobRun, style: Style) -> std::fmt::Result {
    material(out, &run.task.tube)?;
    let service = &run.service;
    let heat = match service.hot {
        Some(hot) => format!(
            "fitted at {}, gets {}",
            style.temperature(service.cold),
            style.temperature(hot)
        ),
        None => "how hot it gets is not said".to_owned(),
    };
    writeln!(
        out,
        "  {heat}; {}; {}",
        if service.flex {
            "a slip joint or flexible part takes up growth"
        } else {
            "no slip joint or flexible part"
        },
        if service.weld_flanges {
            "both flanges welded on here"
        } else {
            "flange welds shown apart"
        },
    )
}

fn material(out: &mut String, tube: &Tube) -> std::fmt::Result {
    let known = tube.known();
    let from = |own: bool, text: &str, evidence: Evidence| {
        if own {
            "the job".to_owned()
        } else {
            format!("{text}, {}", evidence.words())
        }
    };
    match (tube.density(), known) {
        (Some(density), known) => {
            let source = known.map(|known| known.density_source);
            let from = from(
                tube.own().density.is_some(),
                source.map_or("", |source| source.text),
                source.map_or(Evidence::Practice, |source| source.evidence),
            );
            writeln!(out, "  density {density} g/cm³ ({from})")?;
        }
        (None, _) => writeln!(
            out,
            "  density of '{}' not known: no mass, no filler. Known are {}",
            tube.material(),
            Material::known().join(", "),
        )?,
    }
    match (tube.own().expansion, known) {
        (Some(per_c), _) => writeln!(out, "  expansion {:.2} × 10⁻⁶/°C (the job)", per_c * 1e6),
        (None, Some(known)) => {
            let means = known.expansion.iter().map(|mean| {
                format!(
                    "{:.1} to {:.0} °C ({}, {})",
                    mean.per_c * 1e6,
                    mean.to.celsius(),
                    mean.source.text,
                    mean.source.evidence.words()
                )
            });
            let means: Vec<String> = means.collect();
            writeln!(out, "  mean expansion, 10⁻⁶/°C: {}", means.join("; "))
        }
        (None, None) => writeln!(out, "  expansion not known: no growth"),
    }
}
