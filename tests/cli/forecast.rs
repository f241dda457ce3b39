//! `kneadfit forecast`.

use crate::support::{GOOD, Kitchen, demo};

const COLUMNS: &str = "batch,machine,dough_c,dough_low_c,dough_high_c,development,development_low,development_high,support";

fn cells(line: &str) -> Vec<&str> {
    line.split(',').collect()
}

#[test]
fn a_row_for_each_row_of_the_log_in_its_order() {
    let kitchen = Kitchen::new();
    kitchen.run(&["fit", &demo("kitchen-log.csv"), "--out", "out"]).ended(0);
    let tomorrow = demo("tomorrow.csv");
    let run = kitchen.run(&["forecast", "out/spiral.profile.json", &tomorrow]).ended(0);
    let lines: Vec<&str> = run.out.lines().collect();
    assert_eq!(lines[0], COLUMNS);
    assert_eq!(lines.len(), 10);
    for (index, line) in lines[1..].iter().enumerate() {
        let cells = cells(line);
        assert_eq!(cells[0], format!("T{}", index + 1));
        if index < 4 {
            assert_eq!(cells[1], "spiral");
            let c = |i: usize| cells[i].parse::<f64>().unwrap();
            assert!(c(3) < c(2) && c(2) < c(4) && c(4) - c(3) < 8.0, "{line}");
            assert!(c(6) <= c(5) && c(5) <= c(7) && c(7) <= 1.0, "{line}");
            assert!(!cells[8].is_empty());
        } else {
            assert_eq!(cells[2..], [""; 7], "{line}");
        }
    }
    assert!(run.err.contains("5 rows are of planetary, hands: blank cells"), "{}", run.err);
}

#[test]
fn a_log_without_machines_is_taken_as_the_profiles() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    kitchen.write(
        "doughs.csv",
        "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,minutes_high\n\
        a,10,21,6.5,10,23,5,4\na,,,,,,6,8\nb,10,21,6.5,10,40,5,30\n",
    );
    let run = kitchen.run(&["forecast", profile.to_str().unwrap(), "doughs.csv"]).ended(0);
    assert_eq!(run.err, "");
    let rows: Vec<Vec<&str>> = run.out.lines().skip(1).map(cells).collect();
    assert_eq!(rows.len(), 3);
    assert_eq!((rows[0][1], rows[0][8]), ("to-fit", "inside"));
    let dough = |row: &[&str]| row[2].parse::<f64>().unwrap();
    assert!(dough(&rows[1]) > dough(&rows[0]) + 1.0);
    assert_eq!(rows[2][8], "room_c;minutes_high");
}

#[test]
fn a_wider_level_is_a_wider_interval_and_json_has_all_digits() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    kitchen.write("log.csv", GOOD);
    let rows = |level: &str| {
        let arguments =
            ["forecast", profile.to_str().unwrap(), "log.csv", "--level", level, "--json"];
        kitchen.run(&arguments).ended(0).json()
    };
    let (narrow, wide) = (rows("0.5"), rows("0.99"));
    let width = |rows: &serde_json::Value| {
        rows[0]["dough_high_c"].as_f64().unwrap() - rows[0]["dough_low_c"].as_f64().unwrap()
    };
    assert!(width(&wide) > 2.0 * width(&narrow));
    assert_eq!(narrow[0]["dough_c"], wide[0]["dough_c"]);
    assert_eq!(narrow[0]["support"], "inside");
    // The file and the tool agree on the number to its last digit in the CSV.
    let csv = kitchen.run(&["forecast", profile.to_str().unwrap(), "log.csv"]).ended(0).out;
    let shown: f64 = cells(csv.lines().nth(1).unwrap())[2].parse().unwrap();
    assert!((shown - wide[0]["dough_c"].as_f64().unwrap()).abs() <= 0.005);
}

#[test]
fn rows_that_cannot_be_used_are_blank_and_said() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    let profile = profile.to_str().unwrap();
    kitchen.write(
        "doughs.csv",
        "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,minutes_turbo\n\
        a,10,21,6.5,10,23,5,\nb,10,21,6.5,cold,23,5,\nc,10,21,6.5,10,23,5,4\n",
    );
    let run = kitchen.run(&["forecast", profile, "doughs.csv"]).ended(2);
    let rows: Vec<Vec<&str>> = run.out.lines().skip(1).map(cells).collect();
    assert_eq!(rows.len(), 3);
    assert!(!rows[0][2].is_empty());
    assert_eq!((&rows[1][2..], &rows[2][2..]), (&[""; 7][..], &[""; 7][..]));
    let run = run.err_says(&[
        "column water_c",
        "cold",
        "doughs.csv, line 4 (row 3), batch c, column minutes_turbo (8th): error",
        "it has low, high",
    ]);
    assert!(!run.err.contains("batch a"), "{}", run.err);
}

#[test]
fn a_log_of_another_machine_only() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    kitchen.write(
        "doughs.csv",
        "batch,machine,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low\n\
        a,other,10,21,6.5,10,23,5\n",
    );
    let run = kitchen.run(&["forecast", profile.to_str().unwrap(), "doughs.csv"]).ended(2);
    run.err_says(&["1 row is of other", "the profile is of to-fit", "no row of doughs.csv"]);
}

#[test]
fn an_empty_log() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    kitchen.write("doughs.csv", "");
    let run = kitchen.run(&["forecast", profile.to_str().unwrap(), "doughs.csv"]).ended(2);
    let run = run.err_says(&["an empty file"]);
    assert_eq!(run.out, format!("{COLUMNS}\n"));
}

#[test]
fn names_with_commas_and_quotes_stay_one_cell() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    kitchen.write(
        "doughs.csv",
        "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low\n\
        \"a, \"\"big\"\" one\",10,21,6.5,10,23,5\n",
    );
    let run = kitchen.run(&["forecast", profile.to_str().unwrap(), "doughs.csv"]).ended(0);
    assert!(run.out.lines().nth(1).unwrap().starts_with("\"a, \"\"big\"\" one\",to-fit,"));
}

/// Each row is forecast before its own reading and after those of the rows before it.
#[test]
fn readings_so_far_sharpen_the_rows_that_follow() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    let rows = |first: &str, second: &str| -> Vec<serde_json::Value> {
        let log = format!(
            "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,minutes_high,dough_c\n\
            a,10,21,6.5,10,23,5,0,{first}\na,,,,,,5,4,{second}\na,,,,,,5,7,\n",
        );
        kitchen.write("doughs.csv", &log);
        let arguments = ["forecast", profile.to_str().unwrap(), "doughs.csv", "--json"];
        kitchen.run(&arguments).ended(0).json().as_array().unwrap().clone()
    };
    let number = |row: &serde_json::Value, key: &str| row[key].as_f64().unwrap();
    let width = |row: &serde_json::Value| number(row, "dough_high_c") - number(row, "dough_low_c");
    let unread = rows("", "");
    let warm = format!("{:.2}", number(&unread[0], "dough_c") + 0.8);
    let read = rows(&warm, "");
    assert_eq!(read.len(), 3);
    assert_eq!(read[0], unread[0]);
    for stage in [1, 2] {
        assert!(number(&read[stage], "dough_c") > number(&unread[stage], "dough_c"));
        assert!(width(&read[stage]) < width(&unread[stage]));
    }
    let twice = rows(&warm, &format!("{:.2}", number(&read[1], "dough_c")));
    assert_eq!(twice[1], read[1]);
    assert!(width(&twice[2]) < width(&read[2]));
}

#[test]
fn swapped_arguments_are_said_to_be_swapped() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    kitchen.write("doughs.csv", GOOD);
    let run = kitchen.run(&["forecast", "doughs.csv", profile.to_str().unwrap()]).ended(2);
    run.err_says(&["doughs.csv is not a profile: it is not JSON", "the profile comes first"]);
}

/// A reading on the way that cannot be is named, and changes next to nothing of what follows.
#[test]
fn a_mistyped_reading_on_the_way_is_named() {
    let kitchen = Kitchen::new();
    kitchen.run(&["fit", &demo("kitchen-log.csv"), "--out", "out"]).ended(0);
    let log = std::fs::read_to_string(demo("half-mixed.csv")).unwrap();
    let last = |log: &str, name: &str| {
        kitchen.write(name, log);
        let run = kitchen.run(&["forecast", "out/spiral.profile.json", name, "--json"]).ended(0);
        let rows = run.json();
        let row = &rows.as_array().unwrap()[2];
        let number = |key: &str| row[key].as_f64().unwrap();
        (number("dough_c"), number("dough_high_c") - number("dough_low_c"), run.err)
    };
    let (sound_c, _, silent) = last(&log, "sound.csv");
    assert!(!silent.contains("mistyped"), "{silent}");
    // The reading after the slow speed, ten degrees too warm; and as if it had never been.
    let (slipped_c, width, said) = last(&log.replacen(",20.1,", ",30.1,", 1), "slipped.csv");
    let (unread_c, as_unread, _) = last(&log.replacen(",20.1,", ",,", 1), "unread.csv");
    assert!((slipped_c - unread_c).abs() < 0.02 && (width - as_unread).abs() < 0.02);
    assert!((sound_c - unread_c).abs() < 0.5);
    for words in ["batch T2: read at 30.1 °C where 20.6 °C", "look whether it is mistyped"] {
        assert!(said.contains(words), "{said}");
    }
}
