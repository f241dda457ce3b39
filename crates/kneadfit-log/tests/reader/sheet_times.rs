//! `4:30` typed into a spreadsheet: stored as four hours and a half.

use kneadfit_log::{LogRead, Note, ReadOptions, read_log};
use rust_xlsxwriter::{Format, Workbook};

use crate::support::assert_accounted;

/// Batches with times in a column, in hours; the last row is one of totals.
fn read(column: &str, hours: &[f64]) -> LogRead {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    let header =
        ["batch", "flour_kg", "flour_c", "water_kg", "water_c", "room_c", column, "dough_c"];
    for (place, name) in header.into_iter().enumerate() {
        sheet.write_string(0, place as u16, name).unwrap();
    }
    let format = Format::new().set_num_format("h:mm");
    for (index, time) in hours.iter().enumerate() {
        let row = index as u32 + 1;
        let values = [10.0 + index as f64, 21.0, 6.5, 12.0, 24.0];
        sheet.write_string(row, 0, format!("b{index}")).unwrap();
        for (place, value) in values.into_iter().enumerate() {
            sheet.write_number(row, place as u16 + 1, value).unwrap();
        }
        sheet.write_number_with_format(row, 6, time / 24.0, &format).unwrap();
        sheet.write_number(row, 7, 20.0 + 0.1 * index as f64).unwrap();
    }
    let last = hours.len() as u32 + 1;
    sheet.write_string(last, 0, "Total").unwrap();
    sheet.write_number_with_format(last, 6, 30.0 / 24.0, &format).unwrap();
    let bytes = book.save_to_buffer().unwrap();
    let read = read_log("kitchen.xlsx", "spiral", &*bytes, &ReadOptions::default());
    assert_accounted(&read);
    read
}

fn minutes(read: &LogRead) -> Vec<f64> {
    let batches = read.machines[0].batches();
    batches.iter().map(|batch| batch.stages[0].phases[0].minutes).collect()
}

fn said(read: &LogRead) -> Vec<String> {
    let notes = read.dialects[0].notes.iter();
    notes.filter(|note| matches!(note, Note::Times { .. })).map(ToString::to_string).collect()
}

#[test]
fn times_typed_as_minutes_and_seconds_are_read_so_and_said() {
    let read = read("minutes_low", &[4.5, 1.5, 0.75]);
    assert_eq!(minutes(&read), [4.5, 1.5, 0.75]);
    assert_eq!(said(&read), ["times of the column minutes_low are read as minutes:seconds"]);
}

#[test]
fn a_column_with_seconds_or_without_hours_is_as_it_stands() {
    // 0:04:30 and 0:05:00; the totals, 30 hours, say nothing of the column.
    let read_short = read("minutes_low", &[4.5 / 60.0, 5.0 / 60.0]);
    assert_eq!(minutes(&read_short), [4.5, 5.0]);
    assert!(said(&read_short).is_empty());
    let whole = read("minutes_low", &[4.0 / 60.0, 5.0 / 60.0]);
    assert_eq!(minutes(&whole), [4.0, 5.0]);
    assert!(said(&whole).is_empty());
}

#[test]
fn hours_of_rest_stay_hours_and_are_said() {
    let read = read("minutes_rest", &[1.5, 2.0]);
    assert_eq!(minutes(&read), [90.0, 120.0]);
    assert_eq!(said(&read), ["times of the column minutes_rest are read as hours:minutes"]);
}
