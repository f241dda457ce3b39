//! The JSON Schema that is shipped, and every profile against it.

use std::path::PathBuf;

use serde_json::Value;

use crate::machines::all;

pub fn path() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("crates/kneadfit/profile.schema.json")
}

fn validator() -> jsonschema::Validator {
    let schema: Value = serde_json::from_str(&std::fs::read_to_string(path()).unwrap()).unwrap();
    jsonschema::validator_for(&schema).unwrap()
}

#[test]
fn the_shipped_schema_is_the_generated_one() {
    assert!(
        std::fs::read_to_string(path()).unwrap() == kneadfit::profile::json_schema(),
        "crates/kneadfit/profile.schema.json is not what the types say; look at the \
         difference, raise the format's version if old files break, then write it again: \
         cargo test --test profile -- --ignored write_schema_and_files"
    );
}

#[test]
fn every_profile_is_valid() {
    let validator = validator();
    for named in all() {
        let value: Value = serde_json::from_str(&named.profile.to_json()).unwrap();
        let errors: Vec<String> = validator
            .iter_errors(&value)
            .map(|e| format!("{} at {}", e, e.instance_path()))
            .collect();
        assert!(errors.is_empty(), "{}: {errors:#?}", named.name);
    }
}

/// The schema says no where there is something to say no to.
#[test]
fn the_schema_refuses_other_shapes() {
    let validator = validator();
    let sound: Value = serde_json::from_str(&all()[0].profile.to_json()).unwrap();
    assert!(validator.is_valid(&sound));
    for (pointer, wrong) in [
        ("/format_version", Value::from("one")),
        ("/machine/speeds", Value::from("low")),
        ("/model/reference/usual_charge_kg", Value::from("12 kg")),
        ("/coefficients/0/scale", Value::from("square root")),
        ("/coefficients/0/status", Value::from("guessed")),
        ("/covariance/matrix", Value::from(3)),
        ("/scatter/dough/kind", Value::from("cauchy")),
        ("/self_test/0/batch/charge", Value::Null),
    ] {
        let mut changed = sound.clone();
        *changed.pointer_mut(pointer).unwrap_or_else(|| panic!("{pointer}")) = wrong;
        assert!(!validator.is_valid(&changed), "{pointer}");
    }
    for key in ["machine", "model", "coefficients", "covariance", "scatter", "self_test"] {
        let mut changed = sound.clone();
        changed.as_object_mut().unwrap().remove(key).unwrap();
        assert!(!validator.is_valid(&changed), "{key}");
    }
}
