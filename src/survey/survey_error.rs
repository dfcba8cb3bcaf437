//! [`SurveyError`]: why readings give no port, in the shop's words.

use super::surveyed::{MOST_READINGS, at};
use super::weak::Cause;
use crate::geometry::{Direction, Point};
use crate::units::{Angle, Length, Style, direction_text};
use thiserror::Error;

/// Why readings make no port.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum SurveyError {
    /// Nothing was read, or absurdly much.
    #[error("{count} readings: it takes 1 to {MOST_READINGS}")]
    Count {
        /// How many.
        count: usize,
    },
    /// A number is none, or beyond a kilometer.
    #[error("{name} is no number within a kilometer")]
    NotFinite {
        /// Which reading.
        name: String,
    },
    /// The readings leave it free to move.
    #[error("the readings do not hold the port: {}", free.join("; "))]
    Free {
        /// What is free, in words.
        free: Vec<String>,
        /// What makes it so.
        causes: Vec<Cause>,
    },
    /// They hold it so poorly that what was fitted means nothing.
    #[error("the readings hold the center to {:.0} mm and the direction to {:.0}°, which is no port", place.mm(), face.unwrap_or_default().max(*lean).degrees())]
    Loose {
        /// Greatest standard deviation of the center.
        place: Length,
        /// Greatest standard deviation of the direction.
        lean: Angle,
        /// The same of the face's normal, where that is its own.
        face: Option<Angle>,
        /// What makes it so.
        causes: Vec<Cause>,
    },
    /// Two ports fit the readings.
    #[error(
        "two ports fit the readings: one at {} facing {}, one at {} facing {}",
        at(&ports[0].0), direction_text(ports[0].1.into_inner()), at(&ports[1].0), direction_text(ports[1].1.into_inner())
    )]
    Ambiguous {
        /// Centers, mm, and outward directions.
        ports: Box<[(Point, Direction); 2]>,
        /// What would tell them apart.
        help: String,
    },
    /// They contradict each other.
    #[error("the readings contradict each other; these fit worst: {}", names.join(", "))]
    Torn {
        /// The worst.
        names: Vec<String>,
    },
    /// They point away from where free space is said to be.
    #[error(
        "the readings say that the port faces {}, away from 'toward'",
        direction_text(outward.into_inner())
    )]
    Away {
        /// The outward direction that they give.
        outward: Direction,
    },
    /// Points on the outside lie ahead of the face that the readings give.
    #[error("the points on the outside lie ahead of the face, where there is no tube")]
    Ahead,
    /// The numbers lead nowhere.
    #[error("no port fits the readings")]
    Nowhere,
}

impl SurveyError {
    /// What is wrong and what to do, as the shop writes numbers.
    pub fn written(&self, style: Style) -> (String, String) {
        let place = |port: &(Point, Direction)| {
            format!(
                "at {} facing {}",
                style.point(port.0.into()),
                direction_text(port.1.into_inner())
            )
        };
        match self {
            Self::Free { causes, .. } => with_causes(self.to_string(), causes, style),
            Self::Loose {
                place,
                lean,
                face,
                causes,
            } => {
                let (place, lean) = (style.length(*place), style.angle(*lean));
                let message = match face {
                    None => format!(
                        "the readings hold the center to {place} and the direction to {lean}, which is no port"
                    ),
                    Some(face) => format!(
                        "the readings hold the center to {place}, the axis to {lean} and the face to {}, which is no end",
                        style.angle(*face)
                    ),
                };
                with_causes(message, causes, style)
            }
            Self::Ambiguous { ports, help } => (
                format!(
                    "two ports fit the readings: one {}, one {}",
                    place(&ports[0]),
                    place(&ports[1])
                ),
                help.clone(),
            ),
            Self::Torn { .. } => (
                self.to_string(),
                "check these, their signs and their units".to_owned(),
            ),
            Self::Away { .. } => (
                self.to_string(),
                "check 'toward', and the signs of levels and of how far out a rod's points are"
                    .to_owned(),
            ),
            Self::Ahead => (
                self.to_string(),
                "check their signs, 'toward', and whether all are of one end".to_owned(),
            ),
            Self::Count { .. } => (self.to_string(), "measure something of it".to_owned()),
            Self::NotFinite { .. } => (self.to_string(), "check the unit".to_owned()),
            Self::Nowhere => (
                self.to_string(),
                "check every reading and its unit".to_owned(),
            ),
        }
    }
}

/// A message with what causes it, and what would help.
pub(super) fn with_causes(message: String, causes: &[Cause], style: Style) -> (String, String) {
    let (whys, helps): (Vec<_>, Vec<_>) = causes.iter().map(|cause| cause.written(style)).unzip();
    let why = whys.into_iter().map(|why| format!("; {why}"));
    let message = std::iter::once(message).chain(why).collect();
    let help = if helps.is_empty() {
        "measure what is free".to_owned()
    } else {
        helps.join("; ")
    };
    (message, help)
}
