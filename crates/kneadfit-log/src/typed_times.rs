//! Times in columns of minutes that could be two: `4:30` typed into a spreadsheet is stored
//! as four hours and a half, and exported as `4:30:00`.

use crate::cell::{as_text, parse_number};
use crate::clock::read_minutes;
use crate::columns::{Column, Header};
use crate::look::EachRow;
use crate::plausible::LONG_MIXING_MIN;
use kneadfit::charge::REST;

const MINUTES_AN_HOUR: f64 = 60.0;

pub(crate) const MINUTES_A_DAY: f64 = 1440.0;

/// How a column's times of three parts are taken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Times {
    /// As hours, minutes and seconds.
    #[default]
    AsWritten,
    /// As minutes and seconds that were stored as hours and minutes.
    Typed,
    /// Not at all: they say one thing, and mean the other.
    Unsure,
    /// As hours, minutes and seconds; numbers beside them are parts of a day.
    BesideParts,
}

/// A time of three parts, in minutes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Time {
    Read(f64),
    /// Hours at a speed, where minutes were meant.
    Doubtful {
        as_written: f64,
    },
}

impl Times {
    /// The time in a cell; `None`: it has not three parts. `resting`: it is one of rest.
    pub(crate) fn read(self, text: &str, resting: bool) -> Option<Time> {
        let minutes = of_three_parts(text)?;
        let long = !resting && minutes.fract() == 0.0 && minutes > LONG_MIXING_MIN;
        Some(match self {
            Self::Typed => Time::Read(meant(minutes)),
            Self::AsWritten | Self::BesideParts if !long => Time::Read(minutes),
            _ => Time::Doubtful { as_written: minutes },
        })
    }
}

/// Whether a number of a sheet's minutes is a time that lost its format: `4:30` is 0.1875 of a
/// day. Nobody times a quarter of a second, and whoever writes parts of a minute rounds them.
pub(crate) fn is_day_part(value: f64) -> bool {
    is_of_minutes(value) && !is_whole(value * 60.0) && !is_whole(value * 1000.0)
}

/// Whether it may be one, `8:00` being as good as 20 seconds.
fn is_of_minutes(value: f64) -> bool {
    value < 1.0 && is_whole(value * MINUTES_A_DAY)
}

fn is_whole(value: f64) -> bool {
    (value - value.round()).abs() < 1e-6
}

/// The minutes that were meant by as many hours.
pub(crate) fn meant(as_written_min: f64) -> f64 {
    as_written_min / MINUTES_AN_HOUR
}

/// Looks for the columns whose times are all of whole minutes. Where one of mixing is of an
/// hour at least, they were typed as minutes and seconds, as nobody mixes for hours and never
/// for seconds: so the cells of a sheet are read, and noted; a text says clearly what it does
/// not mean. Other cells of a sheet may show either, and are noted, too.
pub(crate) fn find_typed_times(header: &mut Header, each: &mut EachRow<'_>) {
    let mut whole = vec![true; header.columns.len()];
    let mut hours = vec![false; header.columns.len()];
    let mut any = vec![false; header.columns.len()];
    // Whether the numbers may all be parts of a day, and whether one surely is.
    let mut parts = vec![(header.sheet, false); header.columns.len()];
    each(&mut |record| {
        if header.totals.contains(&record.line) {
            return;
        }
        for (index, (cell, column)) in record.cells().zip(&header.columns).enumerate() {
            if !matches!(column, Column::Minutes(_)) {
                continue;
            }
            if header.sheet
                && let Ok(Some(value)) = parse_number(cell)
                && value > 0.0
            {
                parts[index].0 &= is_of_minutes(value);
                parts[index].1 |= !is_whole(value * 1e4);
            }
            if let Some(minutes) = as_text(cell).and_then(of_three_parts) {
                any[index] = true;
                whole[index] &= minutes.fract() == 0.0;
                hours[index] |= minutes >= MINUTES_AN_HOUR;
            }
        }
    });
    for index in 0..header.columns.len() {
        let Column::Minutes(speed) = header.columns[index] else { continue };
        if let (true, true) = parts[index] {
            header.dress[index].times = Times::BesideParts;
        }
        if !any[index] || !whole[index] {
            continue;
        }
        let typed = hours[index] && &*header.speeds[speed] != REST;
        if typed {
            header.dress[index].times = if header.sheet { Times::Typed } else { Times::Unsure };
        }
        if header.sheet {
            header.times.push((index, typed));
        }
    }
}

/// The minutes of a time of three parts, as a sheet stores it.
fn of_three_parts(text: &str) -> Option<f64> {
    (text.matches(':').count() == 2).then(|| read_minutes(text))?
}
