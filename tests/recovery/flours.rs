//! Flours whose doughs rub differently: what a fit makes of them, and what it says of one that it
//! never saw.

use kneadfit::batch::{Batch, BatchLog};
use kneadfit::calibration::{Options, calibrate};
use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::forecast::Forecaster;
use kneadfit::numeric::normal_quantile;
use kneadfit::profile::{Profile, Provenance};

use crate::calibrated::{LEVELS, calibrated, count_coefficients, truth_of};
use crate::coverage::Coverage;
use crate::support::exact::{ModelMachine, Uncertainties};
use crate::support::rng::Draws;

/// Three flours whose doughs rub differently, one of which the log may never have seen. The
/// machine is drawn with one of them for its reference; logs that the fit refers to another say
/// nothing of the priors' machines and are not counted.
#[test]
fn intervals_hold_where_flours_rub_differently() {
    let mut heat = [Coverage::default(); 2];
    let mut dough = [Coverage::default(); 2];
    let mut flours = [Coverage::default(); 2];
    let mut unseen = 0;
    for (size, logs) in [(2, 900), (6, 900), (12, 900), (30, 600)] {
        let mut draws = Draws::seeded(7_000 + size);
        for _ in 0..logs {
            let names = ["bread", "soft", "rye"];
            let machine = ModelMachine::draw(&mut draws, &["low", "high"], 16.0, &names);
            let (calibration, next) = calibrated(&machine, &mut draws, size as usize);
            if calibration.reference_flour.as_deref() != Some(names[0]) {
                continue;
            }
            let truth = truth_of(&machine, &calibration);
            count_coefficients(&calibration.heat, &truth, &mut heat);
            let of_flours: Vec<(String, f64)> =
                truth.into_iter().filter(|(name, _)| name.starts_with("dough_friction_")).collect();
            for flour in &calibration.flours {
                let name = format!("dough_friction_{flour}");
                let estimate = calibration.heat.estimate(&name).unwrap();
                let (_, truth) = of_flours.iter().find(|(n, _)| *n == name).unwrap();
                for (level, coverage) in LEVELS.iter().zip(flours.iter_mut()) {
                    let half =
                        normal_quantile(0.5 * (1.0 + level)) * estimate.standard_error.unwrap();
                    coverage.count(
                        estimate.value.ln() - half,
                        truth.ln(),
                        estimate.value.ln() + half,
                    );
                }
            }
            let profile = Profile::new(&calibration, &Provenance::default());
            let forecaster = Forecaster::new(&profile).unwrap();
            let name = next.charge.flour_name.as_ref().unwrap();
            let known = calibration.reference_flour.as_ref() == Some(name)
                || calibration.flours.contains(name);
            unseen += usize::from(!known);
            for (level, coverage) in LEVELS.iter().zip(dough.iter_mut()) {
                let stages = forecaster.forecast(&next, *level).unwrap();
                for (stage, forecast) in next.stages.iter().zip(&stages) {
                    let read = stage.reading.dough_c.unwrap();
                    let (low, high) = forecast.dough_interval_c.unwrap();
                    coverage.count(low, read, high);
                }
            }
        }
    }
    println!("next doughs of a flour never logged: {unseen}");
    assert!(unseen > 100);
    for (what, coverage) in [("heat", heat), ("flours", flours), ("next dough", dough)] {
        println!("with flours, {what}: {} / {}", coverage[0], coverage[1]);
        coverage[0].assert_within(&format!("95 % intervals of {what} with flours"), 0.94, 0.96);
        coverage[1].assert_within(&format!("80 % intervals of {what} with flours"), 0.78, 0.82);
    }
}

/// A machine from the middle of the priors, and its log of `n` batches of these flours.
fn sound(flours: &[&str], friction: f64, n: usize) -> BatchLog {
    let mut draws = Draws::seeded(77);
    let mut machine = ModelMachine::draw(&mut draws, &["low", "high"], 16.0, flours);
    machine.speeds[0].friction_w_per_kg = 20.0;
    machine.speeds[1].friction_w_per_kg = 45.0;
    machine.scatter_k = 0.3;
    machine.flours.iter_mut().skip(1).for_each(|flour| flour.friction = friction);
    machine.log(&mut draws, n, &Uncertainties::default())
}

/// However many flours there are: what is not known is told of the machine, in words.
#[test]
fn many_flours_leave_no_empty_words() {
    let names: Vec<String> = (0..40).map(|i| format!("flour {i}")).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let calibration = calibrate(&sound(&names, 1.0, 45), &Options::default()).unwrap();
    assert!(calibration.flours.len() > 20);
    let parts = [Some(&calibration.heat), calibration.development.as_ref()];
    let open = || parts.iter().flatten().flat_map(|part| &part.left_open);
    assert!(open().count() > 0);
    for unknown in open() {
        assert!(unknown.words.len() > 10 && unknown.remedy.len() > 10, "{unknown:?}");
        assert!(!unknown.direction.is_empty());
    }
    let of_heat = calibration.heat.left_open.iter().flat_map(|unknown| &unknown.direction);
    for (name, _) in of_heat {
        assert!(!name.starts_with("dough_friction_"), "{name}");
    }
}

/// A flour quite unlike the others is found as it is, and is no reason to doubt the log.
#[test]
fn a_flour_unlike_the_others_is_no_broken_log() {
    let calibration = calibrate(&sound(&["bread", "rye"], 1.3, 120), &Options::default()).unwrap();
    let (flour, truth) = match calibration.reference_flour.as_deref() {
        Some("bread") => ("dough_friction_rye", 1.3),
        _ => ("dough_friction_bread", 1.0 / 1.3),
    };
    let found = calibration.heat.estimate(flour).unwrap();
    let (low, high) = found.interval_95.unwrap();
    assert!(low < truth && truth < high, "{found:?}");
    assert!(calibration.heat.warnings.is_empty(), "{:?}", calibration.heat.warnings);
}

/// A dough of flour in a room, mixed for eight minutes.
fn dough(flour: Option<&str>) -> Batch {
    let mut charge = Charge::new(24.0)
        .with(Material::Flour, 9.0, 22.0)
        .with(Material::Water, 5.9, 12.0)
        .with(Material::Salt, 0.18, 24.0);
    charge.flour_name = flour.map(Into::into);
    Batch::new("next", charge, vec![Phase::mixing("low", 3.0), Phase::mixing("high", 5.0)])
}

/// Which names widen a forecast: a flour that was never logged, where any was named at all.
#[test]
fn a_flour_is_unlike_only_where_flours_are_known() {
    let of = |flours: &[&str]| {
        let calibration = calibrate(&sound(flours, 1.0, 30), &Options::default()).unwrap();
        Forecaster::new(&Profile::new(&calibration, &Provenance::default())).unwrap()
    };
    let forecast = |forecaster: &Forecaster, batch: &Batch| {
        let forecast = forecaster.forecast(batch, 0.95).unwrap().pop().unwrap();
        let (low, high) = forecast.dough_interval_c.unwrap();
        let outside = forecast.outside.iter().any(|o| o.input == "flour");
        (forecast.dough_c, high - low, outside)
    };
    let named = of(&["bread", "rye"]);
    let plain = forecast(&named, &dough(None));
    let strange = forecast(&named, &dough(Some("spelt")));
    assert_eq!((plain.0, plain.2), (strange.0, false));
    assert!(strange.1 > 1.02 * plain.1 && strange.2, "{strange:?} {plain:?}");
    let unnamed = of(&[]);
    assert_eq!(forecast(&unnamed, &dough(Some("spelt"))), forecast(&unnamed, &dough(None)));
    // Water is of no flour, whatever is written beside it.
    let charge = Charge::new(24.0).with(Material::Water, 12.0, 20.0).of_flour("spelt");
    let water = Batch::new("water", charge, vec![Phase::mixing("low", 3.0)]);
    assert!(!forecast(&named, &water).2);
}
