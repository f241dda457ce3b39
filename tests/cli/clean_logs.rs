//! Clean logs of simulated kitchens, in which nothing is accused.

use serde_json::Value;

use crate::log_rows::Log;
use crate::simulated::kitchen::{Kitchen as Simulated, date_of};
use crate::simulated::machines::MachineKind;
use crate::simulated::rng::Draws;
use crate::support::Kitchen;

fn problems(log: &Log, code: i32) -> Vec<Value> {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", log.text());
    let run = kitchen.run(&["check", "log.csv", "--json"]).ended(code);
    run.json()["problems"].as_array().unwrap().clone()
}

/// Four clean logs of 2000 rows each, of kitchens with all errors that kitchens make.
#[test]
fn clean_logs_of_two_thousand_rows_raise_no_doubt() {
    for kind in MachineKind::ALL {
        let mut log = Log::simulated(kind, 11, 1900);
        log.rows.truncate(2001);
        let found = problems(&log, 0);
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
    Log::of(kitchen.log_of(mixed))
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
            let found = problems(&log, 0);
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
        let found = problems(&log, 0);
        assert!(
            found.iter().any(|p| p["problem"]["kind"] == "stuck" && p["column"] == column),
            "{kind:?}, {column}: {found:#?}"
        );
    }
}
