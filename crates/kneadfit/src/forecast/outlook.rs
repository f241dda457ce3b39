//! What is expected of a batch, for those who plan by it.

use super::development::Graded;
use super::{ForecastError, Forecaster, Predictive};
use crate::batch::Batch;
use crate::development::DevelopmentCoefficients;
use crate::domain::Domain;
use crate::thermal::{HeatCoefficients, HeatModel};

/// What is expected at the end of one stage.
#[derive(Clone, Debug)]
pub(crate) struct Outlook<'a> {
    /// Mean of the next reading of the dough temperature, °C.
    pub dough_c: f64,
    /// Its distribution; `None` where the scatter is unknown.
    pub dough: Option<Predictive<'a>>,
    pub(super) development: Option<Graded>,
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
    /// Development; `None` where the profile does not know it or there is no flour.
    pub fn dose(&self) -> Option<DoseOutlook> {
        self.development.map(|g| DoseOutlook { dose: g.dose, ln_sd: g.ln_sd })
    }

    /// Probability that the next reading is within `reach_k` of a temperature, on the
    /// tangent; `None` where the scatter is unknown.
    pub fn probability_within(&self, dough_c: f64, reach_k: f64) -> Option<f64> {
        let dough = self.dough.as_ref()?;
        let below = |at_c: f64| dough.law().below(at_c - dough.unread_c());
        Some(below(dough_c + reach_k) - below(dough_c - reach_k))
    }
}

/// Level of intervals that nobody looks at.
const ANY_LEVEL: f64 = 0.95;

impl Forecaster {
    pub(crate) fn model(&self) -> &HeatModel {
        &self.model
    }

    pub(crate) fn domain(&self) -> &Domain {
        &self.domain
    }

    pub(crate) fn heat_coefficients(&self) -> HeatCoefficients {
        self.coefficients()
    }

    /// Development rates and the relative rate of a batch's flour; `None` where the
    /// profile knows no development.
    pub(crate) fn development_rates(
        &self,
        flour: Option<&str>,
    ) -> Option<(&DevelopmentCoefficients, f64)> {
        let development = self.development.as_ref()?;
        Some((development.coefficients(), development.flour_rate(self.flour_of(flour))))
    }

    /// What is expected of a batch at the end of each of its stages, before that is read.
    pub(crate) fn outlook(&self, batch: &Batch) -> Result<Vec<Outlook<'_>>, ForecastError> {
        self.outlooks(batch, ANY_LEVEL)
    }
}
