//! [`PacketWorld`]: all that the typesetter may see: one template, one data file, the
//! fonts that the program brings along.
//!
//! Nothing else can be read, neither files nor the clock, so that the same packet comes
//! out as the same bytes everywhere.

use std::sync::LazyLock;
use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

/// Name of the template, for messages.
pub(super) const TEMPLATE: &str = "packet.typ";
/// Name of the data, which the template reads with `json("packet.json")`.
pub(super) const DATA: &str = "packet.json";

/// What does not change from packet to packet.
struct Press {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
}

static PRESS: LazyLock<Press> = LazyLock::new(|| {
    let files = [
        dejavu::sans::regular(),
        dejavu::sans::bold(),
        dejavu::sans::oblique(),
        dejavu::sans_condensed::regular(),
        dejavu::sans_condensed::bold(),
        dejavu::sans_mono::regular(),
    ];
    let fonts: Vec<Font> = files
        .into_iter()
        .flat_map(|file| Font::iter(Bytes::new(file)))
        .collect();
    Press {
        library: LazyHash::new(<Library as LibraryExt>::default()),
        book: LazyHash::new(FontBook::from_fonts(&fonts)),
        fonts,
    }
});

/// A template and its data.
pub(super) struct PacketWorld {
    template: Source,
    data: (FileId, Bytes),
}

impl PacketWorld {
    /// `None` if the two names were no paths, which they are.
    pub fn new(template: String, data: Vec<u8>) -> Option<Self> {
        Some(Self {
            template: Source::new(file(TEMPLATE)?, template),
            data: (file(DATA)?, Bytes::new(data)),
        })
    }
}

fn file(name: &str) -> Option<FileId> {
    let path = VirtualPath::new(name).ok()?;
    Some(RootedPath::new(VirtualRoot::Project, path).intern())
}

fn missing(id: FileId) -> FileError {
    FileError::NotFound(id.vpath().get_without_slash().into())
}

impl World for PacketWorld {
    fn library(&self) -> &LazyHash<Library> {
        &PRESS.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &PRESS.book
    }

    fn main(&self) -> FileId {
        self.template.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.template.id() {
            Ok(self.template.clone())
        } else {
            Err(missing(id))
        }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        if id == self.data.0 {
            Ok(self.data.1.clone())
        } else {
            Err(missing(id))
        }
    }

    fn font(&self, index: usize) -> Option<Font> {
        PRESS.fonts.get(index).cloned()
    }

    /// No clock: a date would change the bytes.
    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}
