//! `kneadfit friction-factor`.

use crate::support::{GOOD, Kitchen, demo};

const COLUMNS: &str = "batch,machine,temperatures,n,water_c,dough_c,friction_factor_k,friction_factor_low_k,friction_factor_high_k,friction_factor_f,rise_k,rise_f,drift_2_min_more_k,drift_2_min_less_k,drift_half_charge_k,drift_room_8_warmer_k,drift_room_8_colder_k,support,drift_support";
const HEADER: &str =
    "batch,flour_kg,flour_c,water_kg,water_c,ice_kg,room_c,minutes_low,minutes_high\n";

fn cells(line: &str) -> Vec<&str> {
    line.split(',').collect()
}

/// The cell of a row below a column.
fn cell<'a>(line: &'a str, column: &str) -> &'a str {
    cells(line)[COLUMNS.split(',').position(|c| c == column).unwrap()]
}

fn value(line: &str, column: &str) -> f64 {
    cell(line, column).parse().unwrap_or_else(|_| panic!("{column} of {line}"))
}

#[test]
fn a_row_for_each_row_of_the_log_in_its_order() {
    let kitchen = Kitchen::new();
    kitchen.run(&["fit", &demo("kitchen-log.csv"), "--out", "out"]).ended(0);
    let tomorrow = demo("tomorrow.csv");
    let run = kitchen.run(&["friction-factor", "out/spiral.profile.json", &tomorrow]).ended(0);
    let forecasts = kitchen.run(&["forecast", "out/spiral.profile.json", &tomorrow]).ended(0);
    let lines: Vec<&str> = run.out.lines().collect();
    assert_eq!(lines[0], COLUMNS);
    assert_eq!(lines.len(), 10);
    for (index, line) in lines[1..].iter().enumerate() {
        assert_eq!(cell(line, "batch"), format!("T{}", index + 1));
        if index >= 4 {
            assert!(cells(line)[2..].iter().all(|cell| cell.is_empty()), "{line}");
            continue;
        }
        let forecast = cells(forecasts.out.lines().nth(index + 1).unwrap());
        assert_eq!((cell(line, "dough_c"), cell(line, "support")), (forecast[2], forecast[8]));
        let n = if ["T1", "T3"].contains(&cell(line, "batch")) { 4.0 } else { 3.0 };
        assert_eq!(value(line, "n"), n);
        assert_eq!(cell(line, "temperatures").ends_with(";preferment"), n > 3.0);
        let (factor, rise) = (value(line, "friction_factor_k"), value(line, "rise_k"));
        assert!((factor - n * rise).abs() < 0.03, "{line}");
        assert!((value(line, "friction_factor_f") - 1.8 * factor).abs() < 0.02, "{line}");
        assert!((value(line, "rise_f") - 1.8 * rise).abs() < 0.02, "{line}");
        assert!(value(line, "friction_factor_low_k") < factor);
        assert!(value(line, "friction_factor_high_k") > factor);
        assert!(value(line, "drift_2_min_more_k") > 0.0 && value(line, "drift_2_min_less_k") < 0.0);
    }
    // T2 by hand: flour 17.8, water 15.8, room 17.
    let line = lines[2];
    let by_hand = 3.0 * value(line, "dough_c") - 17.8 - 15.8 - 17.0;
    assert!((value(line, "friction_factor_k") - by_hand).abs() < 0.03, "{line}");
    run.err_says(&["5 rows are of planetary, hands: blank cells"]);
}

#[test]
fn readings_of_one_dough_and_readings_that_are_there() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    let profile = profile.to_str().unwrap();
    kitchen.write(
        "doughs.csv",
        format!("{HEADER}a,10,21,6.5,10,,23,5,\na,,,,,,,5,4\nb,10,21,6.5,10,,23,1,\n"),
    );
    let run = kitchen.run(&["friction-factor", profile, "doughs.csv"]).ended(0);
    assert_eq!(run.err, "");
    let lines: Vec<&str> = run.out.lines().skip(1).collect();
    assert_eq!(lines.len(), 3);
    assert!(value(lines[1], "friction_factor_k") > value(lines[0], "friction_factor_k") + 3.0);
    // One minute cannot be two shorter.
    assert_eq!(cell(lines[2], "drift_2_min_less_k"), "");
    assert!(value(lines[2], "drift_2_min_more_k") > 0.0);
    assert!(cell(lines[2], "support").contains("minutes_low"), "{}", lines[2]);
    assert!(cell(lines[1], "drift_support").contains("room_c"), "{}", lines[1]);
    // A log that was read serves as well.
    let run = kitchen.run(&["friction-factor", profile, "to-fit.csv"]).ended(0);
    assert_eq!(run.out.lines().count(), 6);
}

#[test]
fn json_has_all_digits_and_a_wider_level_is_a_wider_interval() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    let rows = |level: &str| {
        let profile = profile.to_str().unwrap();
        let arguments = ["friction-factor", profile, "to-fit.csv", "--level", level, "--json"];
        kitchen.run(&arguments).ended(0).json()
    };
    let (narrow, wide) = (rows("0.5"), rows("0.99"));
    let number = |rows: &serde_json::Value, key: &str| rows[0][key].as_f64().unwrap();
    let width =
        |rows| number(rows, "friction_factor_high_k") - number(rows, "friction_factor_low_k");
    assert!(width(&wide) > 2.0 * width(&narrow));
    assert_eq!(narrow[0]["friction_factor_k"], wide[0]["friction_factor_k"]);
    assert!((number(&wide, "friction_factor_k") - 3.0 * number(&wide, "rise_k")).abs() < 1e-12);
    let keys: Vec<&str> = wide[0].as_object().unwrap().keys().map(String::as_str).collect();
    assert_eq!(keys.join(","), COLUMNS);
    assert_eq!(wide[0]["n"], 3);
}

#[test]
fn a_table_says_what_the_numbers_mean() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    kitchen.write("doughs.csv", format!("{HEADER}a,10,21,6.5,10,,23,5,\na,,,,,,,5,4\n"));
    let profile = profile.to_str().unwrap();
    let run = kitchen.run(&["friction-factor", profile, "doughs.csv", "--table"]).ended(0);
    let run = run.out_says(&[
        "room, flour, water count: n = 3",
        "a, reading 2",
        "friction factor, subtracted once",
        "rise, subtracted from the wanted dough",
        "2 min more at low",
        "2 min more at high",
        "half the charge",
        "room 8 °C colder",
        "The factor is n times the rise",
    ]);
    assert!(run.out.lines().all(|line| line.chars().count() <= 100), "{}", run.out);
    let both = ["friction-factor", profile, "doughs.csv", "--table", "--json"];
    kitchen.run(&both).ended(2).err_says(&["cannot be used with"]);
}

#[test]
fn ice_is_said_and_counts_as_colder_water() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    let profile = profile.to_str().unwrap();
    kitchen.write("doughs.csv", format!("{HEADER}a,10,21,6,20,0.5,23,5,4\n"));
    let run = kitchen.run(&["friction-factor", profile, "doughs.csv"]).ended(0);
    let run = run.err_says(&["batch a: the rule cannot know ice; the water counts at"]);
    // (6 · 20 − 0.5 · 333.55 / 4.185) / 6.5, by the handbook's constants.
    let line = run.out.lines().nth(1).unwrap();
    assert!((value(line, "water_c") - 12.33).abs() < 0.006, "{line}");
    kitchen
        .run(&["friction-factor", profile, "doughs.csv", "--table"])
        .ended(0)
        .out_says(&["equal to the water and the ice", "12.3 °C"]);
}

#[test]
fn doughs_without_flour_water_or_mixing_are_blank_and_said() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    let profile = profile.to_str().unwrap();
    kitchen.write(
        "doughs.csv",
        format!("{HEADER}a,10,21,6.5,10,,23,5,4\nb,,,6.5,10,,23,5,4\nc,10,21,,,,23,5,4\n"),
    );
    for form in [None, Some("--json"), Some("--table")] {
        let mut arguments = vec!["friction-factor", profile, "doughs.csv"];
        arguments.extend(form);
        let run = kitchen.run(&arguments).ended(2);
        let run = run.err_says(&["batch b: no dry flour", "batch c: "]);
        assert!(!run.err.contains("batch a"), "{}", run.err);
        if form.is_none() {
            let lines: Vec<&str> = run.out.lines().skip(1).collect();
            assert!(!cell(lines[0], "rise_k").is_empty());
            for line in &lines[1..] {
                assert!(cells(line)[2..].iter().all(|cell| cell.is_empty()), "{line}");
            }
        }
    }
    // A dough that only stood is no fault, but has no friction.
    kitchen.write("doughs.csv", format!("{HEADER}a,10,21,6.5,10,,23,0,\na,,,,,,,5,\n"));
    let run = kitchen.run(&["friction-factor", profile, "doughs.csv"]).ended(0);
    let run = run.err_says(&["batch a: no friction before the first minute of mixing; 1 row"]);
    let lines: Vec<&str> = run.out.lines().skip(1).collect();
    assert!(cell(lines[0], "rise_k").is_empty() && !cell(lines[1], "rise_k").is_empty());
}

#[test]
fn bad_input() {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD);
    let profile = profile.to_str().unwrap();
    let on = |log: &str| {
        kitchen.write("doughs.csv", log);
        kitchen.run(&["friction-factor", profile, "doughs.csv"]).ended(2)
    };
    let run = on("").err_says(&["an empty file", "no row of doughs.csv has a friction factor"]);
    assert_eq!(run.out, format!("{COLUMNS}\n"));
    on(&format!("{HEADER}a,10,21,6.5,cold,,23,5,4\n")).err_says(&["column water_c", "cold"]);
    on(&format!("{HEADER}a,10,21,6.5,10,90,23,5,4\n")).err_says(&["no row of doughs.csv"]);
    on("batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_turbo\na,10,21,6.5,10,23,5\n")
        .err_says(&["no speed \"turbo\"; it has low, high"]);
    on("batch,machine,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low\n\
        a,other,10,21,6.5,10,23,5\n")
    .err_says(&["1 row is of other", "no row of doughs.csv has a friction factor"]);
    let missing = ["friction-factor", "none.json", "doughs.csv"];
    kitchen.run(&missing).ended(2).err_says(&["cannot read the profile none.json"]);
    let missing = ["friction-factor", profile, "none.csv"];
    kitchen.run(&missing).ended(2).err_says(&["cannot open the log none.csv"]);
    let swapped = ["friction-factor", "doughs.csv", profile];
    let run =
        kitchen.run(&swapped).ended(2).err_says(&["is not a profile", "the profile comes first"]);
    assert_eq!(run.out, "");
    let level = ["friction-factor", profile, "doughs.csv", "--level", "95"];
    kitchen.run(&level).ended(2).err_says(&["written 0.95"]);
}
