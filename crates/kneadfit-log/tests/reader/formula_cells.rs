//! Formulas in the cells of sheets: by their stored values, by none, and failed.

use kneadfit_log::{LogRead, Note, ProblemKind, ReadOptions, read_log};
use rust_xlsxwriter::{Formula, Workbook};

use crate::dresses::{assert_same, expected};
use crate::sheets::{fill, saved};
use crate::sheets_refused::repacked;
use crate::support::{assert_accounted, only, only_error, read_rows};
use crate::workbooks::{ods, ods_cell, ods_rows};

fn read(bytes: &[u8]) -> LogRead {
    let read = read_log("kitchen", "spiral", bytes, &ReadOptions::default());
    assert_accounted(&read);
    read
}

/// The canonical log with a cell of its own in E2, flour_kg of batch 1, which is 10.
fn xlsx_with(cell: &str) -> Vec<u8> {
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    log.write_number(1, 4, 12_345.0).unwrap();
    repacked(&saved(book), "xl/worksheets/sheet1.xml", |xml| {
        let text = String::from_utf8(xml).unwrap();
        let written = "<c r=\"E2\"><v>12345</v></c>";
        assert!(text.contains(written));
        text.replace(written, cell).into_bytes()
    })
}

fn ods_with(cell: String) -> Vec<u8> {
    let mut rows = ods_rows();
    rows[1][4] = cell;
    ods("Log", &rows)
}

#[test]
fn a_formula_without_a_stored_value_is_an_error_of_its_cell() {
    for (dress, bytes) in [
        ("no value", xlsx_with("<c r=\"E2\"><f>2*5</f></c>")),
        ("an empty value", xlsx_with("<c r=\"E2\"><f>2*5</f><v></v></c>")),
        ("a closed value", xlsx_with("<c r=\"E2\"><f>2*5</f><v/></c>")),
        ("a text's type and no value", xlsx_with("<c r=\"E2\" t=\"str\"><f>2*5</f></c>")),
        // Some writers store 0 and ask whoever opens the file to calculate.
        ("nought", xlsx_with("<c r=\"E2\"><f>2*5</f><v>0</v></c>")),
        ("ods", ods_with("<table:table-cell table:formula=\"of:=2*5\"/>".into())),
        (
            "ods, a type and no value",
            ods_with(
                "<table:table-cell table:formula=\"of:=2*5\" office:value-type=\"float\"/>".into(),
            ),
        ),
    ] {
        let read = read(&bytes);
        assert_eq!(only_error(&read, Some("flour_kg")), &ProblemKind::Uncalculated, "{dress}");
        let said = only(&read).to_string();
        assert!(said.contains("=2*5, a formula without a stored value"), "{said}");
        assert!(said.contains("let it calculate, and save it"), "{said}");
        assert_eq!(read.rows_used(), 5, "{dress}: the other rows are used");
    }
}

#[test]
fn files_of_programs_that_never_calculate_are_seen_through() {
    for bytes in [
        &include_bytes!("made-by-scripts/openpyxl.xlsx")[..],
        include_bytes!("made-by-scripts/xlwt.xls"),
    ] {
        let read = read(bytes);
        assert_eq!(only_error(&read, Some("water_kg")), &ProblemKind::Uncalculated);
        assert!(only(&read).to_string().contains("E2*0.65"), "{}", only(&read));
        let (ours, expected) = (&read.machines[0].log, expected());
        assert_eq!(ours.batches, expected.batches[1..], "merged or not");
        assert!(read.dialects[0].notes.iter().any(|note| matches!(note, Note::Merged(_))));
    }
}

#[test]
fn a_stored_empty_text_is_a_blank_cell() {
    // Batch 1 has no minutes_rest (M2).
    for cell in [
        "<c r=\"E2\"><v>10</v></c><c r=\"M2\" t=\"str\"><f>IF(1=1,\"\",2)</f><v></v></c>",
        "<c r=\"E2\" t=\"str\"><f>TEXT(10,\"0\")</f><v>10</v></c>",
        "<c r=\"E2\"><f>2*5</f><v>10</v></c>",
    ] {
        assert_same(cell, &xlsx_with(cell), &ReadOptions::default());
    }
    let mut rows = ods_rows();
    rows[1][12] = "<table:table-cell table:formula=\"of:=IF(1=1;&quot;&quot;;2)\" office:value-type=\"string\" office:string-value=\"\"><text:p/></table:table-cell>".into();
    assert_same("ods", &ods("Log", &rows), &ReadOptions::default());
}

#[test]
fn a_nought_that_a_spreadsheet_saved_is_nought() {
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    log.write_formula(1, 8, Formula::new("=A1*0")).unwrap();
    let unsaved = saved(book);
    let read_unsaved = read(&unsaved);
    assert_eq!(only_error(&read_unsaved, Some("salt_kg")), &ProblemKind::Uncalculated);
    let resaved = repacked(&unsaved, "xl/workbook.xml", |xml| {
        let text = String::from_utf8(xml).unwrap();
        assert!(text.contains(" fullCalcOnLoad=\"1\""));
        text.replace(" fullCalcOnLoad=\"1\"", "").into_bytes()
    });
    let read = read(&resaved);
    assert!(read.problems.is_empty(), "{:?}", read.problems);
}

#[test]
fn a_note_without_a_value_costs_no_row() {
    let mut book = Workbook::new();
    let log = book.add_worksheet();
    fill(log, 0, 0);
    log.write_formula(1, 15, Formula::new("=A1&B1").set_result("")).unwrap();
    let bytes = repacked(&saved(book), "xl/worksheets/sheet1.xml", |xml| {
        let text = String::from_utf8(xml).unwrap();
        let at = text.find("<c r=\"P2\"").unwrap();
        let end = at + text[at..].find("</c>").unwrap();
        format!("{}<c r=\"P2\"><f>A1</f>{}", &text[..at], &text[end..]).into_bytes()
    });
    assert_same("note", &bytes, &ReadOptions::default());
    let kept = read_log("kitchen", "spiral", &*bytes, &ReadOptions::default().with_notes());
    assert_eq!(only(&kept).kind, ProblemKind::Uncalculated);
    assert_eq!((kept.rows_used(), kept.notes[0].as_deref()), (6, None));
}

#[test]
fn failed_formulas_are_said_in_words_of_their_own() {
    for text in ["#DIV/0!", "#REF!", "#N/A", "#VALUE!", "#NAME?", "#WERT!", "Err:502"] {
        let read = read_rows(&[&format!("1,10,21,6.5,12,24,4,{text}")]);
        assert_eq!(only_error(&read, Some("dough_c")), &ProblemKind::FailedFormula, "{text}");
        let said = only(&read).to_string();
        assert!(said.contains("a formula failed there"), "{said}");
        assert!(said.contains(text), "{said}");
    }
    for bytes in [
        xlsx_with("<c r=\"E2\" t=\"e\"><f>1/0</f><v>#DIV/0!</v></c>"),
        ods_with("<table:table-cell table:formula=\"of:=1/0\" office:value-type=\"string\" office:string-value=\"\" calcext:value-type=\"error\"><text:p>#DIV/0!</text:p></table:table-cell>".into()),
        ods_with(ods_cell("Err:502", "table:formula=\"of:=ASIN(2)\"")),
    ] {
        let read = read(&bytes);
        assert_eq!(only_error(&read, Some("flour_kg")), &ProblemKind::FailedFormula);
    }
    // A name, a day, a machine.
    for (row, column) in
        [("#REF!,,spiral", "batch"), ("1,#N/A,spiral", "date"), ("1,,#N/A", "machine")]
    {
        let text = format!(
            "batch,date,machine,flour_kg,flour_c,water_kg,water_c,room_c,dough_c\n{row},10,21,6.5,12,24,20\n"
        );
        let read = crate::support::read(&text);
        assert_eq!(only_error(&read, Some(column)), &ProblemKind::FailedFormula, "{row}");
    }
}

#[test]
fn a_column_that_was_too_narrow_is_said() {
    let read = read_rows(&["1,10,21,6.5,12,24,4,###"]);
    assert_eq!(only_error(&read, Some("dough_c")), &ProblemKind::FailedFormula);
    assert!(only(&read).hint().unwrap().contains("widen it"));
}
