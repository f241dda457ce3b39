//! A cell's stored value as the text that a baker would have written for it.

use calamine::{Data, DataRef, ExcelDateTime};
use jiff::civil::{Date, DateTime};

use crate::clock::day_part_as_text;
use crate::sheet_cell::CellKind;

/// A cell of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Cell {
    pub(crate) text: String,
    pub(crate) kind: CellKind,
}

impl Cell {
    fn text(text: impl Into<String>) -> Self {
        Self { text: text.into(), kind: CellKind::Text }
    }

    /// In the shortest form that reads back to the same bits.
    fn number(value: f64) -> Self {
        Self { text: value.to_string(), kind: CellKind::Number }
    }

    /// A number that its format shows as a day on which nobody logged.
    fn early_day(days: f64) -> Self {
        Self { text: days.to_string(), kind: CellKind::EarlyDay }
    }

    /// A formula without a stored value, as .xlsx (`A1*2`) and .ods (`of:=[.A1]*2`) have it.
    pub(super) fn uncalculated(formula: &str) -> Self {
        let formula = match formula.split_once(":=") {
            Some((language, rest)) if language.bytes().all(|b| b.is_ascii_alphabetic()) => rest,
            _ => formula.trim_start_matches('='),
        };
        Self { text: format!("={formula}"), kind: CellKind::Uncalculated }
    }
}

pub(super) fn of(value: &DataRef<'_>) -> Cell {
    match value {
        DataRef::Int(value) => Cell { text: value.to_string(), kind: CellKind::Number },
        DataRef::Float(value) => Cell::number(*value),
        DataRef::String(text) => Cell::text(text.as_str()),
        DataRef::SharedString(text) => Cell::text(*text),
        DataRef::Bool(value) => Cell::text(if *value { "TRUE" } else { "FALSE" }),
        DataRef::DateTime(moment) => moment_as_cell(moment),
        DataRef::DateTimeIso(text) => iso_as_cell(text),
        DataRef::DurationIso(text) => Cell::text(duration_as_text(text)),
        DataRef::Error(error) => Cell::text(error.to_string()),
        DataRef::Empty => Cell::text(""),
    }
}

pub(super) fn of_owned(value: &Data) -> Cell {
    match value {
        Data::Int(value) => Cell { text: value.to_string(), kind: CellKind::Number },
        Data::Float(value) => Cell::number(*value),
        Data::String(text) => Cell::text(text.as_str()),
        Data::Bool(value) => Cell::text(if *value { "TRUE" } else { "FALSE" }),
        Data::DateTime(moment) => moment_as_cell(moment),
        Data::DateTimeIso(text) => iso_as_cell(text),
        Data::DurationIso(text) => Cell::text(duration_as_text(text)),
        Data::Error(error) => Cell::text(error.to_string()),
        Data::Empty => Cell::text(""),
    }
}

/// A number with the format of a date or a time: a day from 1 on, else a part of a day.
fn moment_as_cell(moment: &ExcelDateTime) -> Cell {
    let days = moment.as_f64();
    if moment.is_duration() || (0.0..1.0).contains(&days) {
        return Cell::text(day_part_as_text(days).unwrap_or_else(|| days.to_string()));
    }
    let (year, month, day, ..) = moment.to_ymd_hms_milli();
    if days < 1.0 || year < FIRST_YEAR {
        return Cell::early_day(days);
    }
    Cell::text(format!("{year:04}-{month:02}-{day:02}"))
}

/// A day of an .ods, without the time that may follow.
fn iso_as_cell(text: &str) -> Cell {
    let day = text.split_once('T').map_or(text, |(day, _)| day);
    let moment = || text.parse::<DateTime>().ok().or(day.parse::<Date>().ok().map(DateTime::from));
    match moment().filter(|moment| moment.year() < FIRST_YEAR as i16) {
        Some(moment) => Cell::early_day(days_of_a_sheet(moment)),
        None => Cell::text(day),
    }
}

/// Nobody's log begins before this year.
const FIRST_YEAR: u16 = 2000;

/// The number that a spreadsheet stores for a day and its time: days since 1899-12-30, as
/// LibreOffice counts.
fn days_of_a_sheet(moment: DateTime) -> f64 {
    const DAY_0: Date = jiff::civil::date(1899, 12, 30);
    let days = moment.date().since(DAY_0).map_or(0, |span| span.get_days());
    let seconds = moment.time().duration_since(jiff::civil::Time::midnight()).as_secs_f64();
    f64::from(days) + seconds / 86_400.0
}

/// A time of an .ods, `PT00H04M30S`, as `0:04:30`; as it stands where it has another form.
fn duration_as_text(text: &str) -> String {
    let read = || {
        let (hours, rest) = text.strip_prefix("PT")?.split_once('H')?;
        let (minutes, rest) = rest.split_once('M')?;
        let seconds = rest.strip_suffix('S')?.replace(',', ".");
        let days = hours.parse::<u32>().ok()? as f64 / 24.0
            + minutes.parse::<u32>().ok()? as f64 / 1440.0
            + seconds.parse::<f64>().ok()? / 86_400.0;
        day_part_as_text(days)
    };
    read().unwrap_or_else(|| text.to_owned())
}

#[cfg(test)]
mod tests {
    use calamine::ExcelDateTimeType;

    use super::*;

    #[test]
    fn days_of_both_systems_and_times() {
        let text =
            |value, kind, is_1904| moment_as_cell(&ExcelDateTime::new(value, kind, is_1904)).text;
        // ECMA-376, part 1, 18.17.4.1: the two systems are 1462 days apart.
        assert_eq!(text(46_095.0, ExcelDateTimeType::DateTime, false), "2026-03-14");
        assert_eq!(text(44_633.0, ExcelDateTimeType::DateTime, true), "2026-03-14");
        assert_eq!(text(46_095.4, ExcelDateTimeType::DateTime, false), "2026-03-14");
        assert_eq!(text(4.5 / 1440.0, ExcelDateTimeType::DateTime, false), "0:04:30");
        assert_eq!(text(26.0 / 24.0, ExcelDateTimeType::TimeDelta, false), "26:00:00");
        assert_eq!(text(-1.0, ExcelDateTimeType::DateTime, false), "-1");
    }

    #[test]
    fn times_and_days_of_an_ods() {
        assert_eq!(duration_as_text("PT00H04M30S"), "0:04:30");
        assert_eq!(duration_as_text("PT00H04M30.5000000S"), "0:04:30.500");
        assert_eq!(duration_as_text("P1D"), "P1D");
        assert_eq!(iso_as_cell("2026-03-14T10:30:00").text, "2026-03-14");
    }

    #[test]
    fn a_number_shown_as_a_day_long_gone_stays_a_number() {
        let early = |value: f64| Cell { text: value.to_string(), kind: CellKind::EarlyDay };
        let moment =
            |value| moment_as_cell(&ExcelDateTime::new(value, ExcelDateTimeType::DateTime, false));
        assert_eq!([22.5, 1.0, -2.0].map(moment), [22.5, 1.0, -2.0].map(early));
        // LibreOffice writes 22.5 with the format of a date so.
        assert_eq!(iso_as_cell("1900-01-21T12:00:00"), early(22.5));
        assert_eq!(iso_as_cell("1900-01-21"), early(22.0));
        assert_eq!(iso_as_cell("1899-12-30"), early(0.0));
    }
}
