//! What `kneadfit fit` says of a fit, in the table and in the report.

use crate::support::{HEADER, Kitchen, demo, log_of};

fn in_one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Sound batches of one machine, and some that are no dough of it, no two wrong alike.
fn log_with_slips(sound: usize, slips: &[f64]) -> String {
    let mut rows: Vec<String> = (0..sound)
        .map(|i| {
            let (water_c, minutes) = (6 + i % 7, 4 + (i * 5) % 9);
            let dough_c = 11.5 + 0.55 * water_c as f64 + 0.3 * minutes as f64;
            format!("{i},10,21,6.5,{water_c},24,{minutes},{dough_c:.1}")
        })
        .collect();
    let slip = |(i, dough_c): (usize, &f64)| format!("s{i},10,21,6.5,9,24,8,{dough_c}");
    rows.extend(slips.iter().enumerate().map(slip));
    log_of(&rows.iter().map(String::as_str).collect::<Vec<_>>())
}

#[test]
fn a_third_of_disbelieved_readings_is_warned_of() {
    let kitchen = Kitchen::new();
    let words = "6 of 16 readings are disbelieved: the model does not fit this log";
    kitchen.write("log.csv", log_with_slips(10, &[45.0, 50.0, 9.5, 55.0, 58.0, 41.0]));
    let run = kitchen.run(&["fit", "log.csv", "--out", "out"]).ended(0);
    let said = in_one_line(&run.out);
    assert!(said.contains(&format!("Mind: {words}")), "{}", run.out);
    assert!(said.contains("compare with --no-prior"), "{}", run.out);
    // Those that are not listed are counted, and so are all.
    assert!(said.contains("Mind: 1 more look mistyped, 6 readings in all"), "{}", run.out);
    assert!(kitchen.read("out/log.report.html").contains(words));
    assert!(kitchen.read("out/log.profile.json").contains(words));
    let json = kitchen.run(&["fit", "log.csv", "--out", "out", "--json"]).ended(0).json();
    assert!(json["machines"][0]["warnings"][0].as_str().unwrap().contains(words), "{json}");
    // One slip is a slip.
    kitchen.write("log.csv", log_with_slips(10, &[45.0]));
    let run = kitchen.run(&["fit", "log.csv", "--out", "out"]).ended(0);
    assert!(run.out.contains("looks mistyped") && !run.out.contains("disbelieved"), "{}", run.out);
}

/// A dough cannot come nearer to the room than the room.
#[test]
fn the_room_moves_a_dough_by_no_more_than_the_gap() {
    let kitchen = Kitchen::new();
    // Doughs that end as warm as each other, whatever went in.
    let rows: String =
        (0..8).map(|i| format!("{i},10,20,6.5,{},22,{},24\n", 10 + i, 10 + i)).collect();
    kitchen.write("log.csv", format!("{HEADER}\n{rows}"));
    let run = kitchen.run(&["fit", "log.csv", "--out", "out"]).ended(0);
    let line = run.out.lines().find(|l| l.contains("room 10 °C off")).unwrap();
    let numbers: Vec<f64> =
        line.split_whitespace().filter_map(|w| w.parse().ok()).skip(2).take(3).collect();
    let [value, low, high] = numbers[..] else { panic!("{line}") };
    assert!(low < value && value < high && high <= 10.0, "{line}");
    assert!(value > 2.0, "another log is needed: {line}");
    let profile: serde_json::Value =
        serde_json::from_str(&kitchen.read("out/log.profile.json")).unwrap();
    let coefficients = profile["coefficients"].as_array().unwrap();
    let exchange = coefficients.iter().find(|c| c["name"] == "exchange").unwrap();
    let reading = &exchange["readings"][0];
    assert!((reading["value"].as_f64().unwrap() - value).abs() < 0.06, "{reading}");
    assert!(reading["interval_95"][1].as_f64().unwrap() <= 10.0, "{reading}");
}

/// Graded doughs of the demo run from 19 to 28 °C: that they were alike was never so.
#[test]
fn no_reason_is_given_that_is_not_so() {
    let kitchen = Kitchen::new();
    let run = kitchen.run(&["fit", &demo("kitchen-log.csv"), "--out", "out"]).ended(0);
    let spiral = in_one_line(run.out.split("planetary  ").next().unwrap());
    let reason = "what warmth does to development is not told by this log: the warmer graded \
                  doughs were the ones mixed longer";
    assert!(spiral.contains(reason), "{spiral}");
    let report = kitchen.read("out/spiral.report.html");
    assert!(report.contains("he warmer graded doughs were the ones mixed longer"));
    assert!(!report.contains("about as warm as each other"));
}

/// Sentences on what is not known are wrapped and never cut, and things in a row are listed.
#[test]
fn sentences_are_whole() {
    let kitchen = Kitchen::new();
    let log = demo("kitchen-log-bad-rows.csv");
    let run = kitchen.run(&["fit", &log, "--out", "out"]).ended(0);
    assert!(!run.out.contains('…'), "{}", run.out);
    assert!(run.out.lines().all(|line| line.chars().count() <= 90), "{}", run.out);
    let open = run.out.split("Not known, and which batch would tell").nth(1).unwrap();
    let open = in_one_line(open.split("Mind:").next().unwrap());
    for sentence in open.split(" - ").filter(|s| s.contains("cannot be told apart")) {
        let things = sentence.split(" cannot be told apart").next().unwrap();
        assert_eq!(things.matches(" and ").count(), 1, "{things}");
    }
    assert!(open.contains("cannot be told apart"), "another log is needed: {open}");
}

/// A plant's charge is not written to a tenth of a kilogram.
#[test]
fn a_large_charge_has_no_tenths() {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", log_of(&["1,100,21,67,12,24,10,22.9"]));
    let run = kitchen.run(&["fit", "log.csv", "--out", "out"]).ended(0);
    run.out_says(&["a plain dough of 167 kg"]);
}
