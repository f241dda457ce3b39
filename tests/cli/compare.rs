//! `kneadfit compare`: one dough on every machine.

use serde_json::Value;

use crate::support::{Kitchen, demo};

const PROFILES: [&str; 3] =
    ["out/spiral.profile.json", "out/planetary.profile.json", "out/hands.profile.json"];

/// A kitchen whose three machines are calibrated.
fn calibrated() -> Kitchen {
    let kitchen = Kitchen::new();
    kitchen.run(&["fit", &demo("kitchen-log.csv"), "--out", "out"]).ended(0);
    kitchen
}

/// `compare` on all three machines.
fn on_all<'a>(batch: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    [&["compare"], &PROFILES[..], &["--batch", batch], more].concat()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn range(value: &Value) -> (f64, f64) {
    (number(&value[0]), number(&value[1]))
}

#[test]
fn a_dough_is_compared_on_all_machines_of_the_demo() {
    let kitchen = calibrated();
    let dough = demo("one-dough.csv");
    let wishes = ["--dough-c", "24", "--cap-c", "27"];
    let said = kitchen.run(&on_all(&dough, &wishes)).ended(0).out_says(&[
        "pizza, 1.675 kg",
        "spiral",
        "planetary",
        "hands",
        "development then",
        "water for 24.0 °C",
        "stays below 27.0 °C",
        "the cap is kept",
        "the cap is not kept",
        "is 0.9 or more",
        "a dough of 1.67 kg, logged only from 10.25 kg on",
    ]);
    assert!(
        said.out.lines().all(|l| l == l.trim_end()),
        "blanks at the end of a line:\n{}",
        said.out
    );
    assert!(!said.out.contains("stays behind"), "{}", said.out);
    let doughs = kitchen.run(&on_all(&dough, &[&wishes[..], &["--json"]].concat())).ended(0).json();
    let machines = doughs[0]["machines"].as_array().unwrap();
    assert_eq!(machines.len(), 3);
    for machine in machines {
        assert!(number(&machine["dose"]) > 0.99, "{machine}");
        assert_eq!(number(&machine["behind"]), 0.0);
        let path = machine["path"].as_array().unwrap();
        let (first, last) = (&path[0], &path[path.len() - 1]);
        let rise = number(&last["dough_c"]) - number(&first["dough_c"]);
        assert!((rise - number(&machine["warmth_added_k"])).abs() < 1e-9, "{rise} {machine}");
        // The picture's band ends as the table's interval does.
        for key in ["dough_c", "dough_interval_c", "development", "development_interval"] {
            assert_eq!(last[key], machine[key], "{key}");
        }
        let cap = &machine["cap"];
        let worst = number(&cap["chance_below"]);
        assert_eq!(cap["is_kept"].as_bool().unwrap(), worst >= 0.9, "{cap}");
        // The interval of 95 % leaves 2.5 % above it.
        let (_, high) = range(&machine["dough_interval_c"]);
        assert_eq!(worst >= 0.975, high <= 27.0, "{machine}");
        assert!(machine["support"].as_str().unwrap().contains("dough_kg"), "{machine}");
        assert_eq!(machine["outside"][0]["input"], "dough_kg");
    }
    // Between the two the mean stays below the cap, and the chance is too small.
    for (chance, kept) in [("0.9", false), ("0.8", true)] {
        let wishes = ["--cap-c", "26.5", "--chance", chance, "--json"];
        let doughs = kitchen.run(&on_all(&dough, &wishes)).ended(0).json();
        let spiral = &doughs[0]["machines"][0];
        assert!(number(&spiral["dough_c"]) < 26.5, "{spiral}");
        assert_eq!(spiral["cap"]["is_kept"].as_bool().unwrap(), kept, "{spiral}");
    }
}

/// The heat by hand from the numbers in the profile: charge, hydration and bowl are of this
/// dough, and what the profile says in bakers' terms is not looked at.
#[test]
fn heat_per_full_development_is_computed_for_the_dough() {
    let kitchen = calibrated();
    let doughs = kitchen.run(&on_all(&demo("one-dough.csv"), &["--json"])).ended(0).json();
    for (index, path) in PROFILES.iter().enumerate() {
        let profile: Value = serde_json::from_str(&kitchen.read(path)).unwrap();
        let coefficients = profile["coefficients"].as_array().unwrap();
        let find = |name: &str| {
            let entry = coefficients.iter().find(|c| c["name"] == name);
            number(&entry.unwrap_or_else(|| panic!("no {name}"))["value"])
        };
        let reference = &profile["model"]["reference"];
        let constant = |name: &str| number(&reference["constants"][name]);
        let capacity = constant("flour_kj_per_kg_k")
            + 0.65 * constant("water_kj_per_kg_k")
            + 0.025 * constant("salt_kj_per_kg_k")
            + find("bowl");
        let usual_kg = number(&reference["usual_charge_kg"]);
        let flour = match profile["model"]["reference_flour"] == "strong white" {
            true => 1.0,
            false => find("flour_strong white"),
        };
        let heats = doughs[0]["machines"][index]["heat_per_full_development"].as_array().unwrap();
        assert!(!heats.is_empty());
        for heat in heats {
            let speed = heat["speed"].as_str().unwrap();
            let power_w = find(&format!("friction_{speed}"))
                * 1.675
                * (1.675 / usual_kg).powf(find("charge_exponent"));
            let rate = find(&format!("development_{speed}")) * flour;
            let by_hand = 0.06 * power_w / capacity / rate;
            let said = number(&heat["heat_c"]);
            assert!((said / by_hand - 1.0).abs() < 1e-9, "{speed}: {said} {by_hand}");
            let (low, high) = range(&heat["interval_c"]);
            assert!(low < said && said < high);
        }
    }
    // Readings that were changed by hand are refused.
    let mut profile: Value = serde_json::from_str(&kitchen.read(PROFILES[2])).unwrap();
    for coefficient in profile["coefficients"].as_array_mut().unwrap() {
        for reading in coefficient["readings"].as_array_mut().into_iter().flatten() {
            reading["value"] = 999.0.into();
        }
    }
    kitchen.write(PROFILES[2], profile.to_string());
    kitchen
        .run(&on_all(&demo("one-dough.csv"), &["--json"]))
        .ended(2)
        .err_says(&["readings.0.value is 999"]);
}

/// The water line is what `plan` says of the same dough.
#[test]
fn water_is_that_of_a_plan() {
    let kitchen = calibrated();
    let dough = "batch,flour,flour_kg,flour_c,water_kg,water_c,salt_kg,room_c\n\
                 big,strong white,11,20,7,,0.2,26\n";
    kitchen.write("open.csv", dough);
    kitchen.write("given.csv", dough.replace("7,,", "7,12,"));
    let wishes = ["--dough-c", "25", "--json"];
    for (index, profile) in PROFILES.iter().enumerate() {
        let plan = [&["plan", profile, "open.csv"], &wishes[..]].concat();
        let plan = &kitchen.run(&plan).ended(0).json()[0];
        for file in ["open.csv", "given.csv"] {
            let doughs = kitchen.run(&on_all(file, &wishes)).ended(0).json();
            let water = &doughs[0]["machines"][index]["water"];
            for key in ["water_c", "water_kg", "ice_kg", "dough_c", "verdict"] {
                assert_eq!(water[key], plan[key], "{profile} {file} {key}");
            }
            assert_eq!(
                water["outside"].as_array().unwrap().len(),
                plan["outside"].as_array().unwrap().len()
            );
        }
    }
}

/// Bounds and flours: what keeps a dough from being developed, and what nobody logged.
#[test]
fn what_stays_behind_or_was_never_logged_is_said() {
    let kitchen = calibrated();
    let dough = demo("one-dough.csv");
    let bound = ["--cap-c", "27", "--most-minutes", "hand=10"];
    kitchen.run(&on_all(&dough, &bound)).ended(0).out_says(&[
        "stays behind by",
        "of a full development, 1 wanted",
        "the cap is kept, but the dough is not developed by then",
    ]);
    let json = kitchen.run(&on_all(&dough, &[&bound[..], &["--json"]].concat())).ended(0).json();
    let hands = &json[0]["machines"][2];
    assert_eq!(number(&hands["minutes"]), 10.0);
    let (behind, dose) = (number(&hands["behind"]), number(&hands["dose"]));
    assert!(behind > 0.5 && (behind - (1.0 - dose)).abs() < 1e-12, "{hands}");
    let (_, high) = range(&hands["development_interval"]);
    assert!(high < 0.95, "{hands}");
    assert_eq!(number(&json[0]["machines"][0]["behind"]), 0.0);

    kitchen.write("case.csv", std::fs::read_to_string(&dough).unwrap().replace("strong", "Strong"));
    kitchen.run(&on_all("case.csv", &[])).ended(0).out_says(&["this flour was never logged"]);
    let json = kitchen.run(&on_all("case.csv", &["--json"])).ended(0).json();
    assert!(json[0]["machines"][0]["support"].as_str().unwrap().ends_with("flour"));

    let turbo = on_all(&dough, &["--most-minutes", "turbo=10"]);
    kitchen.run(&turbo).ended(2).err_says(&["no", "\"turbo\"", "low, high, medium, hand"]);
    let least = on_all(&dough, &["--least-minutes", "Hand=10"]);
    kitchen.run(&least).ended(2).err_says(&["--least-minutes Hand=10"]);
}

/// Doughs come as they stand in the file, and two of one name are told apart.
#[test]
fn doughs_keep_the_order_of_the_file() {
    let kitchen = calibrated();
    let rows = [("A", "planetary"), ("B", "spiral"), ("A", "spiral"), ("C", "planetary")];
    let row = |(name, machine)| format!("{name},{machine},1,20,0.65,12,24\n");
    let rows: String = rows.into_iter().map(row).collect();
    kitchen.write(
        "day.csv",
        format!("batch,machine,flour_kg,flour_c,water_kg,water_c,room_c\n{rows}"),
    );
    let run = kitchen.run(&on_all("day.csv", &["--out", "pictures"])).ended(0);
    let heads: Vec<&str> = run.out.lines().filter(|l| l.ends_with(", 1.65 kg")).collect();
    let expected = ["A, planetary, 1.65 kg", "B, 1.65 kg", "A, spiral, 1.65 kg", "C, 1.65 kg"];
    assert_eq!(heads, expected);
    assert_eq!(kitchen.names("pictures").len(), 4);
    let json = kitchen.run(&on_all("day.csv", &["--json"])).ended(0).json();
    let named: Vec<(&str, Option<&str>)> = (json.as_array().unwrap().iter())
        .map(|d| (d["dough"].as_str().unwrap(), d["row_of"].as_str()))
        .collect();
    let expected = [("A", Some("planetary")), ("B", None), ("A", Some("spiral")), ("C", None)];
    assert_eq!(named, expected);
}

/// The picture: lines, ends and bands in one colour a machine, ends named, no label on
/// another.
#[test]
fn the_picture_names_every_end() {
    let kitchen = calibrated();
    let dough = demo("one-dough.csv");
    let said = on_all(&dough, &["--dough-c", "24", "--cap-c", "27", "--out", "out"]);
    kitchen.run(&said).ended(0);
    let picture = kitchen.read("out/pizza.comparison.svg");
    let tree = roxmltree::Document::parse(&picture).expect("the picture is well-formed");
    let with = |tag: &'static str| tree.descendants().filter(move |n| n.has_tag_name(tag));
    let texts: Vec<(&str, f64, f64)> = with("text")
        .map(|n| {
            let at = |name| n.attribute(name).unwrap().parse::<f64>().unwrap();
            (n.text().unwrap().trim(), at("x"), at("y"))
        })
        .collect();
    let find = |words: &str| {
        let found = texts.iter().find(|(text, ..)| text.starts_with(words));
        *found.unwrap_or_else(|| panic!("{words:?} is not in {texts:?}"))
    };
    find("pizza, 1.675 kg, on each machine");
    find("cap 27.0 °C");
    find("wanted 24.0 °C");
    let json = kitchen.run(&on_all(&dough, &["--json"])).ended(0).json();
    let mut ends = Vec::new();
    for machine in json[0]["machines"].as_array().unwrap() {
        let (dough_c, minutes) = (number(&machine["dough_c"]), number(&machine["minutes"]));
        let name = machine["machine"].as_str().unwrap();
        ends.push(find(&format!("{name} {dough_c:.1} °C, {minutes:.0} min")));
    }
    // Four units a px, letters of 13 px.
    for (i, a) in ends.iter().enumerate() {
        assert!(ends[..i].iter().all(|b| (a.2 - b.2).abs() >= 4.0 * 15.0), "{ends:?}");
    }
    let attribute = |tag, name: &'static str, keep: fn(&str) -> bool| -> Vec<String> {
        let mut all: Vec<String> = with(tag)
            .filter_map(|n| n.attribute(name))
            .filter(|c| keep(c))
            .map(Into::into)
            .collect();
        all.sort();
        all.dedup();
        all
    };
    let coloured = |colour: &str| colour != "none" && colour != "#FFFFFF";
    let rings = attribute("circle", "stroke", coloured);
    assert_eq!(rings.len(), 3, "{rings:?}");
    let lines = attribute("polyline", "stroke", coloured);
    let bands = attribute("polygon", "fill", coloured);
    assert!(
        rings.iter().all(|c| lines.contains(c) && bands.contains(c)),
        "{rings:?} {lines:?} {bands:?}"
    );
    assert!(picture.contains("a ring ends what lies outside"));
    // The heights of the ends are those of the axis: 2 °C between two ticks.
    let height_of = |tick: &str| find(tick).2;
    let per_c = (height_of("24") - height_of("28")) / 4.0;
    let bands: Vec<Vec<(f64, f64)>> = with("polygon").map(points).collect();
    for machine in json[0]["machines"].as_array().unwrap() {
        let (low, high) = range(&machine["dough_interval_c"]);
        let at = |c: f64| height_of("28") + (28.0 - c) * per_c;
        // A band goes along its upper edge, and back along the lower one.
        let ends = bands.iter().any(|band| {
            let most = band.iter().map(|p| p.0).fold(f64::MIN, f64::max);
            let mut last: Vec<f64> = band.iter().filter(|p| p.0 == most).map(|p| p.1).collect();
            last.sort_by(f64::total_cmp);
            (last[0] - at(high)).abs() < 8.0 && (last[last.len() - 1] - at(low)).abs() < 8.0
        });
        assert!(ends, "{low} {high} is no end of a band: {bands:?}");
    }
}

fn points(node: roxmltree::Node<'_, '_>) -> Vec<(f64, f64)> {
    let text = node.attribute("points").unwrap();
    let point = |pair: &str| {
        let (x, y) = pair.split_once(',').unwrap();
        (x.parse().unwrap(), y.parse().unwrap())
    };
    text.split_whitespace().map(point).collect()
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
    let nothing = kitchen.run(&dry);
    assert!(!nothing.out.contains("Kneaded to"), "{}", nothing.out);
}
