//! [`Session`]: what is open, what was found, and what is chosen.

use super::corner::{Corner, Drag};
use super::document::{Document, SaveError};
use super::field::Field;
use super::opened::{Kept, Opened, open};
use super::order::{Found, Nearness, Order};
use super::step::{Step, steps};
use super::view::View;
use super::worker::{Progress, Report, Worker};
use runwright::export::{Exporter, PlanFiles, WriteError, write_all};
use runwright::geometry::Point;
use runwright::job::{Job, Path as Place, Problem, Step as Down, read_job};
use runwright::plan::Plan;
use runwright::route::{Candidate, Effort, Reason, Task};
use runwright::run::Run;
use runwright::shop::SawStep;
use runwright::units::{LengthUnit, Style};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, channel};

/// What is on show.
#[derive(Clone, Debug, Default)]
pub enum Shown {
    /// Nothing yet.
    #[default]
    Nothing,
    /// A plan with the ways that are taken.
    Plan(Arc<Plan>),
    /// Runs that are kept as they are.
    Kept(Arc<Kept>),
}

impl Shown {
    /// How many runs there are.
    pub fn count(&self) -> usize {
        match self {
            Self::Nothing => 0,
            Self::Plan(plan) => plan.runs.len(),
            Self::Kept(kept) => kept.runs.len(),
        }
    }

    /// A run.
    pub fn run(&self, index: usize) -> Option<&Run> {
        match self {
            Self::Nothing => None,
            Self::Plan(plan) => plan.runs.get(index).map(|planned| planned.run()),
            Self::Kept(kept) => kept.runs.get(index).map(|kept| &kept.run),
        }
    }

    /// A run's name.
    pub fn name(&self, index: usize) -> &str {
        match self {
            Self::Nothing => "",
            Self::Plan(plan) => plan.runs.get(index).map_or("", |planned| &planned.name),
            Self::Kept(kept) => kept.runs.get(index).map_or("", |kept| &kept.name),
        }
    }

    /// A run's saw sheet.
    pub fn saw(&self, index: usize) -> &[SawStep] {
        match self {
            Self::Nothing => &[],
            Self::Plan(plan) => plan.runs.get(index).map_or(&[], |planned| &planned.saw.steps),
            Self::Kept(kept) => kept.runs.get(index).map_or(&[], |kept| &kept.saw),
        }
    }

    /// How numbers are written.
    pub fn style(&self) -> Style {
        match self {
            Self::Nothing => Style::new(LengthUnit::Mm),
            Self::Plan(plan) => plan.job.style,
            Self::Kept(kept) => kept.style,
        }
    }

    /// The piece to leave for last, and how much longer to cut it.
    pub fn closing(&self, index: usize) -> Option<(usize, String)> {
        match self {
            Self::Nothing => None,
            Self::Plan(plan) => {
                let closing = plan.runs.get(index)?.stack_up.closing?;
                Some((closing.piece, self.style().length(closing.trim)))
            }
            Self::Kept(kept) => Some((kept.runs.get(index)?.closing?, "as measured".to_owned())),
        }
    }
}

/// Something to be told, until it is read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// What.
    pub text: String,
    /// Whether it is bad news.
    pub is_bad: bool,
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
    /// Where to export; whether files are there already.
    Export(String, bool),
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
        self.forget();
        match opened {
            Opened::Job(document) => {
                self.document = Some(*document);
                self.plan();
            }
            Opened::Plan(kept) => self.show(Shown::Kept(Arc::from(kept))),
            Opened::Built(path, bytes) => {
                self.worker.begin(Order::Close { path, bytes });
            }
        }
    }

    fn forget(&mut self) {
        self.worker.drop_work();
        let view = View { tool: self.view.tool, eye: self.view.eye, ..View::default() };
        *self = Self {
            worker: std::mem::take(&mut self.worker),
            revision: self.revision + 1,
            effort: self.effort,
            view,
            ..Self::default()
        };
    }

    fn tell_all(&mut self, problems: &[Problem]) {
        let texts: Vec<String> = problems.iter().take(3).map(ToString::to_string).collect();
        self.notice = Some(Notice { text: texts.join("\n"), is_bad: true });
    }

    /// Tells something.
    pub fn tell(&mut self, text: impl Into<String>, is_bad: bool) {
        self.notice = Some(Notice { text: text.into(), is_bad });
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
        self.worker.begin(order);
    }

    fn folder(&self) -> PathBuf {
        let path = self.document.as_ref().and_then(Document::path);
        path.and_then(Path::parent).map(Path::to_path_buf).unwrap_or_default()
    }

    /// Takes in what the worker has found; whether there was anything.
    pub fn poll(&mut self) -> bool {
        let room = self.room.as_ref().map(Receiver::try_recv);
        match room {
            Some(Ok(nearness)) => self.take_room(nearness),
            Some(Err(TryRecvError::Disconnected)) => self.room = None,
            _ => {}
        }
        match self.worker.answer() {
            Some(report) => {
                self.take(report);
                true
            }
            None => false,
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
    }

    fn take(&mut self, report: Report) {
        self.seconds = report.seconds;
        match report.found {
            Ok(Found::Plan(plan)) => {
                self.ways = vec![0; plan.runs.len()];
                self.found = Some(Arc::clone(&plan));
                self.is_stale = false;
                self.problems.clear();
                self.show(Shown::Plan(plan));
            }
            Ok(Found::Kept(kept)) => self.show(Shown::Kept(kept)),
            Err(problems) if self.document.is_none() => self.tell_all(&problems),
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
        self.step = self.step.map(|step| step.min((2 * pieces).saturating_sub(1)));
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
        let Some((run, task)) = pair.map(|(planned, asked)| (planned.run().clone(), asked.task.clone())) else {
            return;
        };
        let (sender, receiver) = channel();
        let spawned = std::thread::Builder::new().name("room".to_owned()).spawn(move || {
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
        self.tell("Planning was canceled: what is shown may be of an earlier job.", false);
    }

    /// Looks at another run.
    pub fn look_at(&mut self, run: usize) {
        if run < self.shown.count() && run != self.run {
            self.run = run;
            self.piece = None;
            self.step = self.step.map(|_| 0);
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
        let Some(planned) = self.found.as_ref().and_then(|found| found.runs.get(self.run)) else {
            return Vec::new();
        };
        let solution = &planned.solution;
        let others = solution.alternatives.iter().map(|(way, reasons)| (way, reasons.as_slice()));
        std::iter::once((&solution.best, solution.reasons.as_slice())).chain(others).collect()
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
        let plan = ways.fold(found, |plan, (run, way)| plan.taking(run, *way).map_or(plan, Arc::new));
        self.piece = None;
        self.show(Shown::Plan(plan));
    }

    /// Steps of building the run.
    pub fn steps(&self) -> Vec<Step> {
        let Some(run) = self.shown.run(self.run) else {
            return Vec::new();
        };
        let last = match &self.shown {
            Shown::Plan(_) => self.shown.closing(self.run),
            _ => None,
        };
        steps(run, self.shown.saw(self.run), self.shown.style(), last)
    }

    /// Goes so many steps on, or back.
    pub fn go(&mut self, by: isize) {
        let count = 2 * self.shown.run(self.run).map_or(0, |run| run.pieces().len());
        if let (Some(step), Some(last)) = (self.step, count.checked_sub(1)) {
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
        let changed = self.document.as_mut().is_some_and(|document| document.edit_all(edits, what));
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
        place.steps().iter().try_fold(value, |value, step| match step {
            Down::Key(key) => value.get(key),
            Down::Index(index) => value.get(index),
        })
    }

    /// What is wrong at a place, or just below it.
    pub fn problems_at(&self, place: &Place) -> impl Iterator<Item = &Problem> {
        let at = place.to_string();
        self.problems.iter().filter(move |problem| {
            problem.path.strip_prefix(&at).is_some_and(|rest| {
                rest.is_empty() || rest.starts_with(['.', '['])
            })
        })
    }

    /// Corners that can be dragged.
    pub fn corners(&self) -> Vec<Corner> {
        match &self.shown {
            Shown::Plan(plan) if !self.is_stale => {
                plan.runs.get(self.run).map_or(Vec::new(), |run| Corner::all(&run.solution.best.route))
            }
            _ => Vec::new(),
        }
    }

    /// Drags a corner to a place.
    pub fn drag_corner(&mut self, corner: Corner, to: Point) {
        let Shown::Plan(plan) = &self.shown else {
            return;
        };
        let Some((planned, asked)) = plan.runs.get(self.run).zip(plan.job.runs.get(self.run)) else {
            return;
        };
        self.drag = Drag::new(&asked.task, &planned.solution.best.route, corner, to);
    }

    /// Lets the corner go: brackets go into the job, and it is planned again.
    pub fn drop_corner(&mut self) {
        let (Some(drag), Some(task), Some(document)) = (self.drag.take(), self.task(), &self.document) else {
            return;
        };
        let place = Place::root().key("runs").index(self.run).key("through");
        let value = document.value();
        let known = Self::value_at(&value, &place).and_then(Value::as_array).cloned().unwrap_or_default();
        let unit = value.get("units").and_then(Value::as_str).and_then(LengthUnit::from_symbol);
        let brackets = unit.and_then(|unit| drag.through(task, &known, unit));
        match brackets {
            Some(brackets) => {
                let json = spread(&brackets);
                self.change(&[(place, json)], "drag corner");
            }
            None => self.tell("There is no straight beside this corner to hold the run by: drag another one.", true),
        }
    }

    /// Saves the job.
    pub fn save(&mut self, force: bool) {
        let Some(document) = &mut self.document else {
            return;
        };
        match document.save(force) {
            Ok(()) => {
                self.ask = None;
                let name = self.file_name();
                self.tell(format!("Saved {name}."), false);
            }
            Err(SaveError::ChangedByAnother) => self.ask = Some(Ask::Changed),
            Err(SaveError::NoName | SaveError::Taken) => self.ask_name(None),
            Err(SaveError::Io(error)) => self.ask_name(Some(error.to_string())),
        }
    }

    /// Asks where to export.
    pub fn ask_folder(&mut self) {
        let folder = self.folder().join("results");
        self.ask = Some(Ask::Export(folder.display().to_string(), false));
    }

    /// Asks under which name to save.
    pub fn ask_name(&mut self, reason: Option<String>) {
        let path = self.document.as_ref().and_then(Document::path);
        let path = path.map_or("job.json".to_owned(), |path| path.display().to_string());
        self.ask = Some(Ask::SaveAs(path, reason));
    }

    /// Saves the job under another name.
    pub fn save_as(&mut self, path: &Path) {
        let Some(document) = &mut self.document else {
            return;
        };
        // Its own name is saved as ever: never over another's change.
        if document.path() == Some(path) {
            self.save(false);
            return;
        }
        match document.save_as(path, false) {
            Ok(()) => {
                self.ask = None;
                let name = self.file_name();
                self.tell(format!("Saved {name}."), false);
            }
            Err(error) => {
                let reason = match error {
                    SaveError::Io(error) => error.to_string(),
                    _ => "another file has that name: choose one that is free".to_owned(),
                };
                self.ask = Some(Ask::SaveAs(path.display().to_string(), Some(reason)));
            }
        }
    }

    /// Drops all changes and reads the file again.
    pub fn reload(&mut self) {
        if let Some(path) = self.document.as_ref().and_then(Document::path).map(Path::to_path_buf) {
            self.open_now(&path);
        }
    }

    /// The open file's name.
    pub fn file_name(&self) -> String {
        let path = self.document.as_ref().and_then(Document::path);
        let name = path.and_then(Path::file_name).map(|name| name.to_string_lossy().into_owned());
        name.unwrap_or_else(|| match &self.shown {
            Shown::Kept(kept) => kept.name.clone(),
            _ => "no job open".to_owned(),
        })
    }

    /// Writes everything that the command line writes of a plan, with the ways taken.
    pub fn export(&mut self, folder: &Path, force: bool) {
        let Shown::Plan(plan) = &self.shown else {
            self.tell("There is no plan to export: open a job.", true);
            return;
        };
        if self.is_stale {
            self.tell("What is shown is of the job before its last change: plan it first.", true);
            return;
        }
        let files = match (PlanFiles { pieces: true, ..PlanFiles::default() }).files(plan) {
            Ok(files) => files,
            Err(error) => {
                self.tell(error.to_string(), true);
                return;
            }
        };
        let job = self.document.as_ref().and_then(Document::path).map(Path::to_path_buf);
        let beside = self.folder();
        let scans = plan.job.loaded.iter().map(|scan| beside.join(&scan.file));
        let inputs: Vec<PathBuf> = job.into_iter().chain(scans).collect();
        match write_all(folder, &files, inputs.iter().map(PathBuf::as_path), force) {
            Ok(()) => {
                self.ask = None;
                self.tell(format!("Wrote {} files to {}.", files.len(), folder.display()), false);
            }
            Err(WriteError::Exists(_)) => {
                self.ask = Some(Ask::Export(folder.display().to_string(), true));
            }
            Err(error) => self.tell(error.to_string(), true),
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

/// A list, an entry to a line.
fn spread(values: &[Value]) -> String {
    let lines: Vec<String> = values.iter().map(Value::to_string).collect();
    format!("[\n        {}\n      ]", lines.join(",\n        "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn with(text: &str) -> (tempfile::TempDir, Session) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.json");
        fs::write(&path, text).unwrap();
        let mut session = Session::default();
        session.open(&path);
        session.wait();
        (folder, session)
    }

    fn stack() -> (tempfile::TempDir, Session) {
        with(include_str!("../../../examples/stack.json"))
    }

    fn field(session: &Session, label: &str) -> Field {
        let value = session.document.as_ref().unwrap().value();
        let sections = super::super::sections(&value, session.job.as_ref());
        let mut fields = sections.into_iter().flat_map(|section| section.fields);
        fields.find(|field| field.label == label).unwrap()
    }

    #[test]
    fn an_edit_plans_again_and_undo_brings_the_run_back() {
        let (_folder, mut session) = stack();
        let before = session.shown.run(0).unwrap().clone();
        let clr = field(&session, "CLR");
        assert!(session.commit(&clr, "5 1/4 in"));
        assert!(session.is_stale);
        session.wait();
        assert!(!session.is_stale && session.problems.is_empty());
        assert_ne!(session.shown.run(0).unwrap(), &before);
        session.undo();
        session.wait();
        assert_eq!(session.shown.run(0).unwrap(), &before);
        session.redo();
        session.wait();
        assert_ne!(session.shown.run(0).unwrap(), &before);
    }

    #[test]
    fn errors_stand_at_their_field_and_the_run_stays() {
        let (_folder, mut session) = stack();
        let clr = field(&session, "CLR");
        session.commit(&clr, "a lot");
        assert_eq!(session.problems_at(&clr.place).count(), 1);
        assert!(session.is_stale && session.shown.run(0).is_some());
        // One that the solver refuses has its place in the file too.
        session.commit(&clr, "");
        let between = field(&session, "between bends");
        session.commit(&between, "90 in");
        session.wait();
        assert!(!session.problems.is_empty() && session.is_stale);
        assert!(session.shown.run(0).is_some(), "what was there is still shown");
        session.commit(&between, "");
        session.wait();
        assert!(session.problems.is_empty() && !session.is_stale);
    }

    #[test]
    fn a_way_is_taken_at_once_and_exported() {
        let (folder, mut session) = with(include_str!("../../../examples/bay.json"));
        assert!(session.found_ways().len() > 1);
        session.take_way(1);
        assert_eq!(session.way(), 1);
        let taken = session.found_ways()[1].0.run.clone();
        assert_eq!(session.shown.run(0), Some(&taken));
        let out = folder.path().join("out");
        session.export(&out, false);
        let text = fs::read(out.join("plan.json")).unwrap();
        let read = runwright::plan::read_plan(&text).unwrap();
        assert_eq!(read.runs[0].run.pieces().len(), taken.pieces().len());
        for name in ["sheet.txt", "pieces.csv", "patterns.svg", "run.svg", "run.stl"] {
            assert!(out.join(name).exists(), "{name}");
        }
        session.export(&out, false);
        assert!(matches!(session.ask, Some(Ask::Export(_, true))), "never over other files unasked");
        session.take_way(0);
        session.wait();
        assert_eq!(session.way(), 0);
        assert!(session.nearness.as_ref().unwrap().tightest().is_some());
    }

    #[test]
    fn unsaved_changes_are_asked_about() {
        let (folder, mut session) = stack();
        assert!(session.may_close());
        let wall = field(&session, "wall");
        session.commit(&wall, "0.083");
        assert!(!session.may_close());
        assert_eq!(session.ask, Some(Ask::Unsaved(None)));
        session.open(&folder.path().join("other.json"));
        assert!(matches!(session.ask, Some(Ask::Unsaved(Some(_)))));
        session.save(false);
        assert!(session.may_close() && session.ask.is_none());
        let path = folder.path().join("job.json");
        fs::write(&path, "{}").unwrap();
        session.commit(&wall, "0.065");
        session.save(false);
        assert_eq!(session.ask, Some(Ask::Changed));
        assert_eq!(fs::read_to_string(&path).unwrap(), "{}");
    }

    #[test]
    fn bad_files_are_told_and_leave_all_as_it_is() {
        let (folder, mut session) = stack();
        let bad = folder.path().join("bad.json");
        fs::write(&bad, "{\"format\": \"x\"}").unwrap();
        for path in [bad, folder.path().to_path_buf(), folder.path().join("none.json")] {
            session.notice = None;
            session.open(&path);
            assert!(session.notice.as_ref().is_some_and(|notice| notice.is_bad));
            assert!(session.shown.run(0).is_some());
        }
        let broken = folder.path().join("broken.json");
        for bytes in [b"{".as_slice(), b"", b"\xff\xff", b"[]", b"{\"units\": 3, \"runs\": {}}"] {
            fs::write(&broken, bytes).unwrap();
            session.open(&broken);
            session.wait();
            assert!(!session.problems.is_empty());
        }
    }

    #[test]
    fn a_plan_and_a_build_are_shown() {
        let (folder, mut session) = stack();
        session.export(&folder.path().join("out"), false);
        session.open(&folder.path().join("out/plan.json"));
        assert!(session.document.is_none() && session.shown.run(0).is_some());
        assert_eq!(session.steps().len(), 2 * session.shown.run(0).unwrap().pieces().len());
        session.open(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/stack-built.json"));
        session.wait();
        assert_eq!(session.shown.closing(0).unwrap().0, 4);
    }

    #[test]
    fn steps_go_forth_and_back_and_no_farther() {
        let (_folder, mut session) = stack();
        session.go(1);
        assert_eq!(session.step, None);
        session.step = Some(0);
        session.go(-1);
        assert_eq!(session.step, Some(0));
        session.go(isize::MAX);
        assert_eq!(session.step, Some(session.steps().len() - 1));
    }

    #[test]
    fn a_dragged_corner_goes_into_the_job_and_can_be_undone() {
        let (_folder, mut session) = stack();
        let text = session.document.as_ref().unwrap().text().to_owned();
        let corner = session.corners()[0];
        let (_, out) = corner.on.unwrap();
        session.drag_corner(corner, corner.at + out.into_inner() * 20.0);
        assert!(session.drag.is_some());
        session.drop_corner();
        session.wait();
        assert!(session.problems.is_empty(), "{:?}", session.problems);
        assert!(session.document.as_ref().unwrap().text().contains("dragged 1"));
        // Dragged again, the brackets are replaced.
        let corner = session.corners()[0];
        let (_, out) = corner.on.unwrap();
        session.drag_corner(corner, corner.at + out.into_inner() * 10.0);
        session.drop_corner();
        session.wait();
        assert_eq!(session.document.as_ref().unwrap().text().matches("dragged 1").count(), 1);
        session.undo();
        session.undo();
        assert_eq!(session.document.as_ref().unwrap().text(), text);
    }
}
