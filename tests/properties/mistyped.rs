//! One mistyped row among nine moves no coefficient by more than a standard error, and is
//! named.

use kneadfit::batch::BatchLog;
use kneadfit::calibration::{Calibration, Options, calibrate};
use kneadfit::charge::Material;
use kneadfit::units::fahrenheit_from_celsius;

use crate::support::kitchen::Kitchen;
use crate::support::machines::MachineKind;
use crate::support::rng::Draws;

const BATCHES: usize = 9;

#[derive(Clone, Copy, Debug)]
enum Slip {
    WarmerBy10,
    ColderBy10,
    WaterInFahrenheit,
}

fn mistype(log: &BatchLog, row: usize, slip: Slip) -> BatchLog {
    let mut log = log.clone();
    let batch = &mut log.batches[row];
    let last = batch.stages.last_mut().unwrap();
    match slip {
        Slip::WarmerBy10 => *last.reading.dough_c.as_mut().unwrap() += 10.0,
        Slip::ColderBy10 => *last.reading.dough_c.as_mut().unwrap() -= 10.0,
        Slip::WaterInFahrenheit => {
            for i in &mut batch.charge.ingredients {
                if i.material == Material::Water {
                    i.temperature_c = fahrenheit_from_celsius(i.temperature_c);
                }
            }
        }
    }
    log
}

/// The most that a coefficient moved, in its standard errors, and which.
fn moved(sound: &Calibration, slipped: &Calibration) -> (f64, String) {
    let of = |c: &Calibration, i: usize| c.heat.fitted[i];
    sound
        .heat
        .free
        .iter()
        .map(|&i| {
            let e = &sound.heat.estimates[i];
            let by = (of(slipped, i) - of(sound, i)).abs() / e.standard_error.unwrap();
            (by, e.name.to_string())
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap()
}

#[test]
fn one_slip_among_nine_rows_is_named_and_does_little() {
    let (mut slips, mut most) = (0, (0.0, String::new()));
    let mut failures = Vec::new();
    for kind in [MachineKind::Spiral, MachineKind::Planetary, MachineKind::Hands] {
        for seed in 0..12 {
            let draws = &mut Draws::seeded(seed);
            let log = Kitchen::draw(draws, kind).log(draws, BATCHES);
            let sound = calibrate(&log, &Options::default()).unwrap();
            for row in 0..BATCHES {
                for slip in [Slip::WarmerBy10, Slip::ColderBy10, Slip::WaterInFahrenheit] {
                    let id = log.batches[row].id.clone();
                    let Ok(slipped) = calibrate(&mistype(&log, row, slip), &Options::default())
                    else {
                        panic!("{kind:?} {seed} {row} {slip:?}");
                    };
                    let named = slipped.heat.looks_mistyped().any(|b| b.id == id);
                    let by = moved(&sound, &slipped);
                    if !named || by.0 > 1.0 {
                        failures.push(format!("{kind:?} {seed} {row} {slip:?} {named} {by:?}"));
                    }
                    if by.0 > most.0 {
                        most = by;
                    }
                    slips += 1;
                }
            }
        }
    }
    println!("{slips} slips; the most that a coefficient moved: {most:?}");
    assert!(failures.is_empty(), "{} of {slips}: {failures:#?}", failures.len());
}
