//! Facts of the trade: common practice, no source.
//!
//! - By hand, kneading adds some 3 °C in all.
//! - In a room at 28 °C, with flour at 14, water near 3 and 66 % hydration, the dough of a
//!   domestic planetary stands at 13–15 °C once mixed, at 21 after 12 minutes, at 29 after
//!   5 more at near top speed, and only then is fully developed.
//! - A spiral reaches full development within 12 minutes at about 25 °C.
//!
//! Each kneader's log holds such a batch and eight ordinary ones of an invented machine of
//! its kind (the most likely one of `support::machines`, fixed seed).

use kneadfit::batch::{Batch, Reading};
use kneadfit::calibration::{Calibration, Options, calibrate};
use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::development::FULL_GRADE;
use kneadfit::forecast::Forecaster;
use kneadfit::profile::{Profile, Provenance};
use kneadfit::publish::Readings;

use crate::support::kitchen::Kitchen;
use crate::support::machines::{Machine, MachineKind};
use crate::support::rng::Draws;

fn lean(room_c: f64, flour_kg: f64, flour_c: f64, water_c: f64) -> Charge {
    Charge::new(room_c)
        .with(Material::Flour, flour_kg, flour_c)
        .with(Material::Water, 0.66 * flour_kg, water_c)
        .with(Material::Salt, 0.025 * flour_kg, room_c)
}

/// 12 minutes, read, 5 more near top speed, read: full only then.
fn planetary_batch() -> Batch {
    Batch::new("trade", lean(28.0, 1.0, 14.0, 3.0), vec![Phase::mixing("low", 12.0)])
        .read_dough(21.0)
        .then(
            vec![Phase::mixing("high", 5.0)],
            Reading { dough_c: Some(29.0), development: Some(1.0) },
        )
}

fn spiral_batch() -> Batch {
    let phases = vec![Phase::mixing("low", 4.0), Phase::mixing("high", 8.0)];
    Batch::new("trade", lean(22.0, 12.0, 20.0, 8.0), phases).read_dough(25.0).read_development(1.0)
}

fn hands_batch() -> Batch {
    let charge = lean(22.0, 1.0, 22.0, 22.0);
    Batch::new("trade", charge, vec![Phase::mixing("hand", 14.0)]).read_dough(25.0)
}

fn fitted(kind: MachineKind, trade: &Batch) -> Calibration {
    let draws = &mut Draws::seeded(66);
    let kitchen = Kitchen { machine: Machine::typical(kind), ..Kitchen::draw(draws, kind) };
    let mut batches = kitchen.log(draws, 8).batches;
    batches.insert(4, trade.clone());
    let calibration = calibrate(&kitchen.log_of(batches), &Options::default()).unwrap();
    assert!(calibration.converged());
    assert_eq!(calibration.heat.looks_mistyped().count(), 0, "{kind:?}");
    calibration
}

/// Every reading of the trade's batch lies within the profile's 95 % interval, which is
/// no wider than a baker has use for.
fn reproduces(calibration: &Calibration, trade: &Batch, widest_k: f64) {
    let profile = Profile::new(calibration, &Provenance::default());
    let forecasts = Forecaster::new(&profile).unwrap().forecast(trade, 0.95).unwrap();
    for (stage, forecast) in trade.stages.iter().zip(&forecasts) {
        let (low_c, high_c) = forecast.dough_interval_c.unwrap();
        let read_c = stage.reading.dough_c.unwrap();
        println!("{read_c} read, {:.2} ({low_c:.2} to {high_c:.2})", forecast.dough_c);
        assert!(low_c <= read_c && read_c <= high_c, "{read_c}: {low_c} to {high_c}");
        assert!(high_c - low_c < widest_k, "{low_c} to {high_c}");
        if let Some(grade) = stage.reading.development {
            let (low, high) = forecast.development_interval.unwrap();
            assert!(low <= grade && grade <= high, "{grade}: {low} to {high}");
        }
    }
}

#[test]
fn planetary_in_a_hot_room() {
    let trade = planetary_batch();
    let calibration = fitted(MachineKind::Planetary, &trade);
    reproduces(&calibration, &trade, 5.0);
    let profile = Profile::new(&calibration, &Provenance::default());
    let forecaster = Forecaster::new(&profile).unwrap();
    let forecast = |low: f64, high: f64| {
        let phases = vec![Phase::mixing("low", low), Phase::mixing("high", high)];
        let batch = Batch::new("ask", trade.charge.clone(), phases);
        forecaster.forecast(&batch, 0.95).unwrap().pop().unwrap()
    };
    // Once mixed: after two and a half minutes.
    let mixed_c = forecast(2.5, 0.0).dough_c;
    assert!((12.5..=15.5).contains(&mixed_c), "{mixed_c}");
    // Full only at the end.
    let (early, end) = (forecast(12.0, 0.0), forecast(12.0, 5.0));
    println!("development {:?}, then {:?}", early.development, end.development);
    assert!(early.development.unwrap() < FULL_GRADE, "{early:?}");
    assert!(end.development.unwrap() >= FULL_GRADE, "{end:?}");
}

#[test]
fn spiral_is_done_within_twelve_minutes() {
    let trade = spiral_batch();
    reproduces(&fitted(MachineKind::Spiral, &trade), &trade, 4.0);
}

#[test]
fn hands_add_three_degrees_in_all() {
    let trade = hands_batch();
    reproduces(&fitted(MachineKind::Hands, &trade), &trade, 4.0);
}

/// °C that one full development adds at the speeds of a programme: of each speed as the
/// profile reads it, weighed by what each adds to the dose, `Σ ΔT / ΣX` at 24 °C.
fn heat_per_development_k(calibration: &Calibration, phases: &[Phase]) -> f64 {
    let readings = Readings::new(calibration);
    let development = calibration.development.as_ref().unwrap();
    let (mut heat_k, mut dose) = (0.0, 0.0);
    for phase in phases {
        let of_speed = readings.of(&format!("friction_{}", phase.speed));
        let per_development =
            of_speed.iter().find(|r| r.says.starts_with("heat of one full development")).unwrap();
        let rate = development.estimate(&format!("development_{}", phase.speed)).unwrap();
        // 0.06 q m / (C κ), as the profile must say it.
        let friction = calibration.heat.estimate(&format!("friction_{}", phase.speed)).unwrap();
        let capacity = calibration.model.usual_capacity_kj_per_k()
            + calibration.heat.estimate("bowl").unwrap().value;
        let by_hand =
            0.06 * friction.value * calibration.model.usual_charge_kg / (capacity * rate.value);
        assert!((per_development.value / by_hand - 1.0).abs() < 1e-12);
        let adds = rate.value * phase.minutes;
        heat_k += per_development.value * adds;
        dose += adds;
    }
    heat_k / dose
}

#[test]
fn a_planetary_heats_more_for_the_same_development_than_a_spiral() {
    let heat = |kind, trade: &Batch| {
        let phases: Vec<Phase> = trade.phases().cloned().collect();
        heat_per_development_k(&fitted(kind, trade), &phases)
    };
    let planetary = heat(MachineKind::Planetary, &planetary_batch());
    let spiral = heat(MachineKind::Spiral, &spiral_batch());
    let hands = heat(MachineKind::Hands, &hands_batch());
    println!(
        "heat per full development: planetary {planetary:.1}, spiral {spiral:.1}, hands {hands:.1}"
    );
    assert!(planetary > 1.2 * spiral, "{planetary} {spiral}");
    assert!(spiral > hands, "{spiral} {hands}");
}
