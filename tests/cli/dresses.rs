//! Logs that are no canonical CSV, as the tool reads them.

use std::fs;

use crate::support::{Kitchen, demo};

#[test]
fn check_and_forecast_take_the_same_options() {
    let kitchen = Kitchen::new();
    let folder = "crates/kneadfit-log/tests/reader/made-by-libreoffice/kitchen.xlsx";
    let workbook = format!("{}/{folder}", env!("CARGO_MANIFEST_DIR"));
    let run = kitchen.run(&["check", &workbook, "--json"]).ended(0);
    let json = run.json();
    assert_eq!(json["rows"], 6);
    assert_eq!(json["read_as"][0]["sheet"], "source");
    kitchen.run(&["check", &workbook, "--sheet", "May"]).ended(2).out_says(&["no sheet \"May\""]);
    let stages = ["--development-stages", "short,intense=1"];
    kitchen
        .run(&[&["check", &workbook][..], &stages].concat())
        .ended(2)
        .err_says(&["give every stage a grade"]);
    kitchen.write("columns.toml", "flouer_kg = 'x'");
    kitchen
        .run(&["check", &workbook, "--columns", "columns.toml"])
        .ended(2)
        .err_says(&["columns.toml", "is it flour_kg (in kg)"]);
}

#[test]
fn a_mistake_in_many_rows_of_a_sheet_is_said_by_its_rows() {
    let kitchen = Kitchen::new();
    let workbook = format!("{}/tests/cli/forty/forty.xlsx", env!("CARGO_MANIFEST_DIR"));
    // No dough is as cold as this, with all that went in warmer.
    kitchen.write("columns.toml", "dough_f = 'dough_c'");
    let run = kitchen.run(&["check", &workbook, "--columns", "columns.toml"]).ended(2);
    run.out_says(&[
        "sheet forty, row 2, batch S01, column dough_c (W): error",
        "also:     row 6 (25.2): 25.2 °C is 77.4 °F: write 77.4",
    ]);
}

#[test]
fn a_forecast_reads_other_dresses_too() {
    let kitchen = Kitchen::new();
    kitchen.run(&["fit", &demo("kitchen-log.csv"), "--machine", "spiral", "--out", "out"]).ended(0);
    let canonical = fs::read_to_string(demo("tomorrow.csv")).unwrap();
    kitchen.write("tomorrow.csv", canonical.replace(',', ";"));
    let profile = "out/spiral.profile.json";
    let ours = kitchen.run(&["forecast", profile, &demo("tomorrow.csv")]);
    let theirs = kitchen.run(&["forecast", profile, "tomorrow.csv"]);
    assert_eq!((ours.code, &ours.out), (theirs.code, &theirs.out));
    theirs.err_says(&["tomorrow.csv: columns are parted by a semicolon"]);
    kitchen.run(&["forecast", profile, "tomorrow.csv", "--columns", "none.toml"]).ended(2);
}

#[test]
fn every_command_that_reads_a_log_reads_it_in_the_same_dress() {
    let kitchen = Kitchen::new();
    kitchen.run(&["fit", &demo("kitchen-log.csv"), "--machine", "spiral", "--out", "out"]).ended(0);
    let profile = "out/spiral.profile.json";
    let dress = |name: &str| {
        let canonical = fs::read_to_string(demo(name)).unwrap();
        kitchen.write(name, canonical.replacen("batch,", "Charge,", 1).replace(',', ";"));
    };
    kitchen.write("columns.toml", "batch = 'Charge'\n");
    for (log, before, after) in [
        ("tomorrow.csv", vec!["forecast", profile], vec![]),
        ("tomorrow.csv", vec!["friction-factor", profile], vec![]),
        ("plan.csv", vec!["plan", profile], vec!["--dough-c", "24"]),
        ("one-dough.csv", vec!["compare", profile, "--batch"], vec!["--dough-c", "24"]),
    ] {
        dress(log);
        let run =
            |log: &str, more: &[&str]| kitchen.run(&[&before[..], &[log], &after, more].concat());
        let ours = run(&demo(log), &[]);
        let theirs = run(log, &["--columns", "columns.toml"]);
        assert_eq!((ours.code, &ours.out), (theirs.code, &theirs.out), "{}", theirs.err);
        assert!(!ours.out.is_empty());
        theirs.err_says(&[&format!("{log}: columns are parted by a semicolon")]);
    }
    let one = ["plan", profile, "--dough-c", "24", "--flour", "10kg@21", "--water", "6kg"];
    kitchen
        .run(&[&one[..], &["--room", "22", "--sheet", "May"]].concat())
        .ended(2)
        .err_says(&["--sheet", "command line has none"]);
}
