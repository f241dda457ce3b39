//! The most probable coefficients, and scatter, by Newton's method on all that depends on
//! them: residuals, covariances and suspicions at once.
//!
//! What is looked for is the point where
//!
//! ```text
//! z + Σ ∂(−ln p)/∂z = 0   and, where τ is free,   ∂(−ln p − ln prior(τ))/∂(ln τ) = 0
//! ```
//!
//! `p` the loss for mistyped rows at the covariance of the point itself. The Newton matrix
//! has all second derivatives but those of the model and of the inputs' covariance, so that
//! a log that the model fits is met in a few passes. For others the passes' steps are mixed
//! so as to cancel each other (Anderson's acceleration).
//!
//! # References
//!
//! D. G. Anderson, J. ACM 12:547–560, 1965.

use super::conditional::{Conditioner, Whitened};
use super::score::Score;
use crate::fit::{Coordinate, FitError, Readings};
use crate::numeric::{cholesky, solve_cholesky};

/// Steps that are mixed.
const MIXED: usize = 6;
/// No coordinate goes farther in one pass: prior's spreads, or ln τ.
const FARTHEST: f64 = 0.7;
/// Where each pass leaves less than this share of the step before, the next one needs not be
/// seen if by the same share it would leave next to nothing.
const SURE: f64 = 0.1;
const LEFT_OVER: f64 = 3.0;

/// When a search is at its end.
#[derive(Clone, Copy, Debug)]
pub(super) enum Near {
    /// The step is shorter than this many standard errors, or a next one would be.
    StandardErrors(f64),
    /// No coefficient moves by more than this many spreads of its prior.
    Spreads(f64),
}

/// What is searched for, and how far.
#[derive(Clone, Copy, Debug)]
pub(super) struct Search {
    /// Scale of the scatter's half-normal prior; `None`: the scatter is held.
    pub scale: Option<f64>,
    pub near: Near,
    pub passes: usize,
}

impl Search {
    /// Moves `fitted` and `tau` to the most probable ones; whether they were met. Leaves
    /// `w` linearised there but for its rows, and `score` what is known there.
    #[expect(clippy::too_many_arguments, reason = "the state of one fit, each part once")]
    pub fn run(
        self,
        readings: &mut impl Readings,
        coordinates: &[Coordinate],
        c: &mut Conditioner,
        w: &mut Whitened,
        fitted: &mut [f64],
        tau: &mut f64,
        score: &mut Score,
    ) -> Result<bool, FitError> {
        let p = coordinates.len();
        let mut mixer = Mixer::default();
        let mut last = f64::INFINITY;
        // Where the step before began.
        let mut before: Option<(Vec<f64>, f64)> = None;
        for _ in 0..self.passes {
            if !readings.linearise(fitted, &mut w.lin) {
                // A step into nowhere: halfway back.
                let (from, from_tau) = before.as_ref().ok_or(FitError::NotFinite)?;
                fitted.iter_mut().zip(from).for_each(|(to, from)| *to = 0.5 * (*to + from));
                *tau = (*tau * from_tau).sqrt();
                continue;
            }
            w.set_z(coordinates, fitted);
            let ratio = self.scale.map(|s| (*tau / s).powi(2));
            let newton = c
                .score(w, *tau, score)
                .and_then(|()| score.newton(&w.z, coordinates, ratio))
                .ok_or(FitError::NotFinite)?;
            let size = newton.size;
            let met = match self.near {
                Near::StandardErrors(near) => {
                    if last.is_finite()
                        && size < SURE * last
                        && size * size < LEFT_OVER * near * last
                    {
                        // The step is so short that the model is straight along it.
                        for (x, step) in coordinates.iter().zip(&newton.step) {
                            fitted[x.index] += x.spread * step;
                        }
                        *tau *= newton.step[p].exp();
                        w.set_z(coordinates, fitted);
                        w.move_along(coordinates, &newton.step);
                        return Ok(true);
                    }
                    size < near
                }
                Near::Spreads(near) => newton.step[..p].iter().all(|s| s.abs() < near),
            };
            if met {
                return Ok(true);
            }
            last = size;
            before = Some((fitted.to_vec(), *tau));
            let mut at = w.z.clone();
            at.push(tau.ln());
            let step = mixer.step(at, newton.step, &newton.factor);
            for (x, step) in coordinates.iter().zip(&step) {
                fitted[x.index] += x.spread * step;
            }
            if self.scale.is_some() {
                *tau *= step[p].exp();
            }
        }
        Ok(false)
    }
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
            solve_cholesky(&lower, m, &mut right);
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
