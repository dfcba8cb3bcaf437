//! [`Session`]: what is open, what was found, and what is chosen.

use super::corner::{Corner, Drag};
use super::cutting::Cutting;
use super::document::Document;
use super::field::Field;
use super::opened::{Opened, open};
use super::order::{Found, Nearness, Order};
use super::saving::{Exporting, Wish};
use super::shown::Shown;
use super::step::{PieceAt, Step, done, steps};
use super::view::View;
use super::worker::{Progress, Report, Worker};
use runwright::geometry::Point;
use runwright::job::{Job, Path as Place, Problem, Starter, StarterPort, Step as Down, read_job};
use runwright::plan::Plan;
use runwright::route::{Candidate, Effort, Reason, Task};
use runwright::units::LengthUnit;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::time::{Duration, Instant};

/// Something to be told, until it is read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// What.
    pub text: String,
    /// Whether it is bad news.
    pub is_bad: bool,
    /// When it was told.
    pub since: Instant,
}

/// How long good news stay.
const READ: Duration = Duration::from_secs(8);

impl Notice {
    fn new(text: String, is_bad: bool) -> Self {
        Self {
            text,
            is_bad,
            since: Instant::now(),
        }
    }

    /// Whether it has been there long enough: bad news stay until they are read.
    pub fn is_old(&self) -> bool {
        !self.is_bad && self.since.elapsed() > READ
    }
}

/// A question that waits for its answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Ask {
    /// Which file to open.
    Open(String),
    /// Under which name to save; the second says what stands in the way.
    SaveAs(String, Option<String>),
    /// Somebody else wrote the job: what now?
    Changed,
    /// Where to export, and how.
    Export(Box<Wish>),
    /// Changes are not saved: open this file all the same, or close the program?
    Unsaved(Option<PathBuf>),
}

/// All state.
#[derive(Debug, Default)]
pub struct Session {
    /// The open job.
    pub document: Option<Document>,
    /// The job as the library last read it with nothing wrong: for the defaults.
    pub job: Option<Job>,
    /// What is wrong with the job, or why it has no plan.
    pub problems: Vec<Problem>,
    /// What should be known before cutting.
    pub warnings: Vec<Problem>,
    /// The plan as it was found.
    found: Option<Arc<Plan>>,
    /// Which way is taken for each run: 0 the best.
    ways: Vec<usize>,
    /// What is on show.
    pub shown: Shown,
    /// Whether what is shown is of the job as it was before the last change.
    pub is_stale: bool,
    /// How long the last plan took, s.
    pub seconds: f64,
    /// Counts what was shown.
    pub revision: u64,
    /// The run that is looked at.
    pub run: usize,
    /// The piece that is chosen, from 0.
    pub piece: Option<usize>,
    /// How near the run comes to what is in the way.
    pub nearness: Option<Nearness>,
    /// The step of building it, where that is gone through.
    pub step: Option<usize>,
    /// How it is shown.
    pub view: View,
    /// Fields that are being typed in, by their place.
    pub drafts: BTreeMap<String, String>,
    /// A corner that is being dragged.
    pub drag: Option<Drag>,
    /// Something to be told.
    pub notice: Option<Notice>,
    /// A question.
    pub ask: Option<Ask>,
    /// Whether the program is to end.
    pub wants_close: bool,
    /// How hard to look.
    pub effort: Effort,
    /// How every run that is shown is cut.
    cuttings: Vec<Cutting>,
    /// Steps of building the run that is looked at.
    steps: Vec<Step>,
    /// What was last exported, and how.
    pub(super) wish: Wish,
    pub(super) exporting: Option<Exporting>,
    /// Where the file that is shown lives, where it is no job.
    kept_at: Option<PathBuf>,
    /// A file that is being opened in place of what is open.
    opening: Option<PathBuf>,
    worker: Worker,
    /// Where the room that the run has comes from.
    room: Option<Receiver<Option<Nearness>>>,
}

impl Session {
    /// Opens a file; a job with changes is asked about first.
    pub fn open(&mut self, path: &Path) {
        if self.document.as_ref().is_some_and(Document::is_dirty) {
            self.ask = Some(Ask::Unsaved(Some(path.to_path_buf())));
        } else {
            self.open_now(path);
        }
    }

    /// Begins a new job in a unit, to be filled in: what `runwright new` would write.
    pub fn begin(&mut self, unit: LengthUnit) {
        self.forget();
        self.document = Some(Document::fresh(first_job(unit)));
        self.plan();
    }

    /// Opens a file whatever happens to the one that is open. Where it cannot be, all
    /// stays as it is.
    pub fn open_now(&mut self, path: &Path) {
        self.ask = None;
        let opened = match open(path) {
            Ok(opened) => opened,
            Err(problems) => {
                self.tell_all(&problems);
                return;
            }
        };
        match opened {
            Opened::Job(document) => {
                self.forget();
                self.document = Some(*document);
                self.plan();
            }
            // What is open stays until it is known that the other can be.
            Opened::Plan(path, bytes) => {
                self.opening = Some(path.clone());
                self.worker.begin(Order::Look { path, bytes });
            }
            Opened::Built(path, bytes) => {
                self.opening = Some(path.clone());
                self.worker.begin(Order::Close { path, bytes });
            }
        }
    }

    fn forget(&mut self) {
        self.worker.drop_work();
        let view = View {
            tool: self.view.tool,
            eye: self.view.eye,
            ..View::default()
        };
        *self = Self {
            worker: std::mem::take(&mut self.worker),
            exporting: self.exporting.take(),
            wish: Wish {
                // Files of another job belong elsewhere.
                folder: String::new(),
                ..std::mem::take(&mut self.wish)
            },
            revision: self.revision + 1,
            effort: self.effort,
            view,
            ..Self::default()
        };
    }

    fn tell_all(&mut self, problems: &[Problem]) {
        let texts: Vec<String> = problems.iter().take(3).map(ToString::to_string).collect();
        self.notice = Some(Notice::new(texts.join("\n"), true));
    }

    /// Tells something.
    pub fn tell(&mut self, text: impl Into<String>, is_bad: bool) {
        self.notice = Some(Notice::new(text.into(), is_bad));
    }

    /// Reads the job again and plans it in the background.
    pub fn plan(&mut self) {
        let Some(document) = &self.document else {
            return;
        };
        let name = document.path().and_then(Path::file_stem);
        let name = name.map_or("job".to_owned(), |name| name.to_string_lossy().into_owned());
        let checked = read_job(document.text().as_bytes(), &name);
        self.problems = checked.errors;
        self.warnings = checked.warnings;
        let job = checked.job;
        self.is_stale = !matches!(self.shown, Shown::Nothing);
        self.drag = None;
        let Some(job) = job else {
            self.worker.drop_work();
            return;
        };
        self.job = Some(job.clone());
        let order = Order::Plan {
            job: Box::new(job),
            folder: self.folder(),
            effort: self.effort,
            // A port that is picked from a scan must be picked again.
            may_reuse: !document.text().contains("\"scan_rim\""),
        };
        self.opening = None;
        self.worker.begin(order);
    }

    pub(super) fn folder(&self) -> PathBuf {
        let path = self.document.as_ref().and_then(Document::path);
        let path = path.or(self.kept_at.as_deref());
        path.and_then(Path::parent)
            .map(Path::to_path_buf)
            .unwrap_or_default()
    }

    /// Takes in what the worker has found; whether there was anything.
    pub fn poll(&mut self) -> bool {
        let room = self.room.as_ref().map(Receiver::try_recv);
        let has_room = matches!(room, Some(Ok(_)));
        match room {
            Some(Ok(nearness)) => self.take_room(nearness),
            Some(Err(TryRecvError::Disconnected)) => self.room = None,
            _ => {}
        }
        let has_exported = self.poll_export();
        match self.worker.answer() {
            Some(report) => {
                self.take(report);
                true
            }
            None => has_room || has_exported,
        }
    }

    /// Waits for what is under way.
    pub fn wait(&mut self) {
        if let Some(report) = self.worker.wait() {
            self.take(report);
        }
        if let Some(receiver) = self.room.take() {
            let nearness = receiver.recv().unwrap_or_default();
            self.take_room(nearness);
        }
        self.wait_export();
    }

    fn take(&mut self, report: Report) {
        self.seconds = report.seconds;
        let opening = self.opening.take();
        match report.found {
            Ok(Found::Kept(kept)) => {
                self.forget();
                self.kept_at = opening;
                self.show(Shown::Kept(kept));
            }
            Err(problems) if opening.is_some() => self.tell_all(&problems),
            Ok(Found::Plan(plan)) => {
                self.ways = vec![0; plan.runs.len()];
                self.found = Some(Arc::clone(&plan));
                self.is_stale = false;
                self.problems.clear();
                self.show(Shown::Plan(plan));
            }
            Err(problems) => self.problems = problems,
        }
    }

    fn show(&mut self, shown: Shown) {
        let is_first = matches!(self.shown, Shown::Nothing);
        self.shown = shown;
        self.revision += 1;
        self.run = self.run.min(self.shown.count().saturating_sub(1));
        let pieces = self.shown.run(self.run).map_or(0, |run| run.pieces().len());
        self.piece = self.piece.filter(|piece| *piece < pieces);
        self.cuttings = self.shown.cuttings();
        self.list_steps();
        self.view.wants_fit |= is_first;
        if let Shown::Plan(plan) = &self.shown {
            self.warnings.clone_from(&plan.warnings);
            for warning in &plan.job.warnings {
                if !self.warnings.contains(warning) {
                    self.warnings.push(warning.clone());
                }
            }
        }
        self.measure_room();
    }

    /// Has the room that the run has measured beside the window: among large scans it
    /// takes seconds.
    fn measure_room(&mut self) {
        self.nearness = None;
        self.room = None;
        let Shown::Plan(plan) = &self.shown else {
            return;
        };
        let pair = plan.runs.get(self.run).zip(plan.job.runs.get(self.run));
        let Some((run, task)) =
            pair.map(|(planned, asked)| (planned.run().clone(), asked.task.clone()))
        else {
            return;
        };
        let (sender, receiver) = channel();
        let spawned = std::thread::Builder::new()
            .name("room".to_owned())
            .spawn(move || {
                // Nobody is left to tell when another run is shown by then.
                let _ = sender.send(Nearness::new(&run, &task));
            });
        if spawned.is_ok() {
            self.room = Some(receiver);
        }
    }

    fn take_room(&mut self, nearness: Option<Nearness>) {
        self.nearness = nearness;
        self.room = None;
        self.revision += 1;
    }

    /// Whether something is being worked at.
    pub const fn is_busy(&self) -> bool {
        self.worker.is_busy()
    }

    /// Whether anything goes on beside the window that it shows.
    pub const fn is_working(&self) -> bool {
        self.worker.is_busy() || self.is_exporting()
    }

    /// How far it is.
    pub fn progress(&self) -> Option<Progress> {
        self.worker.progress().filter(|_| self.worker.is_busy())
    }

    /// Takes the best that the search has so far.
    pub fn stop(&self) {
        self.worker.stop();
    }

    /// Gives up what is worked at; what is shown stays.
    pub fn cancel(&mut self) {
        self.worker.drop_work();
        self.opening = None;
        self.tell(
            "Planning was canceled: what is shown may be of an earlier job.",
            false,
        );
    }

    /// Looks at another run.
    pub fn look_at(&mut self, run: usize) {
        if run < self.shown.count() && run != self.run {
            self.run = run;
            self.piece = None;
            self.step = self.step.map(|_| 0);
            self.list_steps();
            self.revision += 1;
            self.measure_room();
        }
    }

    /// The task of the run that is looked at.
    pub fn task(&self) -> Option<&Task> {
        match &self.shown {
            Shown::Plan(plan) => plan.job.runs.get(self.run).map(|run| &run.task),
            _ => None,
        }
    }

    /// Every way to make the run, as it was found: the best first.
    pub fn found_ways(&self) -> Vec<(&Candidate, &[Reason])> {
        let Some(planned) = self
            .found
            .as_ref()
            .and_then(|found| found.runs.get(self.run))
        else {
            return Vec::new();
        };
        let solution = &planned.solution;
        let others = solution
            .alternatives
            .iter()
            .map(|(way, reasons)| (way, reasons.as_slice()));
        std::iter::once((&solution.best, solution.reasons.as_slice()))
            .chain(others)
            .collect()
    }

    /// Which of them is taken.
    pub fn way(&self) -> usize {
        self.ways.get(self.run).copied().unwrap_or(0)
    }

    /// Takes another way, at once.
    pub fn take_way(&mut self, way: usize) {
        let Some(found) = self.found.clone() else {
            return;
        };
        if way >= found.ways(self.run) || way == self.way() {
            return;
        }
        if let Some(taken) = self.ways.get_mut(self.run) {
            *taken = way;
        }
        let ways = self.ways.iter().enumerate().filter(|(_, way)| **way > 0);
        let plan = ways.fold(found, |plan, (run, way)| {
            plan.taking(run, *way).map_or(plan, Arc::new)
        });
        self.piece = None;
        self.show(Shown::Plan(plan));
    }

    fn list_steps(&mut self) {
        self.steps = steps(&self.shown, self.cutting(), self.run);
        let last = self.steps.len().checked_sub(1);
        self.step = self.step.and_then(|step| Some(step.min(last?)));
    }

    /// How the run that is looked at is cut.
    pub fn cutting(&self) -> Option<&Cutting> {
        self.cuttings.get(self.run)
    }

    /// Steps of building the run.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// The step that is shown.
    pub fn step_at_hand(&self) -> Option<&Step> {
        self.steps.get(self.step?)
    }

    /// Pieces that are cut, or that stand, once the step that is shown is done.
    pub fn done(&self) -> BTreeSet<PieceAt> {
        self.step
            .map_or_else(BTreeSet::new, |at| done(&self.steps, at))
    }

    /// Goes so many steps on, or back.
    pub fn go(&mut self, by: isize) {
        if let (Some(step), Some(last)) = (self.step, self.steps.len().checked_sub(1)) {
            self.step = Some(step.saturating_add_signed(by).min(last));
        }
    }

    /// Writes what was typed into a field. Returns whether the job changed.
    pub fn commit(&mut self, field: &Field, text: &str) -> bool {
        let what = format!("{} {}", field.place, field.label);
        let json = field.write(text);
        self.change(&[(field.place.clone(), json)], &what)
    }

    /// Changes the job and plans it again.
    pub fn change(&mut self, edits: &[(Place, String)], what: &str) -> bool {
        let changed = self
            .document
            .as_mut()
            .is_some_and(|document| document.edit_all(edits, what));
        if changed {
            self.plan();
        }
        changed
    }

    /// Takes the last change back.
    pub fn undo(&mut self) {
        if self.document.as_mut().is_some_and(Document::undo) {
            self.drafts.clear();
            self.plan();
        }
    }

    /// Does it again.
    pub fn redo(&mut self) {
        if self.document.as_mut().is_some_and(Document::redo) {
            self.drafts.clear();
            self.plan();
        }
    }

    /// The value at a place of the job.
    pub fn value_at<'a>(value: &'a Value, place: &Place) -> Option<&'a Value> {
        place
            .steps()
            .iter()
            .try_fold(value, |value, step| match step {
                Down::Key(key) => value.get(key),
                Down::Index(index) => value.get(index),
            })
    }

    /// What is wrong at a place, or just below it.
    pub fn problems_at(&self, place: &Place) -> impl Iterator<Item = &Problem> {
        let at = place.to_string();
        self.problems.iter().filter(move |problem| {
            problem
                .path
                .strip_prefix(&at)
                .is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
        })
    }

    /// Corners that can be dragged.
    pub fn corners(&self) -> Vec<Corner> {
        match &self.shown {
            Shown::Plan(plan) if !self.is_stale => plan
                .runs
                .get(self.run)
                .map_or(Vec::new(), |run| Corner::all(&run.solution.best.route)),
            _ => Vec::new(),
        }
    }

    /// Drags a corner to a place.
    pub fn drag_corner(&mut self, corner: Corner, to: Point) {
        let Shown::Plan(plan) = &self.shown else {
            return;
        };
        let Some((planned, asked)) = plan.runs.get(self.run).zip(plan.job.runs.get(self.run))
        else {
            return;
        };
        self.drag = Drag::new(&asked.task, &planned.solution.best.route, corner, to);
    }

    /// Lets the corner go: brackets go into the job, and it is planned again.
    pub fn drop_corner(&mut self) {
        let (Some(drag), Some(task), Some(document)) =
            (self.drag.take(), self.task(), &self.document)
        else {
            return;
        };
        let place = Place::root().key("runs").index(self.run).key("through");
        let value = document.value();
        let known = Self::value_at(&value, &place)
            .and_then(Value::as_array)
            .cloned()
            .unwrap_or_default();
        let unit = value
            .get("units")
            .and_then(Value::as_str)
            .and_then(LengthUnit::from_symbol);
        let brackets = unit.and_then(|unit| drag.through(task, &known, unit));
        match brackets {
            Some(brackets) => {
                let json = spread(&brackets);
                self.change(&[(place, json)], "drag corner");
            }
            None => self.tell(
                "There is no straight beside this corner to hold the run by: drag another one.",
                true,
            ),
        }
    }

    /// Whether the window may close; asks where changes are not saved.
    pub fn may_close(&mut self) -> bool {
        if self.wants_close || !self.document.as_ref().is_some_and(Document::is_dirty) {
            return true;
        }
        self.ask = Some(Ask::Unsaved(None));
        false
    }
}

/// A job between two ports, in common sizes.
fn first_job(unit: LengthUnit) -> String {
    let texts = |all: [&str; 3]| all.map(str::to_owned);
    let (od, wall, far) = if unit.is_imperial() {
        ("2.5 in", "0.065 in", ["8.5 in", "4 in", "10 in"])
    } else {
        ("63.5 mm", "1.65 mm", ["215 mm", "100 mm", "255 mm"])
    };
    // In its own unit the number alone.
    let own = |text: &str| {
        let end = format!(" {}", unit.symbol());
        text.strip_suffix(&end).unwrap_or(text).to_owned()
    };
    let starter = Starter {
        units: unit.symbol().to_owned(),
        od: own(od),
        wall: own(wall),
        material: "304".to_owned(),
        run: "run".to_owned(),
        from: StarterPort {
            name: "outlet".to_owned(),
            center: texts(["0"; 3]),
            outward: texts(["0", "0", "1"]),
        },
        to: StarterPort {
            name: "exit".to_owned(),
            center: far.map(own),
            outward: texts(["-1", "0", "0"]),
        },
    };
    starter.to_json()
}

/// A list, an entry to a line.
fn spread(values: &[Value]) -> String {
    let lines: Vec<String> = values.iter().map(Value::to_string).collect();
    format!("[\n        {}\n      ]", lines.join(",\n        "))
}

#[cfg(test)]
mod tests;
