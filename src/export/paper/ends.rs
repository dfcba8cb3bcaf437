//! [`Ends`]: the shaped ends of a long piece, without the straight tube between them.

use super::wrap::Wrap;
use crate::tube::{Edge, Outline, Piece, Sleeve};
use crate::units::{Angle, Length, Style};

/// Straight tube that stays on a pattern past the innermost place of its shaped edge: enough
/// to wrap it square by. Common practice, no source.
const KEPT: Length = Length::from_mm(38.0);
/// What is left out is a whole number of these, to be found on a tape.
const STEP: Length = Length::from_mm(5.0);
const INCH_STEP: Length = Length::from_inches(0.25);

/// A pattern, and what its ends alone are made from.
pub(super) struct Ends<'a> {
    pub whole: &'a Wrap,
    pub piece: &'a Piece,
    /// What is said of all of it.
    pub sizes: &'a str,
    /// How to use a pattern.
    pub how: &'a str,
    /// Run and piece.
    pub name: String,
    /// Clock of the pattern's left side.
    pub first_clock: Angle,
    /// Of paper or card.
    pub thickness: Length,
    pub style: Style,
}

impl Ends<'_> {
    /// One pattern for each end that is mitered, with a straight edge where the rest of the
    /// tube begins; none if that leaves nothing out.
    pub(super) fn wraps(&self) -> Vec<Wrap> {
        let radius = self.piece.tube().radius();
        let cuts = [self.piece.start(), self.piece.end()];
        let shaped = cuts.map(|cut| cut.angle > Angle::ZERO);
        // How much of the axis goes with each end: none of a square one.
        let room = |i: usize| match shaped[i] {
            true => cuts[i].reach(radius) + KEPT,
            false => Length::ZERO,
        };
        let kept = [room(0), room(1)];
        let step = if self.style.unit.is_imperial() {
            INCH_STEP
        } else {
            STEP
        };
        let between = self.piece.length() - kept[0] - kept[1];
        let between = step * (between / step).floor();
        if between < step {
            return Vec::new();
        }
        // What is left over of a step stays on the last end that is shaped.
        let rest = self.piece.length() - between;
        let lengths = match shaped {
            [true, false] => [rest, Length::ZERO],
            _ => [kept[0], rest - kept[0]],
        };
        let ends = (0..2).filter(|&i| shaped[i]);
        ends.filter_map(|i| self.end(i, lengths[i], (between, shaped[1 - i])))
            .collect()
    }

    /// The pattern of one end, `length` along the axis; from its straight edge it is
    /// `between` to that of the other pattern, or to the other end, if that is square.
    fn end(
        &self,
        end: usize,
        length: Length,
        (between, other_shaped): (Length, bool),
    ) -> Option<Wrap> {
        let whole = self.whole;
        let (start, stop) = match end {
            0 => (Edge::Cut(self.piece.start()), Edge::SQUARE),
            _ => (Edge::SQUARE, Edge::Cut(self.piece.end())),
        };
        let sleeve = Sleeve::new(self.piece.tube().clone(), length, start, stop).ok()?;
        let distance = self.style.length(between);
        let other = match (other_shaped, end) {
            (true, 0) => "the end's pattern",
            (true, _) => "the start's pattern",
            (false, 0) => "the square end",
            (false, _) => "the square start",
        };
        let rest = format!("{distance} from here to {other}");
        let how = match other_shaped {
            true => format!(
                "straight edges {distance} apart along the tube, long sides and degrees in line"
            ),
            false => format!("straight edge {distance} from {other}"),
        };
        let (title, id, start_label, end_label) = match end {
            0 => (
                format!("{}, its start, {}", self.name, whole.start_label),
                format!("{}-start", whole.id),
                whole.start_label.clone(),
                rest,
            ),
            _ => (
                format!("{}, its end, {}", self.name, whole.end_label),
                format!("{}-end", whole.id),
                rest,
                whole.end_label.clone(),
            ),
        };
        Some(Wrap {
            id,
            title,
            facts: format!("{}; {how}; {}", self.sizes, self.how),
            outline: Outline::new(sleeve, self.first_clock, self.thickness),
            start_label,
            end_label,
            ..whole.clone()
        })
    }
}
