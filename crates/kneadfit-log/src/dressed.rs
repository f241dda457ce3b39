//! Numbers as bakers and their spreadsheets write them: a decimal comma, blanks or
//! apostrophes between thousands, a per cent sign behind.

use std::borrow::Cow;

use crate::cell::{NotANumber, as_text, parse_number};
use crate::names::is_blank;

/// How the numbers of one column are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum DecimalMark {
    #[default]
    Point,
    Comma,
}

/// Longer cells are no numbers.
const LONGEST: usize = 60;

/// Whether a blank stands between thousands: no-break, figure, thin and narrow no-break.
fn parts_thousands(letter: char) -> bool {
    matches!(letter, '\u{a0}' | '\u{2007}' | '\u{2009}' | '\u{202f}')
}

fn is_apostrophe(letter: char) -> bool {
    matches!(letter, '\'' | '’')
}

/// Whether a dash stands for a minus before a figure: what word processors and spreadsheets
/// make of a hyphen.
fn is_dash(letter: char) -> bool {
    matches!(letter, '\u{2212}' | '\u{2010}'..='\u{2014}' | '\u{fe63}' | '\u{ff0d}')
}

/// The text with a hyphen for another dash before its first figure.
fn with_hyphen(text: &str) -> Cow<'_, str> {
    let mut letters = text.chars();
    match letters.next() {
        Some(dash) if is_dash(dash) => {
            let rest = letters.as_str();
            let number = rest.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','));
            if number { format!("-{rest}").into() } else { text.into() }
        }
        _ => text.into(),
    }
}

/// A number written with a decimal mark; `None`: a blank cell.
pub(crate) fn read_number(cell: &[u8], mark: DecimalMark) -> Result<Option<f64>, NotANumber> {
    let plain = parse_number(cell);
    let has_mark = |wanted: u8| cell.contains(&wanted);
    match mark {
        DecimalMark::Point if plain.is_ok() => return plain,
        DecimalMark::Comma if !has_mark(b'.') && plain.is_ok() => return plain,
        _ => {}
    }
    let Some(text) = as_text(cell).filter(|text| text.len() <= LONGEST) else { return plain };
    let text = text.trim_matches(is_blank);
    if text.is_empty() {
        return Ok(None);
    }
    let text = &*with_hyphen(text);
    let Some(joined) = join_thousands(text) else { return with_hint(plain, text) };
    let pointed = match mark {
        DecimalMark::Point => joined,
        DecimalMark::Comma if joined.contains('.') => return with_hint(plain, text),
        DecimalMark::Comma if joined.matches(',').count() > 1 => return with_hint(plain, text),
        DecimalMark::Comma => joined.replace(',', "."),
    };
    match parse_number(pointed.as_bytes()) {
        Ok(value) => Ok(value),
        Err(NotANumber::NotFinite) => Err(NotANumber::NotFinite),
        Err(_) => with_hint(plain, text),
    }
}

/// What is wrong with a cell that is no number of its column.
fn with_hint(
    plain: Result<Option<f64>, NotANumber>,
    text: &str,
) -> Result<Option<f64>, NotANumber> {
    match plain {
        Err(fault) => Err(fault),
        // A point in a column of commas: it may part thousands.
        Ok(_) => Err(NotANumber::PointAmongCommas { as_decimal: text.parse().ok() }),
    }
}

/// The text without what parts its thousands; `None`: it does not part threes of digits.
fn join_thousands(text: &str) -> Option<String> {
    let separator = text.chars().find(|&c| parts_thousands(c) || is_apostrophe(c));
    let Some(separator) = separator else { return Some(text.to_owned()) };
    let unsigned = text.trim_start_matches(['-', '+']);
    let whole_ends = unsigned.find(['.', ',']).unwrap_or(unsigned.len());
    let (whole, decimals) = unsigned.split_at(whole_ends);
    let mut groups = whole.split(separator);
    let digits = |group: &str| group.bytes().all(|b| b.is_ascii_digit());
    let first = groups.next()?;
    let threes = groups.all(|group| group.len() == 3 && digits(group));
    if first.is_empty() || first.len() > 3 || !digits(first) || !threes {
        return None;
    }
    let sign = &text[..text.len() - unsigned.len()];
    Some(format!("{sign}{}{decimals}", whole.replace(separator, "")))
}

/// A share: a number, or one with a per cent sign behind. The flag: it had the sign.
pub(crate) fn read_share(
    cell: &[u8],
    mark: DecimalMark,
) -> Result<Option<(f64, bool)>, NotANumber> {
    if let Some(text) = as_text(cell)
        && let Some(number) = text.trim_matches(is_blank).strip_suffix('%')
    {
        let value = read_number(number.as_bytes(), mark)?;
        return Ok(value.map(|value| (value, true)));
    }
    Ok(read_number(cell, mark)?.map(|value| (value, false)))
}

/// The decimal mark that a cell shows, where it is a number with one of them.
pub(crate) fn mark_of(cell: &[u8]) -> Option<DecimalMark> {
    let text = as_text(cell).filter(|text| text.len() <= LONGEST)?;
    let text = text.trim_matches(is_blank);
    let text = text.strip_suffix('%').unwrap_or(text).trim_end_matches(is_blank);
    let joined = join_thousands(&with_hyphen(text))?;
    let unsigned = joined.trim_start_matches(['-', '+']);
    let only = unsigned.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b','));
    if !only || !unsigned.bytes().any(|b| b.is_ascii_digit()) {
        return None;
    }
    match (unsigned.matches('.').count(), unsigned.matches(',').count()) {
        (1, 0) => Some(DecimalMark::Point),
        (0, 1) => Some(DecimalMark::Comma),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_three_countries() {
        use DecimalMark::{Comma, Point};
        for (cell, mark, value) in [
            ("4,5", Comma, 4.5),
            ("4.5", Point, 4.5),
            ("12", Comma, 12.0),
            ("1\u{a0}250,5", Comma, 1250.5),
            ("1\u{2009}250.5", Point, 1250.5),
            ("1\u{202f}234\u{202f}567", Point, 1_234_567.0),
            ("12'500", Point, 12_500.0),
            ("−2", Comma, -2.0),
            ("–2.5", Point, -2.5),
            ("—2,5", Comma, -2.5),
            ("‑,5", Comma, -0.5),
            ("−12\u{a0}500,25", Comma, -12_500.25),
            ("-12’500,25", Comma, -12_500.25),
            ("\u{a0}7\u{a0}", Point, 7.0),
        ] {
            assert_eq!(read_number(cell.as_bytes(), mark), Ok(Some(value)), "{cell}");
        }
        for cell in ["", " ", "\u{a0}"] {
            assert_eq!(read_number(cell.as_bytes(), Comma), Ok(None), "{cell:?}");
        }
    }

    #[test]
    fn what_could_be_two_numbers_is_none() {
        use DecimalMark::{Comma, Point};
        for (cell, mark) in [
            ("4,5", Point),
            ("1.250", Comma),
            ("1.250,5", Comma),
            ("1,250.5", Point),
            ("1 250", Point),
            ("12'50", Point),
            ("1'25", Point),
            ("1\u{a0}2500", Point),
            ("1,2,3", Comma),
            ("4–5", Point),
            ("–", Point),
            ("−−2", Point),
        ] {
            assert!(read_number(cell.as_bytes(), mark).is_err(), "{cell}");
        }
        let point = read_number(b"1.250", Comma);
        assert_eq!(point, Err(NotANumber::PointAmongCommas { as_decimal: Some(1.25) }));
    }

    #[test]
    fn marks_are_seen_in_numbers_only() {
        for (cell, mark) in [
            ("4,5", Some(DecimalMark::Comma)),
            ("4.5", Some(DecimalMark::Point)),
            ("85,5 %", Some(DecimalMark::Comma)),
            ("45", None),
            ("−4,5", Some(DecimalMark::Comma)),
            ("4.5.2026", None),
            ("about 4,5", None),
            (".", None),
        ] {
            assert_eq!(mark_of(cell.as_bytes()), mark, "{cell}");
        }
        assert_eq!(read_share(b"85 %", DecimalMark::Point), Ok(Some((85.0, true))));
        assert_eq!(read_share(b"0.85", DecimalMark::Point), Ok(Some((0.85, false))));
    }
}
