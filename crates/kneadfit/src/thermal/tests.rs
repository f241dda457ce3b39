use std::sync::Arc;

use super::*;
use crate::charge::{Charge, Material, Phase};

fn speeds() -> Vec<Arc<str>> {
    vec!["low".into(), "high".into()]
}

fn model() -> HeatModel {
    HeatModel::new(20.0)
}

fn coefficients() -> HeatCoefficients {
    HeatCoefficients {
        friction_w_per_kg: vec![21.0, 55.0],
        exchange_w_per_k_kg23: 0.9,
        bowl_kj_per_k: 4.5,
        wetting_kj_per_kg: 14.2,
        charge_exponent: -0.11,
        stiffness: 1.3,
        softening_per_k: 0.017,
        flour_friction: vec![1.12, 0.93],
    }
}

/// A batch with every material, a logged bowl, a rest and three readings.
fn everything() -> Batch {
    let charge = Charge::new(26.0)
        .with(Material::Flour, 8.0, 19.0)
        .with(Material::Water, 4.0, 7.0)
        .with(Material::Ice, 0.4, -8.0)
        .with(Material::Preferment { hydration: 0.9 }, 1.7, 12.0)
        .with(Material::Salt, 0.18, 26.0)
        .with(Material::Sugar, 0.12, 26.0)
        .with(Material::Fat, 0.3, 26.0)
        .with(Material::Other { specific_heat_kj_per_kg_k: 2.9 }, 0.5, 4.0)
        .in_bowl_at(29.0);
    Batch::new("all", charge, vec![Phase::mixing("low", 4.0)])
        .read_dough(15.0)
        .then(vec![Phase::rest(15.0), Phase::mixing("high", 3.5)], Default::default())
        .then(vec![Phase::mixing("high", 2.0)], Default::default())
}

fn perturbed(value: f64, step: f64, f: impl Fn(f64) -> Vec<f64>) -> Vec<f64> {
    let near = (f(value + step), f(value - step));
    let far = (f(value + 2.0 * step), f(value - 2.0 * step));
    (0..near.0.len())
        .map(|i| (8.0 * (near.0[i] - near.1[i]) - (far.0[i] - far.1[i])) / (12.0 * step))
        .collect()
}

#[test]
fn derivatives_by_coefficients_are_those_of_differences() {
    let (model, batch) = (model(), everything());
    let analytic = model.sensitivity(&coefficients(), &batch, &speeds()).unwrap();
    let row = coefficients().to_vec();
    for index in 0..row.len() {
        let step = 1e-3 * row[index].abs();
        let numeric = perturbed(row[index], step, |value| {
            let mut moved = row.clone();
            moved[index] = value;
            let mut c = coefficients();
            c.set_from(&moved);
            model.forecast_c(&c, &batch, &speeds()).unwrap()
        });
        for (stage, by_difference) in numeric.iter().enumerate() {
            let exact = analytic[stage].by_coefficient[index];
            assert!(
                (exact - by_difference).abs() < 1e-8 * (exact.abs() + 1e-3),
                "coefficient {index} stage {stage}: {exact} against {by_difference}"
            );
        }
    }
}

/// Moves one input of [`everything`] by `by` in the unit in which [`Input`] counts it.
fn moved(input: Input, by: f64) -> Batch {
    let mut batch = everything();
    let mut phases_seen = 0;
    match input {
        Input::RoomC => batch.charge.room_c += by,
        Input::BowlC => batch.charge.bowl_c = batch.charge.bowl_c.map(|c| c + by),
        Input::Minutes(wanted) => {
            for phase in batch.stages.iter_mut().flat_map(|s| &mut s.phases) {
                if phases_seen == wanted {
                    phase.minutes += by;
                }
                phases_seen += 1;
            }
        }
        _ => {}
    }
    for ingredient in &mut batch.charge.ingredients {
        match (input, ingredient.material) {
            (Input::FlourC, Material::Flour)
            | (Input::WaterC, Material::Water)
            | (Input::PrefermentC, Material::Preferment { .. })
            | (Input::OtherC, Material::Other { .. })
            | (Input::RoomC, Material::Salt | Material::Sugar | Material::Fat) => {
                ingredient.temperature_c += by;
            }
            (Input::FlourScale, Material::Flour)
            | (Input::WaterScale, Material::Water)
            | (Input::IceScale, Material::Ice) => ingredient.mass_kg *= 1.0 + by,
            _ => {}
        }
    }
    batch
}

#[test]
fn derivatives_by_inputs_are_those_of_differences() {
    let (model, batch) = (model(), everything());
    let analytic = model.sensitivity(&coefficients(), &batch, &speeds()).unwrap();
    assert_eq!(analytic[0].by_input.len(), 9 + 4);
    for (index, &(input, _)) in analytic[0].by_input.iter().enumerate() {
        let numeric = perturbed(0.0, 1e-3, |by| {
            model.forecast_c(&coefficients(), &moved(input, by), &speeds()).unwrap()
        });
        for (stage, by_difference) in numeric.iter().enumerate() {
            let exact = analytic[stage].by_input[index].1;
            assert!(
                (exact - by_difference).abs() < 1e-8 * (exact.abs() + 1e-3),
                "{input:?} stage {stage}: {exact} against {by_difference}"
            );
        }
    }
}

/// A flour's friction multiplies that of every speed: forecasts, derivatives by it, and what a
/// flour that was never logged adds, against a machine whose speeds rub so much more.
#[test]
fn a_flours_friction_is_that_of_every_speed() {
    let (model, batch, c) = (model(), everything(), coefficients());
    let of = |flour| HeatTerms::new(&model, &batch, &speeds()).unwrap().of_flour(flour);
    let with = |c: &HeatCoefficients, terms: &HeatTerms| {
        let (mut dough_c, mut by) = (Vec::new(), Vec::new());
        HeatWalk::new(2).linearise(&model, c, terms, |_, end_c, by_coefficient| {
            dough_c.push(end_c);
            by.push(by_coefficient.to_vec());
        });
        (dough_c, by)
    };
    let rubbing = |factor: f64| {
        let friction_w_per_kg = c.friction_w_per_kg.iter().map(|q| factor * q).collect();
        let machine = HeatCoefficients { friction_w_per_kg, ..c.clone() };
        with(&machine, &of(FlourOf::Reference)).0
    };
    let by_factor = perturbed(1.0, 1e-3, rubbing);
    let (dough_c, by) = with(&c, &of(FlourOf::Other(1)));
    let by_own = perturbed(0.93, 1e-3, rubbing);
    for (stage, (here, expected)) in dough_c.iter().zip(rubbing(0.93)).enumerate() {
        assert!((here - expected).abs() < 1e-12);
        let [first, own] = by[stage][8..] else { panic!("a derivative by each flour") };
        assert_eq!(first, 0.0);
        assert!((own - by_own[stage]).abs() < 1e-8 * own.abs());
    }
    assert_eq!(with(&c, &of(FlourOf::Reference)).1[2][8..], [0.0, 0.0]);
    let unknown = sensitivities(&model, &c, &of(FlourOf::Unknown));
    for (stage, by_input) in unknown.iter().enumerate() {
        let by = by_input.iter().find(|(input, _)| *input == Input::FlourFriction).unwrap().1;
        assert!((by - by_factor[stage]).abs() < 1e-8 * by.abs());
    }
    let known = sensitivities(&model, &c, &of(FlourOf::Other(0)));
    assert!(known[0].iter().all(|(input, _)| *input != Input::FlourFriction));
}

/// An outside solution of the same balance: many short Runge–Kutta steps.
#[test]
fn closed_form_is_the_balance_integrated() {
    let (model, batch, c) = (model(), everything(), coefficients());
    let closed = model.forecast_c(&c, &batch, &speeds()).unwrap();
    let terms = HeatTerms::new(&model, &batch, &speeds()).unwrap();
    let capacity = terms.capacity_kj_per_k + c.bowl_kj_per_k;
    let mut dough_c = (terms.heat_kj
        + c.bowl_kj_per_k * terms.bowl_c
        + c.wetting_kj_per_kg * terms.dry_flour_kg())
        / capacity;
    let charge_factor = (terms.mass_kg / model.usual_charge_kg).powf(c.charge_exponent)
        * (-c.stiffness * (terms.hydration.unwrap() - 0.65)).exp();
    let mut stage = 0;
    for (index, s) in batch.stages.iter().enumerate() {
        for phase in &s.phases {
            let q = match &*phase.speed {
                "low" => c.friction_w_per_kg[0],
                "high" => c.friction_w_per_kg[1],
                _ => 0.0,
            };
            let slope = |t: f64| {
                0.06 * (q * terms.mass_kg * charge_factor * (1.0 - c.softening_per_k * (t - 24.0))
                    + c.exchange_w_per_k_kg23 * terms.mass_kg.powf(2.0 / 3.0) * (terms.room_c - t))
                    / capacity
            };
            let h = phase.minutes / 500.0;
            for _ in 0..500 {
                let k1 = slope(dough_c);
                let k2 = slope(dough_c + 0.5 * h * k1);
                let k3 = slope(dough_c + 0.5 * h * k2);
                let k4 = slope(dough_c + h * k3);
                dough_c += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
            }
        }
        assert!((closed[index] - dough_c).abs() < 1e-10, "{index}: {} {dough_c}", closed[index]);
        stage += 1;
    }
    assert_eq!(stage, 3);
}

#[test]
fn ice_that_the_batch_cannot_melt_is_named() {
    let charge = Charge::new(10.0).with(Material::Flour, 1.0, 5.0).with(Material::Ice, 0.8, -18.0);
    let batch = Batch::new("frozen", charge, vec![Phase::mixing("low", 2.0)]);
    let error = model().forecast_c(&coefficients(), &batch, &speeds()).unwrap_err();
    assert!(matches!(error, BatchError::IceNotMelted { short_kj, .. } if short_kj > 100.0));
}
