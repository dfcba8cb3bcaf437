//! Saving the job, and exporting what is shown beside the window's thread.

use super::choices::Choices;
use super::document::{Document, SaveError};
use super::goods::Goods;
use super::session::{Ask, Session};
use super::shown::Shown;
use runwright::export::{WriteError, write_all};
use runwright::job::Problem;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, TryRecvError, channel};

/// What is to be exported, and where to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wish {
    /// The folder, as it is typed.
    pub folder: String,
    /// What is chosen about it.
    pub choices: Choices,
    /// Files that are there already, by their names.
    pub taken: Vec<String>,
    /// What stands in the way, each with its key among the choices.
    pub problems: Vec<Problem>,
}

/// An export that is under way.
#[derive(Debug)]
pub struct Exporting {
    wish: Wish,
    cancel: Arc<AtomicBool>,
    receiver: Receiver<Outcome>,
}

/// How an export ended.
#[derive(Debug)]
enum Outcome {
    Wrote(usize),
    Taken(Vec<PathBuf>),
    Wrong(Vec<Problem>),
    Canceled,
}

impl Session {
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

    /// Asks where to export, and how; as it was answered last.
    pub fn ask_folder(&mut self) {
        let usual = self.folder().join("results");
        // Whole, so that one sees where it goes.
        let usual = std::path::absolute(&usual)
            .unwrap_or(usual)
            .display()
            .to_string();
        let mut wish = self.wish.clone();
        if wish.folder.is_empty() {
            wish.folder = usual;
        }
        (wish.taken, wish.problems) = (Vec::new(), Vec::new());
        self.ask = Some(Ask::Export(Box::new(wish)));
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
        if let Some(path) = self
            .document
            .as_ref()
            .and_then(Document::path)
            .map(Path::to_path_buf)
        {
            self.open_now(&path);
        }
    }

    /// The open file's name.
    pub fn file_name(&self) -> String {
        let path = self.document.as_ref().and_then(Document::path);
        let name = path
            .and_then(Path::file_name)
            .map(|name| name.to_string_lossy().into_owned());
        name.unwrap_or_else(|| match (&self.shown, &self.document) {
            (Shown::Kept(kept), _) => kept.name.clone(),
            (_, Some(_)) => "new job".to_owned(),
            (_, None) => "no job open".to_owned(),
        })
    }

    /// What can be exported now; or why nothing can.
    pub fn goods(&self) -> Result<Goods, &'static str> {
        match &self.shown {
            Shown::Nothing => Err("There is no plan to export: open a job."),
            Shown::Plan(_) if self.is_stale => {
                Err("What is shown is of the job before its last change: plan it first.")
            }
            Shown::Plan(plan) => Ok(Goods::Plan(Arc::clone(plan))),
            Shown::Kept(kept) => Ok(kept.goods.clone()),
        }
    }

    /// Writes everything that the command line writes of what is shown, with the ways taken,
    /// beside the window's thread. Asks again where something stands in the way.
    pub fn export(&mut self, wish: Wish, force: bool) {
        let goods = match self.goods() {
            Ok(goods) => goods,
            Err(why) => {
                self.tell(why, true);
                return;
            }
        };
        self.cancel_export();
        let cancel = Arc::new(AtomicBool::new(false));
        let (sender, receiver) = channel();
        let task = Task {
            goods,
            folder: PathBuf::from(wish.folder.trim()),
            beside: self.folder(),
            choices: wish.choices.clone(),
            inputs: self.inputs(),
            force,
            cancel: Arc::clone(&cancel),
        };
        let spawned = std::thread::Builder::new()
            .name("export".to_owned())
            .spawn(move || {
                let outcome = catch_unwind(AssertUnwindSafe(|| task.run()));
                let outcome = outcome.unwrap_or_else(|_| {
                    Outcome::Wrong(vec![Problem::of_file(
                        "something unexpected went wrong while exporting",
                        "please report this with the file",
                    )])
                });
                // Nobody is left to tell when the window has closed.
                let _ = sender.send(outcome);
            });
        self.wish = wish.clone();
        match spawned {
            Ok(_) => {
                self.ask = None;
                self.exporting = Some(Exporting {
                    wish,
                    cancel,
                    receiver,
                });
            }
            Err(error) => self.tell(format!("{error}: close other programs and try again"), true),
        }
    }

    /// Files that are open and that nothing may be written over.
    fn inputs(&self) -> Vec<PathBuf> {
        let job = self.document.as_ref().and_then(Document::path);
        let mut inputs: Vec<PathBuf> = job.map(Path::to_path_buf).into_iter().collect();
        if let Shown::Plan(plan) = &self.shown {
            let beside = self.folder();
            inputs.extend(plan.job.loaded.iter().map(|scan| beside.join(&scan.file)));
        }
        inputs
    }

    /// Whether files are being written.
    pub const fn is_exporting(&self) -> bool {
        self.exporting.is_some()
    }

    /// Gives an export up: nothing is written unless all was made by then.
    pub fn cancel_export(&mut self) {
        if let Some(exporting) = &self.exporting {
            exporting.cancel.store(true, Ordering::Relaxed);
        }
    }

    /// Takes in how an export ended; whether one did.
    pub(super) fn poll_export(&mut self) -> bool {
        let Some(exporting) = &self.exporting else {
            return false;
        };
        let outcome = match exporting.receiver.try_recv() {
            Ok(outcome) => outcome,
            Err(TryRecvError::Empty) => return false,
            Err(TryRecvError::Disconnected) => Outcome::Canceled,
        };
        self.end_export(outcome);
        true
    }

    /// Waits for an export that is under way.
    pub(super) fn wait_export(&mut self) {
        if let Some(exporting) = &self.exporting {
            let outcome = exporting.receiver.recv().unwrap_or(Outcome::Canceled);
            self.end_export(outcome);
        }
    }

    fn end_export(&mut self, outcome: Outcome) {
        let Some(Exporting { mut wish, .. }) = self.exporting.take() else {
            return;
        };
        match outcome {
            Outcome::Wrote(count) => {
                let files = runwright::units::counted(count, "file");
                self.tell(format!("Wrote {files} to {}.", wish.folder.trim()), false);
                return;
            }
            Outcome::Canceled => {
                self.tell("The export was canceled: nothing was written.", false);
                return;
            }
            Outcome::Taken(paths) => {
                let name = |path: &PathBuf| {
                    let name = path.file_name().unwrap_or_default();
                    name.to_string_lossy().into_owned()
                };
                (wish.taken, wish.problems) = (paths.iter().map(name).collect(), Vec::new());
            }
            Outcome::Wrong(problems) => (wish.taken, wish.problems) = (Vec::new(), problems),
        }
        self.ask = Some(Ask::Export(Box::new(wish)));
    }
}

/// An export on its own thread.
struct Task {
    goods: Goods,
    folder: PathBuf,
    /// Where the open file is: a template is named beside it.
    beside: PathBuf,
    choices: Choices,
    inputs: Vec<PathBuf>,
    force: bool,
    cancel: Arc<AtomicBool>,
}

impl Task {
    fn run(&self) -> Outcome {
        let how = match self.choices.checked(&self.beside) {
            Ok(how) => how,
            Err(problems) => return Outcome::Wrong(problems),
        };
        let files = match self.goods.files(&how) {
            Ok(files) => files,
            Err(problems) => return Outcome::Wrong(problems),
        };
        if self.cancel.load(Ordering::Relaxed) {
            return Outcome::Canceled;
        }
        let own = self.goods.sources();
        let template = self.choices.template_path(&self.beside);
        let inputs = self.inputs.iter().chain(&own).chain(&template);
        match write_all(
            &self.folder,
            &files,
            inputs.map(PathBuf::as_path),
            self.force,
        ) {
            Ok(()) => Outcome::Wrote(files.len()),
            Err(WriteError::Exists(paths)) => Outcome::Taken(paths),
            Err(error) => Outcome::Wrong(vec![Problem {
                path: "folder".to_owned(),
                message: error.to_string(),
                help: "choose another folder".to_owned(),
            }]),
        }
    }
}
