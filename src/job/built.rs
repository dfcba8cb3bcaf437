//! [`Built`]: what was built of a run, as the file has it, checked.

use super::built_file::{BuiltEndFile, BuiltFile, FitUpFile, GapFile, built_schema};
use super::file_kind::FileKind;
use super::file_values::{Quantity, Text};
use super::job::Job;
use super::measured::Bench;
use super::parse::{MAX_JOB_BYTES, MOST_JOB_VALUES, shape, unknown_keys};
use super::path::Path;
use super::problem::Problem;
use super::surveyed::PortSurvey;
use super::tree;
use super::values::{Reader, Sign};
use super::words::{kind, nearest};
use crate::closure::{FitUp, Side, Station, Widths};
use crate::geometry::{Point, Vector};
use crate::route::Task;
use crate::run::Port;
use crate::shop::Accuracy;
use crate::survey::{MOST_READINGS, Observed};
use crate::tube::{Cut, Tube};
use crate::units::{Angle, Length, LengthUnit, Style};
use serde_json::Value;

/// Most joints of a plan.
const MOST_JOINTS: u32 = 1000;

/// What a tube that is not known is taken to be while the rest is read.
const LIKELY_OD: Length = Length::from_inches(2.5);

/// Fewest and most widths that may be given at even clocks.
const EVEN: [usize; 2] = [4, 24];

/// A file that says what was built, read as far as it goes without the files it names.
pub struct BuiltOrder {
    file: BuiltFile,
    known_bad: Vec<Path>,
    problems: Vec<Problem>,
    /// The job's file, if it names one.
    pub job: Option<String>,
    /// The plan's file, if it names one.
    pub plan: Option<String>,
}

/// What was built of a run, and what the piece that closes it must keep.
#[derive(Clone, Debug, PartialEq)]
pub struct Built {
    /// How the shop writes numbers.
    pub style: Style,
    /// The run's limits, rates, tube and what is in its way; its ports as planned, where
    /// there is a job.
    pub task: Task,
    /// How well the shop works.
    pub accuracy: Accuracy,
    /// The run's name, if it is said.
    pub run: Option<String>,
    /// The piece that was left for last, from 1, if it is said.
    pub piece: Option<usize>,
    /// Joints that are tacked and not welded, and may be turned.
    pub tacked: Vec<usize>,
    /// Joints that were welded when it was measured.
    pub welded: Welded,
    /// What was measured.
    pub measured: Opening,
    /// What the piece must keep.
    pub fit_up: FitUp,
    /// Whether its root gap is said, and not taken from gap and shrinkage.
    pub says_root_gap: bool,
    /// Whether the widths of a gap come with the cut that the piece starts at.
    pub says_gap_cut: bool,
    /// Whether there is a job, so that the task's ports are the run's.
    pub has_job: bool,
}

/// Which joints were welded when a run was measured.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Welded {
    /// None: all were tacked.
    None,
    /// All that are not listed as tacked.
    All,
    /// These.
    Joints(Vec<usize>),
}

impl Built {
    /// Whether a joint was welded when the run was measured.
    pub fn is_welded(&self, joint: usize) -> bool {
        match &self.welded {
            Welded::None => false,
            Welded::All => !self.tacked.contains(&joint),
            Welded::Joints(joints) => joints.contains(&joint),
        }
    }
}

/// What was measured of a gap.
#[derive(Clone, Debug, PartialEq)]
pub enum Opening {
    /// Two ends; `None` for a port that nothing is built from.
    Ends(Box<[Option<BuiltEndSurvey>; 2]>),
    /// Its widths, and where in the file they are.
    Widths(Widths, Path),
}

/// What was measured of a built end.
#[derive(Clone, Debug, PartialEq)]
pub struct BuiltEndSurvey {
    /// The readings.
    pub survey: PortSurvey,
    /// How it is cut.
    pub cut: BuiltCut,
    /// The plan's joint that it is at, if it is said.
    pub joint: Option<usize>,
    /// Rim points, in order.
    pub rim: Vec<Point>,
    /// Where in the file it is.
    pub path: Path,
}

/// How a built end is cut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BuiltCut {
    /// As the plan has it; square without job and plan.
    Planned,
    /// Square.
    Square,
    /// On a plane at an angle that is not known.
    Miter,
    /// At an angle that the saw was set to.
    At(Angle),
    /// On no plane.
    Ragged,
}

/// Reads the bytes of a file that says what was built, or everything that is wrong with
/// its form.
pub fn read_built(bytes: &[u8]) -> Result<BuiltOrder, Vec<Problem>> {
    let one = |message: String, help: &str| vec![Problem::of_file(message, help)];
    if bytes.len() as u64 > MAX_JOB_BYTES {
        let message = format!("is {} bytes: too large for measurements", bytes.len());
        return Err(one(
            message,
            "is this a scan? Touch the ends themselves: see the README, 'Closing the gap'",
        ));
    }
    if bytes.trim_ascii().is_empty() {
        let help =
            "write { \"job\": …, \"before\": …, \"after\": … }: see the README, 'Closing the gap'";
        return Err(one("is empty".to_owned(), help));
    }
    let (mut value, mut problems) =
        tree::parse_up_to(bytes, MOST_JOB_VALUES).map_err(|problem| vec![problem])?;
    if !value.is_object() {
        let message = format!("holds {}, not what was built", kind(&value));
        let help = "write { \"job\": …, \"plan\": …, \"before\": …, \"after\": … }";
        return Err(one(message, help));
    }
    let other = FileKind::of(&value).and_then(|kind| kind.in_place_of(FileKind::Built));
    if let Some(problem) = other {
        return Err(vec![problem]);
    }
    let (file, known_bad) = shape::<BuiltFile>(&mut value, &mut problems);
    problems.extend(unknown_keys(&built_schema(), &value, &Path::root()));
    let name = |text: &Option<Text>| Some(text.as_ref()?.0.as_str()?.to_owned());
    Ok(BuiltOrder {
        job: name(&file.job),
        plan: name(&file.plan),
        file,
        known_bad,
        problems,
    })
}

impl BuiltOrder {
    /// Checks everything, with the job that it names; warnings beside it.
    pub fn build(self, job: Option<&Job>) -> (Result<Built, Vec<Problem>>, Vec<Problem>) {
        let unit = self
            .file
            .units
            .as_ref()
            .and_then(|text| LengthUnit::from_symbol(text.0.as_str()?));
        let of_job = job.map(|job| job.style.unit);
        let fallback = unit.or(of_job).unwrap_or(LengthUnit::Mm);
        let mut reader = Reader::new(fallback, &self.known_bad);
        reader.errors = self.problems;
        let built = reader.built(&self.file, job);
        let built = match built {
            Some(built) if reader.errors.is_empty() => Ok(built),
            _ => Err(reader.errors),
        };
        (built, reader.warnings)
    }
}

impl Reader<'_> {
    fn built(&mut self, file: &BuiltFile, job: Option<&Job>) -> Option<Built> {
        let root = Path::root();
        if file.units.is_some() || job.is_none() {
            self.check_unit(file.units.as_ref());
        }
        self.file_names(file);
        let run = match &file.run {
            Some(text) => Some(self.text(text, &root.key("run"))?),
            None => None,
        };
        let bench = self.bench_of(file, job);
        let task = self.task_of(file, job, run.as_deref());
        let tacked = self.numbers(file.tacked.as_deref(), &root.key("tacked"));
        let welded = self.welded(file.welded.as_ref(), &root.key("welded"));
        let piece = self.number_of(file.piece.as_ref(), &root.key("piece"), 1);
        // Each is read for its problems, whether the others are sound or not.
        let od = task.as_ref().map_or(LIKELY_OD, |task| task.tube.od());
        let measured = self.opening(file, &bench.unwrap_or_else(Bench::usual), od);
        let task = task?;
        let fit_up = self.fit_up(file.fit_up.as_ref(), &root.key("fit_up"), &task);
        Some(Built {
            style: job.map_or_else(|| Style::new(self.unit), |job| job.style),
            accuracy: job.map(|job| job.accuracy).unwrap_or_default(),
            task,
            run,
            piece: piece?,
            tacked: tacked?,
            welded: welded?,
            measured: measured?,
            fit_up: fit_up?,
            says_root_gap: file.fit_up.as_ref().is_some_and(|own| own.gap.is_some()),
            says_gap_cut: file.gap.as_ref().is_some_and(|gap| gap.cut.is_some()),
            has_job: job.is_some(),
        })
    }

    fn file_names(&mut self, file: &BuiltFile) {
        let root = Path::root();
        for (text, key) in [(&file.job, "job"), (&file.plan, "plan")] {
            if let Some(text) = text {
                self.text(text, &root.key(key));
            }
        }
    }

    /// The job's tools and pins, or the file's own.
    fn bench_of(&mut self, file: &BuiltFile, job: Option<&Job>) -> Option<Bench> {
        let root = Path::root();
        let Some(job) = job else {
            let (up, ahead) = (file.up.as_ref(), file.ahead.as_ref());
            return self.bench(file.measuring.as_ref(), file.pins.as_ref(), up, ahead);
        };
        for (given, key) in [
            (file.pins.is_some(), "pins"),
            (file.up.is_some(), "up"),
            (file.ahead.is_some(), "ahead"),
            (file.tube.is_some(), "tube"),
        ] {
            if given {
                let help = "leave it out here, or leave out 'job'";
                self.error(&root.key(key), "is the job's to say", help);
            }
        }
        let mut bench = job.bench.clone();
        if file.measuring.is_some() {
            let own = self.bench(file.measuring.as_ref(), None, None, None)?;
            bench.measuring = own.measuring;
        }
        self.measuring = bench.measuring;
        Some(bench)
    }

    /// Limits, rates and tube: of the job's run, or of a bare tube.
    fn task_of(&mut self, file: &BuiltFile, job: Option<&Job>, run: Option<&str>) -> Option<Task> {
        let root = Path::root();
        let Some(job) = job else {
            let path = root.key("tube");
            let tube = self.required(&file.tube, &path, "{ \"od\": …, \"wall\": … }, or 'job'")?;
            return Some(bare(self.tube(tube, &path)?));
        };
        let names: Vec<String> = job.runs.iter().map(|run| run.name.clone()).collect();
        let found = match run {
            Some(name) => job.runs.iter().find(|run| run.name == name),
            None if job.runs.len() == 1 => job.runs.first(),
            None => {
                let help = format!("add \"run\": one of {}", names.join(", "));
                return self.fail(
                    &root.key("run"),
                    "is missing: the job has several runs",
                    help,
                );
            }
        };
        match found {
            Some(run) => Some(run.task.clone()),
            None => {
                let name = run.unwrap_or_default();
                let message = format!("there is no run named '{name}' in the job");
                self.fail(&root.key("run"), message, nearest(name, &names))
            }
        }
    }

    fn fit_up(&mut self, file: Option<&FitUpFile>, path: &Path, task: &Task) -> Option<FitUp> {
        let none = FitUpFile::default();
        let file = file.unwrap_or(&none);
        // As for planned pieces: what the two welds pull together is not left open.
        let planned = task.allowance.root();
        let gap = self.small_or(&file.gap, &path.key("gap"), planned)?;
        let usual = FitUp::usual(&task.tube, &task.limits, task.rates, gap);
        let high_low = self.small_or(&file.high_low, &path.key("high_low"), usual.high_low);
        let shave = self.small_or(&file.shave, &path.key("shave"), usual.shave);
        let high_low = high_low?;
        if file.high_low.is_some() && high_low <= Length::ZERO {
            let help = "half of the wall is usual";
            return self.fail(&path.key("high_low"), "must be more than 0", help);
        }
        Some(FitUp {
            high_low,
            shave: shave?,
            ..usual
        })
    }

    fn opening(&mut self, file: &BuiltFile, bench: &Bench, od: Length) -> Option<Opening> {
        let root = Path::root();
        let path = root.key("gap");
        if let Some(gap) = &file.gap {
            for (given, key) in [
                (file.before.is_some(), "before"),
                (file.after.is_some(), "after"),
            ] {
                if given {
                    let help = "give either the gap's widths, or the two ends";
                    self.error(&root.key(key), "stands beside 'gap'", help);
                }
            }
            let list = if gap.widths.is_some() {
                "widths"
            } else {
                "stations"
            };
            let widths = self.widths(gap, &path, bench)?;
            return Some(Opening::Widths(widths, path.key(list)));
        }
        if file.before.is_none() && file.after.is_none() {
            let help = "add 'before' and 'after' with what was measured of each, or 'gap'";
            return self.fail(&root, "says nothing of what was built", help);
        }
        let mut end = |end: &Option<BuiltEndFile>, side: Side| match end {
            Some(end) => self
                .built_end(end, &root.key(side.word()), side, bench, od)
                .map(Some),
            None => Some(None),
        };
        let ends = [
            end(&file.before, Side::Before),
            end(&file.after, Side::After),
        ];
        let [before, after] = ends;
        Some(Opening::Ends(Box::new([before?, after?])))
    }

    fn built_end(
        &mut self,
        file: &BuiltEndFile,
        path: &Path,
        side: Side,
        bench: &Bench,
        od: Length,
    ) -> Option<BuiltEndSurvey> {
        let cut = self.cut_of(file.cut.as_ref(), &path.key("cut"));
        let joint = self.number_of(file.joint.as_ref(), &path.key("joint"), 0);
        let place = path.key("measured");
        let example = "{ \"rim\": [ … ], \"toward\": … }";
        let measured = self.required(&file.measured, &place, example);
        let mut measured = self.measured(measured?, &place, bench)?;
        if let Some(rim) = &measured.rim {
            let help = "measure the end itself: what a scan shows is not what was built since";
            return self.fail(&rim.path, "picks a rim from a scan", help);
        }
        let rim: Vec<Point> = measured
            .readings
            .list
            .iter()
            .filter_map(|reading| match reading.what {
                Observed::OnRim { at, .. } => Some(at),
                _ => None,
            })
            .collect();
        let known = |what: &Observed| matches!(what, Observed::RimRadius { .. });
        if !measured
            .readings
            .list
            .iter()
            .any(|reading| known(&reading.what))
        {
            let good_to = bench.measuring.caliper / 2.0;
            let radius = od / 2.0;
            let what = Observed::RimRadius { radius, good_to };
            measured.add("the tube's diameter", what, path.clone());
        }
        if measured.readings.list.len() > MOST_READINGS {
            let message = format!("holds {} readings", measured.readings.list.len());
            return self.fail(&place, message, format!("give at most {MOST_READINGS}"));
        }
        let name = format!("the end {} the gap", side.word());
        Some(BuiltEndSurvey {
            survey: PortSurvey::new(&name, measured, path.clone()),
            cut: cut?,
            joint: joint?,
            rim,
            path: path.clone(),
        })
    }

    fn cut_of(&mut self, value: Option<&Quantity>, path: &Path) -> Option<BuiltCut> {
        const WORDS: [(&str, BuiltCut); 4] = [
            ("planned", BuiltCut::Planned),
            ("square", BuiltCut::Square),
            ("miter", BuiltCut::Miter),
            ("ragged", BuiltCut::Ragged),
        ];
        let Some(value) = value else {
            return Some(BuiltCut::Planned);
        };
        if let Some(text) = value.0.as_str() {
            if let Some((_, cut)) = WORDS.iter().find(|(word, _)| *word == text) {
                return Some(*cut);
            }
            if !text.contains(|c: char| c.is_ascii_digit()) {
                let words: Vec<String> = WORDS.iter().map(|(word, _)| (*word).to_owned()).collect();
                return self.fail(path, format!("is {text:?}"), nearest(text, &words));
            }
        }
        let angle = self.cut_angle(value, path)?;
        Some(if angle == Angle::ZERO {
            BuiltCut::Square
        } else {
            BuiltCut::At(angle)
        })
    }

    /// A saw angle off square.
    fn cut_angle(&mut self, value: &Quantity, path: &Path) -> Option<Angle> {
        let angle = self.angle_or(&Some(value.clone()), path, Angle::ZERO)?;
        if !(Angle::ZERO..Angle::QUARTER / 2.0).contains(&angle) {
            let help = "give the saw's angle off square, such as \"8.31 deg\"";
            return self.fail(path, "must be from 0° to less than 45°", help);
        }
        Some(angle)
    }

    fn widths(&mut self, file: &GapFile, path: &Path, bench: &Bench) -> Option<Widths> {
        let usual = bench.measuring.point;
        let good_to = self.deviation(&file.good_to, &path.key("good_to"), usual);
        let ragged = self.flag(&file.ragged, &path.key("ragged"));
        let before = self.cut_before(file, path);
        let stations = self.stations(file, path);
        Some(Widths {
            stations: stations?,
            good_to: good_to?,
            before: before?,
            ragged: ragged?,
        })
    }

    fn cut_before(&mut self, file: &GapFile, path: &Path) -> Option<Cut> {
        let angle = match &file.cut {
            Some(value) => self.cut_angle(value, &path.key("cut"))?,
            None => Angle::ZERO,
        };
        let clock = self.angle_or(&file.long_side, &path.key("long_side"), Angle::ZERO)?;
        if angle > Angle::ZERO && file.long_side.is_none() {
            let help = "add the clock, by the stations' own, of the side at which the closing piece is longest there";
            return self.fail(&path.key("long_side"), "is missing", help);
        }
        Some(if angle == Angle::ZERO {
            Cut::SQUARE
        } else {
            Cut {
                angle,
                clock: clock.wrapped(),
            }
        })
    }

    fn stations(&mut self, file: &GapFile, path: &Path) -> Option<Vec<Station>> {
        match (&file.widths, &file.stations) {
            (Some(widths), None) => {
                let path = path.key("widths");
                let count = widths.len();
                if !(EVEN[0]..=EVEN[1]).contains(&count) {
                    let message = format!("has {count} entries");
                    let help = format!(
                        "measure at {} to {} stations round the tube",
                        EVEN[0], EVEN[1]
                    );
                    return self.fail(&path, message, help);
                }
                let read = self.each(widths, &path, |reader, width, path| {
                    reader.length(width, path, Sign::Positive)
                })?;
                let clock = |i: usize| Angle::FULL * (i as f64 / count as f64);
                let stations = read.into_iter().enumerate();
                Some(
                    stations
                        .map(|(i, width)| Station {
                            clock: clock(i),
                            width,
                        })
                        .collect(),
                )
            }
            (None, Some(stations)) => {
                self.each(stations, &path.key("stations"), |reader, at, path| {
                    let clock = reader.required(&at.clock, &path.key("clock"), "degrees");
                    let clock = clock.cloned();
                    let clock = reader.angle_or(&Some(clock?), &path.key("clock"), Angle::ZERO);
                    let width = reader.required(&at.width, &path.key("width"), "from rim to rim");
                    let width = reader.length(width?, &path.key("width"), Sign::Positive);
                    Some(Station {
                        clock: clock?.wrapped(),
                        width: width?,
                    })
                })
            }
            (Some(_), Some(_)) => {
                self.fail(path, "has both 'widths' and 'stations'", "give one of them")
            }
            (None, None) => {
                let help = "add \"widths\": one for each of 4 to 24 stations round the tube";
                self.fail(path, "has no widths", help)
            }
        }
    }

    fn number_of(
        &mut self,
        value: Option<&Quantity>,
        path: &Path,
        least: u32,
    ) -> Option<Option<usize>> {
        match value {
            None => Some(None),
            Some(value) => {
                let number = self.count(value, path, least, MOST_JOINTS)?;
                Some(Some(number as usize))
            }
        }
    }

    fn welded(&mut self, value: Option<&Quantity>, path: &Path) -> Option<Welded> {
        let help = "write true, false, or the numbers of the joints that were welded";
        match value.map(|value| &value.0) {
            None | Some(Value::Bool(false)) => Some(Welded::None),
            Some(Value::Bool(true)) => Some(Welded::All),
            Some(Value::Array(list)) => {
                let list: Vec<Quantity> = list.iter().cloned().map(Quantity).collect();
                self.numbers(Some(&list), path).map(Welded::Joints)
            }
            Some(other) => self.fail(path, format!("is {}", kind(other)), help),
        }
    }

    fn numbers(&mut self, values: Option<&[Quantity]>, path: &Path) -> Option<Vec<usize>> {
        self.each(values.unwrap_or_default(), path, |reader, value, path| {
            reader
                .count(value, path, 0, MOST_JOINTS)
                .map(|n| n as usize)
        })
    }
}

/// What a shop usually does with a bare tube between ends that are not known yet.
fn bare(tube: Tube) -> Task {
    let port = |name: &str, at: f64| {
        let center = Point::from(Vector::new(0.0, 0.0, at));
        let axis = Vector::z_axis();
        let outward = if at > 0.0 { -axis } else { axis };
        Port::new(name, center, outward)
    };
    Task::new(tube, port("before", 0.0), port("after", 1000.0))
}
