//! [`Document`]: an open job's text, its changes, and saving it.

use super::json_text::{remove, set};
use runwright::job::{Path as Place, parse_json};
use serde_json::Value;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Changes that can be taken back.
const MOST_PAST: usize = 500;
/// Bytes of text that are kept to take changes back to.
const MOST_KEPT: usize = 64 * 1024 * 1024;

/// A job as text: every change is one to the text, so that what this program does not
/// know stays as its writer left it.
#[derive(Clone, Debug)]
pub struct Document {
    /// Where it lives; `None` before it is first saved.
    path: Option<PathBuf>,
    text: String,
    /// What the file held when it was last read or written.
    on_disk: Vec<u8>,
    past: Vec<Change>,
    future: Vec<Change>,
}

/// A text to go back or forward to, and the change that lies between.
#[derive(Clone, Debug)]
struct Change {
    text: String,
    what: String,
}

/// Why a job was not saved.
#[derive(Debug)]
pub enum SaveError {
    /// It has no file yet.
    NoName,
    /// Somebody else wrote the file since it was read.
    ChangedByAnother,
    /// Another file has that name.
    Taken,
    /// The system refused.
    Io(io::Error),
}

impl Document {
    /// A job that was read from `path`.
    pub fn new(path: PathBuf, bytes: Vec<u8>) -> Self {
        Self {
            path: Some(path),
            text: String::from_utf8_lossy(&bytes).into_owned(),
            on_disk: bytes,
            past: Vec::new(),
            future: Vec::new(),
        }
    }

    /// A new job, saved nowhere yet.
    pub fn fresh(text: String) -> Self {
        Self {
            path: None,
            text,
            on_disk: Vec::new(),
            past: Vec::new(),
            future: Vec::new(),
        }
    }

    /// Where it lives.
    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// Its text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Its values; null where it is no JSON.
    pub fn value(&self) -> Value {
        parse_json(self.text.as_bytes()).map_or(Value::Null, |(value, _)| value)
    }

    /// Whether anything is not saved.
    pub fn is_dirty(&self) -> bool {
        self.text.as_bytes() != self.on_disk
    }

    /// Writes `json` at `place`; an empty text takes the value out. `what` names the
    /// change. Returns whether anything changed.
    pub fn edit(&mut self, place: &Place, json: &str, what: &str) -> bool {
        let text = if json.is_empty() {
            remove(&self.text, place)
        } else {
            set(&self.text, place, json)
        };
        text.is_some_and(|text| self.replace(text, what))
    }

    /// Several values at once, as one change; see [`Document::edit`].
    pub fn edit_all(&mut self, edits: &[(Place, String)], what: &str) -> bool {
        let text = edits
            .iter()
            .try_fold(self.text.clone(), |text, (place, json)| {
                if json.is_empty() {
                    remove(&text, place)
                } else {
                    set(&text, place, json)
                }
            });
        text.is_some_and(|text| self.replace(text, what))
    }

    fn replace(&mut self, text: String, what: &str) -> bool {
        if text == self.text {
            return false;
        }
        let what = what.to_owned();
        self.past.push(Change {
            text: std::mem::replace(&mut self.text, text),
            what,
        });
        let too_much =
            |past: &[Change]| past.iter().map(|c| c.text.len()).sum::<usize>() > MOST_KEPT;
        while self.past.len() > MOST_PAST || (self.past.len() > 1 && too_much(&self.past)) {
            self.past.remove(0);
        }
        self.future.clear();
        true
    }

    /// What undo would take back.
    pub fn undoes(&self) -> Option<&str> {
        self.past.last().map(|change| change.what.as_str())
    }

    /// What redo would do again.
    pub fn redoes(&self) -> Option<&str> {
        self.future.last().map(|change| change.what.as_str())
    }

    /// Takes the last change back.
    pub fn undo(&mut self) -> bool {
        let Some(Change { text, what }) = self.past.pop() else {
            return false;
        };
        self.future.push(Change {
            text: std::mem::replace(&mut self.text, text),
            what,
        });
        true
    }

    /// Does the last change that was taken back again.
    pub fn redo(&mut self) -> bool {
        let Some(Change { text, what }) = self.future.pop() else {
            return false;
        };
        self.past.push(Change {
            text: std::mem::replace(&mut self.text, text),
            what,
        });
        true
    }

    /// Saves it where it lives, if nobody else has written there; with `force` anyway.
    pub fn save(&mut self, force: bool) -> Result<(), SaveError> {
        let path = self.path.clone().ok_or(SaveError::NoName)?;
        if !force {
            match fs::read(&path) {
                Ok(bytes) if bytes == self.on_disk => {}
                Ok(_) => return Err(SaveError::ChangedByAnother),
                Err(error) if error.kind() == io::ErrorKind::NotFound => {
                    return Err(SaveError::ChangedByAnother);
                }
                Err(error) => return Err(SaveError::Io(error)),
            }
        }
        self.write(&path).map_err(SaveError::Io)
    }

    /// Saves it under another name, over no other file unless `force` is given.
    pub fn save_as(&mut self, path: &Path, force: bool) -> Result<(), SaveError> {
        if !force && path.symlink_metadata().is_ok() {
            return Err(SaveError::Taken);
        }
        self.write(path).map_err(SaveError::Io)?;
        self.path = Some(path.to_path_buf());
        Ok(())
    }

    /// Whole or not at all: beside its place, then moved there.
    fn write(&mut self, path: &Path) -> io::Result<()> {
        // A link is followed, so that what it points to is what is saved.
        let place = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
        let folder = match place.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        let mut file = tempfile::NamedTempFile::new_in(folder)?;
        file.write_all(self.text.as_bytes())?;
        file.as_file().sync_all()?;
        if let Ok(known) = fs::metadata(&place) {
            fs::set_permissions(file.path(), known.permissions())?;
        } else {
            allow_reading(file.path())?;
        }
        file.persist(&place).map_err(|error| error.error)?;
        self.on_disk = self.text.clone().into_bytes();
        Ok(())
    }
}

/// New files may be read by all, as those of other programs.
#[cfg(unix)]
fn allow_reading(path: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn allow_reading(_: &Path) -> io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "{ \"units\": \"in\", \"x\": 1.10 }";

    fn saved() -> (tempfile::TempDir, Document) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.json");
        fs::write(&path, TEXT).unwrap();
        let document = Document::new(path, TEXT.as_bytes().to_vec());
        (folder, document)
    }

    fn at(key: &str) -> Place {
        Place::root().key(key)
    }

    #[test]
    fn changes_are_undone_and_redone_to_the_byte() {
        let (_folder, mut document) = saved();
        assert!(!document.is_dirty());
        assert!(document.edit(&at("x"), "2", "x"));
        assert!(document.edit(&at("y"), "3", "y"));
        assert!(!document.edit(&at("y"), "3", "y"), "no change is none");
        let last = document.text().to_owned();
        assert_eq!(document.undoes(), Some("y"));
        assert!(document.undo() && document.undo() && !document.undo());
        assert_eq!(document.text(), TEXT);
        assert!(!document.is_dirty());
        assert!(document.redo() && document.redo() && !document.redo());
        assert_eq!(document.text(), last);
        document.undo();
        document.edit(&at("z"), "4", "z");
        assert_eq!(
            document.redoes(),
            None,
            "a new change ends what could be redone"
        );
    }

    #[test]
    fn saving_keeps_what_is_not_known() {
        let (_folder, mut document) = saved();
        document.edit(&at("units"), "\"mm\"", "units");
        document.save(false).unwrap();
        let text = fs::read_to_string(document.path().unwrap()).unwrap();
        assert_eq!(text, TEXT.replace("in\"", "mm\""));
        assert!(!document.is_dirty());
    }

    #[test]
    fn anothers_change_is_never_written_over() {
        let (_folder, mut document) = saved();
        let path = document.path().unwrap().to_path_buf();
        document.edit(&at("x"), "2", "x");
        fs::write(&path, "theirs").unwrap();
        assert!(matches!(
            document.save(false),
            Err(SaveError::ChangedByAnother)
        ));
        assert_eq!(fs::read_to_string(&path).unwrap(), "theirs");
        let other = path.with_file_name("other.json");
        document.save_as(&other, false).unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "theirs");
        assert_eq!(document.path(), Some(other.as_path()));
        assert!(matches!(
            document.save_as(&path, false),
            Err(SaveError::Taken)
        ));
        fs::remove_file(&other).unwrap();
        assert!(matches!(
            document.save(false),
            Err(SaveError::ChangedByAnother)
        ));
        document.save(true).unwrap();
        assert!(other.exists());
    }
}
