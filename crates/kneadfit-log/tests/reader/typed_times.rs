//! `4:30` typed into a spreadsheet: stored as four hours and a half.

use kneadfit_log::{LogRead, Note, ProblemKind, ReadOptions, Slip, read_log};
use rust_xlsxwriter::{Format, Workbook};

use crate::support::{assert_accounted, read as read_text};

/// Batches with times in a column, in hours; the last row is one of totals.
fn read(column: &str, hours: &[f64]) -> LogRead {
    let days: Vec<f64> = hours.iter().map(|time| time / 24.0).collect();
    let format = Format::new().set_num_format("h:mm");
    read_of(column, &days, &format)
}

/// The same of numbers that have no format of a time.
fn lost_format(numbers: &[f64]) -> LogRead {
    read_of("minutes_low", numbers, &Format::new())
}

fn read_of(column: &str, numbers: &[f64], format: &Format) -> LogRead {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    let header =
        ["batch", "flour_kg", "flour_c", "water_kg", "water_c", "room_c", column, "dough_c"];
    for (place, name) in header.into_iter().enumerate() {
        sheet.write_string(0, place as u16, name).unwrap();
    }
    for (index, number) in numbers.iter().enumerate() {
        let row = index as u32 + 1;
        let values = [10.0 + index as f64, 21.0, 6.5, 12.0, 24.0];
        sheet.write_string(row, 0, format!("b{index}")).unwrap();
        for (place, value) in values.into_iter().enumerate() {
            sheet.write_number(row, place as u16 + 1, value).unwrap();
        }
        sheet.write_number_with_format(row, 6, *number, format).unwrap();
        sheet.write_number(row, 7, 20.0 + 0.1 * index as f64).unwrap();
    }
    let last = numbers.len() as u32 + 1;
    sheet.write_string(last, 0, "Total").unwrap();
    sheet.write_number_with_format(last, 6, 30.0 / 24.0, format).unwrap();
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
    // 0:04:00 and 0:05:00, of which 0:04 and 0:05 may be shown: said.
    let whole = read("minutes_low", &[4.0 / 60.0, 5.0 / 60.0]);
    assert_eq!(minutes(&whole), [4.0, 5.0]);
    assert_eq!(said(&whole), ["times of the column minutes_low are read as hours:minutes"]);
}

#[test]
fn hours_of_rest_stay_hours_and_are_said() {
    let read = read("minutes_rest", &[1.5, 2.0]);
    assert_eq!(minutes(&read), [90.0, 120.0]);
    assert_eq!(said(&read), ["times of the column minutes_rest are read as hours:minutes"]);
}

/// Batches of a text with these minutes.
fn text(column: &str, times: &[&str]) -> LogRead {
    let mut text = format!("batch,flour_kg,flour_c,water_kg,water_c,room_c,{column},dough_c\n");
    for (index, time) in times.iter().enumerate() {
        text += &format!("b{index},{},21,6.5,12,24,{time},{}\n", 10 + index, 20.5 + index as f64);
    }
    read_text(&text)
}

#[test]
fn a_text_with_hours_of_mixing_is_not_believed() {
    // The last is 45 seconds, if the others are minutes.
    let read = text("minutes_low", &["4:30:00", "1:30:00", "0:45:00"]);
    assert_eq!((read.rows_set_aside(), read.problems.len()), (3, 3), "{:?}", read.problems);
    let first = &read.problems[0];
    assert_eq!(first.kind, ProblemKind::HoursOfMixing { minutes: 270.0 });
    assert!(first.to_string().contains("4:30:00, which is 270 minutes"), "{first}");
    let hints: Vec<String> = read.problems.iter().map(|p| p.hint().unwrap()).collect();
    for (hint, said) in hints.iter().zip(["4.5 or 0:04:30", "1.5 or 0:01:30", "0.75 or 0:00:45"]) {
        assert!(hint.contains(said), "{hint}");
    }
    let mend = first.mend().unwrap();
    assert_eq!((mend.slip, mend.cells[0].value), (Slip::HoursForMinutes, 4.5));
    let in_seconds = text("seconds_low", &["4:30:00"]);
    assert_eq!(in_seconds.problems[0].mend().unwrap().cells[0].value, 270.0);
}

#[test]
fn one_such_time_among_others_is_not_believed_either() {
    let read = text("minutes_low", &["0:04:30", "4:30:00", "5.5"]);
    assert_eq!((read.rows_set_aside(), read.problems.len()), (1, 1), "{:?}", read.problems);
    assert_eq!(read.problems[0].kind, ProblemKind::HoursOfMixing { minutes: 270.0 });
    assert_eq!(minutes(&read), [4.5, 5.5]);
    // 4:30 in a sheet whose other times have seconds.
    let read = self::read("minutes_low", &[4.25 / 60.0, 4.5]);
    assert_eq!(read.problems[0].kind, ProblemKind::HoursOfMixing { minutes: 270.0 });
}

#[test]
fn what_a_text_may_well_mean_is_read() {
    let read = text("minutes_low", &["0:04:00", "0:12:00"]);
    assert!(read.problems.is_empty());
    assert_eq!(minutes(&read), [4.0, 12.0]);
    let rest = text("minutes_rest", &["4:30:00", "1:30:00"]);
    assert_eq!(minutes(&rest), [270.0, 90.0]);
    // An hour and a half with seconds in the column is one.
    let long = text("minutes_low", &["1:30:00", "0:04:30"]);
    assert_eq!(minutes(&long), [90.0, 4.5]);
}

#[test]
fn a_time_that_lost_its_format_is_no_part_of_a_minute() {
    // 4:30, 8:00 and 12:00 of a day, as numbers: the first tells of all three.
    let read = lost_format(&[4.5 / 24.0, 8.0 / 24.0, 12.0 / 24.0]);
    assert_eq!(read.rows_used(), 0, "{:?}", read.problems);
    let meant: Vec<f64> =
        read.problems.iter().map(|problem| problem.mend().unwrap().cells[0].value).collect();
    assert_eq!(meant, [4.5, 8.0, 12.0]);
    assert!(read.problems[0].hint().unwrap().starts_with("was 4:30 typed"), "{}", read.problems[0]);
    // One among minutes.
    let read = lost_format(&[4.0, 4.5 / 24.0, 6.0]);
    assert_eq!((read.rows_used(), read.rows_set_aside()), (2, 1));
    // Parts of a minute as bakers and their formulas write them.
    for parts in [&[0.25, 0.5, 0.75][..], &[20.0 / 60.0, 4.0, 6.0], &[0.33, 0.67, 1.0]] {
        assert!(lost_format(parts).problems.is_empty(), "{parts:?}");
    }
}
