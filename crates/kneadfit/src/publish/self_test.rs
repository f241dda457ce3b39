//! Batches with the forecast that a profile must give.

use std::sync::Arc;

use crate::batch::Batch;
use crate::calibration::Calibration;
use crate::charge::{Charge, Material, Phase};
use crate::forecast::Forecaster;
use crate::profile::{Profile, ProfileError, SelfTest};

/// Level of the intervals in a self-test.
const LEVEL: f64 = 0.95;
/// Forecasts agree when they differ by no more than this.
const AGREES: f64 = 1e-9;

/// Plain doughs that between them use every part of the models.
pub(super) fn batches(calibration: &Calibration, profile: &Profile) -> Vec<SelfTest> {
    let kg = calibration.model.usual_charge_kg;
    let flour_kg = kg / 1.67;
    let phases = |minutes: f64| -> Vec<Phase> {
        calibration.speeds.iter().take(6).map(|s| Phase::mixing(s.clone(), minutes)).collect()
    };
    let plain = |share: f64, hydration: f64, water_c: f64, room_c: f64| {
        Charge::new(room_c)
            .with(Material::Flour, share * flour_kg, 0.5 * (room_c + 20.0))
            .with(Material::Water, share * flour_kg * hydration, water_c)
            .with(Material::Salt, share * flour_kg * 0.02, room_c)
    };
    let mut with_rest = phases(3.0);
    with_rest.insert(with_rest.len().min(1), Phase::rest(20.0));
    let flour: Option<Arc<str>> =
        calibration.flours.first().or(calibration.reference_flour.as_ref()).cloned();
    let mut rich = plain(0.5, 0.55, 14.0, 18.0)
        .with(Material::Ice, 0.04 * flour_kg, -6.0)
        .with(Material::Preferment { hydration: 1.0 }, 0.2 * flour_kg, 8.0)
        .with(Material::Sugar, 0.03 * flour_kg, 18.0)
        .with(Material::Fat, 0.04 * flour_kg, 18.0)
        .in_bowl_at(27.0);
    rich.flour_name = flour;
    let mut strange = plain(1.0, 0.65, 12.0, 22.0);
    strange.flour_name = calibration.reference_flour.as_ref().map(|reference| {
        let mut name = "never logged".to_owned();
        while **reference == *name || calibration.flours.iter().any(|f| **f == *name) {
            name.push('*');
        }
        name.into()
    });
    let all = [
        Batch::new("usual charge, 65 %", plain(1.0, 0.65, 12.0, 22.0), phases(4.0)),
        Batch::new("half charge, 75 %, warm room", plain(0.5, 0.75, 6.0, 30.0), phases(6.0)),
        Batch::new("rich dough with ice, preferment and a rest", rich, with_rest),
        Batch::new("a flour that was never logged", strange, phases(4.0)),
    ];
    let Ok(forecaster) = Forecaster::new(profile) else { return Vec::new() };
    let tested = tested(&forecaster, all);
    if !tested.is_empty() {
        return tested;
    }
    // The log of an absurd machine: what is wetted and not yet mixed can be forecast still.
    let unmixed = plain(1.0 / kg, 0.65, 12.0, 22.0);
    self::tested(&forecaster, [Batch::new("a kilogram, unmixed", unmixed, Vec::new())])
}

/// Those of some batches that can be forecast, with what is forecast.
fn tested(forecaster: &Forecaster, batches: impl IntoIterator<Item = Batch>) -> Vec<SelfTest> {
    batches
        .into_iter()
        .filter_map(|batch| {
            let forecast = forecaster.forecast(&batch, LEVEL).ok()?.pop()?;
            Some(SelfTest {
                batch,
                level: LEVEL,
                dough_c: forecast.dough_c,
                dough_interval_c: forecast.dough_interval_c.map(|(a, b)| [a, b]),
                development: forecast.development,
                development_interval: forecast.development_interval.map(|(a, b)| [a, b]),
            })
        })
        .collect()
}

impl Profile {
    /// Proves that this crate gives the forecasts that the profile says it must.
    ///
    /// # Errors
    ///
    /// [`ProfileError::SelfTest`] for the first quantity that differs by more than 1e-9,
    /// or whatever keeps the batch from being forecast.
    pub fn run_self_test(&self) -> Result<(), ProfileError> {
        let forecaster = Forecaster::new(self)?;
        for (index, test) in self.self_test.iter().enumerate() {
            let failed = |quantity, found, expected| {
                Err(ProfileError::SelfTest { index, quantity, found, expected })
            };
            let forecast = match forecaster.forecast(&test.batch, test.level) {
                Ok(mut stages) => stages.pop(),
                Err(_) => None,
            };
            let Some(forecast) = forecast else { return failed("dough_c", f64::NAN, test.dough_c) };
            let interval = |i: Option<(f64, f64)>| i.map_or([None; 2], |(a, b)| [Some(a), Some(b)]);
            let expected = |i: Option<[f64; 2]>| i.map_or([None; 2], |[a, b]| [Some(a), Some(b)]);
            let found_dough = interval(forecast.dough_interval_c);
            let expected_dough = expected(test.dough_interval_c);
            let found_grade = interval(forecast.development_interval);
            let expected_grade = expected(test.development_interval);
            for (quantity, found, expected) in [
                ("dough_c", Some(forecast.dough_c), Some(test.dough_c)),
                ("dough_interval_c", found_dough[0], expected_dough[0]),
                ("dough_interval_c", found_dough[1], expected_dough[1]),
                ("development", forecast.development, test.development),
                ("development_interval", found_grade[0], expected_grade[0]),
                ("development_interval", found_grade[1], expected_grade[1]),
            ] {
                let agrees = match (found, expected) {
                    (Some(a), Some(b)) => (a - b).abs() <= AGREES,
                    (None, None) => true,
                    _ => false,
                };
                if !agrees {
                    let or_nan = |v: Option<f64>| v.unwrap_or(f64::NAN);
                    return failed(quantity, or_nan(found), or_nan(expected));
                }
            }
        }
        Ok(())
    }
}
