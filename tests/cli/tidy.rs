//! `kneadfit tidy`: the usable rows of a log written anew, the problems beside them.

use crate::support::{GOOD, Kitchen, demo};

#[test]
fn usable_rows_and_problems_are_written_side_by_side() {
    let kitchen = Kitchen::new();
    let log = demo("kitchen-log-bad-rows.csv");
    std::fs::create_dir(kitchen.path("out")).unwrap();
    let run = kitchen.run(&["tidy", &log, "--out", "out/clean.csv"]).ended(2);
    assert_eq!(run.out, "");
    run.err_says(&["16 rows: 6 usable, 10 set aside.", "wrote out/clean.csv"]);
    assert_eq!(kitchen.names("out"), ["clean.csv", "clean.problems.csv"]);
    let clean = kitchen.read("out/clean.csv");
    assert_eq!(clean.lines().count(), 7);
    assert!(clean.contains("rest before kneading on"), "{clean}");
    let problems = kitchen.read("out/clean.problems.csv");
    let checked = kitchen.run(&["check", &log, "--json"]).ended(2).json();
    let named = checked["problems"].as_array().unwrap();
    let mut rows = csv::Reader::from_reader(problems.as_bytes());
    let rows: Vec<_> = rows.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), named.len());
    for (row, problem) in rows.iter().zip(named) {
        assert_eq!(row[0], problem["severity"]);
        assert_eq!(row[3], problem["line"].as_u64().map_or(String::new(), |line| line.to_string()));
        assert_eq!(row[8], problem["expected"]);
    }
    assert!(problems.contains(",'-10.560,"), "{problems}");
    // The clean log has no problem, and tidied again it is the same.
    kitchen.run(&["check", "out/clean.csv"]).ended(0).out_says(&["0 errors, 0 doubts"]);
    kitchen.run(&["tidy", "out/clean.csv", "--out", "again.csv"]).ended(0);
    assert_eq!(kitchen.read("again.csv"), clean);
    assert_eq!(kitchen.read("again.problems.csv").lines().count(), 1);
}

#[test]
fn what_was_left_out_of_sight_comes_as_json() {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", GOOD.replace(',', ";"));
    let run = kitchen.run(&["tidy", "log.csv", "--out", "clean.csv", "--json"]).ended(0);
    let json = run.json();
    assert_eq!(json["rows_usable"], json["rows"]);
    assert_eq!(json["read_as"][0]["notes"][0], "columns are parted by a semicolon");
    assert_eq!(json["files"][0], "clean.csv");
    assert_eq!(json["files"][1], "clean.problems.csv");
    let again = kitchen.run(&["tidy", "clean.csv", "--out", "clean2.csv", "--json"]).ended(0);
    assert_eq!(again.json()["problems"].as_array().map(Vec::len), Some(0));
}

#[test]
fn texts_like_formulas_are_harmless_in_every_file_and_keep_their_names() {
    let kitchen = Kitchen::new();
    let log = GOOD.replacen("batch,", "machine,batch,", 1).replace("\n", "\n=spiral,");
    let log = log.trim_end_matches("=spiral,").replace(",1,10,", ",@1,10,");
    kitchen.write("log.csv", &log);
    kitchen.run(&["tidy", "log.csv", "--out", "clean.csv"]).ended(0);
    assert!(kitchen.read("clean.csv").contains("\n'@1,'=spiral,"), "{}", kitchen.read("clean.csv"));
    kitchen.run(&["fit", "clean.csv", "--out", "out"]).ended(0);
    let profile = format!("out/{}", kitchen.names("out")[0]);
    assert!(kitchen.read(&profile).contains("\"=spiral\""));
    for command in ["forecast", "friction-factor"] {
        let run = kitchen.run(&[command, &profile, "log.csv"]).ended(0);
        assert!(run.out.contains("\n'@1,'=spiral,"), "{command}: {}", run.out);
    }
}

#[test]
fn nothing_is_written_over_the_log_or_of_nothing() {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", GOOD);
    kitchen
        .run(&["tidy", "log.csv", "--out", "./log.csv"])
        .ended(2)
        .err_says(&["is the log itself", "--out"]);
    assert_eq!(kitchen.read("log.csv"), GOOD);
    // A folder that is not there is not made for a file, and leads nowhere.
    for out in ["nosuch/clean.csv", "nosuch/../log.csv"] {
        kitchen.run(&["tidy", "log.csv", "--out", out]).ended(2).err_says(&["no folder nosuch"]);
        assert_eq!(kitchen.names("."), ["log.csv"]);
    }
    kitchen.write("a.problems.csv", GOOD);
    kitchen
        .run(&["tidy", "a.problems.csv", "--out", "a.csv"])
        .ended(2)
        .err_says(&["the log itself"]);
    kitchen.run(&["tidy", "log.csv", "--out", "log.xlsx"]).ended(2).err_says(&["CSV, not .xlsx"]);
    kitchen.write("empty.csv", "batch,room_c\n");
    let run = kitchen.run(&["tidy", "empty.csv", "--out", "out/clean.csv"]).ended(2);
    run.err_says(&["nothing usable is in the log; nothing was written"]);
    assert!(!kitchen.path("out").exists());
    // Neither file where one of them cannot be.
    std::fs::create_dir(kitchen.path("clean.problems.csv")).unwrap();
    kitchen.run(&["tidy", "log.csv", "--out", "clean.csv"]).ended(2).err_says(&["in the way"]);
    assert!(!kitchen.path("clean.csv").exists());
}
