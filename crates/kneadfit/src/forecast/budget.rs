//! Where the doubt of a forecast comes from: which thermometer is worth replacing, and
//! whether more batches are worth mixing.

use super::bound::spread_of;
use super::{ForecastError, Forecaster};
use crate::batch::Batch;
use crate::profile::Spread;
use crate::thermal::{HeatWalk, Input, sensitivities};

/// One source of the doubt of a dough temperature's forecast.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Source {
    /// The coefficients: more batches would tell them better.
    Coefficients,
    /// Scatter from batch to batch that no thermometer explains.
    Scatter,
    /// The reading of the dough itself.
    Reading,
    /// A logged input; phases' minutes count together.
    Input(Input),
}

/// Variances by source, K², the largest first.
///
/// Their sum is the variance of the next reading about the forecast, on the tangent.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// Source and variance.
    pub variances: Vec<(Source, f64)>,
}

impl Budget {
    /// Standard deviation of the next reading, K.
    pub fn total_k(&self) -> f64 {
        self.variances.iter().map(|(_, v)| v).sum::<f64>().sqrt()
    }
}

impl Forecaster {
    /// The uncertainty budget of the dough temperature at the end of a batch.
    ///
    /// ```text
    /// gᵀΣg  +  a² Σ_k w_k sd_k²  +  σ_dough²  +  Σ_i (σ_i ∂f/∂input_i)²
    /// ```
    ///
    /// `a` is the share of the scatter that a dough has which friction has warmed so far:
    /// [`crate::thermal::scatter_share`].
    ///
    /// # Errors
    ///
    /// [`ForecastError`] as for [`Forecaster::forecast`].
    ///
    /// # Examples
    ///
    /// ```
    /// # use kneadfit::batch::{Batch, BatchLog};
    /// # use kneadfit::calibration::{Options, calibrate};
    /// # use kneadfit::charge::{Charge, Material, Phase};
    /// # use kneadfit::forecast::Forecaster;
    /// # use kneadfit::profile::{Profile, Provenance};
    /// # let charge = Charge::new(24.0)
    /// #     .with(Material::Flour, 10.0, 21.0)
    /// #     .with(Material::Water, 6.5, 12.0);
    /// let batch = Batch::new("1", charge, vec![Phase::mixing("low", 10.0)]);
    /// let log = BatchLog::new("spiral", ["low"], vec![batch.clone().read_dough(22.0)])?;
    /// let profile = Profile::new(&calibrate(&log, &Options::default())?, &Provenance::default());
    /// let budget = Forecaster::new(&profile)?.budget(&batch)?;
    /// assert!(budget.total_k() > 0.3);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn budget(&self, batch: &Batch) -> Result<Budget, ForecastError> {
        let terms = self.terms(batch)?;
        let last = terms.stage_count().saturating_sub(1);
        let coefficients = self.coefficients();
        let heat = self.heat_of(terms.flour);
        let mut gradient = vec![0.0; heat.free.len()];
        HeatWalk::new(self.speeds.len()).linearise(
            &self.model,
            &coefficients,
            &terms,
            |stage, _, by_coefficient| {
                if stage == last {
                    heat.on_fitted_scale(by_coefficient, &heat.natural, &mut gradient);
                }
            },
        );
        let mut variances = Vec::new();
        if let Some(covariance) = &heat.covariance {
            let known = spread_of(covariance, &gradient, &mut vec![0.0; gradient.len()]);
            variances.push((Source::Coefficients, known));
        }
        match &self.scatter {
            Spread::Mixture { nodes } => {
                let share = self.beside(&terms, &coefficients, last).share;
                let scatter: f64 = nodes.iter().map(|n| n.weight * n.sd * n.sd).sum();
                variances.push((Source::Scatter, share * share * scatter));
                variances.push((Source::Reading, self.uncertainties.dough_k.powi(2)));
                let mut minutes = 0.0;
                let by_input = sensitivities(&self.model, &coefficients, &terms);
                for &(input, by) in by_input.get(last).into_iter().flatten() {
                    let variance = (self.uncertainties.of(input) * by).powi(2);
                    match input {
                        Input::Minutes(_) => minutes += variance,
                        _ => variances.push((Source::Input(input), variance)),
                    }
                }
                variances.push((Source::Input(Input::Minutes(0)), minutes));
            }
            Spread::StudentT { sd, .. } => {
                variances.push((Source::Scatter, sd.map_or(f64::NAN, |sd| sd * sd)));
            }
        }
        variances.sort_by(|a, b| b.1.total_cmp(&a.1));
        Ok(Budget { variances })
    }
}
