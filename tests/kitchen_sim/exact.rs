//! The second writing of the model, held against sums done by hand.

use kneadfit::batch::Batch;
use kneadfit::charge::{Charge, Material, Phase};

use crate::support::exact::{ModelFlour, ModelMachine, ModelSpeed, Uncertainties};
use crate::support::rng::Draws;

/// One speed, no bowl, no exchange, no softening: what is left can be done by hand.
fn plain() -> ModelMachine {
    ModelMachine {
        speeds: vec![ModelSpeed {
            name: "low".into(),
            friction_w_per_kg: 40.0,
            development_per_min: 0.1,
        }],
        exchange_w_per_k: 0.0,
        bowl_kj_per_k: 0.0,
        wetting_kj_per_kg: 15.0,
        charge_exponent: 0.0,
        stiffness: 0.0,
        softening_per_k: 0.0,
        rest_per_min: 0.0,
        q10: 1.0,
        flours: vec![
            ModelFlour { name: "white".into(), rate: 1.0, friction: 1.0 },
            ModelFlour { name: "other".into(), rate: 0.5, friction: 1.25 },
        ],
        reference_dough_kg: 16.5,
        reference_hydration: 0.65,
        reference_c: 24.0,
        scatter_k: 0.0,
    }
}

fn dough(phases: Vec<Phase>) -> Batch {
    let charge =
        Charge::new(24.0).with(Material::Flour, 10.0, 20.0).with(Material::Water, 6.5, 10.0);
    Batch::new("1", charge, phases)
}

#[test]
fn start_and_friction_are_those_of_the_sum() {
    let (dough_c, grade) = plain().forecast(&dough(vec![Phase::mixing("low", 5.0)]))[0];
    let capacity = 10.0 * 1.84 + 6.5 * 4.185;
    let start_c = (18.4 * 20.0 + 6.5 * 4.185 * 10.0 + 150.0) / capacity;
    assert!((dough_c - start_c - 0.06 * 40.0 * 16.5 * 5.0 / capacity).abs() < 1e-10);
    // Half of a full development: 1 − 20^(−1/2).
    assert!((grade - (1.0 - 20.0_f64.powf(-0.5))).abs() < 1e-12);
}

#[test]
fn ice_salt_and_bowl_take_their_heat() {
    let machine = ModelMachine { bowl_kj_per_k: 3.0, ..plain() };
    let mut batch = dough(vec![]);
    batch.charge = batch
        .charge
        .with(Material::Ice, 0.5, -4.0)
        .with(Material::Salt, 0.2, 24.0)
        .with(Material::Preferment { hydration: 1.0 }, 2.0, 18.0)
        .in_bowl_at(30.0);
    let old = 1.84 + 4.185;
    let capacity = 18.4 + 7.0 * 4.185 + 0.2 * 0.88 + old + 3.0;
    let heat = 18.4 * 20.0 + 65.0 * 4.185 + 0.2 * 0.88 * 24.0 + old * 18.0 + 90.0 + 150.0
        - 0.2 * 66.0
        - 0.5 * (333.55 + 1.958 * 4.0);
    assert!((machine.forecast(&batch)[0].0 - heat / capacity).abs() < 1e-10);
}

/// Every term at once: linear in T, so an exponential towards an equilibrium.
#[test]
fn a_phase_is_an_exponential() {
    let machine = ModelMachine {
        exchange_w_per_k: 1.5,
        softening_per_k: 0.02,
        stiffness: 2.0,
        charge_exponent: 0.3,
        ..plain()
    };
    let mut batch = dough(vec![Phase::mixing("low", 9.3)]);
    batch.charge = batch.charge.with(Material::Water, 1.0, 10.0);
    let start_c = machine.forecast(&Batch::new("0", batch.charge.clone(), vec![]))[0].0;
    let capacity = 18.4 + 7.5 * 4.185;
    let q = 40.0 * 17.5 * (17.5_f64 / 16.5).powf(0.3) * (-2.0_f64 * 0.1).exp();
    let u = 1.5 * 17.5_f64.powf(2.0 / 3.0);
    let (gain, loss) = (q * (1.0 + 0.02 * 24.0) + u * 24.0, q * 0.02 + u);
    let equilibrium_c = gain / loss;
    let left = (-0.06 * loss / capacity * 9.3).exp();
    let expected = equilibrium_c + (start_c - equilibrium_c) * left;
    assert!((machine.forecast(&batch)[0].0 - expected).abs() < 1e-10);
}

#[test]
fn flour_and_warmth_change_the_pace() {
    let machine = ModelMachine { q10: 2.0, wetting_kj_per_kg: 0.0, ..plain() };
    let still = ModelMachine {
        speeds: vec![ModelSpeed { friction_w_per_kg: 0.0, ..machine.speeds[0].clone() }],
        ..machine
    };
    let charge = Charge::new(34.0)
        .with(Material::Flour, 10.0, 34.0)
        .with(Material::Water, 6.5, 34.0)
        .of_flour("other");
    // Twice as fast at 34 °C, half as fast by its flour.
    let grade = still.forecast(&Batch::new("1", charge, vec![Phase::mixing("low", 4.0)]))[0].1;
    assert!((grade - (1.0 - 20.0_f64.powf(-0.4))).abs() < 1e-12);
}

/// The scatter of readings about the model is what the uncertainties make of it.
#[test]
fn noise_is_as_stated() {
    let machine = plain();
    let planned = dough(vec![Phase::mixing("low", 5.0)]);
    let exact = machine.forecast(&planned)[0].0;
    let mut draws = Draws::seeded(5);
    let mut sd = |machine: &ModelMachine, u: &Uncertainties| {
        let n = 4000;
        let sum: f64 = (0..n)
            .map(|_| machine.observe(&mut draws, &planned, u).stages[0].reading.dough_c)
            .map(|read| (read.expect("read") - exact).powi(2))
            .sum();
        (sum / f64::from(n)).sqrt()
    };
    let none = Uncertainties {
        flour_c: 0.0,
        water_c: 0.0,
        room_c: 0.0,
        dough_c: 0.0,
        minutes: 0.0,
        scale_relative: 0.0,
        ice_relative: 0.0,
        development: 0.0,
    };
    let capacity = 18.4 + 6.5 * 4.185;
    assert_eq!(sd(&machine, &none), 0.0);
    // Nothing is lost to the room and nothing softens.
    let warmth_k = 5.0 * 0.06 * 40.0 * 16.5 / capacity;
    for (uncertainties, scatter_k, expected) in [
        (Uncertainties { flour_c: 0.5, ..none }, 0.0, 0.5 * 18.4 / capacity),
        (Uncertainties { water_c: 0.3, ..none }, 0.0, 0.3 * 6.5 * 4.185 / capacity),
        (Uncertainties { dough_c: 0.3, ..none }, 0.0, 0.3),
        (Uncertainties { minutes: 0.1, ..none }, 0.0, 0.1 * 0.06 * 40.0 * 16.5 / capacity),
        (none, 0.7, 0.7 * 0.3_f64.hypot(warmth_k / 10.0)),
    ] {
        let machine = ModelMachine { scatter_k, ..machine.clone() };
        let found = sd(&machine, &uncertainties);
        assert!((found / expected - 1.0).abs() < 0.06, "{uncertainties:?} {found} {expected}");
    }
}

/// Without noise the log says what the model says.
#[test]
fn exact_logs_hold_the_model() {
    let mut draws = Draws::seeded(11);
    let machine = ModelMachine::draw(&mut draws, &["low", "high"], 20.0, &["white"]);
    for batch in &machine.exact_log(&mut draws, 8).batches {
        for (stage, (dough_c, grade)) in batch.stages.iter().zip(machine.forecast(batch)) {
            assert_eq!(stage.reading.dough_c, Some(dough_c));
            assert_eq!(stage.reading.development, Some(grade));
        }
    }
}

/// Machines from the priors give logs that a reader of logs accepts.
#[test]
fn machines_from_the_priors_can_be_logged() {
    for seed in 0..200 {
        let mut draws = Draws::seeded(seed);
        let machine = ModelMachine::draw(&mut draws, &["low", "high"], 20.0, &["white", "whole"]);
        let log = machine.log(&mut draws, 6, &Uncertainties::default());
        assert!(log.batches.iter().all(|b| b.charge.mass_kg() <= 20.0 + 1e-9));
        for stage in log.batches.iter().flat_map(|b| &b.stages) {
            let dough_c = stage.reading.dough_c.expect("every stage is read");
            assert!((-5.0..150.0).contains(&dough_c), "seed {seed}: {dough_c}");
        }
    }
}
