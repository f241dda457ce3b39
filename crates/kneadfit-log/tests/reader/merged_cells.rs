//! Cells merged over several rows: what stands in the first counts for all.

use kneadfit_log::{Note, ProblemKind, ReadOptions, Severity, read_log};
use rust_xlsxwriter::{Format, Workbook, Worksheet};

use crate::dresses::{assert_same, cells};
use crate::sheets::{fill, saved};
use crate::support::{assert_accounted, only};
use crate::workbooks::{ods, ods_cell, ods_rows};

/// The rows of batch 3, which was read three times.
const BATCH_3: (u32, u32) = (3, 5);

fn merge(sheet: &mut Worksheet, column: u16) {
    let text = &cells()[BATCH_3.0 as usize][usize::from(column)];
    let format = Format::new();
    sheet.merge_range(BATCH_3.0, column, BATCH_3.1, column, "", &format).unwrap();
    match text.parse::<f64>() {
        Ok(value) => sheet.write_number(BATCH_3.0, column, value).unwrap(),
        Err(_) => sheet.write_string(BATCH_3.0, column, text).unwrap(),
    };
}

#[test]
fn a_batch_merged_over_its_readings_is_that_of_each() {
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    // batch, machine, flour, and all that went in.
    let merged = [0, 1, 3, 4, 5, 6, 7, 8, 9];
    merged.iter().for_each(|&column| merge(log, column));
    let bytes = saved(book);
    let read = assert_same("merged", &bytes, &ReadOptions::default());
    let names: Vec<_> =
        merged.iter().map(|&c| cells()[0][usize::from(c)].as_str().into()).collect();
    assert!(read.dialects[0].notes.contains(&Note::Merged(names)), "{:?}", read.dialects[0].notes);
    let said = Note::Merged(vec!["batch".into(), "room_c".into()]).to_string();
    assert_eq!(said, "merged cells of batch, room_c count for all of their rows");
}

#[test]
fn covered_cells_of_an_ods_are_the_same() {
    let mut rows = ods_rows();
    for column in [0, 1] {
        let text = &cells()[3][column];
        rows[3][column] =
            ods_cell(text, "table:number-rows-spanned=\"3\" table:number-columns-spanned=\"1\"");
        for row in &mut rows[4..=5] {
            row[column] = "<table:covered-table-cell/>".into();
        }
    }
    let read = assert_same("ods", &ods("Log", &rows), &ReadOptions::default());
    assert!(matches!(read.dialects[0].notes[0], Note::Merged(_)));
}

#[test]
fn a_room_merged_over_a_days_batches_is_that_of_each() {
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    // Batches 1 and 2, read at 22 and 21.5 °C: both have 22 now.
    log.merge_range(1, 9, 2, 9, "", &Format::new()).unwrap();
    log.write_number(1, 9, 22.0).unwrap();
    let read = read_log("kitchen", "spiral", &*saved(book), &ReadOptions::default());
    assert_accounted(&read);
    assert!(read.problems.is_empty(), "{:?}", read.problems);
    let rooms: Vec<f64> = read.machines[0].batches().iter().map(|b| b.charge.room_c).collect();
    assert_eq!(rooms, [22.0, 22.0, 22.0, 22.0]);
}

#[test]
fn a_merged_reading_is_an_error() {
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    log.merge_range(4, 13, 5, 13, "", &Format::new()).unwrap();
    log.write_number(4, 13, 24.0).unwrap();
    let read = read_log("kitchen", "spiral", &*saved(book), &ReadOptions::default());
    assert_accounted(&read);
    let problem = only(&read);
    assert_eq!((&problem.kind, problem.severity), (&ProblemKind::MergedReading, Severity::Error));
    assert_eq!(problem.place.unwrap().line, 6);
    assert!(problem.to_string().contains("24 in a cell merged with those above it"), "{problem}");
    assert!(problem.hint().unwrap().contains("undo the merging"));
}

#[test]
fn a_merged_header_or_title_is_spread_over_no_row() {
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    log.merge_range(0, 0, 1, 5, "Our kneading log", &Format::new()).unwrap();
    fill(log, 2, 0);
    let read = assert_same("title", &saved(book), &ReadOptions::default());
    assert!(!read.dialects[0].notes.iter().any(|note| matches!(note, Note::Merged(_))));
}
