//! Measuring errors, the same in every run.
#![allow(dead_code, reason = "each user takes what it needs")]

use super::support::Numbers;

/// Normal errors from a seed.
#[derive(Clone)]
pub struct Noise(Numbers);

impl Noise {
    pub fn new(seed: u64) -> Self {
        Self(Numbers::new(seed))
    }

    /// An error of standard deviation `sigma`.
    pub fn of(&mut self, sigma: f64) -> f64 {
        self.0.normal() * sigma
    }

    /// Three of them.
    pub fn three(&mut self, sigma: f64) -> nalgebra::Vector3<f64> {
        nalgebra::Vector3::from_fn(|_, _| self.of(sigma))
    }
}

/// Fractions of `values` that chi-square with `freedom` degrees of freedom exceeds with
/// probability 0.9, 0.5, 0.1 and 0.01 should exceed: within four deviations of sampling.
#[track_caller]
pub fn is_chi_square(values: &[f64], freedom: usize) {
    use statrs::distribution::{ChiSquared, ContinuousCDF};
    let expected = ChiSquared::new(freedom as f64).expect("degrees of freedom");
    let count = values.len() as f64;
    for exceeded in [0.9, 0.5, 0.1, 0.01] {
        let level = expected.inverse_cdf(1.0 - exceeded);
        let part = values.iter().filter(|v| **v > level).count() as f64 / count;
        let sampling = (exceeded * (1.0 - exceeded) / count).sqrt();
        assert!(
            (part - exceeded).abs() < 4.0 * sampling,
            "{part} of {count} exceed {level}, {exceeded} should"
        );
    }
}
