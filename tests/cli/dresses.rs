//! Logs that are no canonical CSV, as the tool reads them.

use std::fs;

use crate::support::{Kitchen, demo};

/// A demo log with semicolons, decimal commas, °F and lb, some headers in other words and
/// grades as stages.
fn dressed() -> String {
    let mut log = csv::Reader::from_path(demo("kitchen-log.csv")).unwrap();
    let header = log.headers().unwrap().clone();
    let mut theirs = csv::WriterBuilder::new().delimiter(b';').from_writer(b"Our log\n".to_vec());
    let names = header.iter().map(|name| match name {
        "batch" => "Charge".to_owned(),
        "room_c" => "Backstube".to_owned(),
        name if name.ends_with("_c") => format!("{}_f", &name[..name.len() - 2]),
        name if name.ends_with("_kg") => format!("{}_lb", &name[..name.len() - 3]),
        name => name.to_owned(),
    });
    theirs.write_record(names).unwrap();
    for row in log.records() {
        let row = row.unwrap();
        let cells = row.iter().zip(&header).map(|(cell, name)| {
            let Ok(value) = cell.parse::<f64>() else { return cell.to_owned() };
            let value = match name {
                name if name.ends_with("_c") => value * 1.8 + 32.0,
                name if name.ends_with("_kg") => value / 0.453_592_37,
                _ => return cell.replace('.', ","),
            };
            value.to_string().replace('.', ",")
        });
        theirs.write_record(cells).unwrap();
    }
    String::from_utf8(theirs.into_inner().unwrap()).unwrap()
}

const COLUMNS: &str = "batch = \"Charge\"\nroom_c = { column = \"Backstube\", unit = \"f\" }\n";

#[test]
fn fahrenheit_and_pounds_give_the_coefficients_of_celsius_and_kilograms() {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", dressed());
    kitchen.write("columns.toml", COLUMNS);
    let fit = |log: &str, out: &str, more: &[&str]| {
        let arguments =
            ["fit", log, "--machine", "spiral", "--out", out, "--usual-charge-kg", "16"];
        kitchen.run(&[&arguments, more].concat()).ended(0)
    };
    fit(&demo("kitchen-log.csv"), "ours", &[]);
    let run = fit("log.csv", "theirs", &["--columns", "columns.toml"]);
    run.err_says(&["log.csv: columns are parted by a semicolon; line 1 above the header"]);
    let profile = |folder: &str| -> serde_json::Value {
        serde_json::from_str(&kitchen.read(&format!("{folder}/spiral.profile.json"))).unwrap()
    };
    let (ours, theirs) = (profile("ours"), profile("theirs"));
    let mut compared = 0;
    compare(&ours["coefficients"], &theirs["coefficients"], &mut compared);
    assert!(compared > 10, "only {compared} numbers were compared");
}

/// Every number of two parts of a profile, to a part in 10⁹.
fn compare(one: &serde_json::Value, other: &serde_json::Value, compared: &mut usize) {
    use serde_json::Value;
    match (one, other) {
        (Value::Object(one), Value::Object(two)) => {
            assert!(one.keys().eq(two.keys()));
            one.keys().for_each(|key| compare(&one[key], &two[key], compared));
        }
        (Value::Array(one), Value::Array(two)) => {
            assert_eq!(one.len(), two.len());
            one.iter().zip(two).for_each(|(one, two)| compare(one, two, compared));
        }
        (Value::Number(one), Value::Number(two)) => {
            let (one, two) = (one.as_f64().unwrap(), two.as_f64().unwrap());
            assert!((one - two).abs() <= 1e-9 * one.abs().max(1.0), "{one} {two}");
            *compared += 1;
        }
        _ => assert_eq!(one, other),
    }
}

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
        .err_says(&["columns.toml", "is it flour_kg?"]);
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
