//! One mistyped row among nine is named, and moves no coefficient by more than a standard
//! error: how often, counted over simulated kitchens.

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

/// The log in which the dough of one batch was never read.
fn unread(log: &BatchLog, row: usize) -> BatchLog {
    let mut log = log.clone();
    log.batches[row].stages.last_mut().unwrap().reading.dough_c = None;
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

/// Of slips of one kind: how many were named; how many moved no coefficient by more than a
/// standard error, against the log with the true row and against the log in which that row
/// was never read; and in how many the true row's own knowledge is worth more than that:
/// no treatment of a wrong row can bring it back.
#[derive(Debug, Default)]
struct Outcomes {
    of: usize,
    named: usize,
    stayed: usize,
    as_unread: usize,
    worth_more: usize,
}

fn slip_in_every_row(slip: Slip) -> Outcomes {
    let mut outcomes = Outcomes::default();
    for kind in [MachineKind::Spiral, MachineKind::Planetary, MachineKind::Hands] {
        for seed in 0..12 {
            let draws = &mut Draws::seeded(seed);
            let log = Kitchen::draw(draws, kind).log(draws, BATCHES);
            let sound = calibrate(&log, &Options::default()).unwrap();
            for row in 0..BATCHES {
                let id = log.batches[row].id.clone();
                let slipped = calibrate(&mistype(&log, row, slip), &Options::default()).unwrap();
                outcomes.of += 1;
                outcomes.named += usize::from(slipped.heat.looks_mistyped().any(|b| b.id == id));
                outcomes.stayed += usize::from(moved(&sound, &slipped).0 <= 1.0);
                let without = calibrate(&unread(&log, row), &Options::default()).unwrap();
                outcomes.as_unread += usize::from(moved(&without, &slipped).0 <= 1.0);
                outcomes.worth_more += usize::from(moved(&sound, &without).0 > 1.0);
            }
        }
    }
    println!("{slip:?}: {outcomes:?}");
    outcomes
}

/// A dough temperature off by 10 °C. A machine of nine batches may leave room for a few
/// such rows that are as likely an unusual machine.
#[test]
fn a_slip_of_the_dough_is_named_and_does_little() {
    for slip in [Slip::WarmerBy10, Slip::ColderBy10] {
        let outcomes = slip_in_every_row(slip);
        assert!(100 * outcomes.named >= 99 * outcomes.of, "{slip:?}: {outcomes:?}");
        assert!(100 * outcomes.stayed >= 90 * outcomes.of, "{slip:?}: {outcomes:?}");
        assert!(100 * outcomes.as_unread >= 98 * outcomes.of, "{slip:?}: {outcomes:?}");
        // What is lost is what the row itself would have told, but for one row in fifty.
        let lost = outcomes.of - outcomes.stayed;
        assert!(50 * lost <= 50 * outcomes.worth_more + outcomes.of, "{slip:?}: {outcomes:?}");
    }
}

/// Water in °F. The reader refuses what is too hot to be meant; what is left may pass for
/// an unusual machine more often.
#[test]
fn water_in_fahrenheit_is_mostly_named() {
    let outcomes = slip_in_every_row(Slip::WaterInFahrenheit);
    assert!(100 * outcomes.named >= 94 * outcomes.of, "{outcomes:?}");
    assert!(100 * outcomes.stayed >= 77 * outcomes.of, "{outcomes:?}");
    assert!(100 * outcomes.as_unread >= 84 * outcomes.of, "{outcomes:?}");
}
