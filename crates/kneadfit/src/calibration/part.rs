//! One fitted part of a machine with all that the fit tells of it.

use crate::batch::BatchLog;
use crate::diagnostics::{self, BatchDiagnostics, LeftOutErrors, Survey, Unknown};
use crate::fit::{FitError, PIECE, Readings, TerminationReason};
use crate::inference::{
    Assumptions, Estimate, PlainFit, Posterior, ScatterNode, ScatterPrior, estimates, refits,
};
use crate::numeric::normal_quantile;
use crate::numeric::quantiles::student_t_for_level;
use crate::prior::Coefficient;

/// Scatter of readings about the model, beside what their thermometers make.
#[derive(Clone, Debug, PartialEq)]
pub enum Scatter {
    /// Batch-to-batch scatter with its posterior; added to the thermometers' part.
    Mixture(Vec<ScatterNode>),
    /// Plain least squares: one standard deviation for everything, with the degrees of
    /// freedom of its estimate.
    StudentT {
        /// Residual standard deviation; `None` when no reading is left over.
        sd: Option<f64>,
        /// Readings less coefficients.
        dof: usize,
    },
}

impl Scatter {
    /// Root mean square of the scatter; `None` when it is unknown.
    pub fn typical(&self) -> Option<f64> {
        match self {
            Self::Mixture(nodes) => {
                Some(nodes.iter().map(|n| n.weight * n.scatter * n.scatter).sum::<f64>().sqrt())
            }
            Self::StudentT { sd, .. } => *sd,
        }
    }
}

/// One fitted part of a machine: its heat balance or its development.
#[derive(Clone, Debug)]
pub struct Part {
    /// All coefficients in their fixed order.
    pub estimates: Vec<Estimate>,
    /// Which of them were fitted.
    pub free: Vec<usize>,
    /// All coefficients on their fitted scale.
    pub fitted: Vec<f64>,
    /// Covariance of the fitted ones on their fitted scale, row-major; `None` where no
    /// reading is left over to tell the scatter (plain least squares only).
    pub covariance: Option<Vec<f64>>,
    /// Scatter from batch to batch.
    pub scatter: Scatter,
    /// How the fit ended.
    pub outcome: TerminationReason,
    /// Directions that the log leaves open, the least known first.
    pub left_open: Vec<Unknown>,
    /// Each batch beside the fit.
    pub batches: Vec<BatchDiagnostics>,
    /// Errors of forecasting each batch from the others.
    pub left_out: Option<LeftOutErrors>,
    /// Standard deviation of the residuals, predicted − observed.
    pub residual_sd: f64,
    /// How many readings were fitted.
    pub readings: usize,
    /// Warnings that model and log do not fit each other, the gravest first: a third or more
    /// of the readings disbelieved; a scatter, or coefficients, beyond what is usual of any
    /// mixer; a trend in the residuals.
    pub warnings: Vec<String>,
}

impl Part {
    /// Half the width of an interval of a level such as 0.95, in standard errors; `None`
    /// where no reading is left over to tell the scatter.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::batch::{Batch, BatchLog};
    /// use kneadfit::calibration::{Options, calibrate};
    /// use kneadfit::charge::{Charge, Material, Phase};
    ///
    /// let charge = Charge::new(24.0).with(Material::Flour, 10.0, 21.0).with(Material::Water, 6.5, 12.0);
    /// let batch = Batch::new("1", charge, vec![Phase::mixing("low", 10.0)]).read_dough(22.0);
    /// let calibration = calibrate(&BatchLog::new("m", ["low"], vec![batch])?, &Options::default())?;
    /// // With priors the doubt is normal.
    /// assert!((calibration.heat.width_in_sds(0.95).unwrap() - 1.96).abs() < 1e-4);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn width_in_sds(&self, level: f64) -> Option<f64> {
        match self.scatter {
            Scatter::Mixture(_) => Some(normal_quantile(0.5 + 0.5 * level)),
            Scatter::StudentT { dof: 0, .. } | Scatter::StudentT { sd: None, .. } => None,
            Scatter::StudentT { dof, .. } => Some(student_t_for_level(level, dof as f64)),
        }
    }

    /// The estimate of one coefficient by its name.
    pub fn estimate(&self, name: &str) -> Option<&Estimate> {
        self.estimates.iter().find(|e| &*e.name == name)
    }

    /// The natural values of all coefficients in their fixed order.
    pub fn values(&self) -> Vec<f64> {
        self.estimates.iter().map(|e| e.value).collect()
    }

    /// Correlation of the fitted coefficients on their fitted scale; `None` where their
    /// covariance is unknown.
    ///
    /// # Shape
    ///
    /// Row-major, `free.len()` rows and columns in the order of `free`.
    pub fn correlation(&self) -> Option<Vec<f64>> {
        let covariance = self.covariance.as_ref()?;
        let p = self.free.len();
        let sd: Vec<f64> = (0..p).map(|i| covariance[i * p + i].sqrt()).collect();
        Some((0..p * p).map(|k| covariance[k] / (sd[k / p] * sd[k % p])).collect())
    }

    /// Whether most readings are disbelieved: the fit speaks for none of them then, although
    /// it ended at a minimum.
    pub fn is_mostly_disbelieved(&self) -> bool {
        diagnostics::mostly_disbelieved(&self.batches)
    }

    /// Batches, or readings of them, that look mistyped.
    pub fn looks_mistyped(&self) -> impl Iterator<Item = &BatchDiagnostics> {
        self.batches.iter().filter(|b| b.looks_mistyped())
    }
}

impl Part {
    /// A fit with priors. Takes the readings, of which a great many are a great deal of memory: it
    /// is given back while the batches are looked at one by one.
    pub(super) fn with_prior(
        mut readings: impl Readings + Send,
        table: &[Coefficient],
        assumptions: Assumptions,
        log: &BatchLog,
        observed: &diagnostics::Observed<'_>,
    ) -> Result<Self, FitError> {
        let scatter_prior = match assumptions.scatter {
            ScatterPrior::HalfNormal(scale) => Some(scale),
            ScatterPrior::Known(_) => None,
        };
        let mut posterior = Posterior::fit(&mut readings, table, assumptions)?;
        let refits = refits(&mut posterior, &mut readings, table);
        let many = observed.logged.batch_count() > PIECE;
        let mut diagnosed = || diagnostics::of_posterior(&mut posterior, &refits, observed);
        let batches = if many { rayon::join(diagnosed, || drop(readings)).0 } else { diagnosed() };
        let left_open = diagnostics::left_open(&mut posterior, table, log);
        let linearised = std::mem::take(&mut posterior.whitened);
        let survey = if many {
            rayon::join(|| Survey::of(&batches), || drop(linearised)).0
        } else {
            Survey::of(&batches)
        };
        Ok(Self {
            estimates: estimates(table, &posterior),
            free: posterior.free.clone(),
            fitted: posterior.fitted.clone(),
            scatter: Scatter::Mixture(posterior.scatter.clone()),
            outcome: posterior.outcome,
            left_open,
            left_out: survey.left_out,
            residual_sd: survey.residual_sd,
            readings: observed.logged.values.len(),
            warnings: [
                survey.misfit,
                diagnostics::unlike_a_mixer(
                    (posterior.typical_scatter(), scatter_prior, observed.scale.scatter_unit),
                    table,
                    &posterior.fitted,
                ),
                survey.trend,
            ]
            .into_iter()
            .flatten()
            .collect(),
            batches,
            covariance: Some(posterior.covariance),
        })
    }

    /// A plain fit.
    pub(super) fn plain(fit: PlainFit, observed: &diagnostics::Observed<'_>) -> Self {
        let batches = diagnostics::of_plain(&fit, observed);
        let survey = Survey::of(&batches);
        Self {
            free: fit.free.clone(),
            fitted: fit.fitted.clone(),
            covariance: fit.covariance.clone(),
            scatter: Scatter::StudentT { sd: fit.residual_sd(), dof: fit.dof },
            outcome: fit.outcome,
            left_open: Vec::new(),
            left_out: survey.left_out,
            residual_sd: survey.residual_sd,
            readings: observed.logged.values.len(),
            warnings: survey.misfit.into_iter().chain(survey.trend).collect(),
            batches,
            estimates: fit.estimates,
        }
    }
}
