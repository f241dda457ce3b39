//! A mistyped row among eight others must not move the fit.

use kneadfit::batch::BatchLog;
use kneadfit::calibration::{Calibration, Options, calibrate};
use kneadfit::inference::Estimate;

use crate::support::exact::{ModelMachine, Uncertainties};
use crate::support::rng::Draws;

fn fit(log: &BatchLog) -> Calibration {
    calibrate(log, &Options { usual_charge_kg: Some(16.0), ..Options::default() }).unwrap()
}

/// Spoils the dough temperature of one batch of nine by `off` and compares the fit with
/// that of the clean log, and of the log in which that reading was never written down.
fn spoil_by(off: f64) {
    let mut draws = Draws::seeded(7);
    let (mut moved_far, mut coefficients) = (0, 0);
    for _ in 0..12 {
        let mut machine = ModelMachine::draw(&mut draws, &["low", "high"], 16.0, &["house"]);
        for speed in &mut machine.speeds {
            speed.friction_w_per_kg = draws.uniform(15.0, 60.0);
        }
        machine.scatter_k = draws.uniform(0.0, 0.5);
        let clean = machine.log(&mut draws, 9, &Uncertainties::default());
        let before = fit(&clean);
        let spoilt_batch = draws.below(9);
        let mut spoilt = clean.clone();
        let batch = &mut spoilt.batches[spoilt_batch];
        let stage = batch.stages.iter_mut().rev().find(|s| s.reading.dough_c.is_some()).unwrap();
        stage.reading.dough_c = stage.reading.dough_c.map(|c| c + off);
        let after = fit(&spoilt);
        let mut eight = clean.clone();
        let unread = eight.batches[spoilt_batch].stages.iter_mut().rev();
        if let Some(stage) = unread.into_iter().find(|s| s.reading.dough_c.is_some()) {
            stage.reading.dough_c = None;
        }
        let others = fit(&eight);
        for ((clean, spoilt), others) in
            before.heat.estimates.iter().zip(&after.heat.estimates).zip(&others.heat.estimates)
        {
            let fitted = |e: &Estimate| e.scale.fitted(e.value);
            // The row's own knowledge is lost with it: against the clean log the fit moves
            // as far as one reading less moves it, and the error grows to say so.
            let error = spoilt.standard_error.unwrap();
            let moved = (fitted(clean) - fitted(spoilt)).abs() / error;
            moved_far += usize::from(moved > 1.0);
            coefficients += 1;
            assert!(
                moved <= 1.5,
                "{off} °C off, batch {spoilt_batch}: {} moves from {} to {}, error {error}",
                clean.name,
                clean.value,
                spoilt.value
            );
            assert!(
                (fitted(others) - fitted(spoilt)).abs() <= 0.25 * error,
                "{off} °C off, batch {spoilt_batch}: {} is {}, by the others alone {}",
                spoilt.name,
                spoilt.value,
                others.value
            );
        }
        let named: Vec<usize> = after.heat.looks_mistyped().map(|b| b.in_log).collect();
        assert_eq!(named, [spoilt_batch], "{off} °C off");
    }
    assert!(50 * moved_far <= coefficients, "{moved_far} of {coefficients} moved by an error");
}

#[test]
fn a_mistyped_dough_temperature_moves_no_coefficient_by_a_standard_error() {
    spoil_by(9.0);
    spoil_by(-9.0);
}
