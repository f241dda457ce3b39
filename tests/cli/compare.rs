//! `kneadfit compare`: one dough on every machine.

use crate::support::{Kitchen, demo};

#[test]
fn a_dough_is_compared_on_all_machines_of_the_demo() {
    let kitchen = Kitchen::new();
    kitchen.run(&["fit", &demo("kitchen-log.csv"), "--out", "out"]).ended(0);
    let profiles = ["spiral", "planetary", "hands"].map(|m| format!("out/{m}.profile.json"));
    let dough = demo("one-dough.csv");
    let mut said: Vec<&str> = vec!["compare"];
    said.extend(profiles.iter().map(String::as_str));
    said.extend(["--batch", &dough, "--dough-c", "24", "--cap-c", "27"]);
    let table = [&said[..], &["--out", "out"]].concat();
    kitchen.run(&table).ended(0).out_says(&["spiral", "planetary", "hands", "water for 24.0 °C"]);
    let picture = kitchen.read("out/pizza.comparison.svg");
    roxmltree::Document::parse(&picture).expect("the picture is well-formed");
    assert!(picture.contains("cap 27.0") && picture.contains("wanted 24.0"));
    let json = [&said[..], &["--json"]].concat();
    let doughs = kitchen.run(&json).ended(0).json();
    let machines = doughs[0]["machines"].as_array().unwrap();
    assert_eq!(machines.len(), 3);
    for machine in machines {
        assert!(machine["dose"].as_f64().unwrap() > 0.99, "{machine}");
        let warmth = machine["warmth_added_k"].as_f64().unwrap();
        let path = machine["path"].as_array().unwrap();
        let rise = path[path.len() - 1]["dough_c"].as_f64().unwrap()
            - path[0]["dough_c"].as_f64().unwrap();
        assert!((rise - warmth).abs() < 1e-6, "{rise} {warmth}");
        let passes = path.iter().any(|w| w["dough_c"].as_f64().unwrap() > 27.0);
        assert_eq!(machine["cap_first"].as_bool().unwrap(), passes);
    }
}

#[test]
fn what_cannot_be_compared_is_said() {
    let kitchen = Kitchen::new();
    kitchen.run(&["fit", &demo("kitchen-log.csv"), "--machine", "spiral", "--out", "out"]).ended(0);
    let spiral = "out/spiral.profile.json";
    let dough = demo("one-dough.csv");
    let twice = ["compare", spiral, spiral, "--batch", &dough];
    kitchen.run(&twice).ended(2).err_says(&["two of the profiles are of spiral"]);
    kitchen.write(
        "read.csv",
        "batch,flour_kg,flour_c,water_kg,water_c,room_c,dough_c\na,1,20,0.6,12,24,23\n",
    );
    let read = ["compare", spiral, "--batch", "read.csv"];
    kitchen.run(&read).ended(2).err_says(&["mixed already"]);
    kitchen.run(&["compare", spiral, "--batch", "none.csv"]).ended(2).err_says(&["none.csv"]);
    kitchen.write("dry.csv", "batch,flour_kg,flour_c,water_kg,water_c,room_c\na,0,,0.6,12,24\n");
    let dry = ["compare", spiral, "--batch", "dry.csv"];
    kitchen.run(&dry).ended(2).err_says(&["without flour nothing develops"]);
}
