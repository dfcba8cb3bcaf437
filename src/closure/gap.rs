//! [`Gap`]: a piece from the gap's widths alone.

use super::closure::cut_or_short;
use super::{Against, FitUp};
use crate::survey::{Hold, Model, adjust, chance};
use crate::tube::{Cut, Edge, PieceError, Scribed, Sleeve, Tube};
use crate::units::{Angle, Length};
use nalgebra::{DMatrix, DVector};
use thiserror::Error;

/// Fewest stations round the tube: three numbers are unknown, and one must check them.
pub const FEWEST_STATIONS: usize = 4;
/// Most stations.
pub const MOST_STATIONS: usize = 24;
/// Fewest stations that a ragged end is scribed through: every 45°.
pub const FEWEST_RAGGED: usize = 8;
/// How often chance alone makes us suspect any station.
const FALSE_ALARM: f64 = 0.01;
/// How often chance alone makes all stations look worse than they are.
const RARE: f64 = 1e-3;
/// A station is as suspect as the worst if leaving it out lowers the squares by no more
/// than this less: the odds are less than twenty to one between them.
const AS_SUSPECT: f64 = 6.0;
/// Of so many stations one may be left out.
const PER_SLIP: usize = 4;
/// Width, cosine and sine.
const UNKNOWNS: usize = 3;
/// Widest part of the tube without a station: beyond it the slant there is guessed.
const WIDEST_HOLE: Angle = Angle::from_degrees(150.0);
/// Stations nearer than this, rad, are one: 0.1 mm round a tube of 60 mm.
const ONE_CLOCK: f64 = 3e-3;
/// A slant below this, mm, is none.
const LEVEL: f64 = 1e-9;
/// Least deviation of a width, so that exact numbers can be weighed: a micron.
const LEAST_DEVIATION: Length = Length::from_mm(1e-3);

/// One width of a gap.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Station {
    /// Where, by clock looking downstream.
    pub clock: Angle,
    /// From rim to rim, along the tube.
    pub width: Length,
}

/// What was measured of a gap, from rim to rim along the piece that is to fill it.
#[derive(Clone, Debug, PartialEq)]
pub struct Widths {
    /// Round the tube.
    pub stations: Vec<Station>,
    /// Standard deviation of a width.
    pub good_to: Length,
    /// How the piece starts: its cut, and the clock of its own long side there.
    pub before: Cut,
    /// Whether the end after the gap is taken as it is, through every width, and not as a
    /// plane through all of them.
    pub ragged: bool,
}

/// The piece that fills a gap, from its widths.
///
/// Two plane rims about one axis, the piece's, stand apart by w(t) = W + a·cos t + b·sin t:
/// least squares, so four stations leave one number to check them by. The piece's start is
/// given; its end follows from that and the widths. How far the rims stand beside each
/// other widths do not show.
#[derive(Clone, Debug, PartialEq)]
pub struct Gap {
    /// The piece, clock zero at the stations' zero.
    pub sleeve: Sleeve,
    /// Width at the axis.
    pub width: Length,
    /// What each station says beyond what fits all best: width less fit, for those that
    /// are left out too.
    pub left: Vec<Length>,
    /// Stations that do not go with the others.
    pub slips: Vec<Slip>,
    /// By how much the stations disagree more than they should; 1 where they should as
    /// they do.
    pub disagreement: f64,
    /// Standard deviation of the fitted width, at the worst clock; as much more as the
    /// stations disagree.
    pub fit_good_to: Length,
}

/// Stations of which one does not go with the others.
#[derive(Clone, Debug, PartialEq)]
pub struct Slip {
    /// Which, by their place in the list: one, which is left out; or those among which
    /// the others cannot tell, which stay in.
    pub stations: Vec<usize>,
    /// How far the first is off what the others say: positive for a wide gap.
    pub off: Length,
}

/// Why widths make no piece.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum GapError {
    /// Too few stations, too many, or all to one side.
    #[error(
        "{count} stations: it takes {FEWEST_STATIONS} to {MOST_STATIONS}, or {FEWEST_RAGGED} and more for a ragged end"
    )]
    Count {
        /// How many there are.
        count: usize,
    },
    /// A number that is none.
    #[error("station {} has a width or clock that is no number, or a width that is not positive", station + 1)]
    NotFinite {
        /// Which, by its place in the list.
        station: usize,
    },
    /// Two stations at one clock.
    #[error("stations {} and {} stand at one clock", stations[0] + 1, stations[1] + 1)]
    Twice {
        /// Which, by their places in the list.
        stations: [usize; 2],
    },
    /// They stand so that the gap's slant does not show.
    #[error("the stations do not go round the tube: more than 150° is without one")]
    OneSided,
    /// No tube is left.
    #[error("the widths leave no piece: {0}")]
    Piece(PieceError),
}

impl Gap {
    /// What speaks against the piece: cuts and short side, which are all that widths show.
    pub fn against(&self, fit_up: &FitUp) -> Vec<Against> {
        cut_or_short(&self.sleeve, fit_up)
    }

    /// From widths, for a piece of `tube` that leaves a root gap of `gap` at each seam.
    pub fn new(tube: &Tube, widths: &Widths, gap: Length) -> Result<Self, GapError> {
        check(widths)?;
        let (fit, slips) = judge(widths)?;
        let sleeve = sleeve(tube, widths, &fit, gap).map_err(GapError::Piece)?;
        Ok(Self {
            sleeve,
            width: Length::from_mm(fit.x[0]),
            left: fit.left(widths),
            slips,
            disagreement: fit.disagreement,
            fit_good_to: fit.good_to() * fit.disagreement,
        })
    }
}

/// The fit without stations that are off, as long as it can be told which those are.
fn judge(widths: &Widths) -> Result<(Fit, Vec<Slip>), GapError> {
    let all = vec![true; widths.stations.len()];
    let whole = |counts: &[bool]| Fit::new(widths, counts).ok_or(GapError::OneSided);
    let most = (widths.stations.len() / PER_SLIP).max(1);
    let mut slips = Vec::new();
    let mut counts = all.clone();
    let mut fit = whole(&counts)?;
    // Through every width of a ragged end: there is no plane to judge them by.
    while !widths.ragged
        && let Some(slip) = fit.worst(widths, &counts)
    {
        let told = slip.stations.len() == 1;
        if told && slips.len() == most {
            // Nobody slips so often: nobody is blamed.
            return Ok((whole(&all)?.unsettled(&all), Vec::new()));
        }
        if told {
            counts[slip.stations[0]] = false;
            fit = whole(&counts)?;
        }
        slips.push(slip);
        if !told {
            break;
        }
    }
    Ok((fit.unsettled(&counts), slips))
}

fn check(widths: &Widths) -> Result<(), GapError> {
    let count = widths.stations.len();
    let fewest = if widths.ragged {
        FEWEST_RAGGED
    } else {
        FEWEST_STATIONS
    };
    if !(fewest..=MOST_STATIONS).contains(&count) {
        return Err(GapError::Count { count });
    }
    let sane =
        |at: &Station| at.clock.is_finite() && at.width.is_finite() && at.width > Length::ZERO;
    if let Some(station) = widths.stations.iter().position(|at| !sane(at)) {
        return Err(GapError::NotFinite { station });
    }
    if let Some(stations) = twice(widths) {
        return Err(GapError::Twice { stations });
    }
    if widest_hole(widths) > WIDEST_HOLE {
        return Err(GapError::OneSided);
    }
    Ok(())
}

/// Two stations at one clock.
fn twice(widths: &Widths) -> Option<[usize; 2]> {
    let clock = |i: usize| widths.stations[i].clock.wrapped().radians();
    let count = widths.stations.len();
    let mut pairs = (0..count).flat_map(|i| (i + 1..count).map(move |j| [i, j]));
    pairs.find(|[i, j]| (clock(*i) - clock(*j)).abs() < ONE_CLOCK)
}

/// The greatest clock between neighboring stations.
fn widest_hole(widths: &Widths) -> Angle {
    let clocks = widths.stations.iter().map(|at| at.clock.wrapped());
    let mut clocks: Vec<f64> = clocks.map(Angle::radians).collect();
    clocks.sort_by(f64::total_cmp);
    let again = clocks.first().map(|first| first + Angle::FULL.radians());
    let next = clocks.iter().skip(1).copied().chain(again);
    let holes = clocks.iter().zip(next).map(|(from, to)| to - from);
    Angle::from_radians(holes.fold(0.0, f64::max))
}

/// w(t) = x₀ + x₁·cos t + x₂·sin t.
struct Fit {
    x: DVector<f64>,
    hold: Hold,
    /// Sum of squares of the stations that count, in deviations.
    squares: f64,
    disagreement: f64,
}

impl Fit {
    fn new(widths: &Widths, counts: &[bool]) -> Option<Self> {
        let slopes = DMatrix::from_fn(widths.stations.len(), UNKNOWNS, |i, j| {
            if counts[i] { slope(widths, i, j) } else { 0.0 }
        });
        let hold = Hold::of(&slopes).filter(|hold| hold.free.is_empty())?;
        let found = adjust(widths, DVector::zeros(UNKNOWNS), Some(counts))?;
        Some(Self {
            x: found.x,
            hold,
            squares: found.squares,
            disagreement: 1.0,
        })
    }

    /// With as much more scatter as those that count disagree beyond chance.
    fn unsettled(mut self, counts: &[bool]) -> Self {
        let spare = counts.iter().filter(|counted| **counted).count() - UNKNOWNS;
        if spare > 0 && self.squares > chance(spare, RARE) {
            self.disagreement = (self.squares / spare as f64).sqrt();
        }
        self
    }

    fn at(&self, clock: Angle) -> f64 {
        let (sin, cos) = clock.sin_cos();
        self.x[0] + self.x[1] * cos + self.x[2] * sin
    }

    fn left(&self, widths: &Widths) -> Vec<Length> {
        let left = |at: &Station| Length::from_mm(at.width.mm() - self.at(at.clock));
        widths.stations.iter().map(left).collect()
    }

    /// Standard deviation of the width at its worst clock: the greatest of a quadratic
    /// form in (1, cos, sin), looked at every degree.
    fn good_to(&self) -> Length {
        let variance = |degrees: u32| {
            let (sin, cos) = Angle::from_degrees(f64::from(degrees)).sin_cos();
            let row = DVector::from_vec(vec![1.0, cos, sin]);
            row.dot(&(&self.hold.covariance * &row))
        };
        Length::from_mm((0..360).map(variance).fold(0.0, f64::max).sqrt())
    }

    /// The stations of which one is off by more than chance, if any.
    fn worst(&self, widths: &Widths, counts: &[bool]) -> Option<Slip> {
        let counted: Vec<usize> = (0..counts.len()).filter(|&i| counts[i]).collect();
        let without = |i: usize| {
            let rest: Vec<bool> = (0..counts.len()).map(|j| counts[j] && j != i).collect();
            let fit = Self::new(widths, &rest)?;
            Some((i, self.squares - fit.squares, fit))
        };
        let mut drops: Vec<(usize, f64, Self)> =
            counted.iter().filter_map(|&i| without(i)).collect();
        drops.sort_by(|a, b| b.1.total_cmp(&a.1));
        let (first, drop, fit) = drops.first()?;
        let spare = counted.len() - UNKNOWNS;
        if spare == 0 || *drop <= chance(1, FALSE_ALARM / counted.len() as f64) {
            return None;
        }
        let at = widths.stations[*first];
        let off = Length::from_mm(at.width.mm() - fit.at(at.clock));
        let alike = drops
            .iter()
            .filter(|(_, other, _)| drop - other <= AS_SUSPECT);
        Some(Slip {
            stations: alike.map(|(i, _, _)| *i).collect(),
            off,
        })
    }
}

fn slope(widths: &Widths, station: usize, unknown: usize) -> f64 {
    let (sin, cos) = widths.stations[station].clock.sin_cos();
    [1.0, cos, sin][unknown] / widths.good_to.max(LEAST_DEVIATION).mm()
}

impl Widths {
    /// All of them wider by as much.
    pub fn opened(&self, by: Length) -> Self {
        let mut widths = self.clone();
        for station in &mut widths.stations {
            station.width += by;
        }
        widths
    }
}

impl Model for Widths {
    fn unknowns(&self) -> usize {
        UNKNOWNS
    }

    fn rows(&self) -> usize {
        self.stations.len()
    }

    fn evaluate(&self, x: &DVector<f64>) -> (DVector<f64>, DMatrix<f64>) {
        let slopes = DMatrix::from_fn(self.rows(), UNKNOWNS, |i, j| slope(self, i, j));
        let good_to = self.good_to.max(LEAST_DEVIATION).mm();
        let read = DVector::from_fn(self.rows(), |i, _| self.stations[i].width.mm() / good_to);
        (&slopes * x - read, slopes)
    }
}

/// The piece: its start as given, its end that and the widths; set back at both by the
/// root gap.
fn sleeve(tube: &Tube, widths: &Widths, fit: &Fit, gap: Length) -> Result<Sleeve, PieceError> {
    let radius = tube.radius();
    let start = widths.before;
    if !(start.clock.is_finite() && start.angle >= Angle::ZERO && start.angle < Angle::QUARTER) {
        return Err(PieceError::CutAngle);
    }
    // The end's height over its center: the start's edge, −r·tan κ·cos(t − τ), and the
    // slant of the gap.
    let (sin, cos) = start.clock.sin_cos();
    let reach = start.reach(radius).mm();
    let slant = [fit.x[1] - reach * cos, fit.x[2] - reach * sin];
    let slanted = slant[0].hypot(slant[1]);
    let end = if slanted <= LEVEL {
        Cut::SQUARE
    } else {
        Cut {
            angle: Angle::from_radians((slanted / radius.mm()).atan()),
            clock: Angle::from_radians(slant[1].atan2(slant[0])).wrapped(),
        }
    };
    let setback = |cut: &Cut| gap.mm() / cut.angle.cos();
    if !widths.ragged {
        let length = fit.x[0] - setback(&start) - setback(&end);
        let length = Length::from_mm(length);
        return Sleeve::new(tube.clone(), length, Edge::Cut(start), Edge::Cut(end));
    }
    let knots: Vec<(Angle, Length)> = widths
        .stations
        .iter()
        .map(|at| {
            let height = at.width - start.extension(radius, at.clock) - Length::from_mm(fit.x[0]);
            (at.clock, height)
        })
        .collect();
    let edge = Scribed::new(&knots).ok_or(PieceError::CutAngle)?;
    let length = Length::from_mm(fit.x[0] - setback(&start) - gap.mm());
    Sleeve::new(tube.clone(), length, Edge::Cut(start), Edge::Scribed(edge))
}
