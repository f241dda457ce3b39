//! Workbooks: written here, and by LibreOffice.

use kneadfit_log::{LogRead, Note, ProblemKind, ReadOptions, Severity, read_log};
use rust_xlsxwriter::{Chart, ChartType, ExcelDateTime, Format, Formula, Workbook, Worksheet};

use crate::dresses::{assert_same, cells, expected};
use crate::support::{assert_accounted, only};
use crate::workbooks::{ods, ods_rows};

/// A sheet with the canonical log, from a row and column on; days and minutes as cells with
/// the formats of days and times.
pub fn fill(sheet: &mut Worksheet, top: u32, left: u16) {
    let day_format = Format::new().set_num_format("dd/mm/yyyy");
    let time_format = Format::new().set_num_format("[h]:mm:ss");
    let rows = cells();
    for (down, row) in rows.iter().enumerate() {
        for (right, value) in row.iter().enumerate() {
            let (at, column) = (top + down as u32, left + right as u16);
            let header = &rows[0][right];
            if value.is_empty() {
            } else if down > 0 && header == "date" {
                let day = ExcelDateTime::parse_from_str(value).unwrap();
                sheet.write_datetime_with_format(at, column, &day, &day_format).unwrap();
            } else if down > 0 && header.starts_with("minutes") {
                let days = value.parse::<f64>().unwrap() / 1440.0;
                sheet.write_number_with_format(at, column, days, &time_format).unwrap();
            } else if let (true, Ok(number)) = (down > 0, value.parse::<f64>()) {
                sheet.write_number(at, column, number).unwrap();
            } else {
                sheet.write_string(at, column, value).unwrap();
            }
        }
    }
}

pub fn saved(mut book: Workbook) -> Vec<u8> {
    book.save_to_buffer().unwrap()
}

fn read(bytes: &[u8], options: &ReadOptions) -> LogRead {
    let read = read_log("kitchen.xlsx", "spiral", bytes, options);
    assert_accounted(&read);
    read
}

#[test]
fn a_sheet_anywhere_in_a_workbook_is_the_same_log() {
    let mut book = Workbook::new();
    book.add_worksheet().set_name("Recipes").unwrap().write_string(0, 0, "Baguette").unwrap();
    let log = book.add_worksheet().set_name("Log").unwrap();
    log.write_string(1, 1, "Kneading log of spring").unwrap();
    fill(log, 3, 2);
    let read = assert_same("workbook", &saved(book), &ReadOptions::default());
    assert_eq!(read.dialects[0].sheet.as_deref(), Some("Log"));
    let notes = &read.dialects[0].notes;
    assert_eq!(notes[0], Note::OtherSheets(vec!["Recipes".into()]));
    assert_eq!(notes[0].to_string(), "the sheet Recipes is not read");
    assert_eq!(notes[1], Note::Above { lines: vec![2], sheet: true });
    assert_eq!((read.rows[0].line, read.rows[0].row), (5, 1), "rows as the sheet counts them");
}

#[test]
fn files_that_libreoffice_wrote_are_the_same_log() {
    let files: [(&str, &[u8]); 4] = [
        ("kitchen.xlsx", include_bytes!("made-by-libreoffice/kitchen.xlsx")),
        ("kitchen.xls", include_bytes!("made-by-libreoffice/kitchen.xls")),
        ("kitchen.ods", include_bytes!("made-by-libreoffice/kitchen.ods")),
        ("semicolons.csv", include_bytes!("made-by-libreoffice/semicolons.csv")),
    ];
    for (name, bytes) in files {
        let read = assert_same(name, bytes, &ReadOptions::default());
        let lines: Vec<_> = read.dialects[0]
            .notes
            .iter()
            .filter_map(|note| match note {
                Note::Above { lines, .. } | Note::Totals { lines, .. } => Some(lines.clone()),
                _ => None,
            })
            .collect();
        assert_eq!(lines, [vec![1], vec![10]], "{name}");
    }
}

#[test]
fn problems_carry_sheet_row_and_letter() {
    let mut book = Workbook::new();
    let log = book.add_worksheet().set_name("May").unwrap();
    fill(log, 0, 0);
    log.write_string(2, 13, "22 or so").unwrap();
    let read = read(&saved(book), &ReadOptions::default());
    let problem = only(&read);
    assert_eq!(problem.sheet.as_deref(), Some("May"));
    assert_eq!(problem.column.as_ref().unwrap().letters(), "N");
    let head = problem.to_string().lines().next().unwrap().to_owned();
    assert_eq!(head, "kitchen.xlsx, sheet May, row 3, batch 2, column dough_c (N): error");
    let json = serde_json::to_value(problem).unwrap();
    assert_eq!((&json["sheet"], &json["column_letters"]), (&"May".into(), &"N".into()));
}

#[test]
fn the_sheet_is_chosen_by_name_and_others_are_said() {
    let mut book = Workbook::new();
    fill(book.add_worksheet().set_name("May").unwrap(), 0, 0);
    fill(book.add_worksheet().set_name("June").unwrap(), 0, 0);
    let bytes = saved(book);
    let first = read(&bytes, &ReadOptions::default());
    assert_eq!(only(&first).severity, Severity::Doubt);
    assert_eq!(only(&first).kind, ProblemKind::OtherSheets { others: vec!["June".into()] });
    assert!(only(&first).hint().unwrap().contains("--sheet June"));
    assert_eq!(first.machines[0].log, expected());
    let june = assert_same("by name", &bytes, &ReadOptions::default().from_sheet("june"));
    assert_eq!(june.dialects[0].sheet.as_deref(), Some("June"));
    let none = read(&bytes, &ReadOptions::default().from_sheet("July"));
    assert!(none.is_empty());
    assert!(only(&none).expected().contains("May, June"), "{}", only(&none));
}

#[test]
fn the_sheet_that_is_most_like_a_log_is_read() {
    let mut book = Workbook::new();
    let mut chart = Chart::new(ChartType::Line);
    chart.add_series().set_values("Spring!$G$4:$G$9");
    book.add_chartsheet().set_name("Chart").unwrap().insert_chart(0, 0, &chart).unwrap();
    // Notes on the columns, of which the first cell is one's name.
    let notes = book.add_worksheet().set_name("Read me").unwrap();
    for (row, text) in ["batch", "What it is called", "note", "what struck you"].iter().enumerate()
    {
        notes.write_string(row as u32, 0, *text).unwrap();
    }
    // A header to be filled in.
    let empty = book.add_worksheet().set_name("Blank").unwrap();
    for (column, name) in cells()[0].iter().enumerate() {
        empty.write_string(0, column as u16, name).unwrap();
    }
    fill(book.add_worksheet().set_name("Spring").unwrap(), 2, 1);
    book.add_worksheet().set_name("Sheet5").unwrap();
    let bytes = saved(book);
    let read = assert_same("most like a log", &bytes, &ReadOptions::default());
    assert_eq!(read.dialects[0].notes[0].to_string(), "the sheets Read me, Blank are not read");
    let asked = ReadOptions::default().from_sheet("spring");
    let read = assert_same("asked for", &bytes, &asked);
    assert!(!read.dialects[0].notes.iter().any(|note| matches!(note, Note::OtherSheets(_))));
}

#[test]
fn a_log_in_other_words_is_found_behind_a_cover() {
    let mut book = Workbook::new();
    let cover = book.add_worksheet().set_name("Deckblatt").unwrap();
    cover.write_string(0, 0, "Knetprotokoll").unwrap();
    cover.write_string(1, 0, "Backstube").unwrap();
    let log = book.add_worksheet().set_name("Protokoll").unwrap();
    for (column, name) in ["Charge", "Mehl kg", "Wasser kg", "Raum °C"].iter().enumerate() {
        log.write_string(0, column as u16, *name).unwrap();
        log.write_number(1, column as u16, 12.0).unwrap();
    }
    let read = read(&saved(book), &ReadOptions::default());
    assert_eq!(read.dialects[0].sheet.as_deref(), Some("Protokoll"));
}

#[test]
fn a_time_that_lost_its_format_is_an_error_with_its_minutes() {
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    log.write_number(2, 10, 0.0104).unwrap();
    let read = read(&saved(book), &ReadOptions::default());
    let problem = only(&read);
    assert!(matches!(problem.kind, ProblemKind::DayPart { .. }), "{problem}");
    assert!(problem.hint().unwrap().contains("14.976 minutes"), "{problem}");
    assert_eq!(read.rows_set_aside(), 1);
}

#[test]
fn formulas_count_by_their_stored_values() {
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    // What is stored is not what it would come to.
    log.write_formula(1, 4, Formula::new("=2*7").set_result("10")).unwrap();
    log.write_formula(2, 15, Formula::new("=\"x\"").set_result("=HYPERLINK(1)")).unwrap();
    assert_same("stored value", &saved(book), &ReadOptions::default());

    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    log.write_formula(1, 4, Formula::new("=1/0").set_result("#DIV/0!")).unwrap();
    let read = read(&saved(book), &ReadOptions::default());
    assert_eq!(read.rows_set_aside(), 1);
    assert_eq!(only(&read).column.as_ref().unwrap().letters(), "E");
}

#[test]
fn text_that_looks_like_numbers_is_read_by_column() {
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    log.write_string(1, 13, "24,1").unwrap();
    log.write_string(2, 11, "2'30").unwrap();
    assert_same("texts among numbers", &saved(book), &ReadOptions::default());
}

#[test]
fn a_number_with_the_format_of_a_date_is_said_as_the_number_that_is_stored() {
    let day = Format::new().set_num_format("yyyy-mm-dd");
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    log.write_number_with_format(1, 9, 22.5, &day).unwrap();
    log.write_number_with_format(2, 2, 22.5, &day).unwrap();
    let read_xlsx = read(&saved(book), &ReadOptions::default());
    let mut rows = ods_rows();
    rows[1][9] =
        "<table:table-cell office:value-type=\"date\" office:date-value=\"1900-01-21T12:00:00\"/>"
            .into();
    rows[2][2] = rows[1][9].clone();
    let read_ods = read(&ods("Log", &rows), &ReadOptions::default());
    for read in [read_xlsx, read_ods] {
        let [room, date] = &read.problems[..] else { panic!("{:?}", read.problems) };
        assert_eq!(room.kind, ProblemKind::MadeADate { value: 22.5 });
        assert!(room.to_string().contains("22.5 with the format of a date"), "{room}");
        assert!(room.hint().unwrap().contains("the format of numbers"), "{room}");
        assert_eq!(room.mend().unwrap().cells[0].value, 22.5);
        assert_eq!((&date.kind, read.rows_set_aside()), (&ProblemKind::NotADate, 2));
    }
}

#[test]
fn days_of_the_1904_system() {
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    let bytes = saved(book);
    // The writer knows one system only: the other is one attribute of the workbook.
    let moved = crate::sheets_refused::repacked(&bytes, "xl/workbook.xml", |xml| {
        let text = String::from_utf8(xml).unwrap();
        assert!(text.contains("<workbookPr "));
        text.replace("<workbookPr ", "<workbookPr date1904=\"1\" ").into_bytes()
    });
    let read = read(&moved, &ReadOptions::default());
    // ECMA-376, part 1, 18.17.4.1: day 0 is 1904-01-01 there, 1462 days later.
    assert_eq!(read.machines[0].log.batches[0].date.as_deref(), Some("2030-03-15"));
}
