//! A great many batches, each read several times: another search, the same answer.

use kneadfit::batch::{BatchError, BatchLog};
use kneadfit::calibration::{CalibrationError, Options, calibrate};
use kneadfit::charge::Material;

use crate::support::exact::{ModelMachine, Uncertainties};
use crate::support::rng::Draws;

fn machine_and_log(batches: usize) -> (ModelMachine, BatchLog) {
    let draws = &mut Draws::seeded(77);
    let mut machine = ModelMachine::draw(draws, &["low", "high"], 12.0, &[]);
    for (speed, friction) in machine.speeds.iter_mut().zip([20.0, 45.0]) {
        speed.friction_w_per_kg = friction;
    }
    machine.scatter_k = 0.4;
    let log = machine.log(draws, batches, &Uncertainties::default());
    (machine, log)
}

/// The truth lies within five standard errors, and the errors are as small as so many batches
/// make them.
#[test]
fn a_log_of_many_batches_with_several_readings_is_fitted() {
    let (machine, log) = machine_and_log(1_500);
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

/// So many batches are shared out among the threads that there are.
fn shared_out() -> BatchLog {
    let (_, mut log) = machine_and_log(3_000);
    log.batches.extend_from_within(..);
    log.batches.extend_from_within(..4_000);
    log
}

#[test]
fn bits_do_not_hang_on_the_number_of_threads() {
    let log = shared_out();
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| calibrate(&log, &Options::default())).unwrap()
    };
    let (alone, together) = (on(1), on(3));
    for (a, b) in [
        (&alone.heat, &together.heat),
        (alone.development.as_ref().unwrap(), together.development.as_ref().unwrap()),
    ] {
        let bits = |numbers: &[f64]| numbers.iter().map(|x| x.to_bits()).collect::<Vec<_>>();
        assert_eq!(bits(&a.fitted), bits(&b.fitted));
        assert_eq!(bits(a.covariance.as_ref().unwrap()), bits(b.covariance.as_ref().unwrap()));
        assert_eq!(a.batches, b.batches);
    }
}

/// Of several batches that cannot be, the first is named, whoever meets it first.
#[test]
fn the_first_impossible_batch_is_named() {
    let mut log = shared_out();
    for index in [9_500, 6_100, 8_000] {
        let batch = &mut log.batches[index];
        batch.id = format!("frozen {index}").into();
        batch.charge = batch.charge.clone().with(Material::Ice, 15.0, -18.0);
    }
    let error = calibrate(&log, &Options::default()).unwrap_err();
    let CalibrationError::Batch(BatchError::IceNotMelted { batch, .. }) = error else {
        panic!("{error}");
    };
    assert_eq!(&*batch, "frozen 6100");
}

/// Two machines in one log, thousands of batches: the fit comes to its end, and says that
/// nobody should believe it.
#[test]
fn two_machines_in_one_log_are_warned_of() {
    let (_, one) = machine_and_log(2_000);
    let draws = &mut Draws::seeded(78);
    let mut other = ModelMachine::draw(draws, &["low", "high"], 12.0, &[]);
    for (speed, friction) in other.speeds.iter_mut().zip([80.0, 240.0]) {
        speed.friction_w_per_kg = friction;
    }
    let other = other.log(draws, 2_000, &Uncertainties::default());
    let batches = one.batches.into_iter().zip(other.batches).flat_map(|(a, b)| [a, b]).collect();
    let heat = calibrate(&BatchLog { batches, ..other }, &Options::default()).unwrap().heat;
    assert!(heat.outcome.is_success(), "{}", heat.outcome);
    assert!(heat.warnings.iter().any(|w| w.contains("several machines")), "{:?}", heat.warnings);
    assert!(!heat.is_mostly_disbelieved());
}
