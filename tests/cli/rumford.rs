//! Rumford's cannon through the tool as it is run: the CSVs of `tests/reference/rumford`,
//! whose sources and figures `tests/reference/rumford.rs` names (Phil. Trans. R. Soc. 88,
//! 1798; Bates & Watts, data set A1.5).

use serde_json::Value;

use crate::support::{Kitchen, Run};

fn experiment(name: &str) -> String {
    format!("{}/tests/reference/rumford/{name}.csv", env!("CARGO_MANIFEST_DIR"))
}

/// Plain least squares with no vessel beside the cylinder, as in the published fit.
fn plain(kitchen: &Kitchen, name: &str) -> Run {
    let log = experiment(name);
    kitchen.run(&["fit", &log, "--out", name, "--no-prior", "--bowl-kj-per-k", "0"]).ended(0)
}

fn profile(kitchen: &Kitchen, name: &str) -> Value {
    serde_json::from_str(&kitchen.read(&format!("{name}/cannon.profile.json"))).unwrap()
}

/// A coefficient's value and its error on the logarithm, which is the relative one.
fn coefficient(profile: &Value, name: &str) -> (f64, f64) {
    let all = profile["coefficients"].as_array().unwrap();
    let found = all.iter().find(|c| c["name"] == name).unwrap();
    (found["value"].as_f64().unwrap(), found["standard_error"].as_f64().unwrap())
}

/// W in the profile to kJ a minute.
const KJ_PER_MIN_PER_W: f64 = 0.06;

/// Mass in kg, and capacity in kJ/K: 113.13 lb at 0.11 Btu/(lb·°F).
fn cylinder() -> (f64, f64) {
    let kg = 113.13 * 0.453_592_37;
    (kg, kg * 0.11 * 4.1868)
}

#[test]
fn published_cooling_and_friction_come_out_of_the_tool() {
    let kitchen = Kitchen::new();
    let run = plain(&kitchen, "experiment-1");
    let profile = profile(&kitchen, "experiment-1");
    let (kg, kj_per_k) = cylinder();
    let (exchange, error) = coefficient(&profile, "exchange");
    let k = KJ_PER_MIN_PER_W * exchange * kg.powf(2.0 / 3.0) / kj_per_k;
    assert!((k - 0.009_415_50).abs() < 5e-9, "{k}");
    assert!((k * error - 0.000_420_09).abs() < 5e-9, "{}", k * error);
    // 2.678 °F a minute.
    let (friction, _) = coefficient(&profile, "friction_turning");
    let source_k = KJ_PER_MIN_PER_W * friction * kg / kj_per_k;
    assert!((source_k - 2.678 / 1.8).abs() < 5e-4, "{source_k}");
    // The fixed-room model misfits, and that is said in the table, the profile and the report.
    run.out_says(&["Mind: the residuals have a trend"]);
    assert!(profile["quality"]["warnings"][0].as_str().unwrap().contains("trend"));
    let report = kitchen.read("experiment-1/cannon.report.html");
    assert!(report.contains("The residuals have a trend"), "the report warns");
}

/// Each batch alone tells one of the two coefficients: without it, a straight line drawn far
/// out of the log once forecast the dough half a million degrees off.
#[test]
fn batches_that_the_others_cannot_forecast_are_said_to_be_so() {
    let kitchen = Kitchen::new();
    let run = plain(&kitchen, "experiment-1");
    let words = run.out.split_whitespace().collect::<Vec<_>>().join(" ");
    let expected = "not known, as no batch can be forecast from the others";
    assert!(words.contains(expected), "{}", run.out);
    assert_eq!(profile(&kitchen, "experiment-1")["quality"]["left_out_k"], Value::Null);
    let report = kitchen.read("experiment-1/cannon.report.html");
    assert!(report.contains("No batch of this log can be forecast from the others"));
}

/// As NumPy fits it: see `tests/reference/rumford.rs`.
#[test]
fn as_one_batch_the_start_of_the_cooling_is_free() {
    let kitchen = Kitchen::new();
    plain(&kitchen, "experiment-1-one-batch").out_says(&["Mind: the residuals have a trend"]);
    let (kg, kj_per_k) = cylinder();
    let (exchange, _) = coefficient(&profile(&kitchen, "experiment-1-one-batch"), "exchange");
    let k = KJ_PER_MIN_PER_W * exchange * kg.powf(2.0 / 3.0) / kj_per_k;
    assert!((k / 7.918_234_742_944_282e-3 - 1.0).abs() < 1e-9, "{k}");
}

/// Experiment 3, water round the same cylinder, forecast from experiment 1 by the tool: from
/// 90 minutes on colder than what was read, as the bare metal loses more than the wooden box.
#[test]
fn water_is_forecast_from_the_bare_metal() {
    let kitchen = Kitchen::new();
    plain(&kitchen, "experiment-1");
    // Readings on the way would move what follows: they are taken out, and held against.
    let log = std::fs::read_to_string(experiment("experiment-3")).unwrap();
    let mut read_f = Vec::new();
    let unread: Vec<String> = log
        .lines()
        .map(|line| {
            let mut cells: Vec<&str> = line.split(',').collect();
            if let Ok(dough_c) = cells[8].parse::<f64>() {
                read_f.push(32.0 + 1.8 * dough_c);
                cells[8] = "";
            }
            cells.join(",")
        })
        .collect();
    kitchen.write("water.csv", unread.join("\n"));
    let arguments = ["forecast", "experiment-1/cannon.profile.json", "water.csv", "--json"];
    let rows = kitchen.run(&arguments).ended(0).json();
    assert_eq!(read_f.len(), 4);
    for (row, expected_f) in [116.0, 139.0, 160.0, 173.0].into_iter().enumerate() {
        let forecast_f = 32.0 + 1.8 * rows[row]["dough_c"].as_f64().unwrap();
        assert!((forecast_f - expected_f).abs() < 1.0, "{row}: {forecast_f}");
        assert!(row == 0 || forecast_f < read_f[row], "{row}: {forecast_f} {read_f:?}");
    }
    assert!(rows[0]["support"].as_str().unwrap().contains("minutes_turning"));
}

/// With priors of mixers the cannon is none: every reading is disbelieved, and no profile of
/// another machine is written.
#[test]
fn a_log_that_is_disbelieved_as_a_whole_is_no_fit() {
    let kitchen = Kitchen::new();
    let log = experiment("experiment-1-one-batch");
    let run = kitchen.run(&["fit", &log, "--out", "out"]).ended(1);
    run.err_says(&["14 of 14 dough temperatures", "disbelieved", "--no-prior"]);
    assert_eq!(kitchen.names("out"), [] as [&str; 0]);
    let run = kitchen.run(&["fit", &log, "--out", "out", "--json"]).ended(1).json();
    assert_eq!(run["machines"][0]["fitted"], false);
    assert!(run["machines"][0]["why_not"].as_str().unwrap().contains("14 of 14"));
}
