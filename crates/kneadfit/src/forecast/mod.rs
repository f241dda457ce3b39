//! What a profile says of a batch: mean, interval for the next reading, support.
//!
//! # The interval, so that another program can compute it
//!
//! At the profile's fitted values `θ` (each coefficient on its fitted scale, covariance Σ)
//! let `f` be the dough temperature, `g` its gradient by the fitted coefficients,
//!
//! ```text
//! n  = σ_dough² + Σ_i (σ_i ∂f/∂input_i)²         thermometers, scale and clock, at θ
//! τ² = Σ_k w_k τ_k²                              scatter over the profile's nodes
//! z  = x / √(gᵀΣg + n + τ²),  x from  Σ_k w_k Φ( x / √(gᵀΣg + n + τ_k²) ) = (1 + level)/2
//! ```
//!
//! The mean is `f(θ)`. `θ` are the coefficients that `covariance` names, all others are
//! held at their values. Inputs are what was logged of the batch: the temperatures of
//! flour, water, preferment, other ingredients and room, that of the bowl where it is
//! logged (where it is not, the bowl stands at the room's), the masses of dry flour,
//! water and ice (relative), and the minutes of each phase. Salt, sugar and fat move with
//! the room's temperature, whatever was logged of them. Preferment and other ingredients
//! have the flour's uncertainty, a logged bowl the room's.
//!
//! Coefficients that are hardly known bend `f` over their range, so the bounds are not
//! taken on the tangent at `θ` but where the normal density on the bound is largest (the
//! first-order reliability method): from `δ = 0`,
//!
//! ```text
//! s = √(gᵀΣg + n + τ²)   with g at θ + δ
//! bound = f(θ + δ) − gᵀδ ± z s,     δ ← δ + share (± z Σ g / s − δ)
//! ```
//!
//! until the bound moves by no more than 1e-12 of itself (or 1e-12 °C), at most 60 times;
//! `share` is 1 in the first eight steps and ½ from then on. In a profile of plain least
//! squares (`student-t`), `n + τ²` is `sd²` alone and `z` is Student's t of its `dof`;
//! coefficients may be so little known there that the search loses its way. A bound that
//! is not finite or on the wrong side of the mean is replaced by the tangent's at `θ`,
//! `f(θ) ± z √(gᵀΣg + n + τ²)`; if that is not finite either, there is no interval.
//!
//! Development is taken on `y = ln X`, in which rates are straight lines. With the
//! gradient `g` of `y` by all coefficients, heat's too, and `∂y/∂shift` its derivative by
//! a shift of the whole temperature path of the dough,
//!
//! ```text
//! v = gᵀΣg + (∂y/∂shift)² (n − σ_dough² + τ²) + (σ_minutes/X)² Σ_phases (dX/dt at its end)²
//! x from  Σ_k w_k Φ( x / √(v + τ_Dk²) ) = (1 + level)/2,   z = x / √(v + Σ w_k τ_Dk²)
//! D ± √( (D(X e^±x) − D)² + (z σ_development)² ),  within 0 and 1
//! ```
//!
//! and an upper bound from 0.95 on is 1, because a grade of 1 says "at least full".
//! Phases are those of mixing and of rest. A flour in `model.flours` has its own relative
//! rate; any other counts as the reference flour, and one that is named but is not the
//! reference flour adds `unknown_flour_spread²` to `v`. For a dough that was not mixed at
//! all (`X = 0`) the interval is `D ± z σ_development` with a normal `z`. In a profile of
//! plain least squares it is `D ± z √(gᵀΣg + sd²)`, `g` the gradient of `D` itself and
//! `z` Student's t of development's `dof`.
//!
//! # Examples
//!
//! ```
//! use kneadfit::batch::{Batch, BatchLog};
//! use kneadfit::calibration::{Options, calibrate};
//! use kneadfit::charge::{Charge, Material, Phase};
//! use kneadfit::forecast::Forecaster;
//! use kneadfit::profile::{Profile, Provenance};
//!
//! let mix = |water_c, low| {
//!     let charge = Charge::new(24.0)
//!         .with(Material::Flour, 10.0, 21.0)
//!         .with(Material::Water, 6.5, water_c);
//!     Batch::new("1", charge, vec![Phase::mixing("low", low)])
//! };
//! let log = BatchLog::new("spiral", ["low"], vec![
//!     mix(8.0, 10.0).read_dough(20.9),
//!     mix(8.0, 16.0).read_dough(23.3),
//! ])?;
//! let profile = Profile::new(&calibrate(&log, &Options::default())?, &Provenance::default());
//! let forecast = &Forecaster::new(&profile)?.forecast(&mix(10.0, 14.0), 0.95)?[0];
//! assert!((forecast.dough_c - 23.4).abs() < 0.5);
//! let (low_c, high_c) = forecast.dough_interval_c.unwrap();
//! assert!(low_c < forecast.dough_c && forecast.dough_c < high_c);
//! assert_eq!(forecast.outside[0].input, "water_c");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod bound;
mod budget;
mod development;
mod innovations;
mod journey;
mod law;
mod machine;
mod outlook;
mod predictive;

pub use budget::{Budget, Source};
pub use law::{Law, Part};
pub use machine::Forecaster;
pub(crate) use outlook::{DoseOutlook, Outlook};
pub use predictive::Predictive;

use std::sync::Arc;

use thiserror::Error;

use crate::batch::BatchError;
use crate::domain::Outside;

/// What a profile says of a batch at the end of one stage.
#[derive(Clone, Debug, PartialEq)]
pub struct Forecast {
    /// Dough temperature, °C.
    pub dough_c: f64,
    /// Interval for the next reading of it, °C; `None` where the profile does not know
    /// its own scatter, or so little of a coefficient that there is no bound (both in
    /// plain least squares alone).
    pub dough_interval_c: Option<(f64, f64)>,
    /// Development grade, 0 to 1; `None` without a development model or without flour.
    pub development: Option<f64>,
    /// Interval for the next grade.
    pub development_interval: Option<(f64, f64)>,
    /// Inputs outside what was logged; empty: inside.
    pub outside: Vec<Outside>,
}

/// Why a batch cannot be forecast.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum ForecastError {
    /// A batch that cannot be.
    #[error(transparent)]
    Batch(#[from] BatchError),
    /// The batch uses a speed that the profile does not have.
    #[error("batch {batch}: the machine has no speed {speed:?}; it has {known}")]
    UnknownSpeed {
        /// Which batch.
        batch: Arc<str>,
        /// Which speed.
        speed: Arc<str>,
        /// The speeds of the profile, in words.
        known: String,
    },
    /// The batch has no such stage.
    #[error("batch {batch}: asked for stage {stage}, counted from 0, of {stages}")]
    NoStage {
        /// Which batch.
        batch: Arc<str>,
        /// What was asked for.
        stage: usize,
        /// How many it has.
        stages: usize,
    },
    /// A level that is no probability.
    #[error("level {level}: expected more than 0 and less than 1")]
    Level {
        /// What it was.
        level: f64,
    },
    /// The forecast is not a finite number.
    #[error("batch {batch}: the forecast is not a finite number")]
    NotFinite {
        /// Which batch.
        batch: Arc<str>,
    },
}
