//! Distances from a scanned mesh: one question a line on the standard input, one answer
//! a line on the standard output. What the reference checks talk to, and an example of
//! how `scan` is used.
//!
//! Run: cargo run --example distances -- FILE UNIT [--drop PATTERN]... [--time]
//!
//! FILE is an STL, PLY or OBJ, packed by gzip or not; UNIT is the length of one unit of
//! it, as "mm", "m", "in" or "0.9 in"; PATTERN names groups to leave out (`*` stands for
//! anything). Questions, in mm:
//!
//! ```text
//! point x y z
//! segment x y z x y z
//! tube x y z x y z r        a cylinder with flat ends between two points
//! drum c a b c a b          the convex hull of two ellipses: middle and half axes
//! run JOB.json              the outside of all runs of a job, planned first
//! ```
//!
//! Each answer is the distance and the nearest place on the mesh and on the body, seven
//! numbers that read back as the same doubles. Where they cross, the distance is 0 and
//! the places are only near. With `--time`, a line of JSON on the standard error tells how
//! long reading, indexing and each kind of question took on one core (reading questions
//! and writing answers not counted).

use runwright::geometry::{Direction, Point, Vector, perpendicular};
use runwright::job::read_job;
use runwright::plan::plan;
use runwright::scan::{Drum, Ellipse, Surface, Wanted, read_mesh};
use runwright::units::{Length, LengthUnit, parse_length};
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::process::ExitCode;
use std::time::{Duration, Instant};

/// What is asked.
enum Question {
    Point(Point),
    /// The nearest of several bodies.
    Bodies(Vec<Drum>),
}

/// The distance and where it is: on the mesh, on the body.
type Answer = (f64, [Point; 2]);
/// For each kind of question how many there were and how long they took.
type Times = BTreeMap<String, (usize, Duration)>;

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(problem) => {
            eprintln!("distances: {problem}");
            ExitCode::FAILURE
        }
    }
}

fn run() -> Result<(), String> {
    let (file, wanted, time) = arguments()?;
    let begun = Instant::now();
    let source = File::open(&file).map_err(|error| format!("{file}: {error}"))?;
    let reading = read_mesh(&file, source, &wanted).map_err(|error| format!("{file}: {error}"))?;
    if let Some(pattern) = reading.unused_patterns.first() {
        return Err(format!("{file}: no group fits `{pattern}`"));
    }
    let load = begun.elapsed();
    let begun = Instant::now();
    let surface = Surface::new(reading.mesh);
    let index = begun.elapsed();
    let mut questions = Vec::new();
    for line in io::stdin().lines() {
        let line = line.map_err(|error| error.to_string())?;
        questions.push(question(&line).ok_or_else(|| format!("cannot read: {line}"))?);
    }
    let (answers, times) = answer_all(&surface, &questions);
    write(&answers).map_err(|error| error.to_string())?;
    if time {
        eprintln!("{}", report(&surface, load, index, &times));
    }
    Ok(())
}

fn arguments() -> Result<(String, Wanted, bool), String> {
    const USAGE: &str = "usage: distances FILE UNIT [--drop PATTERN]... [--time]";
    let mut arguments = std::env::args().skip(1);
    let (file, unit) = arguments.next().zip(arguments.next()).ok_or(USAGE)?;
    // A name such as "m" is one of them; anything else has a number before it.
    let unit = match LengthUnit::from_symbol(&unit) {
        Some(unit) => Length::from_unit(1.0, unit),
        None => parse_length(&unit, LengthUnit::Mm).map_err(|error| format!("UNIT {error}"))?,
    };
    let (mut wanted, mut time) = (Wanted::all(unit), false);
    while let Some(argument) = arguments.next() {
        match argument.as_str() {
            "--drop" => wanted.drop.push(arguments.next().ok_or(USAGE)?),
            "--time" => time = true,
            _ => return Err(USAGE.to_owned()),
        }
    }
    Ok((file, wanted, time))
}

/// A line and what kind of question it is.
fn question(line: &str) -> Option<(String, Question)> {
    let (kind, rest) = line.trim().split_once(' ')?;
    let question = if kind == "run" {
        Question::Bodies(outside(rest)?)
    } else {
        let numbers: Result<Vec<f64>, _> = rest.split_whitespace().map(str::parse).collect();
        shape(kind, &numbers.ok()?)?
    };
    Some((kind.to_owned(), question))
}

/// A point or body by its numbers.
fn shape(kind: &str, numbers: &[f64]) -> Option<Question> {
    let at = |i: usize| Point::from_slice(&numbers[3 * i..][..3]);
    let one = |drum| Some(Question::Bodies(vec![drum]));
    match (kind, numbers.len()) {
        ("point", 3) => Some(Question::Point(at(0))),
        ("segment", 6) => one(Drum::segment(at(0), at(1))),
        ("tube", 7) => one(tube(at(0), at(1), numbers[6])),
        ("drum", 18) => one(Drum {
            ends: [0, 3].map(|i| Ellipse {
                center: at(i),
                half: [at(i + 1).coords, at(i + 2).coords],
            }),
        }),
        _ => None,
    }
}

/// A cylinder with flat ends.
fn tube(start: Point, end: Point, radius: f64) -> Drum {
    let axis = Direction::try_new(end - start, 0.0).unwrap_or(Vector::x_axis());
    let u = perpendicular(&axis);
    let half = [u.into_inner(), axis.cross(&u)].map(|half| half * radius);
    Drum {
        ends: [start, end].map(|center| Ellipse { center, half }),
    }
}

/// What all runs of a job sweep.
fn outside(job: &str) -> Option<Vec<Drum>> {
    let job = read_job(&fs::read(job).ok()?, "job").job?;
    let runs = plan(&job).ok()?.runs;
    let stretches = runs
        .iter()
        .flat_map(|planned| planned.solution.best.run.swept(Length::ZERO, Length::ZERO));
    Some(stretches.map(|stretch| stretch.body).collect())
}

/// The answers, and what they took.
fn answer_all(surface: &Surface, questions: &[(String, Question)]) -> (Vec<Option<Answer>>, Times) {
    let mut times = Times::new();
    let mut answers = Vec::with_capacity(questions.len());
    // Questions of a kind that come one after the other are timed together: looking at
    // the clock takes as long as a tenth of an answer.
    for same in questions.chunk_by(|a, b| a.0 == b.0) {
        let begun = Instant::now();
        answers.extend(same.iter().map(|(_, question)| answer(surface, question)));
        let (count, time) = times.entry(same[0].0.clone()).or_default();
        *count += same.len();
        *time += begun.elapsed();
    }
    (answers, times)
}

/// Where the surface comes nearest; `None` only for numbers that are none.
fn answer(surface: &Surface, question: &Question) -> Option<Answer> {
    match question {
        Question::Point(point) => {
            let nearest = surface.nearest(point, f64::INFINITY)?;
            Some((nearest.distance, [nearest.at, *point]))
        }
        Question::Bodies(bodies) => {
            let mut best: Option<Answer> = None;
            for body in bodies {
                // What was found bounds what is still worth looking for.
                let within = best.map_or(f64::INFINITY, |(distance, _)| distance);
                if let Some(found) = surface.contact(body, within) {
                    best = Some((found.distance, [found.on_surface, found.on_body]));
                }
            }
            best
        }
    }
}

fn write(answers: &[Option<Answer>]) -> io::Result<()> {
    let mut out = io::BufWriter::new(io::stdout().lock());
    for answer in answers {
        match answer {
            Some((distance, [surface, body])) => {
                write!(out, "{distance}")?;
                for number in surface.iter().chain(body.iter()) {
                    write!(out, " {number}")?;
                }
                writeln!(out)?;
            }
            None => writeln!(out, "none")?,
        }
    }
    out.flush()
}

fn report(surface: &Surface, load: Duration, index: Duration, times: &Times) -> serde_json::Value {
    let questions = times.iter().map(|(kind, (count, time))| {
        let per_second = *count as f64 / time.as_secs_f64();
        (kind.clone(), serde_json::Value::from(per_second))
    });
    serde_json::json!({
        "triangles": surface.mesh().triangles.len(),
        "load_s": load.as_secs_f64(),
        "index_s": index.as_secs_f64(),
        "memory_bytes": surface.memory(),
        "per_second": questions.collect::<serde_json::Map<_, _>>(),
    })
}
