//! [`LeftOver`]: what is left of a reading once all have had their say.

use super::adjust::Hold;
use super::reading::{Observed, Readings};
use super::stance::Chart;
use crate::units::{Angle, Length, Style};
use nalgebra::DVector;

/// Nobody slips by less, whatever deviation was said: what paper shows of a length.
const LEAST_SLIP: Length = Length::from_mm(0.01);
/// The same of an angle.
const LEAST_LEAN: Angle = Angle::from_degrees(0.01);

/// A length or an angle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Amount {
    /// Length.
    Length(Length),
    /// Angle.
    Angle(Angle),
}

impl Amount {
    /// As the shop writes it.
    pub fn written(&self, style: Style) -> String {
        match self {
            Self::Length(length) => style.decimal(*length),
            Self::Angle(angle) => style.angle(*angle),
        }
    }

    /// Whether it is too small to be a slip of anybody's.
    pub(super) fn is_nothing(&self) -> bool {
        match self {
            Self::Length(length) => length.abs() < LEAST_SLIP,
            Self::Angle(angle) => angle.abs() < LEAST_LEAN,
        }
    }

    /// So many times as much.
    pub(super) fn times(self, factor: f64) -> Self {
        match self {
            Self::Length(length) => Self::Length(length * factor),
            Self::Angle(angle) => Self::Angle(angle * factor),
        }
    }

    const fn size(&self) -> f64 {
        match self {
            Self::Length(length) => length.mm().abs(),
            Self::Angle(angle) => angle.radians().abs(),
        }
    }
}

/// What is left of a reading: read, less what the port that fits all best would have
/// given.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOver {
    /// Its parts, each with a word for it.
    pub parts: Vec<(&'static str, Amount)>,
    /// The smallest slip in it that the others would likely show; `None` where a slip
    /// would never show.
    pub shows: Option<Amount>,
}

impl LeftOver {
    /// The greatest of its parts, without sign.
    pub fn worst(&self) -> Option<Amount> {
        let parts = self.parts.iter().map(|(_, amount)| *amount);
        let worst = parts.max_by(|a, b| a.size().total_cmp(&b.size()))?;
        Some(match worst {
            Amount::Length(length) => Amount::Length(length.abs()),
            Amount::Angle(angle) => Amount::Angle(angle.abs()),
        })
    }
}

/// How good a reading's first number is.
pub(super) fn good_to(what: &Observed) -> Amount {
    match what {
        // Read as a diameter.
        Observed::RimRadius { good_to, .. } | Observed::BoltRadius { good_to, .. } => {
            Amount::Length(*good_to * 2.0)
        }
        Observed::Coordinate { good_to, .. }
        | Observed::ToCenter { good_to, .. }
        | Observed::ToTip { good_to, .. }
        | Observed::TipOut { good_to, .. }
        | Observed::OnRim { good_to, .. }
        | Observed::OnBoltCircle { good_to, .. }
        | Observed::OnFace { good_to, .. }
        | Observed::OnOutside { good_to, .. }
        | Observed::OnLaidRod { good_to, .. }
        | Observed::OnRod { good_to, .. } => Amount::Length(*good_to),
        Observed::Outward { good_to, .. } => Amount::Angle(good_to[0].max(good_to[1])),
        Observed::Elevation { good_to, .. }
        | Observed::Heading { good_to, .. }
        | Observed::Cut { good_to, .. } => Amount::Angle(*good_to),
    }
}

/// What is left of each reading, from its rows in standard deviations.
pub(super) fn left_over(
    readings: &Readings,
    chart: &Chart<'_>,
    hold: Option<&Hold>,
    left: &DVector<f64>,
) -> Vec<LeftOver> {
    let of_one = |(i, rows): (usize, &std::ops::Range<usize>)| {
        let what = &readings.list[i].what;
        let shows = hold.and_then(|hold| hold.least_shown(rows));
        LeftOver {
            parts: parts(what, &left.as_slice()[rows.clone()]),
            shows: shows.map(|factor| good_to(what).times(factor)),
        }
    };
    chart.rows.iter().enumerate().map(of_one).collect()
}

fn parts(what: &Observed, rows: &[f64]) -> Vec<(&'static str, Amount)> {
    let length = |row: f64, good_to: Length| Amount::Length(good_to * row);
    let angle = |row: f64, good_to: Angle| Amount::Angle(good_to * row);
    match what {
        Observed::RimRadius { good_to, .. } | Observed::BoltRadius { good_to, .. } => {
            vec![("", length(-rows[0], *good_to * 2.0))]
        }
        Observed::Coordinate { good_to, .. }
        | Observed::ToCenter { good_to, .. }
        | Observed::ToTip { good_to, .. }
        | Observed::TipOut { good_to, .. } => vec![("", length(-rows[0], *good_to))],
        Observed::Outward { good_to, .. } => {
            let [a, b] = [good_to[0] * rows[0], good_to[1] * rows[1]];
            let lean = a.radians().hypot(b.radians());
            vec![("", Amount::Angle(Angle::from_radians(lean)))]
        }
        Observed::Elevation { good_to, .. } | Observed::Heading { good_to, .. } => {
            vec![("", angle(-rows[0], *good_to))]
        }
        Observed::OnRim { good_to, .. } | Observed::OnBoltCircle { good_to, .. } => vec![
            ("off the face", length(rows[0], *good_to)),
            ("off the circle", length(rows[1], *good_to)),
        ],
        Observed::OnFace { good_to, .. } => vec![("off the face", length(rows[0], *good_to))],
        Observed::OnOutside { good_to, .. } => {
            vec![("off the outside", length(rows[0], *good_to))]
        }
        Observed::Cut { good_to, .. } => vec![("off the cut", angle(-rows[0], *good_to))],
        Observed::OnLaidRod { good_to, .. } => {
            vec![("beside the rod", length(rows[0].hypot(rows[1]), *good_to))]
        }
        Observed::OnRod { good_to, out, .. } => {
            let beside = length(rows[0].hypot(rows[1]), *good_to);
            let along = out.zip(rows.get(2)).map(|((_, out), row)| {
                let both = Length::from_mm(good_to.mm().hypot(out.mm()));
                ("along it", length(*row, both))
            });
            std::iter::once(("beside the axis", beside))
                .chain(along)
                .collect()
        }
    }
}
