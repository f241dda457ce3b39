//! The fit on arbitrary logs: whatever a reader may hand on, however absurd.

use std::sync::Arc;

use kneadfit::batch::{Batch, BatchError, BatchLog, Reading, Stage};
use kneadfit::calibration::{Calibration, CalibrationError, Options, Scatter, calibrate};
use kneadfit::charge::{Charge, Ingredient, Material, Phase};
use kneadfit::fit::TerminationReason;
use kneadfit::forecast::Forecaster;
use kneadfit::profile::{Profile, Provenance};
use proptest::collection::vec;
use proptest::option::weighted;
use proptest::prelude::*;

pub const SPEEDS: [&str; 2] = ["low", "high"];

/// Masses as a scale shows them, among them a pinch and a lorry-load.
fn mass() -> impl Strategy<Value = f64> {
    prop_oneof![8 => 0.1..40.0, 1 => Just(0.0), 1 => 1e-6..1e-3, 1 => 1e3..2e4]
}

fn temperature() -> impl Strategy<Value = f64> {
    prop_oneof![6 => 2.0..35.0, 2 => -20.0..90.0, 1 => Just(0.0)]
}

fn ingredient() -> impl Strategy<Value = Ingredient> {
    let material = prop_oneof![
        3 => Just(Material::Flour),
        3 => Just(Material::Water),
        1 => Just(Material::Ice),
        1 => (0.3..2.0).prop_map(|hydration| Material::Preferment { hydration }),
        1 => Just(Material::Salt),
        1 => Just(Material::Sugar),
        1 => Just(Material::Fat),
        1 => (0.1..5.0).prop_map(|c| Material::Other { specific_heat_kj_per_kg_k: c }),
    ];
    (material, mass(), temperature()).prop_map(|(material, mass_kg, t)| {
        let temperature_c = if material == Material::Ice { -t.abs() } else { t };
        Ingredient { material, mass_kg, temperature_c }
    })
}

fn stage() -> impl Strategy<Value = Stage> {
    let speed = prop_oneof![Just("low"), Just("high"), Just("rest")];
    let minutes = prop_oneof![8 => 0.0..20.0, 1 => Just(0.0), 1 => 100.0..1000.0];
    let phase = (speed, minutes).prop_map(|(s, minutes)| Phase { speed: s.into(), minutes });
    let reading = (weighted(0.8, temperature()), weighted(0.5, 0.0..=1.0))
        .prop_map(|(dough_c, development)| Reading { dough_c, development });
    (vec(phase, 0..4), reading).prop_map(|(phases, reading)| Stage { phases, reading })
}

pub fn batch() -> impl Strategy<Value = Batch> {
    let flour = prop_oneof![Just(None), Just(Some("white")), Just(Some("rye"))];
    let ordinary = (0.5..20.0, 0.5..0.9, temperature(), temperature()).prop_map(|(kg, h, f, w)| {
        let of = |material, mass_kg, temperature_c| Ingredient { material, mass_kg, temperature_c };
        vec![of(Material::Flour, kg, f), of(Material::Water, h * kg, w)]
    });
    let ingredients = prop_oneof![3 => ordinary, 1 => vec(ingredient(), 1..6)];
    (ingredients, temperature(), weighted(0.2, temperature()), flour, vec(stage(), 1..4)).prop_map(
        |(ingredients, room_c, bowl_c, flour, stages)| Batch {
            id: "any".into(),
            date: None,
            charge: Charge { ingredients, room_c, bowl_c, flour_name: flour.map(Into::into) },
            stages,
        },
    )
}

/// Batches that can be, each with its number as its name.
pub fn log(most: usize) -> impl Strategy<Value = BatchLog> {
    vec(batch(), 1..most).prop_map(|batches| {
        let possible = batches
            .into_iter()
            .enumerate()
            .map(|(i, batch)| Batch { id: format!("{i}").into(), ..batch })
            .filter(|b| BatchLog::new("any", SPEEDS, vec![b.clone()]).is_ok())
            .collect();
        BatchLog::new("any", SPEEDS, possible).unwrap()
    })
}

/// Every way to stop has a name that a reader understands.
fn is_named(outcome: TerminationReason) -> bool {
    let text = outcome.to_string();
    text.len() > 8 && text.contains(' ')
}

fn check(calibration: &Calibration) -> Result<(), TestCaseError> {
    for part in std::iter::once(&calibration.heat).chain(&calibration.development) {
        prop_assert!(is_named(part.outcome), "{:?}", part.outcome);
        for e in &part.estimates {
            prop_assert!(e.value.is_finite(), "{e:?}");
            prop_assert!((0.0..=1.0).contains(&e.log_share), "{e:?}");
            prop_assert!(e.standard_error.is_some() != e.without_error.is_some(), "{e:?}");
            if let Some(error) = e.standard_error {
                prop_assert!(error.is_finite() && error >= 0.0, "{e:?}");
            }
            if let Some((low, high)) = e.interval_95 {
                prop_assert!(low <= e.value && e.value <= high, "{e:?}");
            }
        }
        if let Some(covariance) = &part.covariance {
            prop_assert_eq!(covariance.len(), part.free.len() * part.free.len());
            prop_assert!(covariance.iter().all(|v| v.is_finite()));
        }
        if let Scatter::Mixture(nodes) = &part.scatter {
            let total: f64 = nodes.iter().map(|n| n.weight).sum();
            prop_assert!((total - 1.0).abs() < 1e-9, "{total}");
            prop_assert!(nodes.iter().all(|n| n.scatter.is_finite() && n.weight >= 0.0));
        }
        prop_assert!(part.residual_sd.is_finite());
        for reading in part.batches.iter().flat_map(|b| &b.readings) {
            prop_assert!(reading.fitted.is_finite(), "{reading:?}");
            prop_assert!((0.0..=1.0).contains(&reading.weight), "{reading:?}");
        }
    }
    Ok(())
}

/// A fit either has an answer, all of it finite, whose profile can be written, read and
/// used, or says why there is none.
fn fit_and_publish(log: &BatchLog, options: &Options) -> Result<(), TestCaseError> {
    let calibration = match calibrate(log, options) {
        Ok(calibration) => calibration,
        // What only the sums of a batch show.
        Err(CalibrationError::Batch(
            BatchError::IceNotMelted { .. } | BatchError::OutOfRange { quantity: "hydration", .. },
        )) => return Ok(()),
        Err(error) => {
            let reason = error.to_string();
            let silent = log.reading_count() == 0;
            let expected = if silent { "no batch has a reading" } else { "no finite value" };
            prop_assert!(reason.contains(expected), "{reason}");
            return Ok(());
        }
    };
    check(&calibration)?;
    let profile = Profile::new(&calibration, &Provenance::default());
    let text = profile.to_json();
    let back = Profile::from_json(&text);
    prop_assert!(back.is_ok(), "{back:?}");
    let back = back.unwrap();
    prop_assert_eq!(back.to_json(), text);
    let tested = back.run_self_test();
    prop_assert!(tested.is_ok(), "{tested:?}");
    let forecaster = Forecaster::new(&profile).unwrap();
    for batch in &log.batches {
        let Ok(forecasts) = forecaster.forecast(batch, 0.95) else { continue };
        for f in forecasts {
            prop_assert!(f.dough_c.is_finite());
            if let Some((low, high)) = f.dough_interval_c {
                prop_assert!(low <= f.dough_c && f.dough_c <= high, "{f:?}");
            }
            if let (Some(d), Some((low, high))) = (f.development, f.development_interval) {
                prop_assert!(low <= d && d <= high.max(0.95) && high <= 1.0, "{f:?}");
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    #[test]
    fn fits_with_priors_are_finite_and_named(log in log(12)) {
        fit_and_publish(&log, &Options::default())?;
    }

    #[test]
    fn plain_fits_are_finite_and_named(log in log(12)) {
        fit_and_publish(&log, &Options { with_prior: false, ..Options::default() })?;
    }
}

/// Beside arbitrary logs, the plainest ones there are.
#[test]
fn logs_of_nothing_and_of_one() {
    let speeds: [Arc<str>; 0] = [];
    let empty = BatchLog::new("empty", speeds, vec![]).unwrap();
    for with_prior in [true, false] {
        let options = Options { with_prior, ..Options::default() };
        let error = calibrate(&empty, &options).unwrap_err().to_string();
        assert_eq!(error, "no batch has a reading to fit");
        let charge = Charge::new(24.0).with(Material::Flour, 10.0, 21.0);
        let one = Batch::new("1", charge.with(Material::Water, 6.5, 12.0), vec![]).read_dough(17.0);
        let alone = BatchLog::new("one", ["low"], vec![one.clone()]).unwrap();
        check(&calibrate(&alone, &options).unwrap()).unwrap();
        // All batches equal.
        let equal = BatchLog::new("equal", ["low"], vec![one; 20]).unwrap();
        check(&calibrate(&equal, &options).unwrap()).unwrap();
    }
}

/// Two batches of which plain least squares makes a charge exponent of thousands: half the charge
/// then rubs more than a double can hold, and the profile must still read back.
#[test]
fn a_reading_beyond_all_numbers_is_written() {
    let charge = |room_c, flour_kg, water_kg| {
        Charge::new(room_c).with(Material::Flour, flour_kg, 2.0).with(
            Material::Water,
            water_kg,
            2.0,
        )
    };
    let small = charge(18.778_195_955_150_24, 12.207_673_550_080_296, 9.423_838_674_264_182);
    let more = vec![
        Phase::mixing("high", 18.688_364_426_581_348),
        Phase::mixing("low", 4.287_439_255_437_194),
    ];
    let read = |dough_c| Reading { dough_c: Some(dough_c), development: None };
    let first = Batch::new("1", small, vec![]).read_dough(2.831_926_595_260_745);
    let large = charge(2.0, 12.916_214_273_967_592, 8.696_852_848_777_938);
    let second = Batch::new("2", large, vec![Phase::mixing("low", 6.019_810_076_141_598)]);
    let batches = vec![first.then(more, read(2.0)), second.read_dough(33.910_883_396_327_38)];
    let log = BatchLog::new("two", ["low", "high"], batches).unwrap();
    let options = Options { with_prior: false, ..Options::default() };
    let calibration = calibrate(&log, &options).unwrap();
    let exponent = calibration.heat.estimate("charge_exponent").unwrap().value;
    assert!(exponent < -2000.0, "another case is needed: {exponent}");
    fit_and_publish(&log, &options).unwrap();
}
