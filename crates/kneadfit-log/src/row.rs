//! One record as values under their columns, and what is wrong with its cells.

use jiff::civil::Date;

use crate::cell::{NotANumber, as_text, parse_number};
use crate::columns::{Column, Header, Number};
use crate::problem::{ProblemKind, Severity};
use crate::records::Record;
use kneadfit::batch::limits;

/// Something wrong with a row, before its place is attached.
pub(crate) struct Fault {
    pub(crate) severity: Severity,
    /// Index of the column; `None`: the row as a whole.
    pub(crate) column: Option<usize>,
    pub(crate) kind: ProblemKind,
}

/// The faults of one row, in a scratch that is used again for the next.
#[derive(Default)]
pub(crate) struct Faults(pub(crate) Vec<Fault>);

impl Faults {
    pub(crate) fn error(&mut self, column: Option<usize>, kind: ProblemKind) {
        self.0.push(Fault { severity: Severity::Error, column, kind });
    }

    pub(crate) fn doubt(&mut self, column: Option<usize>, kind: ProblemKind) {
        self.0.push(Fault { severity: Severity::Doubt, column, kind });
    }

    /// Whether the row cannot be used.
    pub(crate) fn any_error(&self) -> bool {
        self.0.iter().any(|fault| fault.severity == Severity::Error)
    }
}

/// The values of one row. A blank cell, or one that is at fault, is `None`.
#[derive(Default)]
pub(crate) struct Row<'a> {
    pub(crate) batch: Option<&'a str>,
    pub(crate) machine: Option<&'a str>,
    pub(crate) date: Option<&'a str>,
    pub(crate) flour: Option<&'a str>,
    values: [Option<f64>; Number::ALL.len()],
}

impl<'a> Row<'a> {
    pub(crate) fn get(&self, number: Number) -> Option<f64> {
        self.values[number as usize]
    }

    /// A number made of the row's numbers and of what came before it.
    pub(crate) fn fingerprint(&self, minutes: &[Option<f64>], before: u64) -> u64 {
        // Odd, with its bits well mixed: the golden ratio's.
        const SPREAD: u64 = 0x9E37_79B9_7F4A_7C15;
        let numbers = self.values.iter().chain(minutes).flatten();
        numbers.fold(before.rotate_left(7) ^ SPREAD, |hash, number| {
            (hash ^ number.to_bits()).wrapping_mul(SPREAD).rotate_left(29)
        })
    }

    /// Reads all cells; `minutes` receives the totals at each of the header's speeds.
    pub(crate) fn parse(
        record: &Record<'a>,
        header: &Header,
        minutes: &mut Vec<Option<f64>>,
        faults: &mut Faults,
    ) -> Self {
        let mut row = Self::default();
        minutes.clear();
        minutes.resize(header.speeds.len(), None);
        for (index, (cell, column)) in record.cells().zip(&header.columns).enumerate() {
            match *column {
                Column::Number(number) => {
                    row.values[number as usize] = value(cell, number.limits(), index, faults);
                }
                Column::Minutes(speed) => {
                    minutes[speed] = value(cell, limits::MINUTES, index, faults);
                }
                Column::Batch => row.batch = text(cell, index, faults),
                Column::Machine => row.machine = text(cell, index, faults),
                Column::Flour => row.flour = text(cell, index, faults),
                Column::Date => row.date = text(cell, index, faults),
                Column::Unread => {}
            }
        }
        row
    }
}

fn value(cell: &[u8], (least, most): (f64, f64), index: usize, faults: &mut Faults) -> Option<f64> {
    let kind = match parse_number(cell) {
        Ok(None) => return None,
        Ok(Some(value)) if (least..=most).contains(&value) => return Some(value),
        Ok(Some(_)) => ProblemKind::OutOfRange { least, most },
        Err(NotANumber::NotFinite) => ProblemKind::NotFinite,
        Err(NotANumber::Text { with_point }) => ProblemKind::NotANumber { with_point },
    };
    faults.error(Some(index), kind);
    None
}

fn text<'a>(cell: &'a [u8], index: usize, faults: &mut Faults) -> Option<&'a str> {
    if cell.is_empty() {
        return None;
    }
    match as_text(cell) {
        Some(text) => {
            // Most cells begin and end with a letter or digit: nothing to trim.
            let plain = |byte: Option<&u8>| byte.is_some_and(u8::is_ascii_graphic);
            let trimmed = !plain(cell.first()) || !plain(cell.last());
            Some(if trimmed { text.trim() } else { text }).filter(|text| !text.is_empty())
        }
        None => {
            faults.error(Some(index), ProblemKind::NotUtf8);
            None
        }
    }
}

/// Whether a text is a day of the calendar, written in full.
pub(crate) fn is_date(text: &str) -> bool {
    // The parser also takes `20260314` and times of the day; a log has one form.
    text.parse::<Date>().is_ok_and(|date| date.to_string() == text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_have_one_form_and_are_of_the_calendar() {
        assert!(is_date("2026-03-14") && is_date("2024-02-29"));
        for text in ["2026-3-14", "20260314", "2026-02-29", "14/03/2026", "2026-03-14T10:00", ""] {
            assert!(!is_date(text), "{text}");
        }
    }
}
