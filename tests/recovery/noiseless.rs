//! Without noise, plain least squares gives the true coefficients back.

use kneadfit::calibration::{Options, calibrate};

use crate::support::exact::ModelMachine;
use crate::support::rng::Draws;

#[test]
fn noiseless_logs_give_the_true_coefficients() {
    let mut draws = Draws::seeded(41);
    for round in 0..5 {
        let mut machine = ModelMachine::draw(&mut draws, &["low", "high"], 12.0, &["house"]);
        // Machines of the middle of the priors: extremes cook the dough.
        for speed in &mut machine.speeds {
            speed.friction_w_per_kg = draws.uniform(12.0, 70.0);
            speed.development_per_min = draws.uniform(0.02, 0.05);
        }
        let log = machine.exact_log(&mut draws, 60);
        let options = Options {
            with_prior: false,
            usual_charge_kg: Some(machine.reference_dough_kg),
            ..Options::default()
        };
        let calibration = calibrate(&log, &options).unwrap();
        assert!(calibration.heat.outcome.is_success(), "{}", calibration.heat.outcome);
        let truth = [
            ("friction_low", machine.speeds[0].friction_w_per_kg),
            ("friction_high", machine.speeds[1].friction_w_per_kg),
            ("exchange", machine.exchange_w_per_k),
            ("bowl", machine.bowl_kj_per_k),
            ("wetting", machine.wetting_kj_per_kg),
            ("charge_exponent", machine.charge_exponent),
            ("stiffness", machine.stiffness),
            ("softening", machine.softening_per_k),
        ];
        for (name, truth) in truth {
            let found = calibration.heat.estimate(name).unwrap().value;
            assert!(
                (found - truth).abs() <= 1e-8 * truth.abs().max(1e-2),
                "round {round}, {name}: {found} instead of {truth}"
            );
        }
        let development = calibration.development.as_ref().unwrap();
        for (name, truth) in [
            ("development_low", machine.speeds[0].development_per_min),
            ("development_high", machine.speeds[1].development_per_min),
            ("development_at_rest", machine.rest_per_min),
            ("q10", machine.q10),
        ] {
            let found = development.estimate(name).unwrap().value;
            assert!(
                (found - truth).abs() <= 1e-7 * truth,
                "round {round}, {name}: {found} instead of {truth}"
            );
        }
    }
}
