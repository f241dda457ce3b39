//! One cell: its text, its number, and how it is shown in a message.

use std::fmt;

use serde::{Serialize, Serializer};

use crate::decimal::EXACT_TENS;

/// How much of a cell a message shows, characters.
const SHOWN_CHARS: usize = 60;

/// What a cell held, cut to a length that a message can show.
///
/// # Examples
///
/// ```
/// use kneadfit_log::Found;
///
/// assert_eq!(Found::new(b"4,5").to_string(), "4,5");
/// let long = Found::new(&[b'x'; 10_000]);
/// assert!(long.to_string().starts_with("xxxx"));
/// assert!(long.to_string().ends_with("… (10000 bytes)"));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found(Box<str>);

impl Found {
    /// The cell's bytes as text, control characters escaped, cut when long.
    pub fn new(cell: &[u8]) -> Self {
        // Four bytes a character at most, and one more to know that it was cut.
        let head = &cell[..cell.len().min(4 * (SHOWN_CHARS + 1))];
        let text = String::from_utf8_lossy(head);
        let mut shown = String::new();
        for character in text.chars().take(SHOWN_CHARS) {
            if character.is_control() {
                shown.extend(character.escape_default());
            } else {
                shown.push(character);
            }
        }
        if head.len() < cell.len() || text.chars().nth(SHOWN_CHARS).is_some() {
            shown.push_str(&format!("… ({} bytes)", cell.len()));
        }
        Self(shown.into())
    }

    /// What is shown.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The number in it, where it is one.
    pub(crate) fn number(&self) -> Option<f64> {
        parse_number(self.0.as_bytes()).ok().flatten()
    }
}

impl fmt::Display for Found {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Serialize for Found {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.0)
    }
}

/// The cell as text without the blanks around it; `None` when it is not UTF-8.
pub(crate) fn as_text(cell: &[u8]) -> Option<&str> {
    std::str::from_utf8(cell).ok()
}

/// Why a cell is not a number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum NotANumber {
    /// Text; the number that it would be with a decimal point for its comma.
    Text { with_point: Option<f64> },
    /// A point in a column of decimal commas; the number that it would be as a decimal point.
    PointAmongCommas { as_decimal: Option<f64> },
    /// NaN, an infinity, or more than a number can hold.
    NotFinite,
}

/// The number in a cell; `None` when it is blank.
pub(crate) fn parse_number(cell: &[u8]) -> Result<Option<f64>, NotANumber> {
    if cell.is_empty() {
        return Ok(None);
    }
    if let Some(value) = parse_short(cell) {
        return Ok(Some(value));
    }
    let cell = cell.trim_ascii();
    if cell.is_empty() {
        return Ok(None);
    }
    parse_any(cell).map(Some)
}

/// Up to fifteen digits with a point among them: numerator and power of ten are
/// both exact, so one division rounds as the full algorithm would, in a third of its time.
#[inline]
fn parse_short(cell: &[u8]) -> Option<f64> {
    let (negative, written) = match cell {
        [b'-', rest @ ..] => (true, rest),
        _ => (false, cell),
    };
    // With the point among them.
    if written.len() > 16 {
        return None;
    }
    let mut value = 0_u64;
    let mut digits = |bytes: &[u8]| {
        let ends = bytes.iter().position(|byte| {
            let digit = byte.wrapping_sub(b'0');
            if digit <= 9 {
                value = value * 10 + u64::from(digit);
            }
            digit > 9
        });
        ends.unwrap_or(bytes.len())
    };
    let whole = digits(written);
    let decimals = match &written[whole..] {
        [] => 0,
        [b'.', behind @ ..] if digits(behind) == behind.len() => behind.len(),
        _ => return None,
    };
    let count = whole + decimals;
    if count == 0 || count > 15 {
        return None;
    }
    let size = if decimals == 0 { value as f64 } else { value as f64 / EXACT_TENS[decimals] };
    Some(if negative { -size } else { size })
}

fn parse_any(cell: &[u8]) -> Result<f64, NotANumber> {
    let text = std::str::from_utf8(cell).map_err(|_| NotANumber::Text { with_point: None })?;
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        Ok(_) => Err(NotANumber::NotFinite),
        Err(_) => {
            let once = text.len() <= SHOWN_CHARS && text.matches(',').count() == 1;
            let with_point = once
                .then(|| text.replace(',', ".").parse::<f64>().ok())
                .flatten()
                .filter(|value| value.is_finite());
            Err(NotANumber::Text { with_point })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_finite_decimals() {
        for (cell, value) in [
            ("4.5", 4.5),
            ("-0.25", -0.25),
            ("+3", 3.0),
            (" 7 ", 7.0),
            (".5", 0.5),
            ("5.", 5.0),
            ("1e2", 100.0),
            ("0.1234567890123456789", 0.123_456_789_012_345_68),
            ("0.000000000000001", 1e-15),
        ] {
            assert_eq!(parse_number(cell.as_bytes()), Ok(Some(value)), "{cell}");
        }
        for cell in ["", " ", "\t"] {
            assert_eq!(parse_number(cell.as_bytes()), Ok(None));
        }
        for cell in ["NaN", "inf", "-infinity", "1e999"] {
            assert_eq!(parse_number(cell.as_bytes()), Err(NotANumber::NotFinite), "{cell}");
        }
        for (cell, with_point) in
            [("4,5", Some(4.5)), ("abc", None), ("1,2,3", None), (".", None), ("-", None)]
        {
            let expected = Err(NotANumber::Text { with_point });
            assert_eq!(parse_number(cell.as_bytes()), expected, "{cell}");
        }
        assert_eq!(parse_number(b"\xff"), Err(NotANumber::Text { with_point: None }));
    }

    proptest::proptest! {
        #[test]
        fn short_decimals_round_as_the_standard_library(whole in 0_u64..1_000_000_000, decimals in 0_usize..16) {
            let digits = format!("{whole:0>width$}", width = decimals + 1);
            let (before, after) = digits.split_at(digits.len() - decimals);
            let text = format!("-{before}.{after}");
            let ours = parse_number(text.as_bytes()).unwrap().unwrap();
            proptest::prop_assert_eq!(ours.to_bits(), text.parse::<f64>().unwrap().to_bits());
        }

        #[test]
        fn whatever_has_digits_reads_as_in_the_standard_library(text in "[-+]?[0-9.e]{1,18}") {
            let ours = parse_number(text.as_bytes());
            match text.parse::<f64>() {
                Ok(value) if value.is_finite() => {
                    let bits = ours.ok().flatten().map(f64::to_bits);
                    proptest::prop_assert_eq!(bits, Some(value.to_bits()));
                }
                _ => proptest::prop_assert!(ours.is_err()),
            }
        }
    }

    #[test]
    fn a_huge_cell_is_shown_cut() {
        let found = Found::new("é".repeat(5_000_000).as_bytes());
        assert!(found.as_str().chars().count() < SHOWN_CHARS + 30);
        assert!(found.as_str().ends_with("(10000000 bytes)"));
        assert_eq!(Found::new(b"a\nb\x07").as_str(), "a\\nb\\u{7}");
    }
}
