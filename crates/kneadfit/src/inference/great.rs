//! A great many batches: Newton's method over all of them, from the answer of fewer.
//!
//! So many batches hold scatter and coefficients so fast that neither the scatter's doubt
//! nor the posterior's skew can be seen. What is looked for is the point where
//!
//! ```text
//! z + Σ ∂(−ln p)/∂z = 0   and   ∂(−ln p − ln prior(τ))/∂(ln τ) = 0
//! ```
//!
//! together, `p` the loss for mistyped rows at the covariance of the point itself. The
//! Newton matrix has all second derivatives but those of the model, so that a log that the
//! model fits is met in two or three passes. For others the passes' steps are mixed so as
//! to cancel each other (Anderson's acceleration).
//!
//! # References
//!
//! D. G. Anderson, J. ACM 12:547–560, 1965.

use super::conditional::{Conditioner, Whitened};
use super::score::Score;
use crate::fit::{Coordinate, FitError, Readings, TerminationReason};
use crate::numeric::cholesky;

/// The answer is near enough at this many standard errors: far below what anybody can tell.
const NEAR_ENOUGH: f64 = 1e-3;
/// Passes are enough; a log that the model fits takes two or three.
const MOST_PASSES: usize = 60;
/// Steps that are mixed.
const MIXED: usize = 6;
/// No coordinate goes farther in one pass: prior's spreads, or ln τ.
const FARTHEST: f64 = 0.7;
/// A pass that so nearly cancels the one before needs no other to confirm it.
const SURE: f64 = 0.1;

/// Moves `fitted` and `tau` to the most probable ones. Leaves `w` linearised there and `c`
/// settled; returns the outcome and the covariance in prior-whitened coordinates.
pub(super) fn settle(
    readings: &mut impl Readings,
    coordinates: &[Coordinate],
    scale: Option<f64>,
    c: &mut Conditioner,
    w: &mut Whitened,
    fitted: &mut [f64],
    tau: &mut f64,
) -> Result<(TerminationReason, Vec<f64>), FitError> {
    let p = coordinates.len();
    let mut outcome = TerminationReason::IterationLimit;
    let mut score = Score::new(w.lin.coefficients);
    let mut mixer = Mixer::default();
    let mut last = f64::INFINITY;
    for _ in 0..MOST_PASSES {
        if !readings.linearise(fitted, &mut w.lin) {
            return Err(FitError::NotFinite);
        }
        w.set_z(coordinates, fitted);
        let newton = c
            .score(w, *tau, &mut score)
            .and_then(|()| score.newton(&w.z, coordinates, scale.map(|s| (*tau / s).powi(2))))
            .ok_or(FitError::NotFinite)?;
        let size = newton.size;
        if std::env::var("DEBUG_GREAT").is_ok() {
            eprintln!("{size:e} tau {tau} {:?}", w.z);
        }
        let close = size < NEAR_ENOUGH;
        let sure = last.is_finite() && size < SURE * last && size * size < NEAR_ENOUGH * last;
        if close || sure {
            outcome = TerminationReason::ConvergedStep;
            if !close {
                // The step is so short that the model is straight along it.
                for (x, step) in coordinates.iter().zip(&newton.step) {
                    fitted[x.index] += x.spread * step;
                }
                *tau *= newton.step[p].exp();
                w.set_z(coordinates, fitted);
                w.set_rows(coordinates);
                w.move_along(&newton.step[..p]);
            }
            break;
        }
        last = size;
        let mut at = w.z.clone();
        at.push(tau.ln());
        let step = mixer.step(at, newton.step, &newton.factor);
        for (x, step) in coordinates.iter().zip(&step) {
            fitted[x.index] += x.spread * step;
        }
        if scale.is_some() {
            *tau *= step[p].exp();
        }
    }
    w.set_rows(coordinates);
    let covariance = c.rest(&score, coordinates, *tau).ok_or(FitError::NotFinite)?;
    Ok((outcome, covariance))
}

/// Anderson's acceleration: of the last points and the steps proposed at them, the
/// combination at which the step would vanish.
#[derive(Default)]
struct Mixer {
    points: Vec<Vec<f64>>,
    steps: Vec<Vec<f64>>,
}

impl Mixer {
    /// The step to take from `at`, where `proposed` is; lengths are measured by `factor`,
    /// the Cholesky factor of the Newton matrix.
    fn step(&mut self, at: Vec<f64>, proposed: Vec<f64>, factor: &[f64]) -> Vec<f64> {
        let n = at.len();
        if self.points.len() == MIXED {
            self.points.remove(0);
            self.steps.remove(0);
        }
        let mut step = proposed.clone();
        let whitened = |v: &[f64]| -> Vec<f64> {
            (0..n).map(|j| (j..n).map(|i| factor[i * n + j] * v[i]).sum()).collect()
        };
        let minus =
            |a: &[f64], b: &[f64]| -> Vec<f64> { a.iter().zip(b).map(|(a, b)| a - b).collect() };
        let by: Vec<Vec<f64>> = self.steps.iter().map(|s| whitened(&minus(&proposed, s))).collect();
        let here = whitened(&proposed);
        let m = by.len();
        let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        let mut normal = vec![0.0; m * m];
        let mut right: Vec<f64> = by.iter().map(|b| dot(b, &here)).collect();
        for i in 0..m {
            for j in 0..m {
                normal[i * m + j] = dot(&by[i], &by[j]);
            }
            normal[i * m + i] *= 1.0 + 1e-10;
        }
        if let Some(lower) = cholesky(&normal, m).filter(|_| m > 0) {
            crate::numeric::solve_cholesky(&lower, m, &mut right);
            for (k, share) in right.iter().enumerate() {
                for i in 0..n {
                    step[i] -= share * (at[i] - self.points[k][i] + proposed[i] - self.steps[k][i]);
                }
            }
        }
        self.points.push(at);
        self.steps.push(proposed);
        let longest = step.iter().fold(0.0_f64, |most, s| most.max(s.abs()));
        if !longest.is_finite() {
            return self.steps[self.steps.len() - 1].clone();
        }
        if longest > FARTHEST {
            step.iter_mut().for_each(|s| *s *= FARTHEST / longest);
        }
        step
    }
}
