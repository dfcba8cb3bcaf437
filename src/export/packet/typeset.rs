//! From a template and its data to the bytes of a PDF.

use super::world::{PacketWorld, TEMPLATE};
use typst::World;
use typst::diag::SourceDiagnostic;
use typst::foundations::Smart;
use typst::{WorldExt, compile};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, pdf};

/// The pages as one PDF, or every error of the template.
///
/// The file says nothing of when it was made, and its name is a hash of `ident` and
/// nothing else: the same template and data make the same bytes.
pub(super) fn typeset(
    template: String,
    data: Vec<u8>,
    ident: &str,
) -> Result<Vec<u8>, Vec<TemplateError>> {
    let Some(world) = PacketWorld::new(template, data) else {
        return Err(vec![TemplateError::bare("cannot be set")]);
    };
    let told = |errors: &[SourceDiagnostic]| -> Vec<TemplateError> {
        errors
            .iter()
            .map(|e| TemplateError::of(&world, e))
            .collect()
    };
    let document = compile::<PagedDocument>(&world).output;
    let document = document.map_err(|errors| told(&errors))?;
    let options = PdfOptions {
        ident: Smart::Custom(ident.to_owned()),
        creator: Smart::Custom(Some(
            concat!("runwright ", env!("CARGO_PKG_VERSION")).to_owned(),
        )),
        timestamp: None,
        ..PdfOptions::default()
    };
    pdf(&document, &options).map_err(|errors| told(&errors))
}

/// One thing wrong with a template.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TemplateError {
    /// Line and column in it, from 1, where it has a place.
    pub place: Option<(usize, usize)>,
    /// What is wrong.
    pub message: String,
    /// What may help.
    pub hints: Vec<String>,
}

impl TemplateError {
    fn bare(message: &str) -> Self {
        Self {
            place: None,
            message: message.to_owned(),
            hints: Vec::new(),
        }
    }

    fn of(world: &PacketWorld, error: &SourceDiagnostic) -> Self {
        let lines = world.source(world.main()).ok();
        let range = world.range(error.span);
        let place = range.zip(lines).and_then(|(range, source)| {
            let (line, column) = source.lines().byte_to_line_column(range.start)?;
            Some((line + 1, column + 1))
        });
        Self {
            place,
            message: error.message.to_string(),
            hints: error.hints.iter().map(|hint| hint.v.to_string()).collect(),
        }
    }
}

impl std::fmt::Display for TemplateError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.place {
            Some((line, column)) => write!(f, "line {line}, column {column}: {}", self.message)?,
            None => write!(f, "{TEMPLATE}: {}", self.message)?,
        }
        for hint in &self.hints {
            write!(f, "; {hint}")?;
        }
        Ok(())
    }
}
