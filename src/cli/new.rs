//! `runwright new`.

use super::message::{Failure, note};
use super::question::{Asker, Question, first_draft};
use crate::export::{OutFile, WriteError, write_all};
use crate::job::{Starter, read_job};
use crate::units::LengthUnit;
use clap::Args;
use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};

/// Write a first job file, to be filled in with measurements.
///
/// On a terminal, asks for everything that is not given; elsewhere fills in
/// defaults.
///
/// Example: runwright new stack.json --units in --od 2.5 --wall 0.065 \
///            --from-center 0,0,0 --from-outward 0,0,1 \
///            --to-center "8 1/2,4,10" --to-outward -1,0,0
#[derive(Debug, Args)]
#[command(verbatim_doc_comment, allow_negative_numbers = true)]
pub(super) struct NewArguments {
    /// The job file to write.
    file: PathBuf,
    /// Unit of numbers without one: in, mm, cm, m or ft.
    #[arg(long, value_name = "UNIT")]
    units: Option<String>,
    /// Outside diameter of the tube.
    #[arg(long, value_name = "LENGTH")]
    od: Option<String>,
    /// Wall thickness of the tube.
    #[arg(long, value_name = "LENGTH")]
    wall: Option<String>,
    /// Material of the tube.
    #[arg(long)]
    material: Option<String>,
    /// Name of the run.
    #[arg(long, value_name = "NAME")]
    run: Option<String>,
    /// Name of the port where flow enters.
    #[arg(long, value_name = "NAME")]
    from: Option<String>,
    /// Center of its face.
    #[arg(long, value_name = "X,Y,Z", allow_hyphen_values = true)]
    from_center: Option<String>,
    /// Direction from its face into free space.
    #[arg(long, value_name = "X,Y,Z", allow_hyphen_values = true)]
    from_outward: Option<String>,
    /// Name of the port where flow leaves.
    #[arg(long, value_name = "NAME")]
    to: Option<String>,
    /// Center of its face.
    #[arg(long, value_name = "X,Y,Z", allow_hyphen_values = true)]
    to_center: Option<String>,
    /// Direction from its face into free space.
    #[arg(long, value_name = "X,Y,Z", allow_hyphen_values = true)]
    to_outward: Option<String>,
    /// Replace the file if it is there already.
    #[arg(long)]
    force: bool,
}

pub(super) fn run(arguments: &NewArguments) -> Result<(), Failure> {
    let shown = arguments.file.display().to_string();
    if !arguments.force && arguments.file.symlink_metadata().is_ok() {
        return Err(exists(&shown));
    }
    let starter = starter(arguments).map_err(|error| {
        Failure::one(
            &shown,
            error,
            "answer the questions, or give the flags that --help lists",
        )
    })?;
    let text = starter.to_json();
    let checked = read_job(text.as_bytes(), &shown);
    if !checked.errors.is_empty() {
        return Err(Failure::of(shown, checked.errors));
    }
    write(&arguments.file, &text, arguments.force)?;
    note(&format!(
        "wrote {shown}; put your measurements in, then: runwright check {shown}"
    ));
    Ok(())
}

fn exists(file: &str) -> Failure {
    Failure::one(
        file,
        "is there already",
        "choose another name, or add --force to replace it",
    )
}

fn write(place: &Path, text: &str, force: bool) -> Result<(), Failure> {
    let shown = place.display().to_string();
    let folder = place
        .parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or_else(|| Path::new("."));
    let Some(name) = place.file_name().and_then(|name| name.to_str()) else {
        return Err(Failure::one(
            shown,
            "is no file name",
            "give the name of a file to write",
        ));
    };
    write_all(folder, &[OutFile::new(name, text)], None, force).map_err(|error| match error {
        WriteError::Exists(_) => exists(&shown),
        other => Failure::one(
            "runwright",
            other,
            "choose another place, or check that it may be written to",
        ),
    })
}

/// A first job of what the flags say: asked for the rest at a terminal, elsewhere as usual.
fn starter(arguments: &NewArguments) -> io::Result<Starter> {
    let stdin = io::stdin();
    if stdin.is_terminal() {
        let mut asker = Asker {
            input: &mut stdin.lock(),
            output: &mut io::stderr(),
        };
        return asker.starter(|question| arguments.said(question));
    }
    let mut draft = first_draft(LengthUnit::In);
    for question in Question::ALL {
        // What will do otherwise is for the whole job to say, with its place.
        if let Some(flag) = arguments.said(question) {
            question
                .put(&flag, &mut draft)
                .map_err(|problem| io::Error::new(io::ErrorKind::InvalidInput, problem))?;
        }
    }
    Ok(draft)
}

impl NewArguments {
    /// What a flag says.
    fn said(&self, question: Question) -> Option<String> {
        let flag = match question {
            Question::Units => &self.units,
            Question::Od => &self.od,
            Question::Wall => &self.wall,
            Question::Material => &self.material,
            Question::FromName => &self.from,
            Question::FromCenter => &self.from_center,
            Question::FromOutward => &self.from_outward,
            Question::ToName => &self.to,
            Question::ToCenter => &self.to_center,
            Question::ToOutward => &self.to_outward,
            Question::Run => &self.run,
        };
        flag.clone()
    }
}
