//! [`Growth`]: how far heat would move one flange from the other.

use super::Service;
use crate::geometry::Vector;
use crate::run::Run;
use crate::tube::{EXPANSION_SPREAD, Expansion, Source};
use crate::units::{Length, Temperature};

/// Rise for which growth is told where no temperature is given: not a temperature that
/// anything is taken to have.
const EXAMPLE_RISE_C: f64 = 100.0;

/// Growth between two flanges that bolt holes and a fit-up take without a slip joint or a
/// flexible part: common practice, no source.
pub const GROWTH_LIMIT: Length = Length::from_inches(1.0 / 16.0);

/// Growth of a run that is equally hot all over, one end free.
///
/// A body that is equally hot all over grows by the same part along every line, so what
/// is between its two ends grows as the chord does, α·ΔT·(end − start), however the run
/// goes. Not an analysis of stress: what a held run pushes with is not in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Growth {
    /// When fitted.
    pub cold: Temperature,
    /// In use.
    pub hot: Temperature,
    /// Whether the two are the job's own; else they are 100 °C apart, for an example.
    pub is_given: bool,
    /// How much any length grows.
    pub expansion: Expansion,
    /// How the far end moves from the near one, mm in the job's frame.
    pub between: Vector,
    /// Whether a slip joint or a flexible part takes it up.
    pub flex: bool,
}

impl Growth {
    /// Of `run`; `None` where the material's expansion is not known.
    pub fn of(run: &Run, service: &Service) -> Option<Self> {
        let cold = service.cold;
        let example = Temperature::from_celsius(cold.celsius() + EXAMPLE_RISE_C);
        let hot = service.hot.unwrap_or(example);
        let expansion = run.tube().expansion(cold, hot)?;
        let [(start, _), (end, _)] = run.centerline().ends();
        Some(Self {
            cold,
            hot,
            is_given: service.hot.is_some(),
            between: (end - start) * expansion.strain,
            expansion,
            flex: service.flex,
        })
    }

    /// How far the far end moves from the near one.
    pub fn amount(&self) -> Length {
        Length::from_mm(self.between.norm())
    }

    /// How much a stretch of tube grows; negative where it shrinks.
    pub fn along(&self, length: Length) -> Length {
        length * self.expansion.strain
    }

    /// Part by which all of it is uncertain: sheets and heats differ.
    pub fn spread(&self) -> f64 {
        // What a job says itself of its material is its own affair.
        if self.expansion.source.is_some() {
            EXPANSION_SPREAD
        } else {
            0.0
        }
    }

    /// Where the coefficient is from; `None` for the job's own.
    pub const fn source(&self) -> Option<Source> {
        self.expansion.source
    }

    /// Whether it is more than the limit with nothing to take it up.
    pub fn is_too_much(&self) -> bool {
        self.is_given && !self.flex && self.amount() > GROWTH_LIMIT
    }
}
