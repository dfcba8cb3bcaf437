//! `runwright new`.

use super::message::{Failure, note};
use crate::export::{OutFile, WriteError, write_all};
use crate::job::{Starter, StarterPort, read_job};
use crate::units::{LengthUnit, parse_length};
use clap::Args;
use std::io::{self, BufRead, IsTerminal, Write};
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
    write_all(folder, &[OutFile::new(name, text)], None, force).map_err(|error| match error {
        WriteError::Exists(_) => exists(&shown),
        other => Failure::one(
            "runwright",
            other,
            "choose another place, or check that it may be written to",
        ),
    })
}

fn starter(arguments: &NewArguments, asker: &mut Asker) -> io::Result<Starter> {
    let units = asker.value(&arguments.units, "units (in, mm, cm, m, ft)", "in", &unit)?;
    let unit = LengthUnit::from_symbol(&units).unwrap_or(LengthUnit::In);
    let sizes = Sizes::in_unit(unit);
    let length = |text: &str| {
        parse_length(text, unit)
            .map(drop)
            .map_err(|error| error.to_string())
    };
    let from = asker.value(
        &arguments.from,
        "name of the port where flow enters",
        "outlet",
        &anything,
    )?;
    Ok(Starter {
        od: asker.value(&arguments.od, "tube outside diameter", sizes.od, &length)?,
        wall: asker.value(&arguments.wall, "tube wall", sizes.wall, &length)?,
        material: asker.value(&arguments.material, "material", "304", &anything)?,
        run: asker.value(&arguments.run, "name of the run", "run", &anything)?,
        from: StarterPort {
            name: from,
            center: asker.triple(&arguments.from_center, CENTER, "0,0,0", &length)?,
            outward: asker.triple(&arguments.from_outward, OUTWARD, "0,0,1", &direction)?,
        },
        to: StarterPort {
            name: asker.value(
                &arguments.to,
                "name of the port where flow leaves",
                "exit",
                &anything,
            )?,
            center: asker.triple(&arguments.to_center, CENTER, sizes.far, &length)?,
            outward: asker.triple(&arguments.to_outward, OUTWARD, "-1,0,0", &direction)?,
        },
        units,
    })
}

const CENTER: &str = "center of its face: x,y,z";
const OUTWARD: &str = "direction out of its face into free space: x,y,z";

/// Sizes that a first job starts from.
struct Sizes {
    od: &'static str,
    wall: &'static str,
    far: &'static str,
}

impl Sizes {
    const fn in_unit(unit: LengthUnit) -> Self {
        match unit {
            LengthUnit::In => Self {
                od: "2.5",
                wall: "0.065",
                far: "8.5,4,10",
            },
            LengthUnit::Ft => Self {
                od: "2.5 in",
                wall: "0.065 in",
                far: "8.5 in,4 in,10 in",
            },
            LengthUnit::Mm | LengthUnit::Cm | LengthUnit::M => Self {
                od: "63.5 mm",
                wall: "1.65 mm",
                far: "215 mm,100 mm,255 mm",
            },
        }
    }
}

/// Says what is wrong with an answer.
type Check<'a> = &'a dyn Fn(&str) -> Result<(), String>;

fn anything(text: &str) -> Result<(), String> {
    if text.is_empty() {
        Err("must not be empty".to_owned())
    } else {
        Ok(())
    }
}

fn unit(text: &str) -> Result<(), String> {
    match LengthUnit::from_symbol(text) {
        Some(_) => Ok(()),
        None => Err(format!("{text:?} is no unit: in, mm, cm, m or ft")),
    }
}

fn direction(text: &str) -> Result<(), String> {
    text.parse::<f64>()
        .map(drop)
        .map_err(|_| format!("{text:?} is no number"))
}

/// Takes a flag's value, else asks until the answer will do, else the default.
///
/// A flag's value is not checked here: the job that is made of it is, with its place.
struct Asker {
    input: Option<Box<dyn BufRead>>,
}

impl Asker {
    fn value(
        &mut self,
        given: &Option<String>,
        question: &str,
        default: &str,
        check: Check<'_>,
    ) -> io::Result<String> {
        if let Some(given) = given {
            return Ok(given.trim().to_owned());
        }
        let Some(input) = &mut self.input else {
            return Ok(default.to_owned());
        };
        let mut err = io::stderr();
        loop {
            write!(err, "{question} [{default}]: ")?;
            err.flush()?;
            let mut answer = String::new();
            if input.read_line(&mut answer)? == 0 {
                return Err(io::Error::new(
                    io::ErrorKind::UnexpectedEof,
                    "the answers ended; nothing was written",
                ));
            }
            let answer = answer.trim();
            let answer = if answer.is_empty() { default } else { answer };
            match check(answer) {
                Ok(()) => return Ok(answer.to_owned()),
                Err(problem) => writeln!(err, "{problem}")?,
            }
        }
    }

    /// Three values apart by commas.
    fn triple(
        &mut self,
        given: &Option<String>,
        question: &str,
        default: &str,
        check: Check<'_>,
    ) -> io::Result<[String; 3]> {
        let split = |text: &str| -> Result<[String; 3], String> {
            let parts: Vec<String> = text.split(',').map(|part| part.trim().to_owned()).collect();
            <[String; 3]>::try_from(parts).map_err(|parts| {
                format!(
                    "{text:?} has {} values: give three, with commas between",
                    parts.len()
                )
            })
        };
        let each = |text: &str| split(text)?.iter().try_for_each(|part| check(part));
        let text = self.value(given, question, default, &each)?;
        split(&text).map_err(|problem| {
            io::Error::new(
                io::ErrorKind::InvalidInput,
                format!("{question}: {problem}"),
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asker(answers: &'static str) -> Asker {
        Asker {
            input: Some(Box::new(io::Cursor::new(answers))),
        }
    }

    #[test]
    fn questions_take_answers_and_defaults() {
        let mut asker = asker("mm\n\n");
        assert_eq!(asker.value(&None, "units", "in", &unit).unwrap(), "mm");
        assert_eq!(asker.value(&None, "od", "63.5", &anything).unwrap(), "63.5");
        assert_eq!(
            asker
                .value(&Some("x".into()), "name", "run", &anything)
                .unwrap(),
            "x"
        );
    }

    #[test]
    fn a_bad_answer_is_asked_again() {
        let mut asker = asker("inches\nin\n1,2\n1,b,3\n1, 2, 3\n");
        assert_eq!(asker.value(&None, "units", "mm", &unit).unwrap(), "in");
        assert_eq!(
            asker.triple(&None, "outward", "0,0,1", &direction).unwrap(),
            ["1", "2", "3"]
        );
    }

    #[test]
    fn the_end_of_answers_ends_the_questions() {
        assert!(asker("").value(&None, "units", "in", &unit).is_err());
    }

    #[test]
    fn a_flag_with_two_values_is_refused() {
        let mut asker = Asker { input: None };
        assert!(
            asker
                .triple(&Some("1,2".into()), "center", "0,0,0", &anything)
                .is_err()
        );
    }
}
