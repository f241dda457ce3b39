//! Workbooks put together by hand, for what the writer of the tests does not write; and cells
//! with the format of per cent.

use kneadfit_log::{LogRead, ProblemKind, ReadOptions, read_log};
use rust_xlsxwriter::{Format, Workbook};

use crate::dresses::{assert_same, cells, expected};
use crate::sheets::{fill, saved};
use crate::sheets_refused::repacked;
use crate::support::{assert_accounted, only_error};

const ODS: &[u8] = include_bytes!("made-by-libreoffice/kitchen.ods");

/// An .ods with one sheet of this name, made of these rows of cells as they stand in the file.
pub fn ods(name: &str, rows: &[Vec<String>]) -> Vec<u8> {
    let rows: String = rows
        .iter()
        .map(|cells| format!("<table:table-row>{}</table:table-row>", cells.concat()))
        .collect();
    repacked(ODS, "content.xml", |xml| {
        let text = String::from_utf8(xml).unwrap();
        let start = text.find("<table:table ").unwrap();
        let end = text.rfind("</table:table>").unwrap();
        let head = format!("<table:table table:name=\"{name}\">");
        format!("{}{head}{rows}{}", &text[..start], &text[end..]).into_bytes()
    })
}

/// A cell of an .ods as LibreOffice writes a number or a text; `more`: further attributes.
pub fn ods_cell(value: &str, more: &str) -> String {
    if value.is_empty() {
        return format!("<table:table-cell {more}/>");
    }
    match value.parse::<f64>() {
        Ok(_) => format!(
            "<table:table-cell {more} office:value-type=\"float\" office:value=\"{value}\"><text:p>{value}</text:p></table:table-cell>"
        ),
        Err(_) => format!(
            "<table:table-cell {more} office:value-type=\"string\"><text:p>{value}</text:p></table:table-cell>"
        ),
    }
}

/// The canonical log as rows of an .ods.
pub fn ods_rows() -> Vec<Vec<String>> {
    cells().iter().map(|row| row.iter().map(|cell| ods_cell(cell, "")).collect()).collect()
}

fn read(bytes: &[u8]) -> LogRead {
    let read = read_log("kitchen", "spiral", bytes, &ReadOptions::default());
    assert_accounted(&read);
    read
}

/// An .xlsx whose grades stand under this header, 0.85 with the format of per cent.
fn graded_xlsx(header: &str) -> Vec<u8> {
    let per_cent = Format::new().set_num_format("0.0%");
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    log.write_string(0, 14, header).unwrap();
    for (down, row) in cells().iter().enumerate().skip(1) {
        if let Ok(grade) = row[14].parse::<f64>() {
            log.write_number_with_format(down as u32, 14, grade, &per_cent).unwrap();
        }
    }
    saved(book)
}

fn graded_ods(header: &str) -> Vec<u8> {
    let mut rows = ods_rows();
    rows[0][14] = ods_cell(header, "");
    for (row, cells) in rows.iter_mut().zip(cells()).skip(1) {
        if !cells[14].is_empty() {
            row[14] = ods_cell(&cells[14], "").replace("\"float\"", "\"percentage\"");
        }
    }
    ods("Log", &rows)
}

#[test]
fn cells_with_the_format_of_per_cent_are_shares_under_either_header() {
    for header in ["development", "development_percent"] {
        for bytes in [graded_xlsx(header), graded_ods(header)] {
            assert_same(header, &bytes, &ReadOptions::default());
        }
    }
    // Beside others that are written as per cents without the format.
    let mut rows = ods_rows();
    rows[0][14] = ods_cell("development_percent", "");
    for (index, (row, cells)) in rows.iter_mut().zip(cells()).enumerate().skip(1) {
        if let Ok(grade) = cells[14].parse::<f64>() {
            row[14] = match index % 2 {
                0 => ods_cell(&format!("{}", (grade * 100.0).round()), ""),
                _ => ods_cell(&cells[14], "").replace("\"float\"", "\"percentage\""),
            };
        }
    }
    let read = read(&ods("Log", &rows));
    assert!(read.problems.is_empty(), "{:?}", read.problems);
    assert_eq!(read.machines[0].log, expected());
}

#[test]
fn a_part_of_the_flour_is_no_mass() {
    // 2 % of salt, which is 0.02 kg to whoever reads the number alone.
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    log.write_number_with_format(1, 8, 0.02, &Format::new().set_num_format("0%")).unwrap();
    let read = read(&saved(book));
    assert_eq!(only_error(&read, Some("salt_kg")), &ProblemKind::ShownAsPerCent);
    let said = read.problems[0].to_string();
    assert!(said.contains("0.02 with the format of per cent, 2 %"), "{said}");
    assert!(said.contains("a part of the flour?"), "{said}");
}
