//! What must hold for every friction factor that a profile tells.

use std::sync::Arc;

use kneadfit::batch::{Batch, Reading};
use kneadfit::calibration::{Options, calibrate};
use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::forecast::Forecaster;
use kneadfit::machine_factor::{Change, FactorError, FactorTeller, MachineFactor};
use kneadfit::profile::{Profile, Provenance};
use kneadfit::thermal::HeatCoefficients;
use proptest::prelude::*;

use crate::support::exact::ModelMachine;
use crate::support::rng::Draws;
use crate::support::rule::{Memory, forecast_c};

/// A machine, and the profile of a log of `n` batches on it.
fn machine(draws: &mut Draws, n: usize) -> (ModelMachine, Profile) {
    let (machine, log) =
        ModelMachine::with_log(draws, &["low", "high"], 12.0, &["white", "rye"], n);
    let calibration = calibrate(&log, &Options::default()).unwrap();
    (machine, Profile::new(&calibration, &Provenance::default()))
}

/// The dough's last temperature by the profile's own values, not through the forecaster.
fn dough_c(profile: &Profile, batch: &Batch) -> f64 {
    let speeds: Vec<Arc<str>> = profile.machine.speeds.iter().map(|s| s.as_str().into()).collect();
    let model = profile.model.reference;
    let mut coefficients = HeatCoefficients::typical(&model, speeds.len());
    let count = coefficients.to_vec().len();
    let row: Vec<f64> = profile.coefficients.iter().take(count).map(|c| c.value).collect();
    coefficients.set_from(&row);
    *model.forecast_c(&coefficients, batch, &speeds).unwrap().last().unwrap()
}

fn last(told: Vec<Option<MachineFactor>>) -> MachineFactor {
    told.into_iter().next_back().unwrap().unwrap()
}

fn dough(room_c: f64, low: f64, high: f64) -> Batch {
    let charge = Charge::new(room_c)
        .with(Material::Flour, 6.0, 20.0)
        .with(Material::Water, 4.0, 14.0)
        .with(Material::Salt, 0.12, room_c);
    let phases = vec![Phase::mixing("low", low), Phase::rest(5.0), Phase::mixing("high", high)];
    Batch::new("dough", charge, phases)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    /// The rule with the machine's factor promises just the dough that the profile forecasts,
    /// in both conventions, and each drift is what a second forecast makes of it.
    #[test]
    fn the_rule_with_the_machines_factor_is_the_forecast(seed in 0_u64..1 << 32, n in 1_usize..12) {
        let draws = &mut Draws::seeded(seed);
        let (machine, profile) = machine(draws, n);
        let teller = FactorTeller::new(&profile).unwrap();
        let forecaster = Forecaster::new(&profile).unwrap();
        for _ in 0..4 {
            let batch = machine.plan(draws, "next");
            let forecasts = forecaster.forecast(&batch, 0.8).unwrap();
            let told = teller.tell(&batch, 0.8).unwrap();
            prop_assert_eq!(told.len(), forecasts.len());
            for (told, forecast) in told.iter().zip(&forecasts) {
                let Some(told) = told else { continue };
                prop_assert_eq!(&told.forecast, forecast);
                let promised_c = told.factor.dough_c(told.water_c, &told.known);
                prop_assert!((promised_c - forecast.dough_c).abs() < 1e-9);
                let promised_c = told.rise().dough_c(told.water_c, &told.known);
                prop_assert!((promised_c - forecast.dough_c).abs() < 1e-9);
                let (low, high) = told.factor_interval.unwrap();
                prop_assert!(low < told.factor && told.factor < high);
                let n = f64::from(told.counted().n());
                for drift in &told.drifts {
                    prop_assert!(drift.factor_k.is_finite());
                }
                let has_preferment = batch.charge.mass_of_kg(|m| matches!(m, Material::Preferment { .. })) > 0.0;
                prop_assert_eq!(n, if has_preferment { 4.0 } else { 3.0 });
            }
        }
    }

    /// Drifts against the heat balance itself, on doughs that are written out changed.
    #[test]
    fn drifts_are_what_the_heat_balance_says(
        seed in 0_u64..1 << 32, room_c in 15.0..30.0_f64, low in 0.0..8.0_f64, high in 2.0..9.0_f64,
    ) {
        let draws = &mut Draws::seeded(seed);
        let (_, profile) = machine(draws, 6);
        let told = last(FactorTeller::new(&profile).unwrap().tell(&dough(room_c, low, high), 0.9).unwrap());
        let before_c = dough_c(&profile, &dough(room_c, low, high));
        prop_assert!((told.factor.k() - (3.0 * before_c - room_c - 20.0 - 14.0)).abs() < 1e-9);
        prop_assert_eq!(&*told.last_speed, "high");
        let mut half = dough(room_c, low, high);
        half.charge.ingredients.iter_mut().for_each(|i| i.mass_kg /= 2.0);
        for (change, batch, room_k) in [
            (Change::MoreMinutes, dough(room_c, low, high + 2.0), 0.0),
            (Change::FewerMinutes, dough(room_c, low, high - 2.0), 0.0),
            (Change::HalfCharge, half, 0.0),
            (Change::WarmerRoom, dough(room_c + 8.0, low, high), 8.0),
            (Change::ColderRoom, dough(room_c - 8.0, low, high), -8.0),
        ] {
            let expected = 3.0 * (dough_c(&profile, &batch) - before_c) - room_k;
            let found = told.drift(change).unwrap().factor_k;
            prop_assert!((found - expected).abs() < 1e-9, "{change:?}: {found} {expected}");
        }
    }

    /// Water at the temperature that water and ice count at makes the same dough.
    #[test]
    fn ice_counts_as_water_that_is_as_cold(
        seed in 0_u64..1 << 32, ice_kg in 0.05..0.6_f64, ice_c in -20.0..0.0_f64,
        preferment in prop::option::of(2.0..25.0_f64),
    ) {
        let (_, profile) = machine(&mut Draws::seeded(seed), 5);
        let batch = |water: &[(Material, f64, f64)]| {
            let mut charge = Charge::new(24.0).with(Material::Flour, 6.0, 22.0);
            if let Some(preferment_c) = preferment {
                charge = charge.with(Material::Preferment { hydration: 1.0 }, 1.0, preferment_c);
            }
            for &(material, kg, c) in water {
                charge = charge.with(material, kg, c);
            }
            Batch::new("ice", charge, vec![Phase::mixing("low", 4.0), Phase::mixing("high", 3.0)])
        };
        let teller = FactorTeller::new(&profile).unwrap();
        let iced = batch(&[(Material::Water, 4.0 - ice_kg, 18.0), (Material::Ice, ice_kg, ice_c)]);
        let iced = last(teller.tell(&iced, 0.95).unwrap());
        prop_assert!(iced.water_c < 18.0 && iced.ice_kg == ice_kg);
        let poured = batch(&[(Material::Water, 4.0, iced.water_c)]);
        let poured = last(teller.tell(&poured, 0.95).unwrap());
        prop_assert!((iced.forecast.dough_c - poured.forecast.dough_c).abs() < 1e-9);
        prop_assert!((iced.factor.k() - poured.factor.k()).abs() < 1e-8);
        prop_assert_eq!(iced.known.preferment_c, preferment);
    }

    /// The baseline of the simulations is the same rule, written a second time.
    #[test]
    fn the_rule_of_the_simulations_is_this_rule(seed in 0_u64..1 << 32) {
        let draws = &mut Draws::seeded(seed);
        let (machine, profile) = machine(draws, 4);
        let teller = FactorTeller::new(&profile).unwrap();
        let (of, next) = (machine.plan(draws, "of"), machine.plan(draws, "next"));
        let [told, told_next] = [&of, &next].map(|b| teller.tell(b, 0.95).unwrap().pop().unwrap());
        let (Some(told), Some(told_next)) = (told, told_next) else { return Ok(()) };
        prop_assume!(told.ice_kg == 0.0 && told_next.ice_kg == 0.0);
        let tested = of.read_dough(told.forecast.dough_c);
        let by_simulation_c = forecast_c(&[tested], &next, Memory::Last).unwrap();
        let by_rule_c = told.rise().dough_c(told_next.water_c, &told_next.known);
        prop_assert!((by_simulation_c - by_rule_c).abs() < 1e-9);
    }
}

/// A factor is of a dough that was mixed, with flour and water; changes that cannot be made
/// are left away.
#[test]
fn doughs_without_a_factor() {
    let (_, profile) = machine(&mut Draws::seeded(7), 5);
    let teller = FactorTeller::new(&profile).unwrap();
    let mix = |charge: Charge| Batch::new("1", charge, vec![Phase::mixing("low", 5.0)]);
    let flour = || Charge::new(22.0).with(Material::Flour, 6.0, 20.0);
    let dry = teller.tell(&mix(flour()), 0.95).unwrap_err();
    assert!(matches!(dry, FactorError::NoWater { .. }), "{dry}");
    // No flour, a mass of nought, and flour that is in the preferment alone.
    let wet = || Charge::new(22.0).with(Material::Water, 4.0, 10.0);
    let preferment = Material::Preferment { hydration: 1.0 };
    for charge in [wet(), wet().with(Material::Flour, 0.0, 20.0), wet().with(preferment, 5.0, 20.0)]
    {
        let flourless = teller.tell(&mix(charge), 0.95).unwrap_err();
        assert!(matches!(flourless, FactorError::NoFlour { .. }), "{flourless}");
    }
    let cold = mix(flour().with(Material::Ice, 20.0, 0.0));
    assert!(matches!(teller.tell(&cold, 0.95), Err(FactorError::Forecast(_))));
    assert!(matches!(teller.tell(&dough(22.0, 1.0, 3.0), 1.5), Err(FactorError::Forecast(_))));

    let rested = dough(22.0, 0.0, 0.0);
    assert_eq!(teller.tell(&rested, 0.95).unwrap(), [None]);
    let short = last(teller.tell(&dough(22.0, 4.0, 1.5), 0.95).unwrap());
    assert_eq!(short.drift(Change::FewerMinutes), None);
    assert_eq!(short.drifts.len(), Change::ALL.len() - 1);
    // The minutes of a speed are taken from all of its phases, the last first.
    let parted = |high: f64| {
        let mut batch = dough(22.0, 4.0, high);
        batch.stages[0].phases.push(Phase::mixing("high", 1.0));
        batch
    };
    let changed = Change::FewerMinutes.of(&parted(1.5)).unwrap();
    assert_eq!(changed.minutes_at("high"), 0.5);
    assert_eq!(changed.minutes_at("low"), 4.0);
    assert_eq!(Change::FewerMinutes.of(&parted(0.5)), None);
}

/// A reading on the way was read in the dough as it is, not in the one that is changed: a
/// batch told in two rows, each read, has the factor and the drifts of the batch in one.
#[test]
fn readings_move_neither_the_factor_nor_its_drifts() {
    let (_, profile) = machine(&mut Draws::seeded(7), 6);
    let teller = FactorTeller::new(&profile).unwrap();
    let whole = dough(23.0, 5.0, 6.0);
    let phases: Vec<Phase> = whole.phases().cloned().collect();
    let read = |dough_c| Reading { dough_c: Some(dough_c), ..Reading::default() };
    // Far from the forecast, so that they would move it.
    let in_two = Batch::new("dough", whole.charge.clone(), phases[..1].to_vec())
        .read_dough(25.0)
        .then(phases[1..].to_vec(), read(12.0));
    let (one, two) = (teller.tell(&whole, 0.95).unwrap(), teller.tell(&in_two, 0.95).unwrap());
    let (one, two) = (last(one), last(two));
    assert!((one.factor.k() - two.factor.k()).abs() < 1e-9);
    assert_eq!((one.drifts.len(), two.drifts.len()), (5, 5));
    for (a, b) in one.drifts.iter().zip(&two.drifts) {
        assert!((a.factor_k - b.factor_k).abs() < 1e-9, "{a:?} {b:?}");
    }
    // Two minutes more warm a dough, whatever was read.
    assert!(two.drift(Change::MoreMinutes).unwrap().factor_k > 0.0);
}
