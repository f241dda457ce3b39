//! A row of units under the header, and a header that is repeated page by page.

use kneadfit_log::{ColumnNames, LogRead, Note, ProblemKind, ReadOptions, guess_columns, read_log};
use rust_xlsxwriter::Workbook;

use crate::dresses::{CANONICAL, assert_same, cells};
use crate::sheets::{fill, saved};
use crate::support::{assert_accounted, only};

/// The unit of a column of the canonical log.
fn unit(name: &str) -> &'static str {
    match name {
        "development" => "0–1",
        name if name.ends_with("_kg") => "kg",
        name if name.ends_with("_c") => "°C",
        name if name.starts_with("minutes") => "[min]",
        _ => "",
    }
}

fn units() -> Vec<&'static str> {
    cells()[0].iter().map(|name| unit(name)).collect()
}

fn read(text: &str) -> LogRead {
    let read = read_log("kitchen.csv", "spiral", text.as_bytes(), &ReadOptions::default());
    assert_accounted(&read);
    read
}

#[test]
fn a_row_of_units_is_no_batch() {
    let (header, rows) = CANONICAL.split_once('\n').unwrap();
    let options = ReadOptions::default();
    for blank in ["", "\n", ",,,,,,,,,,,,,,,\n"] {
        let text = format!("{header}\n{blank}{}\n{rows}", units().join(","));
        let read = assert_same("text", text.as_bytes(), &options);
        let line = 2 + blank.lines().count() as u64;
        assert_eq!(read.dialects[0].notes, [Note::Units { line, sheet: false }]);
        assert_eq!(
            read.dialects[0].notes[0].to_string(),
            format!("line {line} holds the units and no batch")
        );
        assert_eq!(read.rows[0].row, 1);
    }
    let text = format!("Our log\n{header}\n{}\n{rows}", units().join(",")).replace(',', ";");
    assert_same("titled", text.as_bytes(), &options);

    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    fill(sheet, 1, 0);
    for (column, name) in cells()[0].iter().enumerate() {
        sheet.write_string(0, column as u16, name).unwrap();
        sheet.write_string(1, column as u16, unit(name)).unwrap();
    }
    let read = assert_same("sheet", &saved(book), &options);
    assert!(read.dialects[0].notes.contains(&Note::Units { line: 2, sheet: true }));
}

#[test]
fn units_count_where_the_header_says_none() {
    let text = "batch,Flour,flour,water,Water,room,minutes_low,dough,development,preferment_hydration\n\
                ,g,°C,kg,(°F),°C,min,°C,%,%\n\
                1,10000,21,6.5,53.6,24,4,19.8,85,100\n";
    let got = read(text);
    assert!(got.problems.is_empty(), "{:?}", got.problems);
    let same = read(
        "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,dough_c,development,preferment_hydration\n\
         1,10,21,6.5,12,24,4,19.8,0.85,1\n",
    );
    assert_eq!(got.machines[0].log, same.machines[0].log);
}

#[test]
fn headers_in_other_words_are_listed_with_their_units() {
    let text = "Charge;Mehl;Mehl;Wasser;Wasser;Raum;Gang 1;Teig\n\
                ;kg;°C;kg;°C;°C;min;°C\n\
                1;10;21;6,5;12;24;4;19,8\n\
                Charge;Mehl;Mehl;Wasser;Wasser;Raum;Gang 1;Teig\n\
                2;10;21;6,5;13;24;4;20,2\n";
    let options = ReadOptions::default();
    let guesses = guess_columns("kneten.csv", text.as_bytes(), &options).unwrap();
    let list = guesses.to_toml();
    for line in ["flour_kg = \"Mehl kg\"", "flour_c = \"Mehl °C\"", "room_c = \"Raum °C\""] {
        assert!(list.contains(line), "{list}");
    }
    let options = options.with_columns(ColumnNames::parse(&list).unwrap());
    let got = read_log("kneten.csv", "spiral", text.as_bytes(), &options);
    assert_accounted(&got);
    assert!(got.problems.is_empty(), "{:?}", got.problems);
    let same = read(
        "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_gang_1,dough_c\n\
         1,10,21,6.5,12,24,4,19.8\n2,10,21,6.5,13,24,4,20.2\n",
    );
    assert_eq!(got.machines[0].log.batches, same.machines[0].log.batches);
}

#[test]
fn a_unit_that_contradicts_its_header_is_an_error_of_the_file() {
    for (column, unit, said) in [
        ("flour_kg", "g", "flour_kg, and g as its unit on line 2"),
        ("flour_kg", "l", "litres as its unit"),
        ("flour_c", "°F", "flour_c, and °F as its unit"),
        ("minutes_low", "s", "minutes_low, and seconds as its unit"),
    ] {
        let header = "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,dough_c";
        let units: Vec<_> = header
            .split(',')
            .map(|name| if name == column { unit } else { self::unit(name) })
            .collect();
        let read = read(&format!("{header}\n{}\n1,10,21,6.5,12,24,4,19.8\n", units.join(",")));
        let problem = only(&read);
        assert!(matches!(problem.kind, ProblemKind::UnitContradicted { .. }), "{problem}");
        assert!(problem.to_string().contains(said), "{problem}");
        assert!(read.is_empty());
    }
}

#[test]
fn a_header_repeated_page_by_page_is_no_row() {
    let (header, rows) = CANONICAL.split_once('\n').unwrap();
    let lines: Vec<&str> = rows.lines().collect();
    let units = units().join(",");
    let options = ReadOptions::default();
    let page = |rows: &[&str]| rows.join("\n");
    let text = format!(
        "{header}\n{}\n{}\n{}\n",
        page(&lines[..2]),
        header.to_uppercase(),
        page(&lines[2..])
    );
    let read = assert_same("repeated", text.as_bytes(), &options);
    assert_eq!(read.dialects[0].notes, [Note::Repeats { lines: vec![4], sheet: false }]);
    assert_eq!(read.dialects[0].notes[0].to_string(), "line 4 repeats the header and is not read");
    assert_eq!(read.rows_read(), 6);
    let text = format!(
        "{header}\n{units}\n{}\n{header}\n{units}\n{}\n",
        page(&lines[..2]),
        page(&lines[2..])
    );
    let read = assert_same("with units", text.as_bytes(), &options);
    assert_eq!(read.dialects[0].notes[1], Note::Repeats { lines: vec![5, 6], sheet: false });
    let semicolons = text.replace(',', ";");
    assert_same("semicolons", semicolons.as_bytes(), &options);
}

#[test]
fn a_first_batch_with_few_figures_is_no_row_of_units() {
    let read = read("batch,room_c,note,dough_c,flour\nkg,24,g,,c\n");
    assert_eq!(read.rows_read(), 1);
}
