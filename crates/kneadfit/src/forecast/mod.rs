//! What a profile says of a batch: mean, interval for the next reading, support.
//!
//! # The interval, so that another program can compute it
//!
//! At the profile's fitted values `θ` (each coefficient on its fitted scale, covariance Σ)
//! let `f` be the dough temperature, `g` its gradient by the fitted coefficients,
//!
//! ```text
//! n  = σ_dough² + Σ_i (σ_i ∂f/∂input_i)²         thermometers, scale and clock, at θ
//! a² = 0.3² + (Σ_s q_s ∂f/∂q_s / 10 K)²          the dough's share of scatter, at θ
//! τ² = a² Σ_k w_k sd_k²,  τ_k² = a² sd_k²        scatter over the profile's nodes
//! z  = x / √(gᵀΣg + n + τ²),  x from  Σ_k w_k Φ( x / √(gᵀΣg + n + τ_k²) ) = (1 + level)/2
//! ```
//!
//! The share of scatter goes with what friction, at all speeds `s`, has warmed the dough by:
//! see [`crate::thermal::scatter_share`].
//!
//! The mean is `f(θ)`. `θ` are the coefficients that `covariance` names, all others are
//! held at their values. Inputs are what was logged of the batch: the temperatures of
//! flour, water, preferment, other ingredients and room, that of the bowl where it is
//! logged (where it is not, the bowl stands at the room's), the masses of dry flour,
//! water and ice (relative), and the minutes of each phase. Salt, sugar and fat move with
//! the room's temperature, whatever was logged of them. Preferment and other ingredients
//! have the flour's uncertainty, a logged bowl the room's. A dough of a flour that is named and
//! not in the profile (which has a `model.reference_flour`) has one input more, `ln ψ`, with
//! `flour_friction` for its σ: `∂f/∂ln ψ` is the sum over speeds in the share of scatter below.
//!
//! Coefficients that are hardly known bend `f` over their range, so the bounds are not
//! taken on the tangent at `θ`. A bound is the highest (`±` is `+`) or the lowest (`−`)
//! reading within `z` standard deviations,
//!
//! ```text
//! the most of  F = ± f(θ + δ) + s v   over   δᵀΣ⁻¹δ + v² = z²,     s² = n + τ²
//! ```
//!
//! and where there are several, the one to which these steps climb, in which no inverse of
//! Σ is needed. From `δ = 0`, `v = z`, `a = 0`, with `g` the gradient of `± f` at `θ + δ`:
//!
//! ```text
//! G² = gᵀΣg + s²,   A = gᵀδ + s v,   promised = z G − A
//! 1. promised ≤ 1e-12 max(|F|, 1):  the bound is ± (F + promised)
//! 2. c = z / √(G² + 2aA + a²z²),   δ' = c (Σg + a δ),   v' = c (s + a v)
//! 3. F' not a number, or F' − F < 0.1 max(c (G² + aA) − A, 0) − 1e-13 max(|F|, 1):
//!    a ← max(2a, G/z), back to 2
//! 4. a ← max( −(δ' − δ)ᵀ(g' − g) / (2 (z² − c (A + a z²))), −G'/(2z) ), 0 if that is not
//!    finite;  δ, v ← δ', v';  back to 1
//! ```
//!
//! With `a = 0` a step goes where the tangent has its most (the first-order reliability
//! method); `a` holds it back where the model bends against it, and by as much as the bend
//! along the last step says. `F` never falls, so the search ends: with a bound, or after
//! 400 values of `f` without one. In a profile of plain least squares (`student-t`),
//! `n + τ²` is `sd²` alone and `z` is Student's t of its `dof`; coefficients may be so
//! little known there that there is nothing to climb to. A bound that is not found,
//! or found on the other side of `f(θ)`, is the tangent's at `θ`, `f(θ) ± z √(gᵀΣg + n + τ²)`; if that is not finite either, there is
//! no interval. Any level below 1 that a double can hold is taken.
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
//! Phases are those of mixing and of rest. A flour in `model.flours` has its own friction and
//! relative rate; any other counts as the reference flour, and one that is named but is not the
//! reference flour, where there is one, adds `unknown_flour_spread²` to `v`. For a dough that was not mixed at
//! all (`X = 0`) the interval is `D ± z σ_development` with a normal `z`. In a profile of
//! plain least squares it is `D ± z √(gᵀΣg + sd²)`, `g` the gradient of `D` itself and
//! `z` Student's t of development's `dof`.
//!
//! # A batch on its way
//!
//! Readings of earlier stages are used, in each stage's forecast those of the stages before
//! it. Readings of one batch share its errors. On the tangent at `θ`, for stages `i`, `j`,
//!
//! ```text
//! C_ij = g_iᵀΣg_j + Σ_inputs σ² (∂f_i/∂input)(∂f_j/∂input)      r_i = read_i − f_i(θ)
//! T_ij = a_i a_j sd_k²                                          scatter, each stage by its share
//! S = C + T + σ_dough² I         over the stages that were read before stage m
//! b = C_mi + T_mi                of stage m with them
//! mean_k = bᵀS⁻¹r,   variance_k = C_mm + T_mm + σ_dough² − bᵀS⁻¹b
//! w_k' ∝ w_k exp(−½ rᵀS⁻¹r) / √det S
//! ```
//!
//! for each of the scatter's nodes, and for each explanation of the readings: either all are at
//! their word, or one of them is mistyped, as one in fifty is. That one has `σ_dough² + (20 K)²`
//! in S in place of `σ_dough²`, and its `w_k'` are times `0.02 / 0.98`. Sums over `k` go over
//! nodes and explanations. The mean is `f_m(θ) + μ`, `μ = Σ w_k' mean_k`. Each
//! side has its own reach `x±` from the mean, from
//! `Σ w_k' Φ( (±(mean_k − μ) − x±) / √variance_k ) = (1 − level)/2`. The bend is that of the model at `θ`, over what the readings have
//! left in doubt: a bound is `μ` more than that of the steps above with `δ` one number
//! longer, which is added to `f` (what the readings of the batch share), with
//! `s = σ_dough`, and with Σ the covariance of the longer `δ` after the readings by the likeliest
//! explanation at its typical scatter, `T` of `Σ w_k' sd_k² / Σ w_k'` over its nodes,
//!
//! ```text
//! [[Σ, 0], [0, inputs_mm + T_mm]] − K S⁻¹ Kᵀ,   columns of K: Σg_i above inputs_mi + T_mi
//! ```
//!
//! where `inputs` is `C` without its first term, and `z = x± / √(gᵀΣg + s²)` with that Σ.
//! In a profile of plain least squares readings share the coefficients alone:
//! `S = GΣGᵀ + sd² I`, no further number in `δ`; by the rule for Student's t, Σ, `sd²` and
//! so the variance are multiplied by `(dof + rᵀS⁻¹r) / (dof + q)` after `q` readings, and
//! `dof` grows by `q`.
//!
//! Development follows the path as the readings have moved it. With `α` the gradient of
//! `y = ln X` by heat's coefficients, `ρ` that by its own, and `β = ∂y/∂shift`, by the same
//! explanation at its typical scatter,
//!
//! ```text
//! P_ij = α_iᵀΣα_j + ρ_iᵀΣρ_j + β_iβ_j (inputs_ij + T_ij) + flour² + σ_minutes² c_min(i,j)/(X_iX_j)
//! B_ij = α_iᵀΣg_j + β_i (inputs_ij + T_ij)
//! y ← y + B S⁻¹ r,   P ← P − B S⁻¹ Bᵀ
//! ```
//!
//! (`c_i` is the sum over phases of `(dX/dt)²`, as above), and earlier grades move it in
//! the same way: `d = grade − D(X)`, slopes `D' = ∂D/∂y`, `S = D'(P + τ_Dk²)D' + σ_development² I`,
//! nodes reweighted, and the interval as above about `X e^μ`, with `z = x± / √(Σ w_k' variance_k)`.
//! A grade of 1 says nothing where the model has 0.95 or more, and 0.95 where it has less.
//! Grades move no temperature. In plain least squares `P` is `α, ρ`'s alone, `S` has `sd²`
//! in place of `σ²` and scatter, and Student's rule holds as before.
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
mod development_heat;
mod innovations;
mod journey;
mod law;
mod machine;
mod outlook;
mod predictive;

pub use budget::{Budget, Source};
pub use development_heat::DevelopmentHeat;
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
