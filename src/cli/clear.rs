//! `runwright clear`.

use super::clear_input::{Ask, Made, Way, read_made, read_way};
use super::clear_table::{self, Line};
use super::message::{Failure, note, print, warn};
use super::plan::refused;
use crate::clear::{
    Exempt, MOST_PLACES, Place, Rooms, Rule, exempt_of_run, places_of_mesh, places_of_run,
    rooms_of_mesh, rooms_of_run,
};
use crate::export::{
    ClearanceRow, ExportError, OutFile, clearance_csv, clearance_ply, envelope_stl, write_all,
};
use crate::plan::FileRun;
use crate::scan::Mesh;
use crate::scene::Obstacle;
use crate::units::{Length, LengthUnit, Style, counted, parse_length};
use clap::{ArgGroup, Args};
use std::path::PathBuf;

/// Check a planned run, or any mesh, against what is in the way.
///
/// Prints the tightest places, worst first, and what the ports exempt. With -o, writes
/// clearance.csv, clearance.ply (the outside, colored by room) and, for a plan,
/// envelope.stl (the room that the run takes up). Ends with 1 if anything is too near.
///
/// Example: runwright clear results/plan.json --scan bay.ply --scan-units m
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("way").required(true), verbatim_doc_comment)]
pub(super) struct ClearArguments {
    /// The plan.json of a plan, or a mesh: STL, PLY or OBJ.
    made: PathBuf,
    /// Unit of the mesh: in, mm, cm, m or ft. A plan has its own.
    #[arg(long, value_name = "UNIT", value_parser = unit)]
    units: Option<LengthUnit>,
    /// Check against what is in the way in this job.
    #[arg(long, group = "way")]
    job: Option<PathBuf>,
    /// Check against this mesh, in the same frame.
    #[arg(long, group = "way", value_name = "FILE", requires = "scan_units")]
    scan: Option<PathBuf>,
    /// Unit of the scan: in, mm, cm, m or ft.
    #[arg(long, value_name = "UNIT", requires = "scan", value_parser = unit)]
    scan_units: Option<LengthUnit>,
    /// Groups of the scan to keep; * stands for any characters.
    #[arg(long, value_name = "PATTERN", requires = "scan")]
    keep: Vec<String>,
    /// Groups of the scan to leave out.
    #[arg(long, value_name = "PATTERN", requires = "scan")]
    drop: Vec<String>,
    /// Distance to keep from all that is in the way; mm unless said. Default: what the job
    /// asks for, 3/8 in from a scan.
    #[arg(long, value_name = "LENGTH", value_parser = clearance)]
    clearance: Option<Length>,
    /// Only this run of the plan; for a mesh, what is in the way of this run of the job.
    #[arg(long, value_name = "NAME")]
    run: Option<String>,
    /// List every place, not only the tightest.
    #[arg(long)]
    all: bool,
    /// Folder for the files; made if it is not there.
    #[arg(short, long = "out", value_name = "DIR")]
    out: Option<PathBuf>,
    /// Replace files that are there already.
    #[arg(long, requires = "out")]
    force: bool,
}

fn unit(text: &str) -> Result<LengthUnit, String> {
    LengthUnit::from_symbol(text).ok_or_else(|| "must be in, mm, cm, m or ft".to_owned())
}

/// Greatest clearance that is asked for, mm.
const MOST_CLEARANCE: f64 = 10_000.0;
/// How far the flats of the envelope may stand out of the true circle.
const ENVELOPE_CHORD: Length = Length::from_mm(0.1);
/// Places that are listed unless all are asked for.
const LISTED: usize = 20;

fn clearance(text: &str) -> Result<Length, String> {
    let length = parse_length(text, LengthUnit::Mm).map_err(|e| e.to_string())?;
    if (0.0..=MOST_CLEARANCE).contains(&length.mm()) {
        Ok(length)
    } else {
        Err(format!("must be 0 to {MOST_CLEARANCE} mm"))
    }
}

pub(super) fn run(arguments: &ClearArguments) -> Result<(), Failure> {
    let file = arguments.made.display().to_string();
    let ask = Ask {
        units: arguments.units,
        run: arguments.run.as_deref(),
        scan_units: arguments.scan_units,
        keep: &arguments.keep,
        drop: &arguments.drop,
        clearance: arguments.clearance,
    };
    let made = read_made(&arguments.made, &ask)?;
    let way = match (&arguments.job, &arguments.scan) {
        (Some(job), _) => Way::Job(job),
        (_, Some(scan)) => Way::Scan(scan),
        _ => {
            return Err(Failure::unexpected(
                "nothing is in the way",
                "please report this",
            ));
        }
    };
    let way = read_way(&way, &made, &ask)?;
    let report = match &made {
        Made::Plan { runs, unit } => {
            let style = way.style.unwrap_or(Style::new(*unit));
            of_plan(runs, &way.rules, style, arguments)
        }
        Made::Mesh { mesh, unit } => {
            let obstacles = way.rules.concat();
            let style = way.style.unwrap_or(Style::new(*unit));
            of_mesh(mesh, &obstacles, style, arguments)
        }
    };
    let report = report.map_err(|error| Failure::unexpected(error, "please report this"))?;
    if let Some(out) = &arguments.out {
        let inputs = std::iter::once(&arguments.made).chain(&way.sources);
        let inputs = inputs.map(PathBuf::as_path);
        write_all(out, &report.files, inputs, arguments.force).map_err(|e| refused(&e))?;
    }
    print(&report.text)?;
    if let Some(out) = &arguments.out {
        note(&format!(
            "wrote {} to {}",
            counted(report.files.len(), "file"),
            out.display()
        ));
    }
    warn(&file, &way.warnings);
    match report.bad {
        Some(bad) => Err(Failure::one(
            file,
            bad,
            "plan the run again with what is in the way in its job, or ask for less clearance if less is enough",
        )),
        None => Ok(()),
    }
}

/// What is told and written.
struct Report {
    text: String,
    files: Vec<OutFile>,
    /// What is not clear.
    bad: Option<String>,
}

/// A run's places and what its ports exempt.
struct Checked<'a> {
    file: &'a FileRun,
    rules: &'a [Rule],
    places: Vec<Place>,
    exempt: Vec<Exempt>,
}

fn of_plan(
    runs: &[FileRun],
    rules: &[Vec<Rule>],
    style: Style,
    arguments: &ClearArguments,
) -> Result<Report, ExportError> {
    let checked: Vec<Checked<'_>> = runs
        .iter()
        .zip(rules)
        .map(|(file, rules)| Checked {
            file,
            rules,
            places: places_of_run(&file.run, rules),
            exempt: exempt_of_run(&file.run, rules),
        })
        .collect();
    let lines = checked.iter().flat_map(|run| {
        run.places.iter().map(|place| Line {
            of: &run.file.name,
            obstacle: &run.rules[place.obstacle].obstacle.name,
            place,
        })
    });
    let mut lines: Vec<Line<'_>> = lines.collect();
    lines.sort_by(|a, b| a.place.room.mm().total_cmp(&b.place.room.mm()));
    let mut text = clear_table::places("piece", &lines, most(arguments), style);
    for run in &checked {
        text += &clear_table::exempt(&run.file.name, &run.exempt, run.rules, style);
    }
    let files = match arguments.out {
        Some(_) => plan_files(&checked)?,
        None => Vec::new(),
    };
    Ok(Report {
        text,
        files,
        bad: clear_table::bad("piece", &lines, style),
    })
}

fn plan_files(checked: &[Checked<'_>]) -> Result<Vec<OutFile>, ExportError> {
    let mut rows = Vec::new();
    let mut rooms = Rooms::default();
    let mut grown = Vec::new();
    for run in checked {
        let row = |place: Place, asked: bool| {
            let obstacle = &run.rules[place.obstacle].obstacle;
            ClearanceRow {
                of: &run.file.name,
                obstacle: &obstacle.name,
                clearance: obstacle.clearance,
                asked,
                place,
            }
        };
        let mut places = run.places.clone();
        places.sort_by_key(|place| (place.number, place.obstacle));
        rows.extend(places.into_iter().map(|place| row(place, true)));
        rows.extend(run.exempt.iter().map(|exempt| row(exempt.nearest, false)));
        rooms.append(rooms_of_run(&run.file.run, run.rules));
        let grow = run
            .rules
            .iter()
            .map(|rule| rule.outside.wrap + rule.obstacle.clearance);
        grown.push((&run.file.run, grow.fold(Length::ZERO, Length::max)));
    }
    Ok(vec![
        clearance_csv(["run", "piece"], &rows)?,
        clearance_ply(&rooms),
        envelope_stl(&grown, ENVELOPE_CHORD)?,
    ])
}

fn of_mesh(
    mesh: &Mesh,
    rules: &[Rule],
    style: Style,
    arguments: &ClearArguments,
) -> Result<Report, ExportError> {
    let obstacles: Vec<Obstacle> = rules.iter().map(|rule| rule.obstacle.clone()).collect();
    let places = places_of_mesh(mesh, &obstacles, most(arguments).min(MOST_PLACES));
    let lines: Vec<Line<'_>> = places
        .iter()
        .map(|place| Line {
            of: group_of(mesh, place.number),
            obstacle: &obstacles[place.obstacle].name,
            place,
        })
        .collect();
    let text = clear_table::places("triangle", &lines, most(arguments), style);
    let files = match arguments.out {
        Some(_) => {
            let rows = lines.iter().map(|line| ClearanceRow {
                of: line.of,
                obstacle: line.obstacle,
                clearance: obstacles[line.place.obstacle].clearance,
                asked: true,
                place: *line.place,
            });
            let rows: Vec<ClearanceRow<'_>> = rows.collect();
            vec![
                clearance_csv(["group", "triangle"], &rows)?,
                clearance_ply(&rooms_of_mesh(mesh, &obstacles)),
            ]
        }
        None => Vec::new(),
    };
    Ok(Report {
        text,
        files,
        bad: clear_table::bad("triangle", &lines, style),
    })
}

/// Name of the group that the triangle of this number, from 1, is in.
fn group_of(mesh: &Mesh, number: usize) -> &str {
    let after = mesh
        .groups
        .partition_point(|group| group.triangles.end < number);
    mesh.groups
        .get(after)
        .map_or("", |group| group.name.as_str())
}

fn most(arguments: &ClearArguments) -> usize {
    if arguments.all { usize::MAX } else { LISTED }
}
