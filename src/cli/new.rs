//! `runwright new`.

use super::message::{Failure, note};
use crate::export::{OutFile, WriteError, write_all};
use crate::job::{Starter, StarterPort, read_job};
use clap::Args;
use std::io::{BufRead, IsTerminal, Write};
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
    let stdin = std::io::stdin();
    let input: Option<Box<dyn BufRead>> = if stdin.is_terminal() {
        Some(Box::new(stdin.lock()))
    } else {
        None
    };
    let starter = starter(arguments, &mut Asker { input }).map_err(|error| {
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
    write_all(folder, &[OutFile::new(name, text)], force).map_err(|error| match error {
        WriteError::Exists(_) => exists(&shown),
        WriteError::Io { .. } => Failure::one(
            "runwright",
            error,
            "check that the folder may be written to",
        ),
    })
}

fn starter(arguments: &NewArguments, asker: &mut Asker) -> std::io::Result<Starter> {
    let units = asker.value(&arguments.units, "units (in, mm)", "in")?;
    let imperial = units == "in" || units == "ft";
    let (od, wall, far) = if imperial {
        ("2.5", "0.065", ["8.5", "4", "10"])
    } else {
        ("63.5", "1.65", ["215", "100", "255"])
    };
    let far = far.join(",");
    let od = asker.value(&arguments.od, "tube outside diameter", od)?;
    let wall = asker.value(&arguments.wall, "tube wall", wall)?;
    let material = asker.value(&arguments.material, "material", "304")?;
    let run = asker.value(&arguments.run, "name of the run", "run")?;
    let from = StarterPort {
        name: asker.value(
            &arguments.from,
            "name of the port where flow enters",
            "outlet",
        )?,
        center: asker.triple(&arguments.from_center, "center of its face: x,y,z", "0,0,0")?,
        outward: asker.triple(
            &arguments.from_outward,
            "direction out of its face: x,y,z",
            "0,0,1",
        )?,
    };
    let to = StarterPort {
        name: asker.value(&arguments.to, "name of the port where flow leaves", "exit")?,
        center: asker.triple(&arguments.to_center, "center of its face: x,y,z", &far)?,
        outward: asker.triple(
            &arguments.to_outward,
            "direction out of its face: x,y,z",
            "-1,0,0",
        )?,
    };
    Ok(Starter {
        units,
        od,
        wall,
        material,
        run,
        from,
        to,
    })
}

/// Takes a flag's value, else asks if there is someone to ask, else the default.
struct Asker {
    input: Option<Box<dyn BufRead>>,
}

impl Asker {
    fn value(
        &mut self,
        given: &Option<String>,
        question: &str,
        default: &str,
    ) -> std::io::Result<String> {
        if let Some(given) = given {
            return Ok(given.trim().to_owned());
        }
        let Some(input) = &mut self.input else {
            return Ok(default.to_owned());
        };
        let mut err = std::io::stderr();
        write!(err, "{question} [{default}]: ")?;
        err.flush()?;
        let mut answer = String::new();
        input.read_line(&mut answer)?;
        let answer = answer.trim();
        Ok(if answer.is_empty() { default } else { answer }.to_owned())
    }

    /// Three values apart by commas; a wrong count is asked again, or an error where
    /// nobody can be asked.
    fn triple(
        &mut self,
        given: &Option<String>,
        question: &str,
        default: &str,
    ) -> std::io::Result<[String; 3]> {
        loop {
            let text = self.value(given, question, default)?;
            let parts: Vec<String> = text.split(',').map(|part| part.trim().to_owned()).collect();
            match <[String; 3]>::try_from(parts) {
                Ok(triple) => return Ok(triple),
                Err(parts) if given.is_some() || self.input.is_none() => {
                    let message =
                        format!("{question}: {text:?} has {} values, not three", parts.len());
                    return Err(std::io::Error::new(
                        std::io::ErrorKind::InvalidInput,
                        message,
                    ));
                }
                Err(_) => writeln!(std::io::stderr(), "three values, apart by commas")?,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn questions_take_answers_and_defaults() {
        let answers = std::io::Cursor::new("mm\n\n1,2\n1, 2, 3\n");
        let mut asker = Asker {
            input: Some(Box::new(answers)),
        };
        assert_eq!(asker.value(&None, "units", "in").unwrap(), "mm");
        assert_eq!(asker.value(&None, "od", "63.5").unwrap(), "63.5");
        assert_eq!(asker.value(&Some("x".into()), "name", "run").unwrap(), "x");
        assert_eq!(
            asker.triple(&None, "center", "0,0,0").unwrap(),
            ["1", "2", "3"]
        );
    }

    #[test]
    fn a_flag_with_two_values_is_refused() {
        let mut asker = Asker { input: None };
        assert!(
            asker
                .triple(&Some("1,2".into()), "center", "0,0,0")
                .is_err()
        );
    }
}
