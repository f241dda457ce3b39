//! One record as values under their columns, and what is wrong with its cells.

use jiff::civil::Date;

use crate::cell::{NotANumber, as_text, parse_number};
use crate::clock::read_minutes;
use crate::columns::{Column, Dress, Header, Number};
use crate::dressed::{DecimalMark, read_number, read_share};
use crate::harmless::original;
use crate::plausible::LONG_MIXING_MIN;
use crate::problem::{ProblemKind, Severity};
use crate::record::Record;
use crate::sheet_cell::{CellKind, is_failed_formula};
use crate::totals::heads_totals;
use crate::typed_times::{MINUTES_A_DAY, Time, Times, is_day_part};
use crate::unit::{Dimension, Unit};
use kneadfit::batch::limits;
use kneadfit::charge::REST;

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

    /// Whether a cell is not in the canonical dress.
    pub(crate) fn any_unread(&self) -> bool {
        use ProblemKind as K;
        self.0.iter().any(|fault| matches!(fault.kind, K::NotANumber { .. } | K::NotUtf8))
    }

    /// Whether the row cannot be used.
    pub(crate) fn any_error(&self) -> bool {
        self.0.iter().any(|fault| fault.severity == Severity::Error)
    }
}

/// The values of one row. A blank cell, or one that is at fault, is `None`.
pub(crate) struct Row<'a> {
    pub(crate) batch: Option<&'a str>,
    pub(crate) machine: Option<&'a str>,
    pub(crate) date: Option<&'a str>,
    pub(crate) flour: Option<&'a str>,
    /// Not a number: none. So they take half the room, and cells hold no other such.
    values: [f64; Number::ALL.len()],
}

impl Default for Row<'_> {
    fn default() -> Self {
        let values = [f64::NAN; Number::ALL.len()];
        Self { batch: None, machine: None, date: None, flour: None, values }
    }
}

impl<'a> Row<'a> {
    pub(crate) fn get(&self, number: Number) -> Option<f64> {
        Some(self.values[number as usize]).filter(|value| !value.is_nan())
    }

    /// A number made of the row's numbers and of what came before it.
    pub(crate) fn fingerprint(&self, minutes: &[Option<f64>], before: u64) -> u64 {
        // Odd, with its bits well mixed: the golden ratio's.
        const SPREAD: u64 = 0x9E37_79B9_7F4A_7C15;
        let values = self.values.iter().filter(|value| !value.is_nan());
        let numbers = values.chain(minutes.iter().flatten());
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
        if header.dressed {
            row.parse_dressed(record, header, minutes, faults);
            return row;
        }
        for (index, (range, column)) in record.ranges().zip(&header.columns).enumerate() {
            if range.is_empty() {
                continue;
            }
            let cell = record.cell_at(range.clone());
            let mut named = || text(record.text_at(range.clone()), header.sheet, index, faults);
            match *column {
                Column::Number(number) => {
                    let read = value(cell, number.limits(), index, faults);
                    row.values[number as usize] = read.unwrap_or(f64::NAN);
                }
                Column::Minutes(speed) => {
                    minutes[speed] = value(cell, limits::MINUTES, index, faults);
                }
                Column::Batch => row.batch = named(),
                Column::Machine => row.machine = named(),
                Column::Flour => row.flour = named(),
                Column::Date => row.date = named(),
                Column::Unread => {}
            }
        }
        row
    }

    /// Whether its texts are as in a canonical log: it names a batch, and its date has the
    /// form of one, whether there is such a day or not.
    pub(crate) fn is_canonical(&self) -> bool {
        self.batch.is_some_and(|batch| !heads_totals(batch))
            && self.date.is_none_or(|date| {
                let bytes = date.as_bytes();
                bytes.len() == 10 && bytes[4] == b'-' && bytes[7] == b'-'
            })
    }

    /// The same where cells may be written in any way that the header allows.
    fn parse_dressed(
        &mut self,
        record: &Record<'a>,
        header: &Header,
        minutes: &mut [Option<f64>],
        faults: &mut Faults,
    ) {
        let cells = record.cells().zip(header.columns.iter().zip(&header.dress));
        for (index, (cell, (column, dress))) in cells.enumerate() {
            let kind = record.kind(index);
            if let Some(fault) = kind.fault(cell, *column) {
                faults.error(Some(index), fault);
                continue;
            }
            let cell_in = Cell { bytes: cell, dress: *dress, kind, header };
            match *column {
                Column::Number(number) => {
                    let read = cell_in.number(number, index, faults);
                    self.values[number as usize] = read.unwrap_or(f64::NAN);
                }
                Column::Minutes(speed) => {
                    let resting = &*header.speeds[speed] == REST;
                    minutes[speed] = cell_in.minutes(resting, index, faults);
                }
                Column::Batch => self.batch = text(record.text(index), header.sheet, index, faults),
                Column::Machine => {
                    self.machine = text(record.text(index), header.sheet, index, faults)
                }
                Column::Flour => self.flour = text(record.text(index), header.sheet, index, faults),
                Column::Date => self.date = text(record.text(index), header.sheet, index, faults),
                Column::Unread => {}
            }
        }
    }
}

/// A cell in its column's dress.
struct Cell<'a> {
    bytes: &'a [u8],
    dress: Dress,
    kind: CellKind,
    header: &'a Header,
}

impl Cell<'_> {
    fn number(&self, number: Number, index: usize, faults: &mut Faults) -> Option<f64> {
        let mut unit = self.dress.unit;
        let read = if Dimension::of(number) == Dimension::Share {
            if self.bytes.trim_ascii() == b"" {
                return None;
            }
            if number == Number::Development
                && let Some(grade) = as_text(self.bytes).and_then(|t| self.header.stages.grade(t))
            {
                return Some(grade);
            }
            let mut signed = false;
            let share = read_share(self.bytes, self.mark()).map(|value| {
                value.map(|(value, with_sign)| {
                    signed = with_sign;
                    if signed {
                        unit = Unit::PerCent;
                    } else if self.dress.shares || self.kind == CellKind::PerCent {
                        unit = Unit::Own;
                    }
                    value
                })
            });
            match share {
                // As a per cent it would be next to nothing, as a part of 1 much.
                Ok(Some(value))
                    if unit == Unit::PerCent && !signed && value > 0.0 && value <= 1.0 =>
                {
                    faults.error(Some(index), ProblemKind::ShareAmongPercents);
                    return None;
                }
                Err(NotANumber::Text { .. })
                    if number == Number::Development && !self.header.stages.is_empty() =>
                {
                    let stages = self.header.stages.stages().map(|(name, _)| name.to_owned());
                    let kind = ProblemKind::NotAStage { stages: stages.collect() };
                    faults.error(Some(index), kind);
                    return None;
                }
                share => share,
            }
        } else {
            read_number(self.bytes, self.mark())
        };
        in_limits(read, unit, number.limits(), index, faults)
    }

    fn minutes(&self, resting: bool, index: usize, faults: &mut Faults) -> Option<f64> {
        let text = as_text(self.bytes);
        let of_three_parts = text.and_then(|text| self.dress.times.read(text, resting));
        let timed = match of_three_parts {
            Some(Time::Read(minutes)) => Some(minutes),
            Some(Time::Doubtful { as_written }) => {
                let kind = ProblemKind::HoursOfMixing { minutes: as_written };
                faults.error(Some(index), kind);
                return None;
            }
            None => text.and_then(read_minutes),
        };
        if let Some(minutes) = timed {
            return in_limits(Ok(Some(minutes)), Unit::Own, limits::MINUTES, index, faults);
        }
        let read = read_number(self.bytes, self.mark());
        if let Ok(Some(value)) = read
            && self.header.sheet
            && value > 0.0
            && value < 1.0
            && (value < SHORTEST_IN_A_SHEET
                || self.dress.times == Times::BesideParts
                || is_day_part(value))
        {
            let minutes = value * MINUTES_A_DAY;
            let kind = match !resting && minutes > LONG_MIXING_MIN {
                true => ProblemKind::HoursOfMixing { minutes },
                false => ProblemKind::DayPart { minutes },
            };
            faults.error(Some(index), kind);
            return None;
        }
        in_limits(read, self.dress.unit, limits::MINUTES, index, faults)
    }

    fn mark(&self) -> DecimalMark {
        // A number of a sheet has no decimal mark.
        if self.kind.is_number() { DecimalMark::Point } else { self.dress.mark }
    }
}

/// A number below this in a sheet's column of times is a part of a day that lost its format:
/// two hours of one. Nobody mixes for five seconds.
const SHORTEST_IN_A_SHEET: f64 = 2.0 / 24.0;

/// A number in the log's own unit, within its limits.
fn in_limits(
    read: Result<Option<f64>, NotANumber>,
    unit: Unit,
    (least, most): (f64, f64),
    index: usize,
    faults: &mut Faults,
) -> Option<f64> {
    let kind = match read {
        Ok(None) => return None,
        Ok(Some(written)) => {
            let value = unit.to_own(written);
            if (least..=most).contains(&value) {
                return Some(value);
            }
            let (least, most) = (unit.of_own(least), unit.of_own(most));
            ProblemKind::OutOfRange { least, most }
        }
        Err(fault) => kind_of(fault),
    };
    faults.error(Some(index), kind);
    None
}

fn kind_of(fault: NotANumber) -> ProblemKind {
    match fault {
        NotANumber::NotFinite => ProblemKind::NotFinite,
        NotANumber::Text { with_point } => ProblemKind::NotANumber { with_point },
        NotANumber::PointAmongCommas { as_decimal } => ProblemKind::PointAmongCommas { as_decimal },
    }
}

fn value(cell: &[u8], (least, most): (f64, f64), index: usize, faults: &mut Faults) -> Option<f64> {
    let kind = match parse_number(cell) {
        Ok(None) => return None,
        Ok(Some(value)) if (least..=most).contains(&value) => return Some(value),
        Ok(Some(_)) => ProblemKind::OutOfRange { least, most },
        Err(fault) => kind_of(fault),
    };
    faults.error(Some(index), kind);
    None
}

/// A name, unless the cell is not UTF-8; in a text an apostrophe may keep it from being a
/// formula.
fn text<'a>(
    cell: Option<&'a str>,
    sheet: bool,
    index: usize,
    faults: &mut Faults,
) -> Option<&'a str> {
    match cell {
        Some("") => None,
        Some(text) => {
            let cell = text.as_bytes();
            // Most cells begin and end with a letter or digit: nothing to trim.
            let plain = |byte: Option<&u8>| byte.is_some_and(u8::is_ascii_graphic);
            let trimmed = !plain(cell.first()) || !plain(cell.last());
            let text = if trimmed { text.trim() } else { text };
            if matches!(text.as_bytes().first(), Some(b'#' | b'E')) && is_failed_formula(text) {
                faults.error(Some(index), ProblemKind::FailedFormula);
                return None;
            }
            let kept = text.starts_with('\'') && !sheet;
            Some(if kept { original(text).trim() } else { text }).filter(|text| !text.is_empty())
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
