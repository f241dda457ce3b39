//! Profiles that cannot be used: each refused by name, with what to do.

use serde_json::{Value, json};

use crate::support::{GOOD, Kitchen};

/// Forecasts with a profile changed by `change`; it must be refused with these words.
#[track_caller]
fn refused(change: impl Fn(&mut Value), words: &[&str]) {
    let kitchen = Kitchen::new();
    let profile = std::fs::read_to_string(kitchen.profile_of(GOOD)).unwrap();
    let mut profile: Value = serde_json::from_str(&profile).unwrap();
    change(&mut profile);
    refused_text(&kitchen, &profile.to_string(), words);
}

#[track_caller]
fn refused_text(kitchen: &Kitchen, profile: &str, words: &[&str]) {
    kitchen.write("changed.json", profile);
    kitchen.write("log.csv", GOOD);
    let run = kitchen.run(&["forecast", "changed.json", "log.csv"]).ended(2);
    let run = run.err_says(&["changed.json"]).err_says(words);
    assert_eq!(run.out, "");
}

#[test]
fn truncated() {
    let kitchen = Kitchen::new();
    let whole = std::fs::read_to_string(kitchen.profile_of(GOOD)).unwrap();
    for part in [1, whole.len() / 3, whole.len() / 2, whole.trim_end().len() - 1] {
        refused_text(&kitchen, &whole[..part], &["line ", "column "]);
    }
    refused_text(&kitchen, "", &["the file is empty"]);
}

#[test]
fn of_a_version_to_come() {
    refused(|p| p["format_version"] = json!(99), &["format version 99", "use a newer program"]);
    refused(|p| p["format_version"] = json!(0), &["format_version is 0"]);
}

#[test]
fn something_else() {
    refused(|p| p["format"] = json!("cake"), &["cake"]);
    let kitchen = Kitchen::new();
    refused_text(&kitchen, GOOD, &["not JSON", "the profile comes first"]);
    refused_text(&kitchen, "[]", &["line 1", "found a list, expected an object"]);
    for json in ["null", "1", "true", "\"profile\""] {
        refused_text(&kitchen, json, &["line 1", "expected an object with the keys of a profile"]);
    }
    kitchen
        .run(&["forecast", "none.json", "log.csv"])
        .ended(2)
        .err_says(&["cannot read the profile none.json"]);
    kitchen.write("binary.json", b"\xff\xfe\x00");
    kitchen.run(&["forecast", "binary.json", "log.csv"]).ended(2).err_says(&["not text in UTF-8"]);
}

#[test]
fn a_covariance_that_is_not_positive() {
    refused(
        |p| p["covariance"]["matrix"][0][0] = json!(-1.0),
        &["covariance.matrix", "friction_low", "the square of the coefficient's standard error"],
    );
    refused(|p| p["covariance"]["matrix"][0][1] = json!(5.0), &["covariance.matrix", "symmetric"]);
}

#[test]
fn a_requirement_that_is_not_known() {
    refused(|p| p["requires"] = json!(["two-bowls"]), &["two-bowls", "use a newer program"]);
}

#[test]
fn a_number_changed_by_hand() {
    refused(
        |p| {
            let value = p["coefficients"][0]["value"].as_f64().unwrap();
            p["coefficients"][0]["value"] = json!(value * 1.1);
        },
        &["coefficients.friction_low.value is", "while it was fitted as"],
    );
    // Without its self-test a profile could be changed unseen.
    refused(|p| p["self_test"] = json!([]), &["self_test is an empty list", "write it again"]);
    // Consistent in itself, and yet not the machine that was calibrated.
    refused(
        |p| {
            let latent = &mut p["model"]["reference"]["constants"]["ice_latent_kj_per_kg"];
            *latent = json!(latent.as_f64().unwrap() * 1.5);
        },
        &["self-test"],
    );
}

/// The least beyond the most of a range once ended a plan in a panic.
#[test]
fn a_range_turned_round() {
    let kitchen = Kitchen::new();
    let profile = std::fs::read_to_string(kitchen.profile_of(GOOD)).unwrap();
    let mut profile: Value = serde_json::from_str(&profile).unwrap();
    let ranges = profile["domain"]["ranges"].as_array_mut().unwrap();
    let low = ranges.iter_mut().find(|r| r["input"] == "minutes_low").unwrap();
    (low["least"], low["most"]) = (json!(50.0), json!(5.5));
    kitchen.write("changed.json", profile.to_string());
    let dough = ["--flour", "10kg@21", "--water", "6.5kg", "--room", "24", "--dough-c", "24"];
    kitchen
        .run(&[&["plan", "changed.json"], &dough[..]].concat())
        .ended(2)
        .err_says(&["domain.ranges.minutes_low is 50 to 5.5", "write it again with `fit`"]);
}
