//! [`Reader`]: takes values out of a job file and notes what is wrong with them.

use super::Problem;
use super::file_values::{Quantity, Text};
use super::path::Path;
use super::words::kind;
use crate::geometry::{Direction, Point, Vector};
use crate::survey::Measuring;
use crate::units::{
    Angle, Denominator, Length, LengthUnit, QuantityError, parse_angle, parse_length,
};

/// Lengths beyond this are a slip of the unit: 100 m.
const LONGEST: Length = Length::from_mm(100_000.0);
/// Longest name that still fits on a page.
pub(super) const LONGEST_NAME: usize = 80;
/// Most that a saw or a weld takes at a joint.
const MOST_AT_A_JOINT: Length = Length::from_inches(0.5);

/// Reads values in the job's unit. Every method that returns `None` for a value that
/// is there has noted why.
pub(super) struct Reader<'a> {
    /// Unit of numbers without one.
    pub unit: LengthUnit,
    /// What is wrong.
    pub errors: Vec<Problem>,
    /// What is odd.
    pub warnings: Vec<Problem>,
    /// How good the shop's measuring is, once that is read.
    pub measuring: Measuring,
    /// Ports that are still to be picked from a scan.
    pub picked: Vec<String>,
    known_bad: &'a [Path],
}

/// A whole number, written with a point behind it or without.
fn whole(value: &Quantity) -> Option<u32> {
    let number = value.0.as_f64().filter(|number| number.fract() == 0.0)?;
    (0.0..=f64::from(u32::MAX))
        .contains(&number)
        .then_some(number as u32)
}

/// What to do about a text that is nearly a quantity, where that is plain.
const fn help_with(error: &QuantityError) -> Option<&'static str> {
    match error {
        QuantityError::Comma => Some("write a decimal point, such as 63.5"),
        QuantityError::Gauge => {
            Some("measure it with a caliper, and write that: 0.065, or \"1.65 mm\"")
        }
        _ => None,
    }
}

/// What a length may be.
#[derive(Clone, Copy)]
pub(super) enum Sign {
    Any,
    NotNegative,
    Positive,
}

impl<'a> Reader<'a> {
    /// A reader that is silent about what is missing under `known_bad`.
    pub fn new(unit: LengthUnit, known_bad: &'a [Path]) -> Self {
        Self {
            unit,
            errors: Vec::new(),
            warnings: Vec::new(),
            measuring: Measuring::default(),
            picked: Vec::new(),
            known_bad,
        }
    }
}

impl Reader<'_> {
    pub fn center(&mut self, values: &[Quantity], path: &Path) -> Option<Point> {
        let values = self.triple(values, path)?;
        let mut axis = |i: usize| self.length(&values[i], &path.index(i), Sign::Any);
        let (x, y, z) = (axis(0), axis(1), axis(2));
        Some(Point::new(x?.mm(), y?.mm(), z?.mm()))
    }

    /// Reads with another unit for numbers without one.
    pub fn in_unit<T>(&mut self, unit: LengthUnit, read: impl FnOnce(&mut Self) -> T) -> T {
        let own = std::mem::replace(&mut self.unit, unit);
        let value = read(self);
        self.unit = own;
        value
    }

    /// A direction of any length but zero.
    pub fn heading(&mut self, values: &[Quantity], path: &Path) -> Option<Direction> {
        let vector = self.vector(values, path)?;
        Some(Direction::new_normalize(vector / vector.amax()))
    }

    fn vector(&mut self, values: &[Quantity], path: &Path) -> Option<Vector> {
        let values = self.triple(values, path)?;
        let mut axis = |i: usize| self.number(&values[i], &path.index(i), f64::MIN, f64::MAX);
        let (x, y, z) = (axis(0), axis(1), axis(2));
        let vector = Vector::new(x?, y?, z?);
        // Scaled first: the square of a huge component would overflow.
        let largest = vector.amax();
        if largest <= f64::MIN_POSITIVE {
            return self.fail(
                path,
                "is zero, which points nowhere",
                "give the direction out of the face, such as [0, 0, 1]",
            );
        }
        Some(vector)
    }

    /// True or false.
    pub fn flag(&mut self, value: &Option<Quantity>, path: &Path) -> Option<bool> {
        match value {
            None => Some(false),
            Some(value) => match value.0.as_bool() {
                Some(flag) => Some(flag),
                None => self.fail(
                    path,
                    format!("is {}, but must be true or false", kind(&value.0)),
                    "write true or false, without quotes",
                ),
            },
        }
    }

    /// A whole number from `least` to `most`.
    pub fn count(&mut self, value: &Quantity, path: &Path, least: u32, most: u32) -> Option<u32> {
        match whole(value).filter(|n| (least..=most).contains(n)) {
            Some(number) => Some(number),
            None => self.fail(
                path,
                format!(
                    "is {}, but must be a whole number from {least} to {most}",
                    kind(&value.0)
                ),
                match value.0.as_str() {
                    Some(_) => "write it without quotes".to_owned(),
                    None => format!("give one of {least} to {most}"),
                },
            ),
        }
    }

    pub fn denominator(&mut self, value: Option<&Quantity>, path: &Path) -> Option<Denominator> {
        let Some(value) = value else {
            return Some(Denominator::DEFAULT);
        };
        match whole(value).and_then(Denominator::new) {
            Some(denominator) => Some(denominator),
            None => self.fail(
                path,
                format!("is {}, which no tape is divided by", kind(&value.0)),
                "use 1, 2, 4, 8, 16, 32, 64 or 128",
            ),
        }
    }

    pub fn triple<'v>(&mut self, values: &'v [Quantity], path: &Path) -> Option<&'v [Quantity]> {
        if values.len() == 3 {
            return Some(values);
        }
        self.fail(
            path,
            format!("has {} entries", values.len()),
            "give three: x, y, z",
        )
    }

    /// Every one of a list's values, read; `None` if any is wrong, when all have been
    /// looked at.
    pub fn each<T, U>(
        &mut self,
        values: &[T],
        path: &Path,
        mut read: impl FnMut(&mut Self, &T, &Path) -> Option<U>,
    ) -> Option<Vec<U>> {
        let mut all = Some(Vec::with_capacity(values.len()));
        for (i, value) in values.iter().enumerate() {
            match (read(self, value, &path.index(i)), &mut all) {
                (Some(value), Some(all)) => all.push(value),
                _ => all = None,
            }
        }
        all
    }

    /// Text that is not blank and holds nothing that a page cannot show.
    pub fn text(&mut self, text: &Text, path: &Path) -> Option<String> {
        match text.0.as_str() {
            Some(text) => self.name(text, path).map(str::to_owned),
            None => self.fail(
                path,
                format!("is {}, but must be text", kind(&text.0)),
                "write it in double quotes",
            ),
        }
    }

    /// A name as it may appear on paper.
    pub fn name<'v>(&mut self, name: &'v str, path: &Path) -> Option<&'v str> {
        if name.trim().is_empty() {
            return self.fail(path, "is empty", "give it a name");
        }
        if name.chars().any(char::is_control) {
            let help = "use letters, digits and signs on one line";
            return self.fail(path, "holds a control character", help);
        }
        if name.chars().count() > LONGEST_NAME {
            let message = format!("is longer than {LONGEST_NAME} characters");
            return self.fail(path, message, "give it a shorter name");
        }
        Some(name)
    }

    /// A length that is small beside any tube: kerf, gap, shrinkage.
    pub fn small_or(
        &mut self,
        value: &Option<Quantity>,
        path: &Path,
        default: Length,
    ) -> Option<Length> {
        let length = self.length_or(value, path, Sign::NotNegative, default)?;
        if length > MOST_AT_A_JOINT {
            return self.fail(path, "is more than 1/2 in (12.7 mm)", "check the unit");
        }
        Some(length)
    }

    pub fn length_or(
        &mut self,
        value: &Option<Quantity>,
        path: &Path,
        sign: Sign,
        default: Length,
    ) -> Option<Length> {
        match value {
            Some(value) => self.length(value, path, sign),
            None => Some(default),
        }
    }

    pub fn length(&mut self, value: &Quantity, path: &Path, sign: Sign) -> Option<Length> {
        let help = "write a number in the job's units, or text such as \"1 3/8 in\" or \"35 mm\"";
        let length = match (value.0.as_f64(), value.0.as_str()) {
            (Some(number), _) => Length::from_unit(number, self.unit),
            (_, Some(text)) => match parse_length(text, self.unit) {
                Ok(length) => length,
                Err(error) => {
                    let help = help_with(&error).unwrap_or(help);
                    return self.fail(path, format!("{text:?} {error}"), help);
                }
            },
            _ => {
                return self.fail(
                    path,
                    format!("is {}, but must be a length", kind(&value.0)),
                    help,
                );
            }
        };
        let shown = kind(&value.0);
        if length.abs() > LONGEST || !length.is_finite() {
            return self.fail(
                path,
                format!("is {shown}: more than 100 m"),
                "check the unit",
            );
        }
        match sign {
            Sign::NotNegative if length < Length::ZERO => self.fail(
                path,
                format!("is {shown}, but must not be negative"),
                "give a length of 0 or more",
            ),
            Sign::Positive if length <= Length::ZERO => self.fail(
                path,
                format!("is {shown}, but must be more than 0"),
                "give a length above 0",
            ),
            _ => Some(length),
        }
    }

    pub fn angle_or(
        &mut self,
        value: &Option<Quantity>,
        path: &Path,
        default: Angle,
    ) -> Option<Angle> {
        let Some(value) = value else {
            return Some(default);
        };
        let help = "write degrees, or text such as \"11.25 deg\"";
        match (value.0.as_f64(), value.0.as_str()) {
            (Some(degrees), _) => Some(Angle::from_degrees(degrees)),
            (_, Some(text)) => match parse_angle(text) {
                Ok(angle) => Some(angle),
                Err(error) => {
                    let help = help_with(&error).unwrap_or(help);
                    self.fail(path, format!("{text:?} {error}"), help)
                }
            },
            _ => self.fail(
                path,
                format!("is {}, but must be an angle", kind(&value.0)),
                help,
            ),
        }
    }

    /// A plain number from `least` to `greatest`.
    pub fn number(
        &mut self,
        value: &Quantity,
        path: &Path,
        least: f64,
        greatest: f64,
    ) -> Option<f64> {
        match value.0.as_f64() {
            Some(number) if (least..=greatest).contains(&number) => Some(number),
            Some(number) if number < least => self.fail(
                path,
                format!("is {number}, but must be {least} or more"),
                "give a larger number",
            ),
            Some(number) => self.fail(
                path,
                format!("is {number}, but must be {greatest} or less"),
                "give a smaller number",
            ),
            None => self.fail(
                path,
                format!("is {}, but must be a number", kind(&value.0)),
                "write a plain number",
            ),
        }
    }

    pub fn required<'v, T>(
        &mut self,
        value: &'v Option<T>,
        path: &Path,
        example: &str,
    ) -> Option<&'v T> {
        self.required_ref(value.as_ref(), path, example)
    }

    /// The value, or a problem if it is missing and nobody has said why.
    pub fn required_ref<'v, T>(
        &mut self,
        value: Option<&'v T>,
        path: &Path,
        example: &str,
    ) -> Option<&'v T> {
        if value.is_none() && !self.known_bad.iter().any(|bad| bad.holds(path)) {
            self.error(path, "is missing", format!("add it: {example}"));
        }
        value
    }

    pub fn error(&mut self, path: &Path, message: impl Into<String>, help: impl Into<String>) {
        self.errors.push(Problem::at(path, message, help));
    }

    pub fn fail<T>(
        &mut self,
        path: &Path,
        message: impl ToString,
        help: impl Into<String>,
    ) -> Option<T> {
        self.error(path, message.to_string(), help);
        None
    }
}
