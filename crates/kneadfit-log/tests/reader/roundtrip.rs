//! What is written reads back as it was.

use kneadfit::batch::{Batch, BatchLog, Reading, Stage};
use kneadfit::charge::{Charge, Material, Phase, REST};
use kneadfit_log::{ReadOptions, WriteError, read_log, write_logs};
use proptest::prelude::*;

use crate::support::assert_accounted;

fn text_of(logs: &[BatchLog]) -> Result<String, WriteError> {
    let mut bytes = Vec::new();
    write_logs(logs, &mut bytes)?;
    Ok(String::from_utf8(bytes).expect("a log is text"))
}

fn reread(text: &str) -> Vec<BatchLog> {
    let read = read_log("again.csv", "nobody", text.as_bytes(), &ReadOptions::forecasting());
    assert_accounted(&read);
    assert!(!read.has_errors(), "{}\n{text}", read.problems[0]);
    read.machines.into_iter().map(|machine| machine.log).collect()
}

fn dough() -> Charge {
    Charge::new(24.0).with(Material::Flour, 10.0, 21.0).with(Material::Water, 6.5, 12.0)
}

const SPEEDS: [&str; 3] = ["low", "slow, \"then\" fast", "high"];

/// Any mass, to the last bit.
fn mass() -> impl Strategy<Value = f64> {
    0.5_f64..30.0
}

fn charge() -> impl Strategy<Value = Charge> {
    let flour = (mass(), -10.0_f64..40.0, 0.4_f64..1.5, 0.0_f64..40.0);
    let extras = (
        prop::option::of((0.01_f64..0.05, -18.0_f64..=0.0)),
        prop::option::of((0.01_f64..3.0, 4.0_f64..30.0, 0.5_f64..1.5)),
        prop::option::of(0.01_f64..0.03),
        prop::option::of(0.01_f64..0.2),
        prop::option::of((0.1_f64..3.0, 2.0_f64..40.0, 1.0_f64..4.5)),
    );
    (
        flour,
        extras,
        10.0_f64..35.0,
        prop::option::of(5.0_f64..40.0),
        prop::option::of("[a-z,\"\n]{0,3}é"),
    )
        .prop_map(|((kg, flour_c, hydration, water_c), extras, room_c, bowl_c, flour_name)| {
            let (ice, preferment, salt, fat, other) = extras;
            let mut charge = Charge::new(room_c).with(Material::Flour, kg, flour_c);
            charge = charge.with(Material::Water, kg * hydration, water_c);
            if let Some((share, ice_c)) = ice.filter(|_| flour_c > 15.0) {
                charge = charge.with(Material::Ice, kg * share, ice_c);
            }
            if let Some((kg, c, hydration)) = preferment {
                charge = charge.with(Material::Preferment { hydration }, kg, c);
            }
            if let Some(share) = salt {
                charge = charge.with(Material::Salt, kg * share, room_c);
            }
            if let Some(share) = fat {
                charge = charge.with(Material::Fat, kg * share, room_c);
            }
            if let Some((kg, c, specific_heat_kj_per_kg_k)) = other {
                charge = charge.with(Material::Other { specific_heat_kj_per_kg_k }, kg, c);
            }
            Charge { bowl_c, flour_name: flour_name.map(|n| n.trim().into()), ..charge }
        })
}

/// Stages whose phases run in the order of the columns: low, the second, rest, high.
fn stages() -> impl Strategy<Value = Vec<Stage>> {
    let minutes = || prop::option::of(0.001_f64..25.0);
    let stage = (
        minutes(),
        minutes(),
        minutes(),
        minutes(),
        prop::option::of(40.0_f64..45.0),
        prop::option::of(0.0_f64..=1.0),
    );
    prop::collection::vec(stage, 1..5).prop_map(|stages| {
        stages
            .into_iter()
            .enumerate()
            .map(|(index, (low, second, rest, high, dough_c, development))| {
                let named =
                    [(SPEEDS[0], low), (SPEEDS[1], second), (REST, rest), (SPEEDS[2], high)];
                let mut phases: Vec<Phase> = named
                    .into_iter()
                    .filter_map(|(speed, minutes)| {
                        Some(Phase { speed: speed.into(), minutes: minutes? })
                    })
                    .collect();
                if phases.is_empty() && index > 0 {
                    phases.push(Phase::mixing(SPEEDS[0], 0.5));
                }
                Stage { phases, reading: Reading { dough_c, development } }
            })
            .collect()
    })
}

fn log() -> impl Strategy<Value = BatchLog> {
    let date = prop::option::of((2000_i16..2030, 1_i8..=12, 1_i8..=28));
    let batch = (charge(), stages(), date);
    prop::collection::vec(batch, 1..6).prop_map(|batches| {
        let batches = batches
            .into_iter()
            .enumerate()
            .map(|(index, (charge, stages, date))| Batch {
                id: format!("batch \"{index}\"").into(),
                date: date.map(|(y, m, d)| jiff::civil::date(y, m, d).to_string().into()),
                charge,
                stages,
            })
            .collect();
        BatchLog::new("a, spiral", SPEEDS, batches).expect("a possible batch")
    })
}

proptest! {
    #[test]
    fn every_bit_comes_back(log in log()) {
        let text = text_of(std::slice::from_ref(&log)).unwrap();
        prop_assert_eq!(reread(&text), [log], "{}", text);
    }
}

#[test]
fn machines_with_other_speeds_share_a_file() {
    let log = |machine: &str, speeds: &[&str]| {
        let phases = speeds.iter().map(|speed| Phase::mixing(*speed, 3.0)).collect();
        let batch = Batch::new("1", dough(), phases).read_dough(22.0);
        BatchLog::new(machine, speeds.iter().copied(), vec![batch]).unwrap()
    };
    let logs = [
        log("spiral", &["low", "high"]),
        log("hand", &["hand"]),
        log("planet", &["low", "mid", "high"]),
    ];
    let text = text_of(&logs).unwrap();
    assert!(text.contains("minutes_hand,minutes_low,minutes_mid,minutes_high"), "{text}");
    assert_eq!(reread(&text), logs);

    let crossed = [log("spiral", &["low", "high"]), log("odd", &["high", "low"])];
    assert!(matches!(text_of(&crossed), Err(WriteError::SpeedOrder { .. })));
}

#[test]
fn rest_stands_where_it_is_taken_and_a_way_back_takes_another_row() {
    let phases = vec![
        Phase::mixing("low", 4.0),
        Phase::rest(20.0),
        Phase::mixing("high", 2.5),
        Phase::mixing("low", 0.1),
    ];
    let batch = Batch::new("1", dough(), phases.clone()).read_dough(24.0);
    let log = BatchLog::new("spiral", ["low", "high"], vec![batch]).unwrap();
    let text = text_of(&[log]).unwrap();
    assert!(text.contains("minutes_low,minutes_rest,minutes_high"), "{text}");
    let again = &reread(&text)[0].batches[0];
    assert_eq!(again.stages.len(), 2);
    assert!(again.phases().eq(&phases));
    assert_eq!(again.stages[0].reading, Reading::default());
    assert_eq!(again.stages[1].reading.dough_c, Some(24.0));
}

#[test]
fn what_a_log_cannot_say_is_refused() {
    let write = |charge: Charge, id: &str| {
        let batch = Batch::new(id, charge, vec![]).read_dough(20.0);
        text_of(&[BatchLog::new("spiral", ["low"], vec![batch]).unwrap()])
    };
    assert!(write(dough(), "1").is_ok());
    let salt = dough().with(Material::Salt, 0.2, 5.0);
    assert!(matches!(write(salt, "1"), Err(WriteError::NotAtRoomTemperature { .. })));
    let two = dough().with(Material::Water, 1.0, 50.0);
    assert!(matches!(write(two, "1"), Err(WriteError::IngredientTwice { column: "water_kg", .. })));
    for id in ["", " 1", "1\n"] {
        assert!(matches!(write(dough(), id), Err(WriteError::Text { column: "batch", .. })));
    }
    let twice = ["1", "1"].map(|id| Batch::new(id, dough(), vec![]));
    let log = BatchLog::new("spiral", ["low"], twice.into()).unwrap();
    assert!(matches!(text_of(&[log]), Err(WriteError::BatchTwice { .. })));

    // Nothing is written of a log that is refused for its last batch.
    let good = Batch::new("1", dough(), vec![]);
    let bad = Batch::new(" 2", dough(), vec![]);
    let log = BatchLog::new("spiral", ["low"], vec![good, bad]).unwrap();
    let mut bytes = Vec::new();
    assert!(write_logs(&[log], &mut bytes).is_err());
    assert!(bytes.is_empty());
}
