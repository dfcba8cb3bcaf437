//! [`PieceRow`]: one piece as tables of pieces print it, and how to read them.

use super::bend_row::BendRow;
use crate::run::{Placed, Run};
use crate::shop::Longer;
use crate::tube::Part;
use crate::units::{Angle, Length, Style};

/// How to read a table of pieces.
pub(super) const PIECES: &str = "As cut. Joint 0 is the first port. Long and short are the longest and the shortest line along the outside; center is along the axis. Clock: from the start's long side to the end's, clockwise looking downstream.";

/// What is said of a straight piece: the one that is left for last is sawn longer than the
/// table says, and a square one has no pattern.
fn straight(cuts: [Angle; 2], longer: Length, style: Style) -> String {
    let mut said = Vec::new();
    if longer > Length::ZERO {
        let longer = style.length(longer);
        said.push(format!("for last: saw {longer} longer, see the saw sheet"));
    }
    if cuts == [Angle::ZERO; 2] {
        said.push("square, no pattern".to_owned());
    }
    said.join("; ")
}

/// One piece in the shop's words.
#[derive(Debug)]
pub(super) struct PieceRow {
    pub piece: String,
    pub joints: String,
    pub long: String,
    pub center: String,
    pub center_exact: String,
    pub short: String,
    pub start_cut: String,
    pub end_cut: String,
    /// A dash where an end is square, and so has no long side.
    pub clock: String,
    pub note: String,
}

impl PieceRow {
    /// Titles of what [`PieceRow::cells`] gives.
    pub const HEADER: [&str; 9] = [
        "piece",
        "joints",
        "long",
        "center",
        "short",
        "start cut",
        "end cut",
        "clock",
        "",
    ];

    /// All but the exact length.
    pub fn cells(self) -> [String; 9] {
        [
            self.piece,
            self.joints,
            self.long,
            self.center,
            self.short,
            self.start_cut,
            self.end_cut,
            self.clock,
            self.note,
        ]
    }

    /// Every piece of `run`, which counts as number `number`; `bends` are its stock bends.
    pub fn all(
        (number, run): (usize, &Run),
        bends: &[BendRow],
        longer: &[Longer],
        style: Style,
    ) -> Vec<Self> {
        let pieces = run.pieces().iter().enumerate();
        pieces
            .map(|(i, placed)| {
                let bend = bends.iter().find(|bend| bend.piece == i + 1);
                let by = Longer::of(longer, number, i + 1);
                Self::new(i + 1, placed, (bend, by), style)
            })
            .collect()
    }

    /// Piece number `number`, from 1, which is a stock bend or is sawn `longer`.
    fn new(
        number: usize,
        placed: &Placed,
        (bend, longer): (Option<&BendRow>, Length),
        style: Style,
    ) -> Self {
        let piece = &placed.piece;
        let cuts = [piece.start().angle, piece.end().angle];
        let both_mitered = cuts.iter().all(|&angle| angle > Angle::ZERO);
        Self {
            piece: number.to_string(),
            joints: format!("{}–{number}", number.saturating_sub(1)),
            long: style.length(piece.long_side()),
            center: style.length(piece.length()),
            center_exact: style.decimal(piece.length()),
            short: style.length(piece.short_side()),
            start_cut: style.angle(cuts[0]),
            end_cut: style.angle(cuts[1]),
            clock: match both_mitered {
                true => style.clock(piece.clock()),
                false => "–".to_owned(),
            },
            note: match (piece, bend) {
                (Part::Bent(_), Some(bend)) if !bend.name.is_empty() => {
                    format!("stock bend {}", bend.name)
                }
                (Part::Bent(_), _) => "stock bend".to_owned(),
                (Part::Straight(_), _) => straight(cuts, longer, style),
            },
        }
    }
}
