//! `kneadfit columns`: lists of columns to confirm.

use std::collections::HashMap;

use crate::support::{GOOD, Kitchen, demo};

#[test]
fn a_list_is_written_confirmed_and_read() {
    let kitchen = Kitchen::new();
    let log = GOOD
        .replacen("batch,flour_kg,flour_c", "Charge,Mehl kg,Mehltemp.", 1)
        .replacen(
            "room_c,minutes_low,minutes_high,dough_c",
            "Backstube,Gang 1 min,Gang 2 min,Teig",
            1,
        )
        .replace(',', ";");
    kitchen.write("spiral.csv", format!("Knetprotokoll\n\n{log}"));
    kitchen
        .run(&["check", "spiral.csv"])
        .ended(2)
        .out_says(&["no column batch", "kneadfit columns"]);
    let run = kitchen.run(&["columns", "spiral.csv"]).ended(0);
    let run = run.err_says(&["10 columns: 3 with the log's own names, 7 guessed, 0 not known"]);
    assert!(
        run.out.contains("flour_c = \"Mehltemp.\"  # C: a guess, and °C is supposed – confirm")
    );
    // As it is it is read; what the baker confirms stays.
    kitchen.write("columns.toml", &run.out);
    let checked = kitchen.run(&["check", "spiral.csv", "--columns", "columns.toml"]).ended(0);
    checked.out_says(&["0 errors, 0 doubts", "minutes gang_1"]);
    let again = kitchen.run(&["columns", "spiral.csv", "--columns", "columns.toml"]).ended(0);
    assert!(!again.out.contains("– confirm"), "{}", again.out);
    let piped = std::fs::read(kitchen.path("spiral.csv")).unwrap();
    let piped = kitchen.run_with(&["columns", "-"], &[], &piped).ended(0);
    assert_eq!(piped.out, run.out.replace("\"spiral.csv\"", "\"stdin\""));
}

#[test]
fn the_demos_notebook_in_german_has_the_batches_of_its_log() {
    let kitchen = Kitchen::new();
    let notebook = demo("notebook-in-german.csv");
    kitchen.write("columns.toml", kitchen.run(&["columns", &notebook]).ended(0).out);
    let listed = ["--columns", "columns.toml", "--out", "theirs.csv"];
    kitchen.run(&[&["tidy", &notebook][..], &listed].concat()).ended(0);
    kitchen.run(&["tidy", &demo("kitchen-log.csv"), "--out", "ours.csv"]).ended(0);
    let rows = |file: &str| -> Vec<HashMap<String, String>> {
        let mut table = csv::Reader::from_path(kitchen.path(file)).unwrap();
        table.deserialize().map(Result::unwrap).collect()
    };
    let (ours, theirs) = (rows("ours.csv"), rows("theirs.csv"));
    assert_eq!(theirs.len(), 5);
    for row in theirs {
        let our = ours.iter().find(|our| our["batch"] == row["batch"]).unwrap();
        for (column, value) in row.iter().filter(|(column, _)| *column != "machine") {
            let known = match column.as_str() {
                "minutes_gang_1" => "minutes_low",
                "minutes_gang_2" => "minutes_high",
                column => column,
            };
            assert_eq!(our[known], *value, "{column} of {}", row["batch"]);
        }
    }
}

#[test]
fn a_program_is_given_guesses_wanted_values_and_what_is_missing() {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", "Nr.;Mehl kg;Teig Soll;Teig Ist;Wetter\n1;10;24;25,1;Regen\n");
    let json = kitchen.run(&["columns", "log.csv", "--json"]).ended(0).json();
    let of = |index: usize, key: &str| json["columns"][index][key].clone();
    assert_eq!(json["source"], "log.csv");
    assert_eq!((of(1, "name"), of(1, "sureness")), ("flour_kg".into(), "likely".into()));
    assert_eq!((of(2, "name"), of(2, "sureness")), (serde_json::Value::Null, "wanted".into()));
    assert_eq!((of(3, "name"), of(3, "number")), ("dough_c".into(), 4.into()));
    assert_eq!(of(4, "sureness"), "none");
    let missing: Vec<_> = json["missing"].as_array().unwrap().iter().collect();
    assert_eq!(missing, ["flour_c", "water_kg", "water_c", "room_c", "minutes_low"]);
    let run = kitchen.run(&["columns", "log.csv"]).ended(0).out_says(&[
        "# C, \"Teig Soll\": looks like a wanted value, and no reading; not read",
        "# Needed, and not found: write a header behind each",
        "# room_c = \"\"  # the room's temperature",
    ]);
    run.err_says(&["3 guessed, 1 of wanted values, 1 not known", "not found: flour_c, water_kg"]);
    // Whoever reads it all the same is told why it is not read.
    kitchen.run(&["check", "log.csv"]).ended(2).out_says(&["it looks like a wanted value"]);
}

#[test]
fn what_is_no_table_has_no_list() {
    let kitchen = Kitchen::new();
    kitchen.write("empty.csv", "");
    let run = kitchen.run(&["columns", "empty.csv"]).ended(2).err_says(&["an empty file"]);
    assert_eq!(run.out, "");
    kitchen.run(&["columns", "none.csv"]).ended(2).err_says(&["cannot open the log none.csv"]);
    kitchen.write("book.xlsx", b"PK\x03\x04 and no more");
    kitchen.run(&["columns", "book.xlsx"]).ended(2).err_says(&["the workbook is damaged"]);
}
