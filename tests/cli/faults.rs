//! Faults planted in a log, one of each kind, as a text and as a workbook: every one is found
//! where it is, nothing else is accused, and what is said of a mend is what a fit of the mended
//! log says.

use kneadfit::units::fahrenheit_from_celsius;
use serde_json::Value;

use crate::log_rows::Log;
use crate::simulated::machines::MachineKind;
use crate::support::Kitchen;

/// A form in which a log is kept: the file's name and its bytes.
type Form = (&'static str, fn(&Log) -> Vec<u8>);

const FORMS: [Form; 2] = [("log.csv", Log::text), ("log.xlsx", Log::workbook)];

/// A log and its faults: row, column and kind of each.
struct Planted {
    log: Log,
    faults: Vec<(u64, String, String)>,
}

fn fahrenheit(celsius: f64) -> f64 {
    (10.0 * fahrenheit_from_celsius(celsius)).round() / 10.0
}

/// One fault of each kind, and of each kind of column where that matters.
fn planted() -> Planted {
    let mut log = Log::simulated(MachineKind::Spiral, 7, BATCHES);
    // Batches of one row each, by their place in the year.
    let single: Vec<String> = {
        let batch = log.column("batch");
        let count = |id: &str| log.rows.iter().filter(|r| r[batch] == id).count();
        log.rows[1..].iter().map(|r| r[batch].clone()).filter(|id| count(id) == 1).collect()
    };
    let mut next = single.into_iter();
    let mut expected: Vec<(u64, &str, &str)> = Vec::new();

    for (column, value) in [("flour_c", 75.0), ("room_c", 72.5), ("dough_c", 77.0)] {
        let id = next.next().unwrap();
        log.set(&id, column, value);
        expected.push((log.line(&id), column, "not_a_dough_temperature"));
    }

    // Water of 8 °C and more in °F passes for warm water.
    let id = next.find(|id| log.number(id, "water_c") > 8.0).unwrap();
    let water_f = fahrenheit(log.number(&id, "water_c"));
    log.set(&id, "water_c", water_f);
    expected.push((log.line(&id), "water_c", "contradicted"));

    let id = next.next().unwrap();
    log.swap(&id, "flour_kg", "water_kg");
    expected.push((log.line(&id), "flour_kg", "too_wet"));

    let off = |log: &mut Log, id: &str| log.number(id, "room_c") - log.number(id, "dough_c");
    let id = next.find(|id| off(&mut log, id).abs() > 6.0).unwrap();
    log.swap(&id, "room_c", "dough_c");
    expected.push((log.line(&id), "room_c", "contradicted"));

    for (column, kind) in
        [("salt_kg", "salt"), ("flour_kg", "hydration"), ("water_kg", "hydration")]
    {
        let id = next.next().unwrap();
        let grams = (1e6 * log.number(&id, column)).round() / 1e3;
        log.set(&id, column, grams);
        expected.push((log.line(&id), column, kind));
    }

    for column in ["dough_c", "room_c"] {
        let id = next.next().unwrap();
        log.set(&id, column, "22-May");
        expected.push((log.line(&id), column, "made_a_date"));
    }

    let id = next.next().unwrap();
    let water = format!("{} °C", log.number(&id, "water_c"));
    log.set(&id, "water_c", water);
    expected.push((log.line(&id), "water_c", "not_a_number"));

    // A thermometer that has stopped: its room, for nine batches.
    let first = log.row(&next.next().unwrap());
    let room = log.column("room_c");
    let id_column = log.column("batch");
    let mut ids: Vec<String> = log.rows[first..].iter().map(|r| r[id_column].clone()).collect();
    ids.dedup();
    // Of a reading that no other batch has.
    let stuck = log.rows[first][room].parse::<f64>().unwrap() + 0.1;
    let end = log.rows.iter().position(|row| row[id_column] == ids[9]).unwrap();
    for row in log.rows[first..end].iter_mut().filter(|row| !row[room].is_empty()) {
        row[room] = format!("{stuck:.1}");
    }
    expected.push((1 + first as u64, "room_c", "stuck"));
    let after: Vec<String> = next.filter(|id| log.row(id) >= end).take(2).collect();

    // Cumulative minutes that fall, in a row more of a batch.
    let id = after[0].clone();
    let at = log.row(&id) + 1;
    let minutes: f64 = log.number(&id, "minutes_low");
    let mut later = vec![String::new(); log.rows[0].len()];
    for (name, value) in [("batch", id.clone()), ("minutes_low", format!("{}", minutes - 1.0))] {
        later[log.column(name)] = value;
    }
    let (machine, dough) = (log.column("machine"), log.column("dough_c"));
    (later[machine], later[dough]) = ("spiral".into(), "23".into());
    log.rows.insert(at, later);
    expected.push((1 + at as u64, "minutes_low", "minutes_down"));

    // A batch copied on under another name.
    let at = log.row(&after[1]) + 1;
    let mut copy = log.rows[at - 1].clone();
    copy[id_column] = "copy".into();
    log.rows.insert(at, copy);
    expected.push((1 + at as u64, "", "equal_batch"));

    // Rows that were put in have moved those below them, which have no fault.
    let mut faults: Vec<_> =
        expected.into_iter().map(|(l, c, k)| (l, c.to_owned(), k.to_owned())).collect();
    faults.sort();
    Planted { log, faults }
}

const BATCHES: usize = 80;

/// How a spreadsheet calls a column.
fn letter(index: usize) -> String {
    let letter = |i: usize| char::from(b'A' + i as u8);
    match index {
        0..26 => letter(index).into(),
        _ => [letter(index / 26 - 1), letter(index % 26)].iter().collect(),
    }
}

#[test]
fn every_planted_fault_is_found_where_it_is_and_nothing_else_is_accused() {
    let clean = Log::simulated(MachineKind::Spiral, 7, BATCHES);
    let Planted { log, faults } = planted();
    for (name, bytes) in FORMS {
        let problems = |log: &Log, code: i32| {
            let kitchen = Kitchen::new();
            kitchen.write(name, bytes(log));
            let run = kitchen.run(&["check", name, "--json"]).ended(code);
            run.json()["problems"].as_array().unwrap().clone()
        };
        assert_eq!(problems(&clean, 0), Vec::<Value>::new(), "{name}");
        let found = problems(&log, 2);
        let text = |v: &Value| v.as_str().unwrap_or_default().to_owned();
        let mut places: Vec<(u64, String, String)> = found
            .iter()
            .map(|p| {
                let line = p["line"].as_u64().unwrap_or(0);
                (line, text(&p["column"]), text(&p["problem"]["kind"]))
            })
            .collect();
        places.sort();
        assert_eq!(places, faults, "{name}");
        for problem in &found {
            let of_sheet = name.ends_with("xlsx") && !problem["column"].is_null();
            let expected = of_sheet.then(|| letter(log.column(&text(&problem["column"]))));
            assert_eq!(problem["column_letters"].as_str(), expected.as_deref(), "{problem:#}");
        }
    }
}

/// Each fault of which it can be told what was meant says what the fit would be, and that is
/// what the fit of the log is in which the cells are so mended.
#[test]
fn what_is_said_of_each_mend_is_what_the_fit_of_the_mended_log_says() {
    let Planted { log, .. } = planted();
    for (name, bytes) in FORMS {
        let kitchen = Kitchen::new();
        let fit = |log: &Log| {
            kitchen.write(name, bytes(log));
            kitchen.run(&["fit", name, "--out", "out", "--json"]).ended(0).json()["machines"][0]
                .clone()
        };
        let json = fit(&log);
        let report = kitchen.names("out").into_iter().find(|n| n.ends_with(".html")).unwrap();
        assert!(kitchen.read(&format!("out/{report}")).contains("If it were mended in the log"));
        assert_eq!(json["doubts"].as_array().unwrap().len(), 4, "{name}");
        let mended = json["if_mended"].as_array().unwrap();
        assert_eq!(mended.len(), 13, "{name}: {mended:#?}");
        assert_eq!(mended[12]["whereabouts"], "all 12 rows together");
        let mut set_aside = 0;
        for told in mended {
            let mut log = log.clone();
            for cell in told["cells"].as_array().unwrap() {
                let place = |key: &str| cell[key].as_u64().unwrap() as usize - 1;
                log.rows[place("line")][place("column")] = cell["value"].to_string();
            }
            let fitted = fit(&log);
            let fewer = |json: &Value| json["rows_set_aside"].as_u64().unwrap();
            set_aside += fewer(&json) - fewer(&fitted);
            let same = |said: &Value, is: &Value, what: &str| match (said.as_f64(), is.as_f64()) {
                (Some(said), Some(is)) => {
                    assert!((said / is - 1.0).abs() < 1e-9, "{what}: {said} {is}\n{told:#}")
                }
                _ => panic!("{what}: {said} {is}\n{told:#}"),
            };
            for (i, speed) in told["speeds"].as_array().unwrap().iter().enumerate() {
                for key in ["warming_c_per_min", "full_development_min"] {
                    same(&speed[key]["mended"], &fitted["speeds"][i][key]["value"], key);
                    same(&speed[key]["now"], &json["speeds"][i][key]["value"], key);
                }
            }
            let error = &told["forecast_error_k"];
            same(&error["mended"], &fitted["forecast_error_k"]["rms"], "forecast error");
        }
        // Nine rows come back one by one, and once more all together.
        assert_eq!(set_aside, 2 * 9, "{name}");
    }
}

/// A row wholly in °F is mended as a whole; many such rows are told together.
#[test]
fn slips_of_one_row_are_mended_together_and_many_rows_are_counted() {
    let mut log = Log::simulated(MachineKind::Spiral, 7, 60);
    let rows = &mut log.rows;
    let column = |name: &str| rows[0].iter().position(|c| c == name).unwrap();
    let (flour, dough, water) = (column("flour_c"), column("dough_c"), column("water_c"));
    let fahrenheit = |cell: &mut String| {
        if let Ok(c) = cell.parse::<f64>() {
            *cell = format!("{:.1}", fahrenheit_from_celsius(c));
        }
    };
    for row in &mut rows[1..=15] {
        row[flour] = "70.7".into();
        fahrenheit(&mut row[dough]);
    }
    row_of(rows, 1, water, "21 °C");
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", log.text());
    let run = kitchen.run(&["fit", "log.csv", "--out", "out", "--json"]).ended(0);
    let json = run.json();
    let mended = json["machines"][0]["if_mended"].as_array().unwrap();
    assert_eq!(mended.len(), 13, "{mended:#?}");
    assert_eq!(mended[0]["slips"].as_array().unwrap().len(), 3, "{:#}", mended[0]);
    let all = &mended[12];
    assert!(all["whereabouts"].as_str().unwrap().starts_with("all "), "{all:#}");
    for told in mended {
        assert!(!told["words"].as_str().unwrap().contains("still be set aside"), "{told:#}");
    }
}

/// Its twin in °F, lb and seconds is hunted through likewise: cells in each other's place, and
/// °C where °F should be.
#[test]
fn slips_among_fahrenheit_and_pounds_are_found_and_mended_in_their_units() {
    let mut celsius = Log::simulated(MachineKind::Spiral, 7, BATCHES);
    let mut log = celsius.in_other_units();
    let batch = log.column("batch");
    let count = |id: &str| log.rows.iter().filter(|r| r[batch] == id).count();
    let single: Vec<String> =
        log.rows[1..].iter().map(|r| r[batch].clone()).filter(|id| count(id) == 1).collect();
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", log.text());
    kitchen.run(&["check", "log.csv"]).ended(0).out_says(&["0 errors, 0 doubts"]);

    // Water of 20 °C in °F is ice; of a dough in °C nothing is as cold.
    let [masses, room, dough, water] = [0, 1, 2, 3].map(|i| single[i].clone());
    log.swap(&masses, "flour_lb", "water_lb");
    log.swap(&room, "room_f", "dough_f");
    let dough_c = celsius.number(&dough, "dough_c");
    log.set(&dough, "dough_f", dough_c);
    let water_c = celsius.number(&water, "water_c");
    log.set(&water, "water_f", water_c);
    kitchen.write("log.csv", log.text());
    let json = kitchen.run(&["fit", "log.csv", "--out", "out", "--json"]).ended(0).json();
    let mended = json["machines"][0]["if_mended"].as_array().unwrap();
    let found: Vec<(u64, Vec<&str>)> = mended[..mended.len() - 1]
        .iter()
        .map(|m| {
            let slips = m["slips"].as_array().unwrap().iter().map(|s| s.as_str().unwrap());
            (m["cells"][0]["line"].as_u64().unwrap(), slips.collect())
        })
        .collect();
    let mut expected = vec![
        (log.line(&masses), vec!["flour_and_water_swapped"]),
        (log.line(&room), vec!["room_and_dough_swapped"]),
        (log.line(&dough), vec!["celsius"]),
        (log.line(&water), vec!["celsius"]),
    ];
    expected.sort();
    let mut sorted = found.clone();
    sorted.sort();
    assert_eq!(sorted, expected, "{mended:#?}");
    // Mended, they are as they were.
    let clean = celsius.in_other_units();
    for cell in mended.last().unwrap()["cells"].as_array().unwrap() {
        let place = |key: &str| cell[key].as_u64().unwrap() as usize - 1;
        let was: f64 = clean.rows[place("line")][place("column")].parse().unwrap();
        assert!((cell["value"].as_f64().unwrap() - was).abs() < 0.06, "{cell} {was}");
    }
}

/// A row that a mend does not save is said, alone and among all.
#[test]
fn rows_that_would_still_be_set_aside_are_counted() {
    let mut log = Log::simulated(MachineKind::Spiral, 7, 30);
    let column = |log: &Log, name: &str| log.column(name);
    let (minutes, water, dough) =
        (column(&log, "minutes_low"), column(&log, "water_c"), column(&log, "dough_c"));
    (log.rows[1][minutes], log.rows[1][water]) = ("20000".into(), "cold".into());
    log.rows[2][dough] = "75".into();
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", log.text());
    let json = kitchen.run(&["fit", "log.csv", "--out", "out", "--json"]).ended(0).json();
    let words = |index: usize| json["machines"][0]["if_mended"][index]["words"].to_string();
    assert!(words(0).contains("20000 read as seconds is 333.3333 minutes"), "{}", words(0));
    assert!(words(0).contains("the row would still be set aside"), "{}", words(0));
    assert!(words(2).contains("as its hint has it (1 of them would still be set aside)"));
}

fn row_of(rows: &mut [Vec<String>], row: usize, column: usize, cell: &str) {
    rows[row][column] = cell.into();
}
