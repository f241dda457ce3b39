//! Every bad profile is refused, with a message that says where and what to do.

use kneadfit::profile::{Profile, ProfileError};
use serde_json::{Value, json};

use crate::machines::{all, named};

/// What reading the profile says once `change` was made to it.
fn refused(name: &str, change: impl FnOnce(&mut Value)) -> String {
    let mut value: Value = serde_json::from_str(&named(name).to_json()).unwrap();
    change(&mut value);
    match Profile::from_json(&value.to_string()) {
        Err(error) => error.to_string(),
        Ok(_) => panic!("taken as good"),
    }
}

fn set(value: &mut Value, pointer: &str, to: impl Into<Value>) {
    *value.pointer_mut(pointer).unwrap_or_else(|| panic!("{pointer}")) = to.into();
}

/// The message after one value is set; it names `key` and says what to do.
#[track_caller]
fn refused_for(name: &str, pointer: &str, to: impl Into<Value>, key: &str) {
    let message = refused(name, |v| set(v, pointer, to));
    assert!(message.contains(key), "{pointer}: {message}");
    assert!(message.contains("expected") && message.contains("`fit`"), "{pointer}: {message}");
}

#[test]
fn truncated_anywhere() {
    for named in all() {
        let text = named.profile.to_json();
        let mut cuts = 0;
        for end in (0..text.trim_end().len()).step_by(97) {
            let Some(cut) = text.get(..end) else { continue };
            let error = Profile::from_json(cut).unwrap_err();
            assert!(matches!(error, ProfileError::Json { line: 0.., .. }), "{end}: {error:?}");
            let message = error.to_string();
            assert!(message.contains("line ") && message.contains("`fit`"), "{end}: {message}");
            cuts += 1;
        }
        assert!(cuts > 50, "{}: {cuts}", named.name);
    }
}

#[test]
fn of_another_version_or_format() {
    let message = refused("spiral", |v| set(v, "/format_version", 2));
    assert!(message.contains('2') && message.contains("newer"), "{message}");
    let message = refused("spiral", |v| set(v, "/format_version", 0));
    assert!(message.contains("format_version"), "{message}");
    let message = refused("spiral", |v| set(v, "/format", "another-profile"));
    assert!(message.contains("another-profile"), "{message}");
    let message = refused("spiral", |v| v["requires"] = json!(["leap seconds"]));
    assert!(message.contains("leap seconds") && message.contains("newer"), "{message}");
    for (pointer, to) in [("/format_version", json!(-1)), ("/format_version", json!(1.5))] {
        assert!(refused("spiral", |v| set(v, pointer, to)).contains("line 1"));
    }
    refused_for("spiral", "/model/heat", "kneadfit-heat-2", "model.heat");
    refused_for("spiral", "/model/development", "kneadfit-dose-2", "model.development");
}

/// A list of tests that is empty proves nothing.
#[test]
fn without_a_self_test() {
    let message = refused("spiral", |v| v["self_test"] = json!([]));
    assert!(message.contains("self_test is an empty list"), "{message}");
}

/// Some other JSON, or none.
#[test]
fn of_something_else() {
    for text in ["", "{}", "[]", "null", "1", "\"profile\"", "{\"format\": 1}", "batch,room_c\n"] {
        let message = Profile::from_json(text).unwrap_err().to_string();
        assert!(message.contains("line ") && message.contains("`fit`"), "{text}: {message}");
    }
}

#[test]
fn a_covariance_that_is_none() {
    let key = "covariance.matrix";
    refused_for("spiral", "/covariance/matrix/0/0", -1.0, key);
    refused_for("spiral", "/covariance/matrix/3/3", 0.0, key);
    refused_for("spiral", "/covariance/matrix/1/0", 0.125, key);
    refused_for("spiral", "/covariance/matrix/2", json!([1.0, 2.0]), key);
    let message = refused("spiral", |v| {
        v["covariance"]["matrix"].as_array_mut().unwrap().pop();
    });
    assert!(message.contains(key), "{message}");
    let message = refused("spiral", |v| set(v, "/covariance/matrix/0/0", 1e308));
    assert!(message.contains(key), "{message}");
    // Correlated beyond 1: symmetric, but no covariance.
    let message = refused("spiral", |v| {
        let matrix = &mut v["covariance"]["matrix"];
        let product = matrix[0][0].as_f64().unwrap() * matrix[1][1].as_f64().unwrap();
        let beyond = json!(1.001 * product.sqrt());
        matrix[0][1] = beyond.clone();
        matrix[1][0] = beyond;
    });
    assert!(message.contains("not positive definite"), "{message}");
    refused_for("spiral", "/covariance/coefficients/0", "friction_highest", "friction_highest");
    refused_for("spiral", "/covariance/coefficients/0", "friction_high", "friction_high");
    refused_for("spiral", "/covariance/scales/0", "linear", "covariance.scales");
    let message = refused("spiral", |v| {
        v["covariance"]["scales"].as_array_mut().unwrap().pop();
    });
    assert!(message.contains("covariance.scales"), "{message}");
}

#[test]
fn numbers_that_cannot_be() {
    let sound = named("spiral").to_json();
    let value = sound.lines().find(|l| l.contains("\"value\": ")).unwrap();
    for wrong in ["NaN", "Infinity", "-inf", "1e999", "0x10", "\"12\"", "null", "1,5"] {
        let text = sound.replacen(value, &format!("      \"value\": {wrong},"), 1);
        assert_ne!(text, sound);
        let message = Profile::from_json(&text).unwrap_err().to_string();
        assert!(message.contains("line ") && message.contains("`fit`"), "{wrong}: {message}");
    }
    for huge in [1e308, -1e308, 0.0] {
        refused_for("spiral", "/coefficients/0/value", huge, "coefficients.friction_low.value");
        refused_for("spiral", "/coefficients/0/fitted", huge, "coefficients.friction_low.fitted");
    }
    // A coefficient that is held has nothing beside its value to be held against.
    refused_for("cannon-no-prior", "/coefficients/2/value", -1.0, "coefficients.bowl");
    for pointer in [
        "/model/reference/usual_charge_kg",
        "/model/reference/constants/water_kj_per_kg_k",
        "/model/reference/constants/flour_kj_per_kg_k",
    ] {
        let key = pointer.rsplit('/').next().unwrap();
        refused_for("spiral", pointer, 0.0, key);
        refused_for("spiral", pointer, -4.0, key);
    }
    // The equations of this version state development at 24 °C.
    refused_for("spiral", "/model/development_reference_c", 20.0, "development_reference_c");
}

#[test]
fn coefficients_that_are_missing_or_out_of_order() {
    let message = refused("spiral", |v| {
        v["coefficients"].as_array_mut().unwrap().remove(2);
    });
    assert!(message.contains("coefficients"), "{message}");
    let message = refused("spiral", |v| v["coefficients"].as_array_mut().unwrap().swap(2, 3));
    assert!(message.contains("bowl") && message.contains("exchange"), "{message}");
    let message = refused("spiral", |v| {
        set(v, "/coefficients/2/name", "exchanges");
        set(v, "/covariance/coefficients/2", "exchanges");
    });
    assert!(message.contains("exchanges"), "{message}");
    let message = refused("spiral", |v| {
        v["machine"]["speeds"].as_array_mut().unwrap().push(json!("third"));
    });
    assert!(message.contains("coefficients"), "{message}");
    for key in ["machine", "model", "covariance", "scatter", "domain", "self_test"] {
        let message = refused("spiral", |v| {
            v.as_object_mut().unwrap().remove(key);
        });
        assert!(message.contains(key) && message.contains("`fit`"), "{key}: {message}");
    }
}

#[test]
fn scatter_that_cannot_be() {
    refused_for("spiral", "/scatter/dough/nodes/0/weight", 0.9, "scatter.dough.nodes");
    refused_for("spiral", "/scatter/dough/nodes/0/sd", -0.1, "scatter.dough.nodes");
    refused_for("spiral", "/scatter/dough/nodes", json!([]), "scatter.dough.nodes");
    let key = "scatter.development.nodes";
    refused_for("spiral", "/scatter/development/nodes/1/weight", -0.5, key);
    refused_for("spiral", "/scatter/development", Value::Null, "scatter.development");
    refused_for("spiral-no-prior", "/scatter/dough/sd", -1.0, "scatter.dough.sd");
    refused_for("spiral-no-prior", "/scatter/dough/dof", 0, "scatter.dough.dof");
    for of in ["dough_k", "room_k", "minutes_min", "scale_relative", "development"] {
        let pointer = format!("/scatter/uncertainties/{of}");
        refused_for("spiral", &pointer, -0.1, &format!("scatter.uncertainties.{of}"));
    }
}

/// Where an input is in the list of ranges.
fn range(input: &str) -> String {
    let ranges = &named("spiral").domain.ranges;
    let place = ranges.iter().position(|r| r.input == input).unwrap();
    format!("/domain/ranges/{place}")
}

#[test]
fn ranges_that_cannot_be() {
    let low = range("minutes_low");
    refused_for("spiral", &format!("{low}/least"), 50.0, "domain.ranges.minutes_low is 50 to ");
    refused_for("spiral", &format!("{low}/least"), -1.0, "domain.ranges.minutes_low");
    refused_for("spiral", &format!("{low}/input"), "minutes_turbo", "domain.ranges.minutes_turbo");
    refused_for("spiral", &format!("{low}/input"), "room_c", "domain.ranges.room_c is there twice");
    refused_for("spiral", &format!("{}/most", range("room_c")), -300.0, "domain.ranges.room_c");
    refused_for(
        "spiral",
        &format!("{}/least", range("ice_share")),
        -0.1,
        "domain.ranges.ice_share",
    );
}

#[test]
fn what_is_written_twice_and_differs() {
    let key = "machine.usual_charge_kg";
    refused_for("spiral", "/machine/usual_charge_kg", 20.0, key);
    refused_for("spiral", "/model/reference/usual_charge_kg", 20.0, key);
    let key = "machine.bowl_given_kj_per_k";
    refused_for("cannon-no-prior", "/machine/bowl_given_kj_per_k", 4.0, key);
    refused_for("spiral", "/model/unknown_flour_spread", -1.0, "model.unknown_flour_spread");
}

/// Readings in bakers' terms and intervals are what people and other programs take from the
/// file: they must be those of the coefficients.
#[test]
fn readings_that_contradict_their_coefficient() {
    let mut changed = 0;
    for (i, c) in named("spiral").coefficients.iter().enumerate() {
        for (j, reading) in c.readings.iter().enumerate() {
            let pointer = format!("/coefficients/{i}/readings/{j}");
            let key = format!("coefficients.{}.readings.{j}.value", c.name);
            let off = 1.01 * reading.value + 1e-6;
            refused_for("spiral", &format!("{pointer}/value"), off, &key);
            let [low, high] = reading.interval_95.unwrap();
            let key = format!("coefficients.{}.readings.{j}.interval_95", c.name);
            refused_for("spiral", &format!("{pointer}/interval_95"), json!([high, low]), &key);
            changed += 1;
        }
    }
    assert!(changed > 10, "{changed}");
    let key = "coefficients.friction_low.interval_95";
    refused_for("spiral", "/coefficients/0/interval_95", json!([1e3, 2e3]), key);
    refused_for("spiral", "/coefficients/0/log_share", 1.5, "coefficients.friction_low.log_share");
    refused_for(
        "spiral",
        "/coefficients/0/readings",
        json!([]),
        "coefficients.friction_low.readings",
    );
}
