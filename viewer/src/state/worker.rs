//! [`Worker`]: long work beside the window.
//!
//! One thing is worked at; a new order ends the one before, whose answer is dropped. What
//! panics there is told and does not end the program.

use super::built::close_gap;
use super::opened::kept_plan;
use super::order::{Found, Order, Refused};
use runwright::job::{Job, LoadedScan, Problem, ScanOrder};
use runwright::plan::plan_with;
use runwright::route::{Control, Effort};
use runwright::scene::Obstacle;
use std::fs::{self, File};
use std::io::{self, Read};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::{Instant, SystemTime};

/// How far the work has come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Progress {
    /// Bytes of scans read.
    Reading(u64),
    /// Searches made, those after which it ends at the latest, and the best cost so far.
    Planning(u32, u32, f64),
}

/// An answer.
#[derive(Debug)]
pub struct Report {
    /// Which order it answers.
    pub ticket: u64,
    /// What came of it.
    pub found: Result<Found, Refused>,
    /// How long it took, s.
    pub seconds: f64,
}

/// Does orders on a thread of their own.
#[derive(Debug)]
pub struct Worker {
    sender: Sender<Report>,
    receiver: Receiver<Report>,
    /// The newest order.
    ticket: u64,
    is_busy: bool,
    running: Option<Arc<Signals>>,
    scans: Arc<Mutex<Option<ScansRead>>>,
}

/// What passes between the window and the work while it goes on.
#[derive(Debug, Default)]
struct Signals {
    /// End the search with the best so far.
    stop: AtomicBool,
    /// Nobody waits for the answer any more.
    drop: AtomicBool,
    bytes: AtomicU64,
    searches: Mutex<Option<(u32, u32, f64)>>,
}

/// Scans that were read, and what they were read for.
#[derive(Debug)]
struct ScansRead {
    orders: Vec<ScanOrder>,
    /// When the files were last written.
    written: Vec<Option<SystemTime>>,
    folder: PathBuf,
    loaded: Vec<LoadedScan>,
    obstacles: Vec<Obstacle>,
    warnings: Vec<Problem>,
}

impl Default for Worker {
    fn default() -> Self {
        let (sender, receiver) = channel();
        Self {
            sender,
            receiver,
            ticket: 0,
            is_busy: false,
            running: None,
            scans: Arc::default(),
        }
    }
}

impl Worker {
    /// Begins an order; one that is under way is dropped. Returns its ticket.
    pub fn begin(&mut self, order: Order) -> u64 {
        self.drop_work();
        self.ticket += 1;
        let signals = Arc::new(Signals::default());
        let (ticket, sender, scans) = (self.ticket, self.sender.clone(), Arc::clone(&self.scans));
        let heard = Arc::clone(&signals);
        let begun = Instant::now();
        let spawned = std::thread::Builder::new()
            .name("planning".to_owned())
            .spawn(move || {
                let found = catch_unwind(AssertUnwindSafe(|| work(order, &heard, &scans)));
                let found = found.unwrap_or_else(|_| Err(vec![unexpected()]));
                // Nobody is left to tell when the window has closed.
                let _ = sender.send(Report {
                    ticket,
                    found,
                    seconds: begun.elapsed().as_secs_f64(),
                });
            });
        match spawned {
            Ok(_) => {
                self.is_busy = true;
                self.running = Some(signals);
            }
            Err(error) => {
                let problem =
                    Problem::of_file(error.to_string(), "close other programs and try again");
                let _ = self.sender.send(Report {
                    ticket,
                    found: Err(vec![problem]),
                    seconds: 0.0,
                });
            }
        }
        ticket
    }

    /// Whether an answer is waited for.
    pub const fn is_busy(&self) -> bool {
        self.is_busy
    }

    /// Ends the search with the best that it has so far.
    pub fn stop(&self) {
        if let Some(signals) = &self.running {
            signals.stop.store(true, Ordering::Relaxed);
        }
    }

    /// Ends the work; its answer will not come.
    pub fn drop_work(&mut self) {
        if let Some(signals) = self.running.take() {
            signals.stop.store(true, Ordering::Relaxed);
            signals.drop.store(true, Ordering::Relaxed);
        }
        self.is_busy = false;
        self.ticket += 1;
    }

    /// How far it is.
    pub fn progress(&self) -> Option<Progress> {
        let signals = self.running.as_ref()?;
        let searches = signals.searches.lock().ok().and_then(|searches| *searches);
        Some(match searches {
            Some((made, most, best)) => Progress::Planning(made, most, best),
            None => Progress::Reading(signals.bytes.load(Ordering::Relaxed)),
        })
    }

    /// The newest order's answer, if it has come.
    pub fn answer(&mut self) -> Option<Report> {
        let report = self
            .receiver
            .try_iter()
            .find(|report| report.ticket == self.ticket)?;
        self.is_busy = false;
        self.running = None;
        Some(report)
    }

    /// Waits for the newest order's answer.
    pub fn wait(&mut self) -> Option<Report> {
        while self.is_busy {
            let report = self.receiver.recv().ok()?;
            if report.ticket == self.ticket {
                self.is_busy = false;
                self.running = None;
                return Some(report);
            }
        }
        None
    }
}

fn unexpected() -> Problem {
    Problem::of_file(
        "something unexpected went wrong while planning",
        "please report this with the file",
    )
}

fn work(
    order: Order,
    signals: &Signals,
    scans: &Mutex<Option<ScansRead>>,
) -> Result<Found, Refused> {
    match order {
        Order::Plan {
            mut job,
            folder,
            effort,
            may_reuse,
        } => {
            load(&mut job, &folder, may_reuse, signals, scans)?;
            if signals.drop.load(Ordering::Relaxed) {
                return Err(Vec::new());
            }
            search(effort, signals, |control| plan_with(&job, control))
                .map(|plan| Found::Plan(Arc::new(plan)))
        }
        Order::Look { path, bytes } => {
            let kept = kept_plan(&path, &bytes)?;
            Ok(Found::Kept(Arc::new(kept)))
        }
        Order::Close { path, bytes } => {
            let kept = search(Effort::Normal, signals, |control| {
                close_gap(&path, &bytes, control)
            })?;
            Ok(Found::Kept(Arc::new(kept)))
        }
    }
}

/// Calls `work` with a control that tells `signals` and heeds them.
fn search<T>(effort: Effort, signals: &Signals, work: impl FnOnce(&Control<'_>) -> T) -> T {
    let watch = |progress: runwright::route::Progress| {
        if let Ok(mut searches) = signals.searches.lock() {
            *searches = Some((progress.searches, progress.most, progress.best));
        }
    };
    work(&Control {
        effort,
        stop: Some(&signals.stop),
        watch: Some(&watch),
        ..Control::default()
    })
}

/// Reads the job's scans, or takes them as they were read before.
fn load(
    job: &mut Job,
    folder: &Path,
    may_reuse: bool,
    signals: &Signals,
    scans: &Mutex<Option<ScansRead>>,
) -> Result<(), Refused> {
    let Ok(mut known) = scans.lock() else {
        return Err(vec![unexpected()]);
    };
    let orders = job.scans.clone();
    let written: Vec<Option<SystemTime>> = orders
        .iter()
        .map(|order| {
            fs::metadata(folder.join(&order.file))
                .and_then(|data| data.modified())
                .ok()
        })
        .collect();
    let same = known.as_ref().filter(|known| {
        may_reuse && known.orders == orders && known.written == written && known.folder == folder
    });
    if let Some(known) = same {
        job.scans.clear();
        job.loaded.clone_from(&known.loaded);
        job.warnings.extend(known.warnings.iter().cloned());
        for run in &mut job.runs {
            run.task.obstacles.extend(known.obstacles.iter().cloned());
        }
        return Ok(());
    }
    let before = job.runs.first().map_or(0, |run| run.task.obstacles.len());
    let warnings =
        job.load_scans(|name| File::open(folder.join(name)).map(|file| Counted { file, signals }))?;
    let obstacles = job
        .runs
        .first()
        .and_then(|run| run.task.obstacles.get(before..));
    *known = Some(ScansRead {
        orders,
        written,
        folder: folder.to_path_buf(),
        loaded: job.loaded.clone(),
        obstacles: obstacles.unwrap_or_default().to_vec(),
        warnings,
    });
    Ok(())
}

/// Counts what is read, and ends when nobody waits for it.
struct Counted<'a> {
    file: File,
    signals: &'a Signals,
}

impl Read for Counted<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.signals.drop.load(Ordering::Relaxed) {
            return Err(io::Error::other("no longer asked for"));
        }
        let count = self.file.read(buffer)?;
        self.signals
            .bytes
            .fetch_add(count as u64, Ordering::Relaxed);
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use runwright::job::read_job;

    fn order(text: &str) -> Order {
        let job = read_job(text.as_bytes(), "job").job.unwrap();
        Order::Plan {
            job: Box::new(job),
            folder: PathBuf::new(),
            effort: Effort::Normal,
            may_reuse: true,
        }
    }

    #[test]
    fn the_newest_order_is_the_one_that_is_answered() {
        let mut worker = Worker::default();
        worker.begin(order(include_str!("../../../examples/bay.json")));
        let ticket = worker.begin(order(include_str!("../../../examples/stack.json")));
        let report = worker.wait().unwrap();
        assert_eq!(report.ticket, ticket);
        let Ok(Found::Plan(plan)) = report.found else {
            panic!("a plan")
        };
        assert_eq!(plan.job.name, "job");
        assert_eq!(plan.runs[0].name, "stack");
        assert!(!worker.is_busy() && worker.answer().is_none());
    }

    #[test]
    fn dropped_work_is_never_answered() {
        let mut worker = Worker::default();
        worker.begin(order(include_str!("../../../examples/bay.json")));
        worker.drop_work();
        assert!(!worker.is_busy());
        std::thread::sleep(std::time::Duration::from_secs(2));
        assert!(worker.answer().is_none());
    }

    #[test]
    fn a_scan_is_read_once_and_again_when_it_changed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wall.stl");
        let stl = |z: f64| {
            format!(
                "solid w\nfacet normal 0 0 1\nouter loop\nvertex -10 -10 {z}\nvertex 10 -10 {z}\nvertex 0 20 {z}\nendloop\nendfacet\nendsolid w\n"
            )
        };
        fs::write(&path, stl(40.0)).unwrap();
        let text = include_str!("../../../examples/stack.json").replace(
            "\"runs\":",
            "\"scene\": { \"scans\": [ { \"name\": \"wall\", \"file\": \"wall.stl\", \"units\": \"in\" } ] }, \"runs\":",
        );
        let mut worker = Worker::default();
        let mut plan = || {
            let Order::Plan { job, effort, .. } = order(&text) else {
                panic!("a plan")
            };
            worker.begin(Order::Plan {
                job,
                folder: folder.path().to_path_buf(),
                effort,
                may_reuse: true,
            });
            let Ok(Found::Plan(plan)) = worker.wait().unwrap().found else {
                panic!("a plan")
            };
            plan
        };
        let surface = |plan: &runwright::plan::Plan| match &plan.job.runs[0]
            .task
            .obstacles
            .last()
            .unwrap()
            .body
        {
            runwright::scene::Body::Scan(surface) => Arc::clone(surface),
            runwright::scene::Body::Solid(_) => panic!("a scan"),
        };
        let (first, second) = (plan(), plan());
        assert!(Arc::ptr_eq(&surface(&first), &surface(&second)));
        assert_eq!(first.job.loaded, second.job.loaded);
        std::thread::sleep(std::time::Duration::from_millis(20));
        fs::write(&path, stl(50.0)).unwrap();
        assert!(!Arc::ptr_eq(&surface(&first), &surface(&plan())));
    }
}
