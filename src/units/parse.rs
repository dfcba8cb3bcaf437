//! Reading quantities as people write them: `1 3/8 in`, `2 ft 3-1/2 in`,
//! `35 mm`, `9 deg`, `8½`, `650 °C`.

use super::{Angle, Length, LengthUnit, Temperature, TemperatureUnit};
use thiserror::Error;

/// Longest text that is looked at; a quantity is a few characters.
const LONGEST_TEXT: usize = 64;

/// Why a text is no length or angle.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum QuantityError {
    /// Nothing but blanks.
    #[error("is empty")]
    Empty,
    /// Far longer than any quantity.
    #[error("is too long for a measurement")]
    TooLong,
    /// A number was expected here.
    #[error("has no number where one is expected, at '{0}'")]
    NotANumber(String),
    /// A unit that is not known.
    #[error("has the unknown unit '{0}'")]
    UnknownUnit(String),
    /// A comma, as it stands for the decimal point elsewhere.
    #[error("has a comma, which no number here is written with")]
    Comma,
    /// A gauge of sheet or tube.
    #[error("is a gauge, which is another thickness in each material")]
    Gauge,
    /// Division by zero in a fraction.
    #[error("has a fraction with a zero below the bar")]
    ZeroDenominator,
    /// A fraction of decimals.
    #[error("mixes a decimal point and a fraction")]
    DecimalFraction,
    /// Too large for a finite number.
    #[error("is not finite")]
    NotFinite,
}

/// Reads a length. A number without a unit is in `unit`.
///
/// Accepts decimals, fractions (`3/8`), mixed numbers (`1 3/8`, `1-3/8`,
/// `1⅜`), `in`/`"`, `ft`/`'`, `mm`, `cm`, `m`, and feet followed by inches.
pub fn parse_length(text: &str, unit: LengthUnit) -> Result<Length, QuantityError> {
    let (sign, tokens) = tokens(text)?;
    let mut rest = tokens.as_slice();
    let mut total = Length::ZERO;
    let mut first = true;
    while first || !rest.is_empty() {
        let number = take_number(&mut rest)?;
        let here = match rest.split_first() {
            Some((Token::Word(word), tail)) => {
                rest = tail;
                length_unit(word)?
            }
            _ => unit,
        };
        total += Length::from_unit(number, here);
        // Only "2 ft 3 in" has a second part.
        if !(first && here == LengthUnit::Ft) {
            break;
        }
        first = false;
    }
    finish(rest, total.mm() * sign).map(Length::from_mm)
}

/// Reads an angle. A number without a unit is in degrees.
///
/// Accepts decimals, fractions and mixed numbers, `deg`/`°` and `rad`.
pub fn parse_angle(text: &str) -> Result<Angle, QuantityError> {
    let (sign, tokens) = tokens(text)?;
    let mut rest = tokens.as_slice();
    let number = take_number(&mut rest)? * sign;
    let radians = match rest.split_first() {
        None => Angle::from_degrees(number).radians(),
        Some((Token::Word(word), tail)) => {
            rest = tail;
            match word.as_str() {
                "deg" | "degree" | "degrees" | "°" => Angle::from_degrees(number).radians(),
                "rad" | "radian" | "radians" => number,
                other => return Err(QuantityError::UnknownUnit(other.to_owned())),
            }
        }
        Some((token, _)) => return Err(QuantityError::NotANumber(token.text())),
    };
    finish(rest, radians).map(Angle::from_radians)
}

/// Reads a temperature. A number without a unit is in `unit`.
///
/// Accepts `650 C`, `650 °C`, `1200 deg F`, `1200 Fahrenheit` and `923 K`.
pub fn parse_temperature(text: &str, unit: TemperatureUnit) -> Result<Temperature, QuantityError> {
    let (sign, tokens) = tokens(text)?;
    let mut rest = tokens.as_slice();
    let number = take_number(&mut rest)? * sign;
    let mut unit = unit;
    if let [Token::Word(degrees), tail @ ..] = rest
        && matches!(degrees.as_str(), "°" | "deg" | "degree" | "degrees")
    {
        rest = tail;
    }
    if let [Token::Word(word), tail @ ..] = rest {
        unit = TemperatureUnit::from_word(word)
            .ok_or_else(|| QuantityError::UnknownUnit(word.clone()))?;
        rest = tail;
    }
    finish(rest, number).map(|number| Temperature::from_unit(number, unit))
}

fn length_unit(word: &str) -> Result<LengthUnit, QuantityError> {
    match word {
        "in" | "inch" | "inches" | "\"" | "″" => Ok(LengthUnit::In),
        "ft" | "foot" | "feet" | "'" | "′" => Ok(LengthUnit::Ft),
        _ => LengthUnit::from_symbol(word).ok_or_else(|| match word {
            "ga" | "gauge" | "gage" | "swg" | "bwg" => QuantityError::Gauge,
            _ => QuantityError::UnknownUnit(word.to_owned()),
        }),
    }
}

fn finish(rest: &[Token], value: f64) -> Result<f64, QuantityError> {
    match rest.first() {
        Some(token) => Err(QuantityError::NotANumber(token.text())),
        None if value.is_finite() => Ok(value),
        None => Err(QuantityError::NotFinite),
    }
}

/// A number (`1.5`), a bar, a dash or a word.
#[derive(Clone, Debug, PartialEq)]
enum Token {
    Number(f64, String),
    Bar,
    Dash,
    Word(String),
}

impl Token {
    fn text(&self) -> String {
        match self {
            Self::Number(_, text) | Self::Word(text) => text.clone(),
            Self::Bar => "/".to_owned(),
            Self::Dash => "-".to_owned(),
        }
    }
}

/// The sign in front and the tokens behind it.
fn tokens(text: &str) -> Result<(f64, Vec<Token>), QuantityError> {
    let text = text.trim();
    if text.is_empty() {
        return Err(QuantityError::Empty);
    }
    if text.len() > LONGEST_TEXT {
        return Err(QuantityError::TooLong);
    }
    let (sign, mut rest) = match text.strip_prefix(['-', '−']) {
        Some(unsigned) => (-1.0, unsigned),
        None => (1.0, text.strip_prefix('+').unwrap_or(text)),
    };
    let mut tokens = Vec::new();
    while let Some(next) = rest.trim_start().chars().next() {
        rest = rest.trim_start();
        let length = match next {
            '0'..='9' | '.' => number_length(rest),
            '/' | '⁄' | '-' | '"' | '″' | '\'' | '′' | '°' => next.len_utf8(),
            c if vulgar_fraction(c).is_some() => c.len_utf8(),
            _ => rest
                .find(|c: char| !c.is_alphabetic())
                .unwrap_or(rest.len()),
        };
        let (token, tail) = rest.split_at(length.max(next.len_utf8()));
        tokens.push(token_of(next, token)?);
        rest = tail;
    }
    Ok((sign, tokens))
}

fn token_of(first: char, text: &str) -> Result<Token, QuantityError> {
    if let Some((top, bottom)) = vulgar_fraction(first) {
        return Ok(Token::Number(top / bottom, text.to_owned()));
    }
    Ok(match first {
        '0'..='9' | '.' => Token::Number(
            text.parse()
                .map_err(|_| QuantityError::NotANumber(text.to_owned()))?,
            text.to_owned(),
        ),
        ',' => return Err(QuantityError::Comma),
        '/' | '⁄' => Token::Bar,
        '-' => Token::Dash,
        _ => Token::Word(text.to_lowercase()),
    })
}

/// Length of the decimal number at the start of `text`, with an exponent only
/// where digits follow the `e`.
fn number_length(text: &str) -> usize {
    let digits = |s: &str| s.len() - s.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    let mut length = digits(text);
    if text[length..].starts_with('.') {
        length += 1 + digits(&text[length + 1..]);
    }
    if let Some(exponent) = text[length..].strip_prefix(['e', 'E']) {
        let unsigned = exponent.strip_prefix(['+', '-']).unwrap_or(exponent);
        let count = digits(unsigned);
        if count > 0 {
            length = text.len() - unsigned.len() + count;
        }
    }
    length
}

/// Numerator and denominator of a one-character fraction.
fn vulgar_fraction(c: char) -> Option<(f64, f64)> {
    match c {
        '½' => Some((1.0, 2.0)),
        '¼' => Some((1.0, 4.0)),
        '¾' => Some((3.0, 4.0)),
        '⅛' => Some((1.0, 8.0)),
        '⅜' => Some((3.0, 8.0)),
        '⅝' => Some((5.0, 8.0)),
        '⅞' => Some((7.0, 8.0)),
        _ => None,
    }
}

/// Takes `3`, `3/8`, `1 3/8`, `1-3/8` or `1⅜` off the front.
fn take_number(rest: &mut &[Token]) -> Result<f64, QuantityError> {
    let whole = match rest.split_first() {
        Some((Token::Number(value, _), tail)) => {
            *rest = tail;
            *value
        }
        Some((token, _)) => return Err(QuantityError::NotANumber(token.text())),
        None => return Err(QuantityError::NotANumber(String::new())),
    };
    let (value, used) = match *rest {
        [Token::Bar, Token::Number(bottom, _), ..] => (over(whole, *bottom)?, 2),
        [
            Token::Dash,
            Token::Number(top, _),
            Token::Bar,
            Token::Number(bottom, _),
            ..,
        ] => (whole + over(*top, *bottom)?, 4),
        [
            Token::Number(top, _),
            Token::Bar,
            Token::Number(bottom, _),
            ..,
        ] => (whole + over(*top, *bottom)?, 3),
        [Token::Number(part, text), ..]
            if text.chars().next().and_then(vulgar_fraction).is_some() =>
        {
            (whole + part, 1)
        }
        _ => (whole, 0),
    };
    if used > 2 && whole.fract() != 0.0 {
        return Err(QuantityError::DecimalFraction);
    }
    *rest = &rest[used..];
    Ok(value)
}

fn over(top: f64, bottom: f64) -> Result<f64, QuantityError> {
    if bottom == 0.0 {
        Err(QuantityError::ZeroDenominator)
    } else if top.fract() != 0.0 || bottom.fract() != 0.0 {
        Err(QuantityError::DecimalFraction)
    } else {
        Ok(top / bottom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn inches(text: &str) -> f64 {
        parse_length(text, LengthUnit::In)
            .unwrap_or_else(|error| panic!("{text}: {error}"))
            .inches()
    }

    #[test]
    fn a_point_for_a_blank_is_no_fraction() {
        for text in ["29.15/32", "2.5 3/8", "2.5-3/8", "3/8.5", "0.5/2"] {
            let read = parse_length(text, LengthUnit::In);
            assert_eq!(read, Err(QuantityError::DecimalFraction), "{text}");
        }
    }

    #[test]
    fn lengths_as_people_write_them() {
        for (text, expected) in [
            ("1 3/8 in", 1.375),
            ("1-3/8\"", 1.375),
            ("1⅜", 1.375),
            ("3/8", 0.375),
            ("-8 1/2", -8.5),
            ("35 mm", 35.0 / 25.4),
            ("3.5cm", 35.0 / 25.4),
            ("1e1 mm", 10.0 / 25.4),
            ("2 ft 3 1/2 in", 27.5),
            ("2' 3-1/2\"", 27.5),
            (".5", 0.5),
            ("+4", 4.0),
            ("½ in", 0.5),
        ] {
            assert!((inches(text) - expected).abs() < 1e-12, "{text}");
        }
    }

    #[test]
    fn bare_numbers_take_the_given_unit() {
        let length = parse_length("12", LengthUnit::Cm).expect("a number");
        assert_eq!(length, Length::from_mm(120.0));
    }

    #[test]
    fn angles_are_degrees_unless_said() {
        for (text, degrees) in [
            ("9", 9.0),
            ("11.25 deg", 11.25),
            ("22 1/2°", 22.5),
            ("-1 rad", -1_f64.to_degrees()),
        ] {
            let angle = parse_angle(text).unwrap_or_else(|error| panic!("{text}: {error}"));
            assert!((angle.degrees() - degrees).abs() < 1e-12, "{text}");
        }
    }

    #[test]
    fn temperatures_as_people_write_them() {
        use TemperatureUnit::{Celsius, Fahrenheit};
        for (text, unit, celsius) in [
            ("650", Celsius, 650.0),
            ("212", Fahrenheit, 100.0),
            ("650 C", Fahrenheit, 650.0),
            ("650°C", Fahrenheit, 650.0),
            ("-40 deg F", Celsius, -40.0),
            ("212 degrees Fahrenheit", Celsius, 100.0),
            ("273.15 K", Celsius, 0.0),
        ] {
            let read = parse_temperature(text, unit);
            let read = read.unwrap_or_else(|error| panic!("{text}: {error}"));
            assert!((read.celsius() - celsius).abs() < 1e-9, "{text}");
        }
        for text in ["", "hot", "650 in", "650 C C", "nan C", "1e999"] {
            assert!(parse_temperature(text, Celsius).is_err(), "{text}");
        }
    }

    #[test]
    fn nonsense_is_named() {
        use QuantityError as E;
        let length = |text| parse_length(text, LengthUnit::Mm);
        assert_eq!(length("  "), Err(E::Empty));
        assert_eq!(length("3 furlong"), Err(E::UnknownUnit("furlong".into())));
        assert_eq!(length("63,5"), Err(E::Comma));
        assert_eq!(parse_angle("22,5"), Err(E::Comma));
        assert_eq!(length("16 ga"), Err(E::Gauge));
        assert_eq!(length("16 Gauge"), Err(E::Gauge));
        assert_eq!(length("1/0"), Err(E::ZeroDenominator));
        assert_eq!(length("1e999"), Err(E::NotFinite));
        assert_eq!(length("nan"), Err(E::NotANumber("nan".into())));
        assert_eq!(length("inf mm"), Err(E::NotANumber("inf".into())));
        assert_eq!(length("3 mm 4"), Err(E::NotANumber("4".into())));
        assert_eq!(length(&"9".repeat(65)), Err(E::TooLong));
        assert_eq!(parse_angle("3 mm"), Err(E::UnknownUnit("mm".into())));
    }

    proptest! {
        #[test]
        fn no_text_panics(text in "\\PC{0,70}") {
            let _ = parse_length(&text, LengthUnit::In);
            let _ = parse_angle(&text);
            let _ = parse_temperature(&text, TemperatureUnit::Celsius);
        }

        #[test]
        fn fractions_written_are_fractions_read(parts in -20_000_i32..20_000) {
            let tape = crate::units::Denominator::new(64).expect("a power of two");
            let written = tape.format(f64::from(parts) / 64.0);
            prop_assert!((inches(&written) - f64::from(parts) / 64.0).abs() < 1e-12);
        }
    }
}
