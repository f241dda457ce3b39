//! A great many batches, each read several times: another search, the same answer.

use kneadfit::calibration::{Options, calibrate};

use crate::support::exact::{ModelMachine, Uncertainties};
use crate::support::rng::Draws;

/// The truth lies within five standard errors, and the errors are as small as so many batches
/// make them.
#[test]
fn a_log_of_many_batches_with_several_readings_is_fitted() {
    let draws = &mut Draws::seeded(77);
    let mut machine = ModelMachine::draw(draws, &["low", "high"], 12.0, &[]);
    for (speed, friction) in machine.speeds.iter_mut().zip([20.0, 45.0]) {
        speed.friction_w_per_kg = friction;
    }
    machine.scatter_k = 0.4;
    let log = machine.log(draws, 1_500, &Uncertainties::default());
    assert!(log.reading_count() > log.batches.len());
    let options =
        Options { usual_charge_kg: Some(machine.reference_dough_kg), ..Options::default() };
    let heat = calibrate(&log, &options).unwrap().heat;
    assert!(heat.outcome.is_success(), "{}", heat.outcome);
    for (name, truth) in [
        ("friction_low", 20.0_f64.ln()),
        ("friction_high", 45.0_f64.ln()),
        ("exchange", machine.exchange_w_per_k.ln()),
        ("bowl", machine.bowl_kj_per_k.ln()),
        ("wetting", machine.wetting_kj_per_kg),
        ("charge_exponent", machine.charge_exponent),
        ("stiffness", machine.stiffness),
        ("softening", machine.softening_per_k),
    ] {
        let e = heat.estimate(name).unwrap();
        let (found, sd) = (e.scale.fitted(e.value), e.standard_error.unwrap());
        assert!((found - truth).abs() < 5.0 * sd, "{name}: {found} ± {sd}, truth {truth}");
    }
    assert!(heat.estimate("friction_high").unwrap().standard_error.unwrap() < 0.02);
}
