//! The pages that a plan goes to the bench on, as SVG files, from `plan.json` alone:
//! wrap patterns, clock tape and cradle of every run.
//!
//! `cargo run --example paper_pages -- results/plan.json pages letter`

use runwright::export::flat::{PaperSize, Sheet};
use runwright::export::paper::{RunOnPaper, clock_tape_sheets, cradle_sheets, pattern_sheets};
use runwright::plan::read_plan;
use runwright::shop::Longer;
use runwright::units::{Length, LengthUnit, Style};
use std::path::Path;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [plan, folder, page] = &arguments[..] else {
        eprintln!("usage: paper_pages PLAN FOLDER letter|a4");
        return ExitCode::from(2);
    };
    match write(plan, folder, page) {
        Ok(()) => ExitCode::SUCCESS,
        Err(reason) => {
            eprintln!("paper_pages: {reason}");
            ExitCode::FAILURE
        }
    }
}

fn write(plan: &str, folder: &str, page: &str) -> Result<(), String> {
    let page = match page {
        "letter" => PaperSize::Letter,
        "a4" => PaperSize::A4,
        other => return Err(format!("'{other}' is neither letter nor a4")),
    };
    let bytes = std::fs::read(plan).map_err(|error| error.to_string())?;
    let file = read_plan(&bytes).map_err(|problems| format!("{problems:?}"))?;
    std::fs::create_dir_all(folder).map_err(|error| error.to_string())?;
    let layouts = file.layouts();
    let (list, longer) = (file.cut_list(&layouts), file.longer());
    for (number, run) in file.runs.iter().enumerate() {
        let on_paper = RunOnPaper {
            run: &run.run,
            name: &run.name,
            stem: &run.name,
            style: Style::new(LengthUnit::In),
            paper: Length::from_mm(0.1),
            cuts: &list.cuts_of(number),
            longer: Longer::in_run(&longer, number),
            seams: &vec![Some(runwright::units::Angle::QUARTER); run.run.pieces().len()],
        };
        let kinds = [
            ("patterns", pattern_sheets(&on_paper, page)),
            ("clock-tape", clock_tape_sheets(&on_paper, page)),
            ("cradle", cradle_sheets(&on_paper, Length::ZERO, page)),
        ];
        for (kind, sheets) in kinds {
            save(Path::new(folder), &format!("{}-{kind}", run.name), &sheets)?;
        }
    }
    Ok(())
}

fn save(folder: &Path, name: &str, sheets: &[Sheet]) -> Result<(), String> {
    for (i, sheet) in sheets.iter().enumerate() {
        let place = folder.join(format!("{name}-{}.svg", i + 1));
        std::fs::write(place, sheet.svg()).map_err(|error| error.to_string())?;
    }
    Ok(())
}
