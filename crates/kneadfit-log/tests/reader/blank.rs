//! Empty logs to fill in: read back, and filled in.

use std::io::{Cursor, Read};

use kneadfit_log::{
    BlankLog, BlankLogError, EXAMPLE_BATCH, Extent, LogRead, ProblemKind, ReadOptions, Severity,
    read_log,
};

use crate::support::{assert_accounted, only};

fn blank(extent: Extent) -> BlankLog {
    BlankLog::new(["low", "high"], extent).unwrap()
}

fn read(bytes: &[u8]) -> LogRead {
    let read = read_log("spiral", "spiral", bytes, &ReadOptions::default());
    assert_accounted(&read);
    read
}

/// The header and the example of the CSV.
fn rows(blank: &BlankLog) -> Vec<Vec<String>> {
    let text = blank.to_csv();
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect()
}

#[test]
fn an_empty_log_has_no_batch_and_its_example_is_said() {
    for extent in [Extent::Usual, Extent::Full] {
        let blank = blank(extent);
        for (kind, bytes, line) in
            [("csv", blank.to_csv().into_bytes(), 2), ("xlsx", blank.to_xlsx().unwrap(), 4)]
        {
            let read = read(&bytes);
            assert_eq!(only(&read).kind, ProblemKind::NoRows, "{kind}");
            assert_eq!(read.rows_read(), 0);
            let notes: Vec<String> =
                read.dialects[0].notes.iter().map(ToString::to_string).collect();
            let place = if line == 2 { "line 2" } else { "row 4" };
            let said = format!("{place} is an example and no batch");
            assert!(notes.contains(&said), "{kind}: {notes:?}");
        }
    }
}

/// The log with rows of a baker's under the example, which is forgotten there.
fn filled(extent: Extent, rows_of: &[&[(&str, &str)]]) -> String {
    let blank = blank(extent);
    let header = rows(&blank).remove(0);
    let mut text = blank.to_csv();
    for row in rows_of {
        let cell = |name: &String| row.iter().find(|(n, _)| n == name).map_or("", |(_, v)| v);
        let cells: Vec<&str> = header.iter().map(cell).collect();
        text += &(cells.join(",") + "\n");
    }
    text
}

#[test]
fn a_forgotten_example_does_no_harm() {
    let batch = [
        ("batch", "1"),
        ("date", "2026-05-02"),
        ("flour_kg", "8"),
        ("flour_c", "19"),
        ("water_kg", "5"),
        ("water_c", "10"),
        ("room_c", "21"),
        ("minutes_low", "4"),
        ("dough_c", "20.5"),
    ];
    let text = filled(Extent::Usual, &[&batch]);
    let read = read(text.as_bytes());
    let kinds: Vec<_> = read.problems.iter().map(|p| &p.kind).collect();
    // The example's minutes make no speed: nobody has used the second one.
    assert_eq!(kinds, [&ProblemKind::SpeedBlank]);
    assert_eq!((read.rows_read(), read.rows_used()), (1, 1));
    assert_eq!(read.rows[0].line, 3);
    let log = &read.machines[0].log;
    assert_eq!((log.batches.len(), log.speeds.len()), (1, 1));
    // Decimal commas and days first below, whatever the example has.
    let commas: Vec<(&str, String)> = batch
        .iter()
        .map(|(name, value)| match *name {
            "date" => (*name, "13/05/2026".to_owned()),
            "room_c" => (*name, "\"21,5\"".to_owned()),
            _ => (*name, value.replace("20.5", "\"20,5\"")),
        })
        .collect();
    let commas: Vec<(&str, &str)> = commas.iter().map(|(n, v)| (*n, &**v)).collect();
    let read = self::read(filled(Extent::Usual, &[&commas]).as_bytes());
    assert!(!read.has_errors(), "{}", read.problems[0]);
    let batch = &read.machines[0].log.batches[0];
    assert_eq!((batch.charge.room_c, batch.stages[0].reading.dough_c), (21.5, Some(20.5)));
    assert_eq!(batch.date.as_deref(), Some("2026-05-13"));
    assert!(read.problems.iter().all(|p| p.kind == ProblemKind::SpeedBlank));
}

#[test]
fn the_example_is_a_batch_that_could_be_one() {
    for extent in [Extent::Usual, Extent::Full] {
        let text = blank(extent).to_csv().replace(EXAMPLE_BATCH, "1");
        let read = read(text.as_bytes());
        assert!(read.problems.is_empty(), "{}", read.problems[0]);
        assert_eq!(read.rows_used(), 1);
    }
}

#[test]
fn an_example_is_known_whatever_its_capitals_and_never_by_half() {
    let header = "batch,flour_kg,flour_c,water_kg,water_c,room_c,dough_c";
    let row = "10,20,6.5,12,22,20";
    for (batch, rows) in [
        (" Example (NOT read) ", 0),
        ("example", 1),
        ("example (not read) 2", 1),
        ("\"example (not read)\"", 0),
    ] {
        let read = read(format!("{header}\n{batch},{row}\n").as_bytes());
        assert_eq!(read.rows_read(), rows, "{batch}");
    }
    // A quote that swallows the rest is not passed over with the example.
    let read = read(format!("{header},note\n{EXAMPLE_BATCH},{row},\"x\n1,{row},\n").as_bytes());
    assert!(matches!(only(&read).kind, ProblemKind::UnclosedQuote { .. }));
}

#[test]
fn speeds_must_be_readable_and_stand_once() {
    let of = |speeds: &[&str]| BlankLog::new(speeds, Extent::Usual).unwrap_err();
    assert!(matches!(of(&[]), BlankLogError::NoSpeed));
    assert!(matches!(of(&["low", " high"]), BlankLogError::SpeedName { .. }));
    assert!(matches!(of(&["low", "low"]), BlankLogError::SpeedTwice { .. }));
    assert!(matches!(of(&["low", "rest"]), BlankLogError::SpeedTwice { .. }));
    let odd = BlankLog::new(["slow, then \"fast\""], Extent::Usual).unwrap();
    assert!(rows(&odd)[0].contains(&"minutes_slow, then \"fast\"".to_owned()));
    assert_eq!(only(&read(odd.to_csv().as_bytes())).kind, ProblemKind::NoRows);
}

/// A part of a workbook as text.
fn part(workbook: &[u8], name: &str) -> String {
    let mut archive = zip::ZipArchive::new(Cursor::new(workbook)).unwrap();
    let mut text = String::new();
    archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
    text
}

/// The least and most of a column's cells, as the workbook has them.
fn checked(sheet: &str, column: &str) -> Option<(f64, f64, bool)> {
    let at = sheet.find(&format!("sqref=\"{column}4:{column}"))?;
    let begins = sheet[..at].rfind("<dataValidation ").unwrap();
    let ends = at + sheet[at..].find("</dataValidation>").unwrap();
    let rule = &sheet[begins..ends];
    let number = |tag: &str| {
        let from = rule.find(&format!("<{tag}>"))? + tag.len() + 2;
        rule[from..].split('<').next()?.parse().ok()
    };
    Some((number("formula1")?, number("formula2")?, rule.contains("errorStyle=\"warning\"")))
}

#[test]
fn cells_ask_back_where_the_reader_would() {
    let blank = blank(Extent::Full);
    let workbook = blank.to_xlsx().unwrap();
    let sheet = part(&workbook, "xl/worksheets/sheet1.xml");
    let letters = |index: usize| {
        let letter = |k: usize| char::from(b'A' + k as u8).to_string();
        if index < 26 { letter(index) } else { format!("A{}", letter(index - 26)) }
    };
    let mut tried = 0;
    for (index, name) in rows(&blank)[0].iter().enumerate() {
        let Some((least, most, asks)) = checked(&sheet, &letters(index)) else {
            assert!(["batch", "machine", "flour", "note"].contains(&&**name), "{name}");
            continue;
        };
        if name == "date" {
            continue;
        }
        tried += 1;
        // A dough of ice, a preferment and all else, to have every column's company.
        let dough = |value: f64| {
            let value = value.to_string();
            let mut row = vec![
                ("batch", "1"),
                ("flour_kg", "10"),
                ("flour_c", "20"),
                ("water_kg", "6"),
                ("water_c", "12"),
                ("ice_kg", "0.1"),
                ("preferment_kg", "0.1"),
                ("preferment_c", "20"),
                ("other_kg", "0.1"),
                ("other_c", "20"),
                ("other_kj_per_kg_k", "3.9"),
                ("room_c", "22"),
                ("minutes_low", "4"),
                ("minutes_high", "4"),
                ("dough_c", "22"),
            ];
            row.retain(|(known, _)| known != name);
            row.push((name, &value));
            let read = read(filled(Extent::Full, &[&row]).as_bytes());
            let of_it: Vec<_> = read.problems.iter().map(|p| (p.severity, p.to_string())).collect();
            (read.rows_used(), of_it)
        };
        let step = 1e-6 * most.abs().max(1.0);
        for beyond in [least - step, most + step] {
            let (used, said) = dough(beyond);
            assert!(!said.is_empty(), "{name}: {beyond} is taken without a word");
            if !asks {
                assert_eq!(used, 0, "{name}: {beyond} is taken");
                assert!(said.iter().any(|(s, _)| *s == Severity::Error), "{name}");
            }
        }
        if name.ends_with("_c") && name != "ice_c" {
            for within in [least, most] {
                let (_, said) = dough(within);
                let ranged = said.iter().any(|(_, s)| s.contains("as there is flour"));
                assert!(!ranged, "{name}: {within}: {said:?}");
            }
        }
    }
    assert_eq!(tried, 19 + 3);
}

#[test]
fn the_workbook_prints_on_one_page_and_explains_itself() {
    let blank = blank(Extent::Usual);
    let workbook = blank.to_xlsx().unwrap();
    assert_eq!(workbook, blank.to_xlsx().unwrap(), "the same log is not the same bytes");
    let sheet = part(&workbook, "xl/worksheets/sheet1.xml");
    for said in ["fitToHeight=\"0\"", "orientation=\"landscape\"", "<pageSetUpPr fitToPage=\"1\"/>"]
    {
        assert!(sheet.contains(said), "{said}");
    }
    // Filled in beyond the ruled rows it is printed on, each page under its header.
    let book = part(&workbook, "xl/workbook.xml");
    assert!(book.contains("Print_Titles") && book.contains("log!$2:$3"), "{book}");
    assert!(!book.contains("Print_Area"));
    // The ruled rows and their headers fill a landscape A4 without half an inch on either side
    // (523 points) once the columns are fitted to its width (784), and no second page.
    let number = |tag: &str, name: &str| -> f64 {
        let value = tag.split(&format!(" {name}=\"")).nth(1).unwrap();
        value[..value.find('"').unwrap()].parse().unwrap()
    };
    let digits = sheet.split("<col ").skip(1).map(|col| {
        let col = format!(" {col}");
        number(&col, "width") * (number(&col, "max") - number(&col, "min") + 1.0)
    });
    let width_pt = 7.0 * digits.sum::<f64>() * 0.75;
    let tall = sheet.split("<row ").filter(|row| row.contains(" ht=")).map(|row| number(row, "ht"));
    let height_pt = 12.75 + tall.sum::<f64>();
    let filled = height_pt * (784.0 / width_pt).min(1.0) / 523.0;
    assert!((0.9..=1.0).contains(&filled), "{filled} of the page");
    let notes = part(&workbook, "xl/comments1.xml");
    assert_eq!(notes.matches("<comment ").count(), rows(&blank)[0].len());
    for said in ["-30 to 50 °C", "hook come to rest", "0 to 120 min"] {
        assert!(notes.contains(said), "{said}");
    }
}
