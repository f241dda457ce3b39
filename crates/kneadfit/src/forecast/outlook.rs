//! The distribution that a forecast gives the next reading, for those who plan by it.

use super::bound::spread_of;
use super::{ForecastError, Forecaster};
use crate::batch::Batch;
use crate::development::DevelopmentCoefficients;
use crate::domain::Domain;
use crate::numeric::quantiles::{normal_cdf, student_t_cdf};
use crate::profile::Spread;
use crate::thermal::{HeatCoefficients, HeatModel, HeatWalk, InputWalk, add_input_covariance};

/// What is expected at the end of one stage.
#[derive(Clone, Debug)]
pub(crate) struct Outlook<'a> {
    /// Mean of the next reading of the dough temperature, °C.
    pub dough_c: f64,
    /// Its variance beside the scatter from batch to batch, K²; `None`: unknown.
    variance: Option<f64>,
    scatter: &'a Spread,
    /// Development.
    pub dose: Option<DoseOutlook>,
}

/// Development as expected.
#[derive(Clone, Copy, Debug)]
pub(crate) struct DoseOutlook {
    /// Median, in full developments.
    pub dose: f64,
    /// Standard deviation of its logarithm; `None`: unknown.
    pub ln_sd: Option<f64>,
}

impl Outlook<'_> {
    /// Probability that the next reading is below `dough_c`; `None` where the scatter is
    /// unknown.
    pub fn probability_below(&self, dough_c: f64) -> Option<f64> {
        let off = dough_c - self.dough_c;
        let variance = self.variance?;
        match self.scatter {
            Spread::Mixture { nodes } => Some(
                nodes
                    .iter()
                    .map(|n| n.weight * normal_cdf(off / (variance + n.sd * n.sd).sqrt()))
                    .sum(),
            ),
            Spread::StudentT { sd, dof } => {
                let sd = (*sd)?;
                Some(student_t_cdf(off / (variance + sd * sd).sqrt(), *dof as f64))
            }
        }
    }
}

/// Bisections of a quantile; the range halves with each.
const HALVINGS: usize = 60;

impl Outlook<'_> {
    /// The temperature below which the next reading is with a probability, °C; `None`
    /// where the scatter is unknown.
    pub fn quantile(&self, probability: f64) -> Option<f64> {
        let mut reach_k = 1.0;
        let below = |off: f64| self.probability_below(self.dough_c + off);
        while below(reach_k)? < probability || below(-reach_k)? > probability {
            reach_k *= 2.0;
        }
        let (mut low, mut high) = (-reach_k, reach_k);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if below(middle)? < probability { low = middle } else { high = middle }
        }
        Some(self.dough_c + 0.5 * (low + high))
    }
}

impl Forecaster {
    pub(crate) fn model(&self) -> &HeatModel {
        &self.model
    }

    pub(crate) fn domain(&self) -> &Domain {
        &self.domain
    }

    pub(crate) fn heat_coefficients(&self) -> HeatCoefficients {
        let mut coefficients = HeatCoefficients::typical(&self.model, self.speeds.len());
        coefficients.set_from(&self.heat.natural);
        coefficients
    }

    /// Development rates and the relative rate of a batch's flour; `None` where the
    /// profile knows no development.
    pub(crate) fn development_rates(
        &self,
        flour: Option<&str>,
    ) -> Option<(&DevelopmentCoefficients, f64)> {
        let development = self.development.as_ref()?;
        Some((development.coefficients(), development.flour_rate(flour)))
    }

    /// What is expected of a batch at the end of each of its stages.
    pub(crate) fn outlook(&self, batch: &Batch) -> Result<Vec<Outlook<'_>>, ForecastError> {
        let terms = self.terms(batch)?;
        let coefficients = self.heat_coefficients();
        let mut gradient = vec![0.0; self.heat.free.len()];
        let mut spread = gradient.clone();
        let mut means = Vec::with_capacity(batch.stages.len());
        let mut walk = HeatWalk::new(self.speeds.len());
        walk.linearise(&self.model, &coefficients, &terms, |_, dough_c, by_coefficient| {
            self.heat.on_fitted_scale(by_coefficient, &self.heat.natural, &mut gradient);
            let known = self.heat.covariance.as_ref().map(|c| spread_of(c, &gradient, &mut spread));
            means.push((dough_c, known));
        });
        let mut walked = InputWalk::default();
        let mut outlooks = Vec::with_capacity(means.len());
        for (stage, (dough_c, known)) in means.into_iter().enumerate() {
            let mut inputs = [0.0];
            let mut read = 0.0;
            if matches!(self.scatter, Spread::Mixture { .. }) {
                read = self.uncertainties.dough_k.powi(2);
                add_input_covariance(
                    &self.model,
                    &coefficients,
                    &terms,
                    &self.uncertainties,
                    &[stage as u32],
                    &mut walked,
                    &mut inputs,
                );
            }
            if !dough_c.is_finite() {
                return Err(ForecastError::NotFinite { batch: batch.id.clone() });
            }
            let dose = self.development.as_ref().filter(|_| terms.hydration.is_some());
            outlooks.push(Outlook {
                dough_c,
                variance: known.map(|known| known + inputs[0] + read),
                scatter: &self.scatter,
                dose: dose.map(|d| d.outlook(self, &coefficients, &terms, batch, stage, inputs[0])),
            });
        }
        Ok(outlooks)
    }
}
