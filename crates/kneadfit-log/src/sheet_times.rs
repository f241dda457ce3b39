//! Times of a sheet's columns of minutes: `4:30` typed into a spreadsheet is stored as four
//! hours and a half.

use crate::cell::as_text;
use crate::clock::read_minutes;
use crate::columns::{Column, Header};
use crate::look::EachRow;
use kneadfit::charge::REST;

const MINUTES_AN_HOUR: f64 = 60.0;

/// Finds the columns whose times are all of whole minutes, one of an hour at least: nobody
/// mixes for hours and never for seconds, so they were typed as minutes and seconds. A rest
/// may well take hours. Both are noted.
pub(crate) fn find_typed_times(header: &mut Header, each: &mut EachRow<'_>) {
    let mut whole = vec![true; header.columns.len()];
    let mut hours = vec![false; header.columns.len()];
    each(&mut |record| {
        if header.totals.contains(&record.line) {
            return;
        }
        for (index, (cell, column)) in record.cells().zip(&header.columns).enumerate() {
            if matches!(column, Column::Minutes(_))
                && let Some(minutes) = as_text(cell).and_then(time_of_sheet)
            {
                whole[index] &= minutes.fract() == 0.0;
                hours[index] |= minutes >= MINUTES_AN_HOUR;
            }
        }
    });
    for index in 0..header.columns.len() {
        let Column::Minutes(speed) = header.columns[index] else { continue };
        if whole[index] && hours[index] {
            let typed = &*header.speeds[speed] != REST;
            header.dress[index].typed_times = typed;
            header.times.push((index, typed));
        }
    }
}

/// The minutes of a time as a sheet stores it; a text of two parts is none.
fn time_of_sheet(text: &str) -> Option<f64> {
    (text.matches(':').count() == 2).then(|| read_minutes(text))?
}

/// The minutes of a time whose hours were meant as minutes.
pub(crate) fn as_typed(text: &str) -> Option<f64> {
    time_of_sheet(text).map(|minutes| minutes / MINUTES_AN_HOUR)
}
