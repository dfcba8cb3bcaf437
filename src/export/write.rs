//! Writing files whole or not at all.

use super::OutFile;
use std::collections::BTreeSet;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};
use tempfile::NamedTempFile;
use thiserror::Error;

/// Why files were not written.
#[derive(Debug, Error)]
pub enum WriteError {
    /// Files of these names are there already, and overwriting was not asked for.
    /// Nothing was written.
    #[error("{} already there: {}", if .0.len() == 1 { "is" } else { "are" }, .0.iter().map(|p| p.display().to_string()).collect::<Vec<_>>().join(", "))]
    Exists(Vec<PathBuf>),
    /// The folder's name is that of something else.
    #[error("{} is not a folder", .0.display())]
    NotAFolder(PathBuf),
    /// A folder has the name of a file to be written.
    #[error("{} is a folder", .0.display())]
    IsAFolder(PathBuf),
    /// A file to be written is the one that was read.
    #[error("{} is the file that was read", .0.display())]
    IsInput(PathBuf),
    /// The system refused.
    #[error("{}: {source}", .path.display())]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// The system's reason.
        source: io::Error,
    },
}

/// How the names of files begin that are still being written.
const UNFINISHED: &str = ".runwright-";
/// Unfinished files that are older are nobody's: writing takes seconds.
const STALE: Duration = Duration::from_secs(3600);

/// Writes `files` below `folder`, which is made if need be.
///
/// Each file is written beside its place under a temporary name and then moved
/// there, so that a file is whole or absent at any moment. All files are written
/// before the first is moved: a full disk leaves the folder as it was. Without
/// `force`, nothing is written if any name is taken; none of `inputs` is ever replaced.
///
/// A program that is killed while it writes cannot clear up: hidden files named
/// `.runwright-…` stay. Whoever writes in that folder an hour later or more removes them.
pub fn write_all<'a>(
    folder: &Path,
    files: &[OutFile],
    inputs: impl IntoIterator<Item = &'a Path>,
    force: bool,
) -> Result<(), WriteError> {
    let places: Vec<PathBuf> = files.iter().map(|file| folder.join(&file.name)).collect();
    check_places(folder, &places, inputs)?;
    if !force {
        let taken: Vec<PathBuf> = places
            .iter()
            .filter(|p| p.symlink_metadata().is_ok())
            .cloned()
            .collect();
        if !taken.is_empty() {
            return Err(WriteError::Exists(taken));
        }
    }
    let mut staged = Vec::with_capacity(files.len());
    for (file, place) in files.iter().zip(&places) {
        staged.push(stage(place, &file.bytes).map_err(|source| WriteError::Io {
            path: place.clone(),
            source,
        })?);
    }
    let folders: BTreeSet<&Path> = places.iter().filter_map(|place| place.parent()).collect();
    folders.into_iter().for_each(clear_up);
    for (temporary, place) in staged.into_iter().zip(places.iter().cloned()) {
        let moved = if force {
            temporary.persist(&place).map(drop)
        } else {
            temporary.persist_noclobber(&place).map(drop)
        };
        if let Err(error) = moved {
            return Err(match error.error.kind() {
                io::ErrorKind::AlreadyExists => WriteError::Exists(vec![place]),
                _ => WriteError::Io {
                    path: place,
                    source: error.error,
                },
            });
        }
    }
    Ok(())
}

/// What no `force` overrides.
fn check_places<'a>(
    folder: &Path,
    places: &[PathBuf],
    inputs: impl IntoIterator<Item = &'a Path>,
) -> Result<(), WriteError> {
    if folder.exists() && !folder.is_dir() {
        return Err(WriteError::NotAFolder(folder.to_owned()));
    }
    let inputs: Vec<PathBuf> = inputs
        .into_iter()
        .filter_map(|path| path.canonicalize().ok())
        .collect();
    for place in places {
        if place.is_dir() {
            return Err(WriteError::IsAFolder(place.clone()));
        }
        if place
            .canonicalize()
            .is_ok_and(|place| inputs.contains(&place))
        {
            return Err(WriteError::IsInput(place.clone()));
        }
    }
    Ok(())
}

fn stage(place: &Path, bytes: &[u8]) -> io::Result<NamedTempFile> {
    let folder = place.parent().unwrap_or_else(|| Path::new("."));
    fs::create_dir_all(folder)?;
    let mut file = tempfile::Builder::new()
        .prefix(UNFINISHED)
        .permissions_like_new_file()
        .tempfile_in(folder)?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    Ok(file)
}

/// Removes what programs that were killed left in `folder`, as far as that can be done.
fn clear_up(folder: &Path) {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    for entry in entries {
        let is_unfinished = entry
            .file_name()
            .as_encoded_bytes()
            .starts_with(UNFINISHED.as_bytes());
        let age = entry
            .metadata()
            .ok()
            .filter(fs::Metadata::is_file)
            .and_then(|data| data.modified().ok())
            .and_then(|at| SystemTime::now().duration_since(at).ok());
        if is_unfinished && age.is_some_and(|age| age > STALE) {
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// Temporary files are private by default; a result should be as readable as any
/// file that the user makes.
trait LikeNewFile {
    fn permissions_like_new_file(&mut self) -> &mut Self;
}

impl LikeNewFile for tempfile::Builder<'_, '_> {
    #[cfg(unix)]
    fn permissions_like_new_file(&mut self) -> &mut Self {
        use std::os::unix::fs::PermissionsExt;
        // The process's umask takes off what the user does not want.
        self.permissions(fs::Permissions::from_mode(0o666))
    }

    #[cfg(not(unix))]
    fn permissions_like_new_file(&mut self) -> &mut Self {
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(name: &str, text: &str) -> OutFile {
        OutFile::new(name, text)
    }

    #[test]
    fn nothing_is_written_if_any_name_is_taken() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("b"), "mine").unwrap();
        let result = write_all(
            folder.path(),
            &[file("a", "1"), file("b", "2")],
            None,
            false,
        );
        assert!(matches!(result, Err(WriteError::Exists(paths)) if paths.len() == 1));
        assert!(!folder.path().join("a").exists());
        assert_eq!(fs::read_to_string(folder.path().join("b")).unwrap(), "mine");
    }

    #[test]
    fn force_replaces_and_leaves_no_temporary_files() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("b"), "old").unwrap();
        write_all(folder.path(), &[file("a", "1"), file("b", "2")], None, true).unwrap();
        assert_eq!(fs::read_to_string(folder.path().join("b")).unwrap(), "2");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
    }

    #[test]
    fn what_a_killed_program_left_is_removed_once_it_is_old() {
        let folder = tempfile::tempdir().unwrap();
        let old = SystemTime::now() - STALE - Duration::from_secs(60);
        for (name, is_old) in [
            (".runwright-old", true),
            (".runwright-new", false),
            (".mine", true),
        ] {
            let left = fs::File::create(folder.path().join(name)).unwrap();
            if is_old {
                left.set_modified(old).unwrap();
            }
        }
        write_all(folder.path(), &[file("a", "1")], None, false).unwrap();
        let mut names: Vec<_> = fs::read_dir(folder.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name())
            .collect();
        names.sort();
        assert_eq!(names, [".mine", ".runwright-new", "a"]);
    }

    #[test]
    fn the_input_is_never_replaced() {
        // Once: a job named plan.json was overwritten by its plan with --force.
        let folder = tempfile::tempdir().unwrap();
        let input = folder.path().join("plan.json");
        fs::write(&input, "my job").unwrap();
        let result = write_all(
            folder.path(),
            &[file("plan.json", "1")],
            Some(input.as_path()),
            true,
        );
        assert!(matches!(result, Err(WriteError::IsInput(_))));
        assert_eq!(fs::read_to_string(&input).unwrap(), "my job");
    }

    #[test]
    fn a_folder_in_the_way_stops_everything() {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("b")).unwrap();
        let result = write_all(folder.path(), &[file("a", "1"), file("b", "2")], None, true);
        assert!(matches!(result, Err(WriteError::IsAFolder(_))));
        assert!(!folder.path().join("a").exists());
    }

    #[test]
    fn a_folder_that_cannot_be_made_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let blocked = folder.path().join("file");
        fs::write(&blocked, "not a folder").unwrap();
        let result = write_all(&blocked.join("sub"), &[file("a", "1")], None, false);
        assert!(matches!(result, Err(WriteError::Io { .. })));
    }
}
