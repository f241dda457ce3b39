//! A log written anew from what was read of it.

use kneadfit_log::{LogRead, ReadOptions, read_log, write_read};
use proptest::prelude::*;

use crate::support::{GOOD, HEADER, assert_accounted};

fn read(bytes: &[u8]) -> LogRead {
    let read = read_log("kitchen.csv", "spiral", bytes, &ReadOptions::default().with_notes());
    assert_accounted(&read);
    assert_eq!(read.notes.len(), read.rows.len());
    read
}

fn tidied(read: &LogRead) -> String {
    let mut clean = Vec::new();
    write_read(read, &mut clean).unwrap();
    String::from_utf8(clean).unwrap()
}

#[test]
fn notes_stay_with_their_rows() {
    let text = format!(
        "{HEADER},note\n{GOOD},\"warm, and\nwet\"\nx,1,1,1,1,1,1,cold,lost\n\
         2,10,20,6.5,12,24,4,19.5,\n2,,,,,,8,23,  indented\n"
    );
    let read = read(text.as_bytes());
    assert_eq!(read.rows_set_aside(), 1);
    let clean = tidied(&read);
    let rows = "1,spiral,10,21,6.5,12,24,4,19.8,\"warm, and\nwet\"\n\
                2,spiral,10,20,6.5,12,24,4,19.5,\n2,spiral,,,,,,8,23,  indented\n";
    assert!(clean.ends_with(rows), "{clean}");
    // Notes that nobody asked for are not kept, and their column is not written.
    let without = read_log("kitchen.csv", "spiral", text.as_bytes(), &ReadOptions::default());
    assert!(without.notes.is_empty());
    assert!(tidied(&without).lines().next().unwrap().ends_with(",dough_c"));
}

#[test]
fn what_begins_like_a_formula_is_written_harmlessly_and_comes_back() {
    let names = ["=1+1", "+3", "-5", "@home", "'=x", "''@", "'quoted"];
    let notes =
        ["=cmd|' /C calc'!A0", "\ttab", "\rreturn", "-", "@", "  =indented", "'=kept", "plain"];
    for (k, name) in names.iter().enumerate() {
        for note in notes {
            let charge = "10,21,6.5,12,24,4,19.8";
            let mut writer = csv::Writer::from_writer(Vec::new());
            let row =
                [&["x"], &charge.split(',').collect::<Vec<_>>()[..], &["x", "x", "x"]].concat();
            let mut row: Vec<String> = row.iter().map(|cell| (*cell).to_owned()).collect();
            let header: Vec<&str> = HEADER.split(',').chain(["machine", "flour", "note"]).collect();
            let cell = |text: &str| kneadfit_log::harmless(text).into_owned();
            row[0] = cell(name);
            let others = (cell(names[(k + 1) % names.len()]), cell(names[(k + 2) % names.len()]));
            (row[8], row[9], row[10]) = (others.0, others.1, cell(note));
            writer.write_record(&header).unwrap();
            writer.write_record(&row).unwrap();
            let read = read(&writer.into_inner().unwrap());
            let batch = &read.machines[0].batches()[0];
            assert_eq!(&*batch.id, *name);
            assert_eq!(&**read.machines[0].machine(), names[(k + 1) % names.len()]);
            assert_eq!(batch.charge.flour_name.as_deref(), Some(names[(k + 2) % names.len()]));
            assert_eq!(read.notes[0].as_deref(), Some(note));
            let clean = tidied(&read);
            let again = self::read(clean.as_bytes());
            assert_eq!((&again.machines, &again.notes), (&read.machines, &read.notes), "{clean}");
            assert_eq!(tidied(&again), clean);
            let mut records =
                csv::ReaderBuilder::new().has_headers(false).from_reader(clean.as_bytes());
            for cell in records
                .records()
                .flat_map(|r| r.unwrap().iter().map(str::to_owned).collect::<Vec<_>>())
            {
                assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r']), "{cell:?}");
            }
        }
    }
}

/// Cells of a log, good and bad; the good ones more often.
fn cell(column: &'static str) -> BoxedStrategy<String> {
    let odd = prop::sample::select(vec![
        "",
        "-1",
        "x",
        "\"4,5\"",
        "1e308",
        "NaN",
        "'=1",
        "=1",
        "Total",
        "example (not read)",
        " 7 ",
        "0",
        "0.1",
        "1e-300",
    ])
    .prop_map(str::to_owned);
    let good = match column {
        "batch" => "[1-4]".boxed(),
        "machine" => "(spiral|=hand|)".boxed(),
        "date" => "(2026-03-1[0-9]|14/03/2026|)".boxed(),
        "flour" => "(strong|-mild| whole |)".boxed(),
        "note" => "('{0,2}[=@+a ]{0,3}|\"\t,\n\")".boxed(),
        name if name.starts_with("minutes") => prop_oneof![
            (0_u32..12).prop_map(|m| m.to_string()),
            (0.0_f64..9.0).prop_map(|m| m.to_string())
        ]
        .boxed(),
        "development" => (0.0_f64..1.0).prop_map(|grade| grade.to_string()).boxed(),
        "flour_kg" => (5.0_f64..9.0).prop_map(|kg| kg.to_string()).boxed(),
        "water_kg" => (3.0_f64..6.0).prop_map(|kg| kg.to_string()).boxed(),
        _ => (15.0_f64..30.0).prop_map(|c| c.to_string()).boxed(),
    };
    prop_oneof![12 => good, 1 => odd].boxed()
}

const COLUMNS: [&str; 15] = [
    "batch",
    "machine",
    "date",
    "flour",
    "flour_kg",
    "flour_c",
    "water_kg",
    "water_c",
    "room_c",
    "minutes_low",
    "minutes_rest",
    "minutes_high",
    "dough_c",
    "development",
    "note",
];

/// A log in which later rows mostly leave the ingredients blank.
fn any_log() -> impl Strategy<Value = String> {
    let row = COLUMNS.map(cell).to_vec();
    prop::collection::vec((row, any::<bool>()), 0..12).prop_map(|rows| {
        let mut text = COLUMNS.join(",") + "\n";
        for (mut row, later) in rows {
            if later {
                row[2..9].fill(String::new());
            }
            text += &(row.join(",") + "\n");
        }
        text
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1024))]

    #[test]
    fn tidied_again_it_is_the_same_to_the_byte(text in any_log()) {
        let first = read(text.as_bytes());
        let clean = tidied(&first);
        let second = read(clean.as_bytes());
        prop_assert!(!second.has_errors() || first.is_empty(), "{}\n{clean}", second.problems[0]);
        prop_assert_eq!(second.rows_used(), first.rows_used());
        prop_assert_eq!(&tidied(&second), &clean);
        // Doughs, readings and notes are those of the log.
        let logs = |read: &LogRead| read.machines.iter().map(|m| m.log.clone()).collect::<Vec<_>>();
        prop_assert_eq!(logs(&second), logs(&first));
        let notes = |read: &LogRead| {
            let rows = read.machines.iter().flat_map(|m| (0..m.batches().len()).flat_map(|b| m.rows_of(b)));
            rows.map(|row| read.notes[*row].clone()).collect::<Vec<_>>()
        };
        prop_assert_eq!(notes(&second), notes(&first));
    }
}
