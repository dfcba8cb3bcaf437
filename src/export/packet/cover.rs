//! The cover: pictures, main sizes, cost line.

use super::data::{CoverData, PictureData};
use super::pieces::{facts, table};
use super::quote::cost_line;
use crate::export::flat::PaperSize;
use crate::export::view::{Look, Picture, Shown, isometric, three_views};
use crate::plan::{FileRun, PlanFile};
use crate::units::{Length, counted};

const CAUTION: &str = "Read the cautions on the last page before you cut.";
/// Of the page, taken by its own margins at both sides.
const SIDES: Length = Length::from_mm(28.0);
/// Parts of the page's height that the two pictures may take; less where there is a table
/// of runs to make room for.
const ISOMETRIC: f64 = 0.36;
const VIEWS: f64 = 0.33;
const TABLE_ROW: Length = Length::from_mm(7.0);
/// Warnings that the cover tells, how many characters of each, and the room that one takes
/// and that their box takes beside them.
const WARNINGS: usize = 3;
const WARNING_LETTERS: usize = 160;
const WARNING: Length = Length::from_mm(9.5);
const WARNINGS_BOX: Length = Length::from_mm(11.0);
/// Of the room that the table and warnings take, the pictures give way by this.
const GIVE_WAY: f64 = 1.5;
/// Runs beyond which the table goes on to the next page, and pictures keep their size.
const MOST_ROWS: usize = 12;
/// Height of digits in the isometric and in the three views.
const ISOMETRIC_TEXT: Length = Length::from_mm(2.0);
const VIEWS_TEXT: Length = Length::from_mm(1.7);

pub(super) fn cover(plan: &PlanFile, page: PaperSize) -> CoverData {
    let style = plan.style;
    let shown: Vec<Shown<'_>> = plan
        .runs
        .iter()
        .map(|file| Shown {
            name: &file.name,
            run: &file.run,
            ports: [&file.ports[0].name, &file.ports[1].name],
        })
        .collect();
    let (width, height) = page.size();
    let warnings = warnings(plan);
    let rows = TABLE_ROW * plan.runs.len().saturating_sub(1).min(MOST_ROWS) as f64
        + match warnings.len() {
            0 => Length::ZERO,
            count => (WARNINGS_BOX + WARNING * count as f64) * GIVE_WAY,
        };
    let look = |part: f64, text: Length| Look {
        width: width - SIDES,
        height: (height - rows) * part,
        text,
        ..Look::new(style)
    };
    let row = |file: &FileRun| {
        let run = &file.run;
        let tube = run.tube();
        [
            file.name.clone(),
            format!("{} to {}", file.ports[0].name, file.ports[1].name),
            format!(
                "{} × {} {}",
                style.decimal(tube.od()),
                style.decimal(tube.wall()),
                tube.material()
            ),
            counted(run.pieces().len(), "piece"),
            style.length(run.length()),
            style.length(run.weld_length()),
        ]
    };
    let header = [
        "run",
        "from and to",
        "tube",
        "made of",
        "centerline",
        "weld",
    ];
    CoverData {
        isometric: isometric(&shown, &look(ISOMETRIC, ISOMETRIC_TEXT)).into(),
        views: three_views(&shown, &look(VIEWS, VIEWS_TEXT)).into(),
        table: table(header, plan.runs.iter().map(row).collect()),
        facts: match plan.runs.as_slice() {
            [only] => facts(only, style),
            _ => Vec::new(),
        },
        cost: cost_line(plan),
        caution: CAUTION.to_owned(),
        warnings,
    }
}

/// The first warnings, as far as the cover has room for them.
fn warnings(plan: &PlanFile) -> Vec<String> {
    let first = plan.warnings.iter().take(WARNINGS);
    first
        .map(|warning| {
            let message = warning.placed_message();
            match message.char_indices().nth(WARNING_LETTERS) {
                Some((end, _)) => format!("{}…", message[..end].trim_end()),
                None => message,
            }
        })
        .collect()
}

impl From<Picture> for PictureData {
    fn from(picture: Picture) -> Self {
        Self {
            svg: picture.svg,
            width_mm: picture.width.mm(),
            height_mm: picture.height.mm(),
        }
    }
}
