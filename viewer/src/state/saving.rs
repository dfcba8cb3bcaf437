//! Saving the job and exporting its plan.

use super::document::{Document, SaveError};
use super::session::{Ask, Session};
use super::shown::Shown;
use runwright::export::{PlanFiles, WriteError, write_all};
use std::path::{Path, PathBuf};

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
            self.tell(
                "What is shown is of the job before its last change: plan it first.",
                true,
            );
            return;
        }
        let files = match (PlanFiles {
            pieces: true,
            ..PlanFiles::default()
        })
        .files(plan)
        {
            Ok(files) => files,
            Err(error) => {
                self.tell(error.to_string(), true);
                return;
            }
        };
        let job = self
            .document
            .as_ref()
            .and_then(Document::path)
            .map(Path::to_path_buf);
        let beside = self.folder();
        let scans = plan.job.loaded.iter().map(|scan| beside.join(&scan.file));
        let inputs: Vec<PathBuf> = job.into_iter().chain(scans).collect();
        match write_all(folder, &files, inputs.iter().map(PathBuf::as_path), force) {
            Ok(()) => {
                self.ask = None;
                self.tell(
                    format!("Wrote {} files to {}.", files.len(), folder.display()),
                    false,
                );
            }
            Err(WriteError::Exists(_)) => {
                self.ask = Some(Ask::Export(folder.display().to_string(), true));
            }
            Err(error) => self.tell(error.to_string(), true),
        }
    }
}
