//! A profile made ready to forecast.

use std::sync::Arc;

use super::bound::{bound, spread_of, width};
use super::development::DevelopmentForecaster;
use super::{Forecast, ForecastError};
use crate::batch::{Batch, BatchError};
use crate::domain::Domain;
use crate::prior::Scale;
use crate::profile::{Profile, ProfileError, Spread};
use crate::thermal::{
    COMMON_COEFFICIENTS, HeatCoefficients, HeatModel, HeatTerms, HeatWalk, InputWalk,
    Uncertainties, add_input_covariance,
};

/// The coefficients of one part of a profile, with their doubt.
#[derive(Clone, Debug)]
pub(super) struct Doubted {
    /// Natural values of all coefficients.
    pub natural: Vec<f64>,
    /// Fitted values of the free ones.
    pub fitted: Vec<f64>,
    /// Which coefficients are free.
    pub free: Vec<usize>,
    /// Scales of the free ones.
    pub scales: Vec<Scale>,
    /// Covariance of the free ones on their fitted scale, row-major; `None`: unknown.
    pub covariance: Option<Vec<f64>>,
}

impl Doubted {
    /// Coefficients `from..from + count` of a profile.
    fn of(profile: &Profile, from: usize, count: usize) -> Self {
        let entries = &profile.coefficients[from..from + count];
        let names = &profile.covariance.coefficients;
        let place = |name: &str| names.iter().position(|n| n == name);
        let free: Vec<usize> = (0..count).filter(|&i| place(&entries[i].name).is_some()).collect();
        let places: Vec<usize> = free.iter().filter_map(|&i| place(&entries[i].name)).collect();
        Self {
            natural: entries.iter().map(|c| c.value).collect(),
            fitted: free.iter().map(|&i| entries[i].fitted).collect(),
            scales: free.iter().map(|&i| entries[i].scale).collect(),
            covariance: profile.covariance.matrix.as_ref().map(|matrix| {
                places.iter().flat_map(|&i| places.iter().map(move |&j| matrix[i][j])).collect()
            }),
            free,
        }
    }

    /// Natural values with the free coefficients moved by `delta` on their fitted scale.
    fn moved(&self, delta: &[f64], natural: &mut [f64]) {
        natural.copy_from_slice(&self.natural);
        for (k, &i) in self.free.iter().enumerate() {
            if delta[k] != 0.0 {
                natural[i] = self.scales[k].natural(self.fitted[k] + delta[k]);
            }
        }
    }

    /// The gradient by the free coefficients on their fitted scale.
    pub fn on_fitted_scale(&self, by_natural: &[f64], natural: &[f64], gradient: &mut [f64]) {
        for (k, &i) in self.free.iter().enumerate() {
            gradient[k] = by_natural[i] * self.scales[k].slope(natural[i]);
        }
    }
}

/// A profile made ready to forecast batches.
#[derive(Clone, Debug)]
pub struct Forecaster {
    pub(super) model: HeatModel,
    pub(super) speeds: Vec<Arc<str>>,
    pub(super) heat: Doubted,
    pub(super) scatter: Spread,
    pub(super) uncertainties: Uncertainties,
    pub(super) domain: Domain,
    development: Option<DevelopmentForecaster>,
}

impl Forecaster {
    /// Takes over a profile.
    ///
    /// # Errors
    ///
    /// [`ProfileError`] when the profile, made by hand, does not hold together; one that
    /// was read by [`Profile::from_json`] does.
    pub fn new(profile: &Profile) -> Result<Self, ProfileError> {
        profile.check()?;
        let speeds: Vec<Arc<str>> =
            profile.machine.speeds.iter().map(|s| s.as_str().into()).collect();
        let heat_count = speeds.len() + COMMON_COEFFICIENTS;
        let development = profile.scatter.development.as_ref().map(|scatter| {
            let count = profile.coefficients.len() - heat_count;
            DevelopmentForecaster::new(
                profile,
                Doubted::of(profile, heat_count, count),
                scatter.clone(),
                speeds.len(),
            )
        });
        Ok(Self {
            model: profile.model.reference,
            heat: Doubted::of(profile, 0, heat_count),
            scatter: profile.scatter.dough.clone(),
            uncertainties: profile.scatter.uncertainties,
            domain: profile.domain.clone(),
            development,
            speeds,
        })
    }

    /// Forecasts a batch at the end of each of its stages; readings in it are not used.
    ///
    /// # Errors
    ///
    /// [`ForecastError`].
    pub fn forecast(&self, batch: &Batch, level: f64) -> Result<Vec<Forecast>, ForecastError> {
        if !(level > 0.0 && level < 1.0) {
            return Err(ForecastError::Level { level });
        }
        let terms = self.terms(batch)?;
        let mut coefficients = HeatCoefficients::typical(&self.model, self.speeds.len());
        coefficients.set_from(&self.heat.natural);
        let mut walk = HeatWalk::new(self.speeds.len());
        let mut walked = InputWalk::new(self.speeds.len());
        let mut forecasts = Vec::with_capacity(batch.stages.len());
        for stage in 0..batch.stages.len() {
            let mut inputs = [0.0];
            add_input_covariance(
                &self.model,
                &coefficients,
                &terms,
                &self.uncertainties,
                &[stage as u32],
                &mut walked,
                &mut inputs,
            );
            let (dough_c, dough_interval_c) =
                self.dough(&terms, stage, level, inputs[0], &mut walk);
            if !dough_c.is_finite() {
                return Err(ForecastError::NotFinite { batch: batch.id.clone() });
            }
            let development = self.development.as_ref().filter(|_| terms.hydration.is_some());
            let graded = development
                .map(|d| d.grade(self, &coefficients, &terms, batch, stage, level, inputs[0]));
            let mut outside = self.domain.outside(batch, stage);
            // A flour counts only where the profile knows development.
            outside.retain(|o| o.input != "flour" || development.is_some());
            forecasts.push(Forecast {
                dough_c,
                dough_interval_c,
                development: graded.map(|g| g.0),
                development_interval: graded
                    .and_then(|g| g.1)
                    .filter(|(low, high)| low.is_finite() && high.is_finite()),
                outside,
            });
        }
        Ok(forecasts)
    }

    /// The names of the machine's speeds, in order.
    pub fn speeds(&self) -> &[Arc<str>] {
        &self.speeds
    }

    pub(super) fn terms(&self, batch: &Batch) -> Result<HeatTerms, ForecastError> {
        HeatTerms::new(&self.model, batch, &self.speeds).map_err(|error| match error {
            BatchError::UnknownSpeed { batch, speed } => {
                ForecastError::UnknownSpeed { batch, speed, known: self.speeds.join(", ") }
            }
            other => other.into(),
        })
    }

    /// Mean and interval of the dough temperature at the end of a stage.
    fn dough(
        &self,
        terms: &HeatTerms,
        stage: usize,
        level: f64,
        inputs: f64,
        walk: &mut HeatWalk,
    ) -> (f64, Option<(f64, f64)>) {
        let p = self.heat.free.len();
        let mut natural = self.heat.natural.clone();
        let mut coefficients = HeatCoefficients::typical(&self.model, self.speeds.len());
        let mut at = |delta: &[f64], gradient: &mut [f64]| {
            self.heat.moved(delta, &mut natural);
            coefficients.set_from(&natural);
            let mut dough_c = f64::NAN;
            walk.linearise(&self.model, &coefficients, terms, |s, end_c, by_coefficient| {
                if s == stage {
                    dough_c = end_c;
                    self.heat.on_fitted_scale(by_coefficient, &natural, gradient);
                }
            });
            dough_c
        };
        let mut gradient = vec![0.0; p];
        let dough_c = at(&vec![0.0; p], &mut gradient);
        let Some(covariance) = &self.heat.covariance else { return (dough_c, None) };
        let known = spread_of(covariance, &gradient, &mut vec![0.0; p]);
        let read = self.uncertainties.dough_k * self.uncertainties.dough_k;
        let interval = width(&self.scatter, level, known, inputs + read).and_then(|width| {
            let tangent = width.z * (known + width.variance).sqrt();
            let mut side = |sign: f64| {
                let bound = bound(sign, width, covariance, &mut at);
                // Without priors a coefficient may be so little known that the search for a
                // bound loses its way.
                let sound = bound.is_finite() && sign * (bound - dough_c) > 0.0;
                if sound { bound } else { dough_c + sign * tangent }
            };
            let (low, high) = (side(-1.0), side(1.0));
            (low.is_finite() && high.is_finite()).then_some((low, high))
        });
        (dough_c, interval)
    }
}
