//! Why a scan cannot be placed, and what is odd about how it was.

use super::rim::RimError;
use crate::geometry::{Direction, FitError, Point};
use crate::units::Angle;
use thiserror::Error;

/// Why a scan cannot be placed.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum PlaceError {
    /// Neither rims nor enough landmarks.
    #[error("{given} landmarks are too few: it takes three that are not on a line, or a rim")]
    TooFew {
        /// Landmarks given.
        given: usize,
    },
    /// Landmarks hold no placement.
    #[error("the landmarks do not hold the scan: {0}")]
    Fit(#[from] FitError),
    /// No rim at the place given.
    #[error("rim for '{name}': {error}")]
    Rim {
        /// The port.
        name: String,
        /// What is wrong.
        error: RimError,
    },
    /// Scan and job are mirror images of each other.
    #[error(
        "the marks fit as a mirror image, and far worse as they are: an axis is negated, or two are swapped, in the scan or in the job, so that one of these frames is left-handed"
    )]
    Mirrored,
    /// Landmarks are the mirror image of what the rims say.
    #[error(
        "the landmarks fit with the sign of {} in the {} changed, and far worse as they are",
        ["x", "y", "z"].get(*axis).unwrap_or(&"an axis"),
        if *in_scan { "scan" } else { "job" }
    )]
    Negated {
        /// The axis, from 0.
        axis: usize,
        /// Whether in the scan, else in the job.
        in_scan: bool,
    },
    /// Two ports claim one rim.
    #[error("'{first}' and '{second}' are matched to the same rim of the scan")]
    SameRim {
        /// The port that came first.
        first: String,
        /// The other.
        second: String,
    },
}

/// What the user should know about a placement.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum PlaceWarning {
    /// The others agree without it, and it is left out.
    #[error(
        "'{name}' is {off_mm:.1} mm off what the others say (which agree to {rms_mm:.2} mm); it is left out"
    )]
    Off {
        /// Landmark or port.
        name: String,
        /// How far from where the others put it, mm.
        off_mm: f64,
        /// Root mean square of the others without it, mm.
        rms_mm: f64,
    },
    /// The turn about an axis is anyone's guess.
    #[error(
        "nothing holds the scan's turn about the axis through ({:.1}, {:.1}, {:.1}) mm along ({:.3}, {:.3}, {:.3}): it was left as near the scan's own axes as can be; give a landmark off that axis",
        through.x, through.y, through.z, along.x, along.y, along.z
    )]
    RollFree {
        /// A place on the axis, in the job's frame.
        through: Point,
        /// Along the axis, in the job's frame.
        along: Direction,
    },
    /// The turn about a line is held by little.
    #[error(
        "the points lie nearly on a line, so the turn about it is only good to about {:.2}°: give a landmark farther off it",
        error.degrees()
    )]
    NearLine {
        /// Standard error of the turn.
        error: Angle,
    },
    /// The scan does not say where a rim's free side is.
    #[error(
        "the scan does not tell for certain which side of the rim for '{name}' is free: check that the scan is not the wrong way round"
    )]
    SideUnsure {
        /// The port.
        name: String,
    },
}
