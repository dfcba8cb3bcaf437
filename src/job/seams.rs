//! Weld seams of the stock: the file's, checked.

use super::file::{JobFile, TubeFile};
use super::job::JobRun;
use super::path::Path;
use super::values::Reader;
use crate::shop::Seams;

impl Reader<'_> {
    /// Says of each run how its seams should lie. `runs` are those of the file, all of them
    /// unless something else is wrong.
    pub(super) fn lay_seams(&mut self, file: &JobFile, runs: &mut [JobRun]) {
        let root = Path::root();
        let seams = self.seams(file);
        let usual = self.has_seam(file.tube.as_ref(), &root.key("tube"));
        let files = file.runs.iter().flatten().enumerate();
        let own = files.map(|(i, run)| {
            let path = root.key("runs").index(i).key("tube");
            let own = run
                .tube
                .as_ref()
                .map(|tube| self.has_seam(Some(tube), &path));
            own.unwrap_or(usual)
        });
        let own: Vec<Option<bool>> = own.collect();
        for (run, has_seam) in runs.iter_mut().zip(own) {
            run.seams = seams.filter(|_| has_seam == Some(true));
        }
    }

    fn seams(&mut self, file: &JobFile) -> Option<Seams> {
        let Some(text) = file.shop.as_ref().and_then(|shop| shop.seams.as_ref()) else {
            return Some(Seams::default());
        };
        let path = Path::root().key("shop").key("seams");
        let text = self.text(text, &path)?;
        let words = Seams::ALL.map(|seams| format!("\"{}\"", seams.word()));
        Seams::from_word(&text).or_else(|| {
            let message = format!("is {text:?}, which is no way for seams to lie");
            self.fail(&path, message, format!("write one of {}", words.join(", ")))
        })
    }

    /// Whether a tube has a lengthwise weld seam, as most that is cut to pies does (common
    /// practice, no source).
    fn has_seam(&mut self, file: Option<&TubeFile>, path: &Path) -> Option<bool> {
        match file.and_then(|file| file.seam.as_ref()) {
            Some(seam) => self.flag(&Some(seam.clone()), &path.key("seam")),
            None => Some(true),
        }
    }
}
