//! Days as bakers write them, and the order of day and month that a whole column shows.

use jiff::civil::Date;
use serde::Serialize;

use crate::months;

/// What comes first in the dates of a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum DateOrder {
    /// 31/12/2026.
    DayFirst,
    /// 12/31/2026.
    MonthFirst,
}

/// A day as it stands in a cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Written {
    /// It can be one day only.
    Day(Date),
    /// It is one of two days: the day first, or the month first.
    Either(Date, Date),
}

impl Written {
    /// The order that this day proves; `None`: either would do.
    fn order(text: &str) -> Option<DateOrder> {
        let (first, second, _) = parts(text)?;
        match (first > 12, second > 12) {
            (true, false) => Some(DateOrder::DayFirst),
            (false, true) => Some(DateOrder::MonthFirst),
            _ => None,
        }
    }
}

/// Reads a day; `None`: it is none. A time of the day behind it is let be.
pub(crate) fn read(text: &str) -> Option<Written> {
    let text = without_time(text.trim_matches(crate::names::is_blank));
    if let Some(day) = year_first(text).or_else(|| months::read(text)) {
        return Some(Written::Day(day));
    }
    let (first, second, year) = parts(text)?;
    let day = |day: i8, month: i8| Date::new(year, month, day).ok();
    match (day(first, second), day(second, first)) {
        (Some(one), Some(other)) if one == other => Some(Written::Day(one)),
        (Some(one), Some(other)) => Some(Written::Either(one, other)),
        (Some(only), None) | (None, Some(only)) => Some(Written::Day(only)),
        (None, None) => None,
    }
}

/// `2026-03-14 10:30` without its time.
fn without_time(text: &str) -> &str {
    match text.split_once([' ', 'T']) {
        Some((day, time))
            if time.contains(':')
                && time.bytes().all(|b| b.is_ascii_digit() || b":.Z".contains(&b)) =>
        {
            day
        }
        _ => text,
    }
}

fn numbers(text: &str) -> Option<[&str; 3]> {
    let separator = text.chars().find(|c| matches!(c, '/' | '.' | '-'))?;
    let mut parts = text.split(separator).map(str::trim);
    let three = [parts.next()?, parts.next()?, parts.next()?];
    let last = parts.next();
    // Some write the point behind the year too.
    let ended = last.is_none() || (last == Some("") && separator == '.' && parts.next().is_none());
    let digits = |part: &str| {
        !part.is_empty() && part.len() <= 4 && part.bytes().all(|b| b.is_ascii_digit())
    };
    (ended && three.iter().all(|part| digits(part))).then_some(three)
}

fn year_first(text: &str) -> Option<Date> {
    let [year, month, day] = numbers(text)?;
    if year.len() != 4 || month.len() > 2 || day.len() > 2 {
        return None;
    }
    Date::new(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?).ok()
}

/// The two numbers before the year, and the year; of two digits it is of this century.
fn parts(text: &str) -> Option<(i8, i8, i16)> {
    let [first, second, year] = numbers(without_time(text.trim()))?;
    if first.len() > 2 || second.len() > 2 {
        return None;
    }
    let year: i16 = match year.len() {
        4 => year.parse().ok()?,
        2 => 2000 + year.parse::<i16>().ok()?,
        _ => return None,
    };
    Some((first.parse().ok()?, second.parse().ok()?, year))
}

/// What a column of dates shows of their order.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Orders {
    /// Dates that prove the day first, and the line of the first of them.
    pub(crate) day_first: Seen,
    pub(crate) month_first: Seen,
    /// Dates of which either could be.
    pub(crate) either: Seen,
}

/// How many, and where the first is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Seen {
    pub(crate) count: usize,
    pub(crate) line: u64,
}

impl Seen {
    pub(crate) fn add(&mut self, line: u64) {
        if self.count == 0 {
            self.line = line;
        }
        self.count += 1;
    }
}

impl Orders {
    /// One more cell of the column.
    pub(crate) fn add(&mut self, text: &str, line: u64) {
        match (read(text), Written::order(text)) {
            (Some(_), Some(DateOrder::DayFirst)) => self.day_first.add(line),
            (Some(_), Some(DateOrder::MonthFirst)) => self.month_first.add(line),
            (Some(Written::Either(..)), None) => self.either.add(line),
            _ => {}
        }
    }

    /// The order of the whole column; `None`: it shows none, or both.
    pub(crate) fn order(&self) -> Option<DateOrder> {
        match (self.day_first.count, self.month_first.count) {
            (0, 0) => None,
            (_, 0) => Some(DateOrder::DayFirst),
            (0, _) => Some(DateOrder::MonthFirst),
            _ => None,
        }
    }
}

/// The days of a spreadsheet, counted from 1900, on which somebody may log: from 2000-01-01
/// to 2099-12-31.
pub(crate) const DAYS_OF_A_SHEET: (f64, f64) = (36_526.0, 73_049.0);

/// The day that a bare number of a spreadsheet would be, counted from 1900; `None`: no
/// day on which anybody logs.
pub(crate) fn of_serial(number: f64) -> Option<Date> {
    let (first, last) = DAYS_OF_A_SHEET;
    let days = (first..last + 1.0).contains(&number).then(|| (number - first).trunc() as i64)?;
    Date::new(2000, 1, 1).ok()?.checked_add(jiff::Span::new().days(days)).ok()
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn days_that_can_be_one_only_are_read() {
        let march = date(2026, 3, 14);
        for text in [
            "2026-03-14",
            "2026-3-14",
            "2026/03/14",
            "14/3/2026",
            "14.03.2026",
            "14.03.26",
            "14. 3. 2026",
            "03-14-2026",
            "3/14/26",
            "2026-03-14 10:30",
            "2026-03-14T10:30:00",
            " 14/03/2026 ",
        ] {
            assert_eq!(read(text), Some(Written::Day(march)), "{text}");
        }
        assert_eq!(read("3/3/2026"), Some(Written::Day(date(2026, 3, 3))));
        let either = Written::Either(date(2026, 4, 3), date(2026, 3, 4));
        assert_eq!(read("03/04/2026"), Some(either));
    }

    #[test]
    fn what_is_no_day_is_none() {
        for text in [
            "",
            "14",
            "14/03",
            "31/02/2026",
            "2026-02-30",
            "14/14/2026",
            "1/2/3",
            "1/2/026",
            "20260314",
            "14 March",
            "a/b/c",
            "1/2/2026/3",
            "14-03/2026",
        ] {
            assert_eq!(read(text), None, "{text}");
        }
    }

    #[test]
    fn the_whole_column_decides() {
        let orders = |dates: &[&str]| {
            let mut orders = Orders::default();
            for (k, text) in dates.iter().enumerate() {
                orders.add(text, k as u64 + 2);
            }
            orders
        };
        assert_eq!(orders(&["03/04/2026", "13/04/2026"]).order(), Some(DateOrder::DayFirst));
        assert_eq!(orders(&["03/04/2026", "04/13/2026"]).order(), Some(DateOrder::MonthFirst));
        assert_eq!(orders(&["03/04/2026", "05/06/2026"]).order(), None);
        let torn = orders(&["13/04/2026", "04/13/2026"]);
        assert_eq!((torn.order(), torn.month_first.line), (None, 3));
    }

    #[test]
    fn bare_numbers_of_a_spreadsheet() {
        // ECMA-376, part 1, 18.17.4.1: day 1 of the 1900 system is 1900-01-01, with a 29
        // February 1900 that never was; LibreOffice shows 46 095 as 2026-03-14.
        assert_eq!(of_serial(46_095.0), Some(date(2026, 3, 14)));
        assert_eq!(of_serial(14.0), None);
        assert_eq!(of_serial(f64::NAN), None);
    }
}
