//! What must hold for every forecast.

use std::sync::Arc;

use kneadfit::batch::Batch;
use kneadfit::calibration::{Options, calibrate};
use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::forecast::Forecaster;
use kneadfit::profile::{Profile, Provenance};
use kneadfit::thermal::{HeatCoefficients, HeatModel};
use proptest::prelude::*;

use crate::support::exact::ModelMachine;
use crate::support::rng::Draws;

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    /// Where the room is no colder than the dough and the dough is not so warm that
    /// softening has taken all friction, more minutes make it warmer, never past the
    /// balance of both.
    #[test]
    fn friction_warms_with_the_minutes(
        q in 1.0..150.0_f64, u in 0.0..5.0_f64, bowl in 0.0..20.0_f64,
        beta in -0.5..0.5_f64, gamma in -2.0..5.0_f64, alpha in 0.0..0.04_f64,
        room_c in 15.0..40.0_f64, water_c in 1.0..20.0_f64, hydration in 0.5..0.9_f64,
        flour_kg in 0.3..40.0_f64, minutes in 0.1..30.0_f64, more in 0.1..30.0_f64,
    ) {
        let model = HeatModel::new(20.0);
        let c = HeatCoefficients {
            friction_w_per_kg: vec![q],
            exchange_w_per_k_kg23: u,
            bowl_kj_per_k: bowl,
            charge_exponent: beta,
            stiffness: gamma,
            softening_per_k: alpha,
            wetting_kj_per_kg: 0.0,
            flour_friction: Vec::new(),
        };
        let charge = Charge::new(room_c)
            .with(Material::Flour, flour_kg, room_c)
            .with(Material::Water, hydration * flour_kg, water_c.min(room_c));
        let speeds: [Arc<str>; 1] = ["low".into()];
        let after = |minutes| {
            let batch = Batch::new("1", charge.clone(), vec![Phase::mixing("low", minutes)]);
            model.forecast_c(&c, &batch, &speeds).unwrap()[0]
        };
        let (start, middle, end) = (after(0.0), after(minutes), after(minutes + more));
        prop_assert!(start < middle, "{start} {middle}");
        // Near the balance the two are the same to rounding.
        prop_assert!(middle <= end + 1e-9, "{middle} {end}");
        if alpha == 0.0 && u == 0.0 {
            prop_assert!(middle < end);
        }
        // Phases add up: the same minutes in two parts.
        let batch = Batch::new(
            "1",
            charge.clone(),
            vec![Phase::mixing("low", minutes), Phase::mixing("low", more)],
        );
        let parted = model.forecast_c(&c, &batch, &speeds).unwrap()[0];
        prop_assert!((parted - end).abs() < 1e-10 * end.abs().max(1.0), "{parted} {end}");
    }

    /// The interval holds the mean and grows with its level.
    #[test]
    fn intervals_hold_the_mean_and_grow_with_their_level(
        seed in 0_u64..1 << 32, n in 1_usize..16,
    ) {
        let draws = &mut Draws::seeded(seed);
        let (machine, log) = ModelMachine::with_log(draws, &["low", "high"], 12.0, &["white", "rye"], n);
        let profile =
            Profile::new(&calibrate(&log, &Options::default()).unwrap(), &Provenance::default());
        let forecaster = Forecaster::new(&profile).unwrap();
        for _ in 0..5 {
            let batch = machine.plan(draws, "next");
            let mut before: Option<((f64, f64), (f64, f64))> = None;
            for level in [0.5, 0.8, 0.95, 0.999] {
                let forecast = forecaster.forecast(&batch, level).unwrap().pop().unwrap();
                let (low, high) = forecast.dough_interval_c.unwrap();
                prop_assert!(low < forecast.dough_c && forecast.dough_c < high, "{forecast:?}");
                let graded = forecast.development_interval.unwrap();
                let d = forecast.development.unwrap();
                prop_assert!(graded.0 <= d && d <= graded.1.max(d.min(0.95)), "{forecast:?}");
                if let Some(((low_before, high_before), of_grade)) = before {
                    prop_assert!(low < low_before && high > high_before, "{level}");
                    prop_assert!(graded.0 <= of_grade.0 && graded.1 >= of_grade.1, "{level}");
                }
                before = Some(((low, high), graded));
            }
        }
    }
}
