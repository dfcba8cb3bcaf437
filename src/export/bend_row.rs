//! [`BendRow`]: a stock bend as papers tell it, and what is sawn off it.

use crate::run::Run;
use crate::shop::BoughtBend;
use crate::tube::{BendCut, BentPiece, Sawn, StockBend};
use crate::units::{Angle, Length, Style, counted};
use serde::Serialize;

/// How to read what is said of stock bends.
pub(super) const BENDS: &str = "Off the shelf, both ends square; start and end in order of flow. A leg is straight tube past the arc. Where pieces are listed, long and short of a stock bend are along its outside and inside, legs included. Saw on the side of a mark that drops off, legs first.";

/// Legs shorter than this are none.
const NO_LEG: Length = Length::from_mm(0.05);

/// Lengths below this are written with decimals, which a fraction would swallow.
const SMALL: Length = Length::from_mm(1.0);

/// One stock bend of a run in the shop's words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BendRow {
    /// Its number in the run, from 1.
    pub piece: usize,
    /// What it is called; nothing where that is not known.
    pub name: String,
    /// Its radius and turn, and what it is cut down from.
    pub arc: String,
    /// Legs in the run.
    pub legs: String,
    /// Along its outside and inside, from face to face.
    pub sides: String,
    /// What is sawn, in few words: `as it is`.
    pub made: String,
    /// Each cut: which end, where, and what comes off.
    pub cuts: Vec<String>,
}

impl BendRow {
    /// Those of a run, of which `bought` are known.
    pub fn all(run: &Run, bought: &[BoughtBend], style: Style) -> Vec<Self> {
        let pieces = run.pieces().iter().enumerate();
        let bent = pieces.filter_map(|(i, placed)| Some((i + 1, placed.piece.bent()?)));
        bent.map(|(number, piece)| Self::new(number, piece, BoughtBend::of(bought, number), style))
            .collect()
    }

    fn new(number: usize, piece: &BentPiece, stock: Option<&StockBend>, style: Style) -> Self {
        let cuts = stock.map_or(Vec::new(), |stock| stock.cuts_to(piece));
        let words = Words {
            piece,
            stock,
            style,
        };
        Self {
            piece: number,
            name: stock.map_or(String::new(), |stock| format!("'{}'", stock.name)),
            arc: words.arc(),
            legs: words.legs(),
            sides: format!(
                "{} along its outside, {} along its inside",
                style.length(piece.long_side()),
                style.length(piece.short_side()),
            ),
            made: words.made(&cuts),
            cuts: cuts.iter().map(|cut| words.cut(cut)).collect(),
        }
    }

    /// Name and what is made of it, in one line: `'NPS 2 LR 90' as it is`.
    pub fn summary(&self) -> String {
        [self.name.as_str(), &self.made]
            .into_iter()
            .filter(|part| !part.is_empty())
            .collect::<Vec<_>>()
            .join(" ")
    }

    /// All that it is but for its cuts, in one line.
    pub fn full(&self) -> String {
        let parts = [&self.name, &self.arc, &self.legs, &self.sides];
        let parts = parts.into_iter().map(String::as_str);
        parts
            .filter(|part| !part.is_empty())
            .collect::<Vec<_>>()
            .join("; ")
    }

    /// How many cuts all of `rows` tell of, in words.
    pub(super) fn count(rows: &[Self]) -> String {
        counted(rows.iter().map(|row| row.cuts.len()).sum(), "cut")
    }
}

/// What there is to say of one bend.
struct Words<'a> {
    piece: &'a BentPiece,
    stock: Option<&'a StockBend>,
    style: Style,
}

/// The end of a bend, in order of flow.
const fn end_name(end: usize) -> &'static str {
    if end == 0 { "start" } else { "end" }
}

impl Words<'_> {
    /// The bend as bought, where it is cut down.
    fn cut_down(&self) -> Option<Angle> {
        let stock = self.stock?;
        let down = stock.is_cut_down_to(self.piece.turn);
        down.then_some(stock.turn)
    }

    fn arc(&self) -> String {
        let (clr, turn) = (
            self.style.decimal(self.piece.clr),
            self.style.angle(self.piece.turn),
        );
        match self.cut_down() {
            Some(from) => format!("CLR {clr}, {} cut down to {turn}", self.style.angle(from)),
            None => format!("CLR {clr}, {turn} turn"),
        }
    }

    fn legs(&self) -> String {
        let legs = self.piece.legs.map(|leg| leg.max(Length::ZERO));
        if legs.iter().all(|leg| *leg < NO_LEG) {
            return "no legs".to_owned();
        }
        let [start, end] = legs.map(|leg| match leg < NO_LEG {
            true => "none".to_owned(),
            false => self.style.length(leg),
        });
        format!("legs: {start} at its start, {end} at its end")
    }

    /// What is sawn, in few words.
    fn made(&self, cuts: &[BendCut]) -> String {
        if self.stock.is_none() {
            return String::new();
        }
        if cuts.is_empty() {
            return "as it is".to_owned();
        }
        let down = self.cut_down();
        let down = down.map(|from| format!("cut down from {}", self.style.angle(from)));
        let legs = cuts.iter().filter_map(|cut| match cut.sawn {
            Sawn::Arc { .. } => None,
            Sawn::Leg { leg, off } if leg <= -NO_LEG => Some(format!(
                "with {} off its {}",
                self.small(off),
                end_name(cut.end)
            )),
            Sawn::Leg { leg, .. } if leg < NO_LEG => Some(format!(
                "with the leg at its {} sawn off",
                end_name(cut.end)
            )),
            Sawn::Leg { leg, .. } => Some(format!(
                "with the leg at its {} sawn to {}",
                end_name(cut.end),
                self.style.length(leg)
            )),
        });
        down.into_iter().chain(legs).collect::<Vec<_>>().join(", ")
    }

    fn cut(&self, cut: &BendCut) -> String {
        match cut.sawn {
            Sawn::Leg { leg, off } => self.leg(cut.end, leg, off),
            Sawn::Arc { from_end, from_arc } => self.through(cut.end, from_end, from_arc),
        }
    }

    /// A leg made shorter: what is left past the arc, and what comes off. Where the arc
    /// ends cannot be seen on a bend, so that the end as bought is what to measure from.
    fn leg(&self, end: usize, leg: Length, off: Length) -> String {
        let (name, taken) = (end_name(end), self.small(off));
        let arc = format!("as bought, the arc is {} from it", self.small(leg + off));
        if leg <= -NO_LEG {
            let into = self.small(-leg);
            return format!("saw {taken} off its {name}, {into} of that from the arc ({arc})");
        }
        if leg < NO_LEG {
            return format!("saw the leg at its {name} off: take {taken} off, which is all of it");
        }
        format!(
            "saw the leg at its {name} to {}: take {taken} off that end ({arc})",
            self.style.length(leg),
        )
    }

    /// An arc cut through.
    fn through(&self, end: usize, from_end: [Length; 2], from_arc: [Length; 2]) -> String {
        let (name, other) = (end_name(end), end_name(1 - end));
        let turn = self.style.angle(self.piece.turn);
        let [outside, inside] = from_end.map(|side| self.style.length(side));
        let leg = from_end[0] - from_arc[0];
        let leg = match leg.abs() < NO_LEG {
            true => String::new(),
            false => {
                let [outside, inside] = from_arc.map(|side| self.style.length(side));
                let leg = self.small(leg);
                format!(" ({leg} of leg, then {outside} and {inside} of arc)")
            }
        };
        format!(
            "cut it down to {turn} at its {name}: from its {other}, mark {outside} along the outside of the bend and {inside} along the inside{leg}; cut through both marks, square to the tube",
        )
    }

    /// A length that may be less than a tape shows.
    fn small(&self, length: Length) -> String {
        match length.abs() < SMALL {
            true => self.style.decimal(length),
            false => self.style.length(length),
        }
    }
}
