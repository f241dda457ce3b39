//! Faults planted in a log, one of each kind: every one is found where it is, and nothing else
//! is accused.

use kneadfit::units::fahrenheit_from_celsius;
use kneadfit_log::write_logs;
use serde_json::Value;

use crate::simulated::kitchen::{Kitchen as Simulated, date_of};
use crate::simulated::machines::MachineKind;
use crate::simulated::rng::Draws;
use crate::support::Kitchen;

/// The log of a simulated kitchen, a vector of cells a row, the header first.
fn simulated(kind: MachineKind, seed: u64, batches: usize) -> Vec<Vec<String>> {
    let draws = &mut Draws::seeded(seed);
    let log = Simulated::draw(draws, kind).log(draws, batches);
    let mut text = Vec::new();
    write_logs(&[log], &mut text).unwrap();
    rows_of(&text)
}

fn rows_of(text: &[u8]) -> Vec<Vec<String>> {
    let mut rows = csv::ReaderBuilder::new().has_headers(false).from_reader(text);
    rows.records().map(|r| r.unwrap().iter().map(str::to_owned).collect()).collect()
}

fn text(rows: &[Vec<String>]) -> String {
    rows.iter().map(|row| row.join(",") + "\n").collect()
}

struct Log {
    rows: Vec<Vec<String>>,
}

impl Log {
    fn column(&self, name: &str) -> usize {
        self.rows[0].iter().position(|c| c == name).unwrap_or_else(|| panic!("no {name}"))
    }

    /// The only row of a batch.
    fn row(&self, batch: &str) -> usize {
        let of = |row: &&Vec<String>| row[self.column("batch")] == batch;
        assert_eq!(self.rows.iter().filter(of).count(), 1, "batch {batch} has several rows");
        self.rows.iter().position(|row| of(&row)).unwrap()
    }

    fn cell(&mut self, batch: &str, name: &str) -> &mut String {
        let (row, column) = (self.row(batch), self.column(name));
        &mut self.rows[row][column]
    }

    fn number(&mut self, batch: &str, name: &str) -> f64 {
        self.cell(batch, name).parse().unwrap()
    }

    fn set(&mut self, batch: &str, name: &str, value: impl ToString) {
        *self.cell(batch, name) = value.to_string();
    }

    fn swap(&mut self, batch: &str, one: &str, other: &str) {
        let (a, b) = (self.cell(batch, one).clone(), self.cell(batch, other).clone());
        self.set(batch, one, b);
        self.set(batch, other, a);
    }

    fn line(&self, batch: &str) -> u64 {
        1 + self.row(batch) as u64
    }
}

fn problems(rows: &[Vec<String>], code: i32) -> Vec<Value> {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", text(rows));
    let run = kitchen.run(&["check", "log.csv", "--json"]).ended(code);
    run.json()["problems"].as_array().unwrap().clone()
}

#[test]
fn every_planted_fault_is_found_where_it_is_and_nothing_else_is_accused() {
    let clean = simulated(MachineKind::Spiral, 7, 60);
    assert_eq!(problems(&clean, 0), Vec::<Value>::new());
    let mut log = Log { rows: clean };
    // Batches of one row each, by their place in the year.
    let single: Vec<String> = {
        let batch = log.column("batch");
        let count = |id: &str| log.rows.iter().filter(|r| r[batch] == id).count();
        log.rows[1..].iter().map(|r| r[batch].clone()).filter(|id| count(id) == 1).collect()
    };
    let mut next = single.into_iter();
    let mut batch = || next.next().unwrap();
    let mut expected: Vec<(u64, &str, &str)> = Vec::new();

    let id = batch();
    log.set(&id, "flour_c", 75);
    expected.push((log.line(&id), "flour_c", "not_a_dough_temperature"));

    // Water of 8 °C and more in °F passes for warm water.
    let id = loop {
        let id = batch();
        if log.number(&id, "water_c") > 8.0 {
            break id;
        }
    };
    let water_f = (10.0 * fahrenheit_from_celsius(log.number(&id, "water_c"))).round() / 10.0;
    log.set(&id, "water_c", water_f);
    expected.push((log.line(&id), "water_c", "contradicted"));

    let id = batch();
    log.swap(&id, "flour_kg", "water_kg");
    expected.push((log.line(&id), "flour_kg", "too_wet"));

    let id = loop {
        let id = batch();
        if (log.number(&id, "room_c") - log.number(&id, "dough_c")).abs() > 6.0 {
            break id;
        }
    };
    log.swap(&id, "room_c", "dough_c");
    expected.push((log.line(&id), "room_c", "contradicted"));

    let id = batch();
    let grams = 1000.0 * log.number(&id, "salt_kg");
    log.set(&id, "salt_kg", grams);
    expected.push((log.line(&id), "salt_kg", "salt"));

    let id = batch();
    log.set(&id, "dough_c", "22-May");
    expected.push((log.line(&id), "dough_c", "made_a_date"));

    // A thermometer that has stopped: its room, for nine batches.
    let first = log.row(&batch());
    let room = log.column("room_c");
    let id_column = log.column("batch");
    let mut ids: Vec<String> = log.rows[first..].iter().map(|r| r[id_column].clone()).collect();
    ids.dedup();
    // Of a reading that no other batch has.
    let stuck = log.rows[first][room].parse::<f64>().unwrap() + 0.1;
    let (stuck, last) = (format!("{stuck:.1}"), ids[8].clone());
    for row in first..log.rows.len() {
        if log.rows[row][id_column] == ids[9] {
            break;
        }
        if !log.rows[row][room].is_empty() {
            log.rows[row][room] = stuck.clone();
        }
    }
    expected.push((1 + first as u64, "room_c", "stuck"));
    let mut after = next.skip_while(|id| *id != last).skip(1);
    let mut batch = || after.next().unwrap();

    // Cumulative minutes that fall, in a row more of a batch.
    let id = batch();
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
    let id = batch();
    let at = log.row(&id) + 1;
    let mut copy = log.rows[at - 1].clone();
    copy[id_column] = "copy".into();
    log.rows.insert(at, copy);
    expected.push((1 + at as u64, "", "equal_batch"));

    let mut found: Vec<(u64, String, String)> = problems(&log.rows, 2)
        .iter()
        .map(|p| {
            let text = |v: &Value| v.as_str().unwrap_or_default().to_owned();
            (p["line"].as_u64().unwrap_or(0), text(&p["column"]), text(&p["problem"]["kind"]))
        })
        .collect();
    found.sort();
    let mut expected: Vec<(u64, String, String)> =
        expected.into_iter().map(|(l, c, k)| (l, c.into(), k.into())).collect();
    expected.sort();
    assert_eq!(found, expected);

    // And each of which it can be told what was meant says what the fit would be.
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", text(&log.rows));
    let run = kitchen.run(&["fit", "log.csv", "--out", "out", "--json"]).ended(0);
    let json = run.json();
    let mended = json["machines"][0]["if_mended"].as_array().unwrap();
    assert_eq!(mended.len(), 7, "{mended:#?}");
    assert_eq!(json["machines"][0]["doubts"].as_array().unwrap().len(), 4);
    assert!(mended[6]["whereabouts"] == "all 6 rows together", "{}", mended[6]);
    // What it says is what the fit of the mended log says.
    let slip = mended.iter().find(|m| m["slips"][0] == "room_and_dough_swapped").unwrap();
    for cell in slip["cells"].as_array().unwrap() {
        let (line, column) = (cell["line"].as_u64().unwrap(), cell["column"].as_u64().unwrap());
        log.rows[line as usize - 1][column as usize - 1] = cell["value"].to_string();
    }
    kitchen.write("mended.csv", text(&log.rows));
    let run = kitchen.run(&["fit", "mended.csv", "--out", "mended", "--json"]).ended(0);
    let speeds = &run.json()["machines"][0]["speeds"];
    for (i, speed) in slip["speeds"].as_array().unwrap().iter().enumerate() {
        let said = speed["warming_c_per_min"]["mended"].as_f64().unwrap();
        let is = speeds[i]["warming_c_per_min"]["value"].as_f64().unwrap();
        assert!((said / is - 1.0).abs() < 1e-9, "{said} {is}");
    }
    let report = std::fs::read_to_string(kitchen.path("out/spiral.report.html")).unwrap();
    assert!(report.contains("If it were mended in the log"));
}

/// Four clean logs of 2000 rows each, of kitchens with all errors that kitchens make.
#[test]
fn clean_logs_of_two_thousand_rows_raise_no_doubt() {
    for kind in MachineKind::ALL {
        let rows = simulated(kind, 11, 1900);
        let found = problems(&rows[..2001], 0);
        assert_eq!(found, Vec::<Value>::new(), "{kind:?}");
    }
}

/// A kitchen that kneads one dough day after day and reads its thermometers to a degree: rows
/// are equal by chance, and rooms are the same for weeks. `batches` of a year, a few a day.
fn in_whole_degrees(kind: MachineKind, seed: u64, batches: usize) -> Log {
    let draws = &mut Draws::seeded(seed);
    let mut kitchen = Simulated::draw(draws, kind);
    (kitchen.habits.probe_step_k, kitchen.habits.room_step_k) = (1.0, 1.0);
    // In odd kitchens the room is held.
    let held = seed % 2 == 1;
    if held {
        kitchen.habits.room_sd_k = 0.2;
    }
    let recipe = kitchen.recipes[0].clone();
    let programme = kitchen.programme(draws);
    let mixed = (0..batches).map(|index| {
        let day = (365.0 * index as f64 / batches as f64).floor();
        let mut room_c = kitchen.place.room_c(draws, day);
        if held {
            room_c = kitchen.place.room_mean_c + 0.15 * (room_c - kitchen.place.room_mean_c);
        }
        let mut intended = kitchen.intend_recipe(draws, day, room_c, &recipe, 0.8);
        intended.bowl_c = None;
        let setup = kitchen.set_up(draws, &intended, day);
        let mut batch = kitchen.mix(draws, &setup, (index + 1).to_string(), &programme).logged;
        batch.date = Some(date_of(day));
        batch
    });
    let mixed = mixed.collect();
    let mut text = Vec::new();
    write_logs(&[kitchen.log_of(mixed)], &mut text).unwrap();
    Log { rows: rows_of(&text) }
}

#[test]
fn whole_degrees_of_one_recipe_raise_no_doubt() {
    let mut equal = 0;
    for (seed, batches) in [(1, 160), (2, 300), (3, 600), (4, 600), (13, 280)] {
        for kind in MachineKind::ALL {
            let log = in_whole_degrees(kind, seed, batches);
            let batch = log.column("batch");
            let mut seen = std::collections::HashSet::new();
            equal += log.rows[1..]
                .iter()
                .filter(|row| {
                    !seen.insert(row[batch + 1..].join(",").replace(&row[log.column("date")], ""))
                })
                .count();
            let found = problems(&log.rows, 0);
            assert_eq!(found, Vec::<Value>::new(), "{kind:?}, seed {seed}");
        }
    }
    assert!(equal > 100, "only {equal} rows are equal by chance: that proves nothing");
}

#[test]
fn a_thermometer_that_is_stuck_is_found_in_whole_degrees_too() {
    for (kind, seed, column) in [
        (MachineKind::Spiral, 2, "room_c"),
        (MachineKind::Planetary, 4, "room_c"),
        (MachineKind::Spiral, 1, "dough_c"),
        (MachineKind::Hands, 3, "dough_c"),
    ] {
        let mut log = in_whole_degrees(kind, seed, 300);
        let place = log.column(column);
        // What it shows most often anyway.
        let mut counts = std::collections::BTreeMap::new();
        for row in &log.rows[1..] {
            *counts.entry(row[place].clone()).or_insert(0) += 1;
        }
        counts.remove("");
        let usual = counts.iter().max_by_key(|(_, count)| **count).unwrap().0.clone();
        for row in &mut log.rows[101..141] {
            if !row[place].is_empty() {
                row[place] = usual.clone();
            }
        }
        let found = problems(&log.rows, 0);
        assert!(
            found.iter().any(|p| p["problem"]["kind"] == "stuck" && p["column"] == column),
            "{kind:?}, {column}: {found:#?}"
        );
    }
}

/// A row wholly in °F is mended as a whole; many such rows are told together.
#[test]
fn slips_of_one_row_are_mended_together_and_many_rows_are_counted() {
    let mut rows = simulated(MachineKind::Spiral, 7, 60);
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
    row_of(&mut rows, 1, water, "21 °C");
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", text(&rows));
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

fn row_of(rows: &mut [Vec<String>], row: usize, column: usize, cell: &str) {
    rows[row][column] = cell.into();
}
