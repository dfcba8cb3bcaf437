//! [`Choices`]: what may be chosen about an export, as it is typed.

use runwright::export::{DEFAULT_TEMPLATE, Packet, PaperSize, PlanFiles};
use runwright::job::Problem;
use runwright::units::{Length, LengthUnit, parse_length};
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Thickest sheet that still wraps, mm: as the command line has it.
const THICKEST_PAPER: f64 = 3.0;
/// Finest chord, mm: finer only makes files large.
const FINEST_CHORD: f64 = 1e-4;
/// Largest template, in bytes.
const MAX_TEMPLATE_BYTES: u64 = 4 * 1024 * 1024;

/// Paper of the packet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Page {
    /// As the job's unit has it.
    #[default]
    Usual,
    /// 8 1/2 by 11 inches.
    Letter,
    /// 210 by 297 mm.
    A4,
}

impl Page {
    /// All of them with their words.
    pub const ALL: [(&'static str, Self); 3] = [
        ("as usual for the job's unit", Self::Usual),
        ("Letter", Self::Letter),
        ("A4", Self::A4),
    ];
}

/// What was typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choices {
    /// The packet's paper.
    pub page: Page,
    /// Thickness of the paper that is wrapped round the tube.
    pub paper: String,
    /// Thickness of the card that patterns and cradles are cut from.
    pub card: String,
    /// A template in place of the usual one.
    pub template: String,
    /// How far a flat in an STL may lie inside the true circle.
    pub chord: String,
    /// Whether the packet is written.
    pub packet: bool,
    /// One STL a piece.
    pub pieces: bool,
    /// The run's STL as a full rod.
    pub solid: bool,
}

impl Default for Choices {
    fn default() -> Self {
        Self {
            page: Page::Usual,
            paper: "0.1 mm".to_owned(),
            card: "0 mm".to_owned(),
            template: String::new(),
            chord: "0.05 mm".to_owned(),
            packet: true,
            pieces: true,
            solid: false,
        }
    }
}

impl Choices {
    /// What they come to, or everything that is wrong with them. The template is read by
    /// whoever asks.
    pub fn checked(&self, folder: &Path) -> Result<PlanFiles, Vec<Problem>> {
        let mut problems = Vec::new();
        let mut length = |key: &str, text: &str, least: f64, most: f64| {
            let read = parse_length(text, LengthUnit::Mm).map_err(|error| error.to_string());
            let read = read.and_then(|length| {
                if (least..=most).contains(&length.mm()) {
                    Ok(length)
                } else if most.is_finite() {
                    Err(format!("must be {least} to {most} mm"))
                } else {
                    Err(format!("must be {least} mm or more"))
                }
            });
            read.unwrap_or_else(|message| {
                problems.push(Problem {
                    path: key.to_owned(),
                    message,
                    help: "type a length, such as 0.1 mm or 1/32 in".to_owned(),
                });
                Length::ZERO
            })
        };
        let paper = length("paper", &self.paper, 0.0, THICKEST_PAPER);
        let card = length("card", &self.card, 0.0, THICKEST_PAPER);
        let chord_tolerance = length("chord", &self.chord, FINEST_CHORD, f64::INFINITY);
        let template = match self.template_path(folder) {
            Some(path) => read_template(&path)
                .map_err(|problem| problems.push(problem))
                .ok(),
            None => None,
        };
        if !problems.is_empty() {
            return Err(problems);
        }
        Ok(PlanFiles {
            chord_tolerance,
            solid: self.solid,
            pieces: self.pieces,
            packet: Packet {
                page: match self.page {
                    Page::Usual => None,
                    Page::Letter => Some(PaperSize::Letter),
                    Page::A4 => Some(PaperSize::A4),
                },
                paper,
                card,
                template,
            },
            with_packet: self.packet,
        })
    }

    /// Where the template is, if one is named.
    pub fn template_path(&self, folder: &Path) -> Option<PathBuf> {
        let name = self.template.trim();
        (!name.is_empty()).then(|| folder.join(name))
    }
}

fn read_template(path: &Path) -> Result<String, Problem> {
    let failed = |message: String| Problem {
        path: "template".to_owned(),
        message,
        help: "name a file as 'runwright template' prints it, or leave this empty".to_owned(),
    };
    let mut text = String::new();
    let file = File::open(path).map_err(|error| failed(format!("{}: {error}", path.display())))?;
    file.take(MAX_TEMPLATE_BYTES + 1)
        .read_to_string(&mut text)
        .map_err(|error| failed(error.to_string()))?;
    if text.len() as u64 > MAX_TEMPLATE_BYTES {
        return Err(failed(format!(
            "has more than {MAX_TEMPLATE_BYTES} bytes: too large for a template"
        )));
    }
    if text.trim().is_empty() {
        let like = DEFAULT_TEMPLATE.lines().count();
        return Err(failed(format!("is empty; the usual one has {like} lines")));
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_is_checked_all_at_once() {
        let folder = tempfile::tempdir().unwrap();
        let usual = Choices::default().checked(folder.path()).unwrap();
        assert!((usual.packet.paper.mm() - 0.1).abs() < 1e-12 && usual.packet.page.is_none());
        let odd = Choices {
            page: Page::A4,
            paper: "1/64 in".to_owned(),
            packet: false,
            ..Choices::default()
        };
        let odd = odd.checked(folder.path()).unwrap();
        assert!((odd.packet.paper.mm() - 25.4 / 64.0).abs() < 1e-9 && !odd.with_packet);
        let bad = Choices {
            paper: "thin".to_owned(),
            card: "4 mm".to_owned(),
            chord: "0".to_owned(),
            template: "none.typ".to_owned(),
            ..Choices::default()
        };
        let problems = bad.checked(folder.path()).unwrap_err();
        let paths: Vec<&str> = problems.iter().map(|one| one.path.as_str()).collect();
        assert_eq!(paths, ["paper", "card", "chord", "template"]);
    }
}
