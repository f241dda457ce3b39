//! From a log to a calibrated machine: the main job, in one call.
//!
//! # Examples
//!
//! Three batches of an invented spiral:
//!
//! ```
//! use kneadfit::batch::{Batch, BatchLog};
//! use kneadfit::calibration::{Options, calibrate};
//! use kneadfit::charge::{Charge, Material, Phase};
//!
//! let mix = |id: &str, water_c, low, dough_c| {
//!     let charge = Charge::new(24.0)
//!         .with(Material::Flour, 10.0, 21.0)
//!         .with(Material::Water, 6.5, water_c);
//!     Batch::new(id, charge, vec![Phase::mixing("low", low)]).read_dough(dough_c)
//! };
//! let log = BatchLog::new(
//!     "spiral",
//!     ["low"],
//!     vec![mix("1", 8.0, 10.0, 20.9), mix("2", 8.0, 16.0, 23.3), mix("3", 14.0, 12.0, 25.1)],
//! )?;
//! let calibration = calibrate(&log, &Options::default())?;
//! let friction = calibration.heat.estimate("friction_low").unwrap();
//! assert!(friction.value > 10.0 && friction.value < 30.0);
//! assert!(friction.interval_95.unwrap().0 < friction.value);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod look;
mod part;

use std::sync::Arc;

use thiserror::Error;

use crate::batch::{BatchError, BatchLog};
use crate::development::DevelopmentCoefficients;
use crate::diagnostics;
use crate::domain::Domain;
use crate::fit::{DevelopmentReadings, FitError, HeatReadings, MistypedRows};
use crate::inference::{Assumptions, ScatterPrior, fit_plain};
use crate::prior::{development_coefficients, heat_coefficients};
use crate::thermal::{COMMON_COEFFICIENTS, HeatCoefficients, HeatModel, Uncertainties};

use look::Look;
pub use part::{Part, Scatter};

/// What may be chosen about a calibration.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// Usual charge, kg of dough; `None`: the largest dough of the log.
    pub usual_charge_kg: Option<f64>,
    /// Heat capacity of bowl and tool, kJ/K, where it is known; `None`: fitted.
    pub bowl_kj_per_k: Option<f64>,
    /// Standard uncertainties of what was logged.
    pub uncertainties: Uncertainties,
    /// Whether the default priors are used; without them it is plain least squares.
    pub with_prior: bool,
    /// Scatter of the dough temperature from batch to batch, where it is known, K: the part
    /// that friction brings for each [`SCATTER_WARMTH_K`](crate::thermal::SCATTER_WARMTH_K) of
    /// warmth, see [`scatter_share`](crate::thermal::scatter_share). `None`: unknown, integrated
    /// over.
    pub scatter_k: Option<f64>,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            usual_charge_kg: None,
            bowl_kj_per_k: None,
            uncertainties: Uncertainties::default(),
            with_prior: true,
            scatter_k: None,
        }
    }
}

/// Scale of the half-normal prior of the dough temperature's scatter from batch to batch, K: of
/// the part that friction brings for each [`SCATTER_WARMTH_K`](crate::thermal::SCATTER_WARMTH_K)
/// of warmth.
pub const SCATTER_SCALE_K: f64 = 0.5;
/// The same for development, of the logarithm of the dose.
pub const DOSE_SCATTER_SCALE: f64 = 0.2;

/// Why a log gives no calibration.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum CalibrationError {
    /// A batch that cannot be.
    #[error(transparent)]
    Batch(#[from] BatchError),
    /// No fit.
    #[error(transparent)]
    Fit(#[from] FitError),
    /// An option is not a positive, finite number.
    #[error("{option} is {value}, expected a positive number")]
    NotPositive {
        /// Which option.
        option: &'static str,
        /// What it was.
        value: f64,
    },
}

/// A calibrated machine with everything that the fit tells of it.
#[derive(Clone, Debug)]
pub struct Calibration {
    /// The machine's name.
    pub machine: Arc<str>,
    /// Its speeds in order.
    pub speeds: Vec<Arc<str>>,
    /// What the heat balance needs beside its coefficients.
    pub model: HeatModel,
    /// What was chosen.
    pub options: Options,
    /// The heat balance.
    pub heat: Part,
    /// Development; `None` when no batch with flour was graded.
    pub development: Option<Part>,
    /// The flour of which friction and development rates are; `None`: no flour was named.
    pub reference_flour: Option<Arc<str>>,
    /// The other flours, in the order of their coefficients.
    pub flours: Vec<Arc<str>>,
    /// What was logged.
    pub domain: Domain,
    /// First and last day of the log, where logged.
    pub period: Option<(Arc<str>, Arc<str>)>,
    /// How many batches were fitted.
    pub batches: usize,
}

impl Calibration {
    /// Whether every part's fit ended at a minimum.
    pub fn converged(&self) -> bool {
        self.heat.outcome.is_success()
            && self.development.as_ref().is_none_or(|d| d.outcome.is_success())
    }

    /// Whether the numbers can be used: every part's fit converged and believes most of what
    /// it was fitted to.
    pub fn is_usable(&self) -> bool {
        let mut parts = std::iter::once(&self.heat).chain(&self.development);
        self.converged() && !parts.any(Part::is_mostly_disbelieved)
    }

    /// The coefficients of the heat balance.
    pub fn heat_coefficients(&self) -> HeatCoefficients {
        let mut c = HeatCoefficients::typical(&self.model, self.speeds.len())
            .with_flours(self.flours.len());
        c.set_from(&self.heat.values());
        c
    }

    /// The coefficients of development; `None` when no batch was graded.
    pub fn development_coefficients(&self) -> Option<DevelopmentCoefficients> {
        let part = self.development.as_ref()?;
        let mut c = DevelopmentCoefficients::typical(self.speeds.len(), self.flours.len());
        c.set_from(&part.values());
        Some(c)
    }
}

/// Calibrates one machine from its log.
///
/// # Errors
///
/// [`CalibrationError`] when there is no answer. A fit that did not converge is an answer
/// whose parts say so: see [`Calibration::converged`].
pub fn calibrate(log: &BatchLog, options: &Options) -> Result<Calibration, CalibrationError> {
    for (option, value) in [
        ("usual_charge_kg", options.usual_charge_kg),
        ("bowl_kj_per_k", options.bowl_kj_per_k.map(|b| if b == 0.0 { 1.0 } else { b })),
        ("scatter_k", options.scatter_k),
        ("dough_k", Some(options.uncertainties.dough_k)),
        ("development", Some(options.uncertainties.development)),
        ("flour_friction", Some(options.uncertainties.flour_friction)),
    ] {
        if let Some(value) = value
            && !(value > 0.0 && value.is_finite())
        {
            return Err(CalibrationError::NotPositive { option, value });
        }
    }
    let Look { largest_dough_kg, logged, seen, flours, graded, period } = Look::at(log);
    let usual_charge_kg =
        options.usual_charge_kg.or(largest_dough_kg).ok_or(FitError::NoReadings)?;
    let model = HeatModel::new(usual_charge_kg);
    let (reference_flour, flours) = flours.reference_and_others();
    let mut table = heat_coefficients(&model, &log.speeds, &flours);
    let bowl = log.speeds.len() + 1;
    table[bowl].held_at = options.bowl_kj_per_k;
    for of_flour in &mut table[log.speeds.len() + COMMON_COEFFICIENTS..] {
        of_flour.prior.spread = options.uncertainties.flour_friction;
        if !options.with_prior {
            // Flours differ by little: without a prior, what sets a batch apart would go there.
            of_flour.held_at = Some(of_flour.prior.median);
        }
    }
    let mut readings =
        HeatReadings::of(model, options.uncertainties, log, &flours, &table, logged)?;
    let logged = readings.logged().clone();
    let scale = diagnostics::ReadingScale::TEMPERATURES;
    let observed = diagnostics::Observed { log, logged: &logged, scale };
    let heat = if options.with_prior {
        let scatter = options
            .scatter_k
            .map_or(ScatterPrior::HalfNormal(SCATTER_SCALE_K), ScatterPrior::Known);
        let assumptions = Assumptions { scatter, loss: Some(MistypedRows::TEMPERATURES) };
        Part::with_prior(readings, &table, assumptions, log, &observed)?
    } else {
        Part::plain(fit_plain(&mut readings, &table)?, &observed)
    };
    let mut calibration = Calibration {
        machine: log.machine.clone(),
        speeds: log.speeds.clone(),
        model,
        options: options.clone(),
        heat,
        development: None,
        reference_flour,
        flours,
        domain: seen.domain(),
        period: period.map(|(first, last)| (first.clone(), last.clone())),
        batches: logged.batch_count(),
    };
    if graded {
        add_development(&mut calibration, log)?;
    }
    Ok(calibration)
}

/// Fits development where a batch with flour was graded.
fn add_development(calibration: &mut Calibration, log: &BatchLog) -> Result<(), CalibrationError> {
    let flours = &calibration.flours;
    let table = development_coefficients(&log.speeds, flours);
    let options = &calibration.options;
    // The path of a dough is off by what its batch scatters, beside its inputs.
    let path_k = calibration.heat.residual_sd.max(options.uncertainties.dough_k);
    let mut readings = DevelopmentReadings::new(
        calibration.model,
        calibration.heat_coefficients(),
        path_k,
        options.uncertainties,
        log,
        flours,
        &table,
    )?;
    if readings.logged().batch_count() == 0 {
        return Ok(());
    }
    let logged = readings.logged().clone();
    let scale = diagnostics::ReadingScale::GRADES;
    let observed = diagnostics::Observed { log, logged: &logged, scale };
    let part = if options.with_prior {
        let assumptions = Assumptions {
            scatter: ScatterPrior::HalfNormal(DOSE_SCATTER_SCALE),
            loss: Some(MistypedRows::GRADES),
        };
        Part::with_prior(readings, &table, assumptions, log, &observed)?
    } else {
        Part::plain(fit_plain(&mut readings, &table)?, &observed)
    };
    calibration.development = Some(part);
    Ok(())
}
