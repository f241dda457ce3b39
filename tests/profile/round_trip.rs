//! What is written comes back, and comes back the same.

use kneadfit::profile::Profile;

use crate::machines::{all, named};

#[test]
fn bit_for_bit() {
    assert_eq!(all().len(), 7);
    for named in all() {
        let text = named.profile.to_json();
        let back = Profile::from_json(&text).unwrap_or_else(|e| panic!("{}: {e}", named.name));
        assert_eq!(back.to_json(), text, "{}", named.name);
    }
}

#[test]
fn self_tests_pass() {
    for named in all() {
        assert_eq!(named.profile.self_test.len(), 4, "{}", named.name);
        named.profile.run_self_test().unwrap_or_else(|e| panic!("{}: {e}", named.name));
        // And after a journey through a file.
        Profile::from_json(&named.profile.to_json()).unwrap().run_self_test().unwrap();
    }
}

/// A self-test that could not fail would prove nothing.
#[test]
fn a_changed_forecast_fails_its_self_test() {
    let sound = named("spiral");
    let mut changed = sound.clone();
    changed.self_test[1].dough_c += 2e-9;
    let message = changed.run_self_test().unwrap_err().to_string();
    assert!(message.starts_with("self-test 1: dough_c comes out as "), "{message}");
    let mut changed = sound.clone();
    changed.self_test[2].development_interval.as_mut().unwrap()[0] -= 2e-9;
    assert!(changed.run_self_test().is_err());
    // Any number that the forecast uses: each of them moved a little is noticed.
    for place in 0..sound.coefficients.len() {
        let mut changed = sound.clone();
        let c = &mut changed.coefficients[place];
        if c.standard_error.is_none() {
            continue;
        }
        c.fitted += 1e-4;
        c.value = c.scale.natural(c.fitted);
        let name = c.name.clone();
        assert!(changed.run_self_test().is_err(), "{name}");
    }
}

#[test]
fn unknown_optional_keys_are_kept() {
    for named in all() {
        let text = named.profile.to_json();
        let added = concat!(
            ",\n  \"oven\": {\n    \"deck_c\": [\n      250.1,\n      0.1\n    ],\n",
            "    \"steam\": true\n  },\n  \"colour\": \"blue\"\n}\n"
        );
        let longer = format!("{}{added}", text.strip_suffix("\n}\n").unwrap());
        let back = Profile::from_json(&longer).unwrap();
        assert_eq!(back.other.len(), 2);
        assert_eq!(back.to_json(), longer, "{}", named.name);
        back.run_self_test().unwrap();
    }
}
