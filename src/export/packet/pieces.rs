//! The table of pieces, and which are alike.

use super::data::{Fact, TableData};
use crate::export::bend_row::BendRow;
use crate::export::piece_row::PieceRow;
use crate::plan::FileRun;
use crate::run::{JointKind, Run};
use crate::shop::{Longer, kinds};
use crate::units::{Length, Style, counted};

/// Rows of strings under a head of words.
pub(super) fn table<const N: usize>(header: [&str; N], rows: Vec<[String; N]>) -> TableData {
    TableData {
        header: header.map(str::to_owned).to_vec(),
        rows: rows.into_iter().map(Vec::from).collect(),
    }
}

/// Every piece of a run, which counts as number `number`, in order of flow.
pub(super) fn pieces(
    run: (usize, &Run),
    bends: &[BendRow],
    longer: &[Longer],
    style: Style,
) -> TableData {
    let rows = PieceRow::all(run, bends, longer, style).into_iter();
    table(PieceRow::HEADER, rows.map(PieceRow::cells).collect())
}

/// Kinds of piece that there are several of; the one that is left for last is sawn apart
/// from its like.
pub(super) fn alike((number, run): (usize, &Run), longer: &[Longer], style: Style) -> TableData {
    let kinds = kinds(run).into_iter().map(|mut kind| {
        kind.numbers
            .retain(|&piece| Longer::of(longer, number, piece) == Length::ZERO);
        kind
    });
    let kinds = kinds.filter(|kind| kind.numbers.len() > 1);
    let rows = kinds.map(|kind| {
        let numbers: Vec<String> = kind.numbers.iter().map(usize::to_string).collect();
        [
            numbers.join(", "),
            kind.numbers.len().to_string(),
            style.length(kind.piece.long_side()),
            style.length(kind.piece.short_side()),
            style.angle(kind.piece.start().angle),
            style.angle(kind.piece.end().angle),
        ]
    });
    let header = [
        "pieces",
        "how many",
        "long",
        "short",
        "start cut",
        "end cut",
    ];
    table(header, rows.collect())
}

/// Facts before what is said of stock bends.
const AFTER_MADE_OF: usize = 2;

/// What a run is, in a few lines.
pub(super) fn facts(file: &FileRun, style: Style) -> Vec<Fact> {
    let run = &file.run;
    let (tube, joints) = (run.tube(), run.joints());
    let count = |kind: JointKind| joints.iter().filter(|joint| joint.kind == kind).count();
    let (low, high) = run.bounds();
    let size = high - low;
    let across = [size.x, size.y, size.z].map(|mm| style.length(Length::from_mm(mm)));
    let mut joints = Vec::new();
    for (kind, name) in [
        (JointKind::Miter, "miter joint"),
        (JointKind::Square, "square joint"),
    ] {
        let found = count(kind);
        if found > 0 {
            joints.push(counted(found, name));
        }
    }
    let pieces = counted(run.pieces().len(), "piece");
    let stock_bends = run
        .pieces()
        .iter()
        .filter(|placed| placed.arc.is_some())
        .count();
    let mut made = vec![pieces];
    if stock_bends > 0 {
        made.push(format!("{} among them", counted(stock_bends, "stock bend")));
    }
    made.extend(joints);
    let fact = |label: &str, said: String| (label.to_owned(), said);
    let mut facts = vec![
        fact(
            "tube",
            format!(
                "{} OD × {} wall, {}; {} round",
                style.decimal(tube.od()),
                style.decimal(tube.wall()),
                tube.material(),
                style.decimal(tube.circumference())
            ),
        ),
        fact("made of", made.join(", ")),
        fact("centerline", style.length(run.length())),
        fact(
            "weld",
            format!(
                "{} round the joints, flanges not counted",
                style.length(run.weld_length())
            ),
        ),
        fact(
            "box round it",
            format!(
                "{} × {} × {} along x, y, z",
                across[0], across[1], across[2]
            ),
        ),
    ];
    let bends = BendRow::all(run, &file.bends, style);
    let said = bends.iter().filter(|bend| !bend.name.is_empty());
    let said = said.map(|bend| format!("piece {}: {}", bend.piece, bend.summary()));
    let said: Vec<String> = said.collect();
    if !said.is_empty() {
        facts.insert(AFTER_MADE_OF, fact("stock bends", said.join("; ")));
    }
    facts
}
