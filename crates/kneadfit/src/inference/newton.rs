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
//! has all second derivatives but those of the model, of the inputs' covariance and of the
//! scatter's share, which are held as they are at the point; so a log that the model fits is met in a few passes. For others the passes' steps are mixed
//! so as to cancel each other (Anderson's acceleration).
//!
//! # References
//!
//! D. G. Anderson, J. ACM 12:547–560, 1965.

use super::conditional::{Conditioner, Whitened};
use super::guide::Guide;
use super::score::{Newton, Score};
use crate::fit::{Coordinate, FitError, Readings};
use crate::numeric::{cholesky_into, solve_cholesky};

/// Steps that are mixed.
const MIXED: usize = 6;
/// No coordinate goes farther in one pass: prior's spreads, or ln τ.
const FARTHEST: f64 = 0.7;
/// Where each pass leaves less than this share of the step before, the next one needs not be
/// seen if by the same share it would leave next to nothing.
const SURE: f64 = 0.1;
const LEFT_OVER: f64 = 3.0;

/// From these passes on, the suspicions of batches with several readings go only this share of
/// the way: each of them looks at the one before, so that a batch that is torn could swing for
/// ever.
const GENTLER: [(usize, f64); 2] = [(40, 0.1), (20, 0.3)];

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
    /// `w` linearised there but for its rows, and the conditioner's score what is known there.
    /// A pass allocates nothing.
    pub fn run(
        self,
        readings: &mut impl Readings,
        coordinates: &[Coordinate],
        c: &mut Conditioner,
        w: &mut Whitened,
        fitted: &mut [f64],
        tau: &mut f64,
    ) -> Result<bool, FitError> {
        self.guided(None, readings, coordinates, c, w, fitted, tau)
    }

    /// The same; each step is bent by `guide` where there is one.
    #[expect(clippy::too_many_arguments, reason = "those of a search, and the guide")]
    pub fn guided(
        self,
        mut guide: Option<&mut dyn Guide>,
        readings: &mut impl Readings,
        coordinates: &[Coordinate],
        c: &mut Conditioner,
        w: &mut Whitened,
        fitted: &mut [f64],
        tau: &mut f64,
    ) -> Result<bool, FitError> {
        let p = coordinates.len();
        c.room.start(p + 1);
        let mut last = f64::INFINITY;
        // The scatter at which the step before began.
        let mut before_tau = None;
        for pass in 0..self.passes {
            c.share = GENTLER.iter().find(|(from, _)| pass >= *from).map_or(1.0, |g| g.1);
            let scored = c.score_at(readings, fitted, &mut w.lin, *tau);
            if !scored.ok_or(FitError::NotFinite)? {
                // A step into nowhere: halfway back.
                let from_tau: f64 = before_tau.ok_or(FitError::NotFinite)?;
                let from = &c.room.before;
                fitted.iter_mut().zip(from).for_each(|(to, from)| *to = 0.5 * (*to + from));
                *tau = (*tau * from_tau).sqrt();
                continue;
            }
            w.set_z(coordinates, fitted);
            let ratio = self.scale.map(|s| (*tau / s).powi(2));
            let Room { score, newton, mixer, before } = &mut c.room;
            score.newton(&w.z, coordinates, ratio, newton).ok_or(FitError::NotFinite)?;
            if let Some(guide) = &mut guide {
                guide.bend(coordinates, fitted, *tau, newton);
            }
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
            before.clear();
            before.extend_from_slice(fitted);
            before_tau = Some(*tau);
            let step = mixer.step(&w.z, tau.ln(), newton);
            for (x, step) in coordinates.iter().zip(step) {
                fitted[x.index] += x.spread * step;
            }
            if self.scale.is_some() {
                *tau *= step[p].exp();
            }
        }
        Ok(false)
    }
}

/// A search's room, to be used again by the next one.
#[derive(Clone, Debug, Default)]
pub(super) struct Room {
    /// What is known at the point that was met.
    pub score: Score,
    newton: Newton,
    mixer: Mixer,
    /// Where the step before began.
    before: Vec<f64>,
}

impl Room {
    fn start(&mut self, n: usize) {
        self.mixer.start(n);
    }
}

/// Anderson's acceleration: of the last points and the steps proposed at them, the
/// combination at which the step would vanish.
#[derive(Clone, Debug, Default)]
struct Mixer {
    /// How many numbers a point has.
    n: usize,
    /// One point after the other, the oldest first.
    points: Vec<f64>,
    /// What was proposed at each.
    steps: Vec<f64>,
    /// By how much the step proposed now differs from each of those, whitened.
    by: Vec<f64>,
    here: Vec<f64>,
    normal: Vec<f64>,
    lower: Vec<f64>,
    right: Vec<f64>,
    step: Vec<f64>,
    at: Vec<f64>,
}

impl Mixer {
    fn start(&mut self, n: usize) {
        self.n = n;
        let Self { points, steps, by, normal, lower, right, .. } = self;
        for (room, size) in [
            (points, MIXED * n),
            (steps, MIXED * n),
            (by, MIXED * n),
            (normal, MIXED * MIXED),
            (lower, MIXED * MIXED),
            (right, MIXED),
        ] {
            room.clear();
            room.reserve(size);
        }
    }

    /// The step to take from `z` and `ln_tau`, where `newton` is proposed; lengths are
    /// measured by its Newton matrix.
    fn step(&mut self, z: &[f64], ln_tau: f64, newton: &Newton) -> &[f64] {
        let Self { n, points, steps, by, here, normal, lower, right, step, at } = self;
        let n = *n;
        if points.len() == MIXED * n {
            points.drain(..n);
            steps.drain(..n);
        }
        at.clear();
        at.extend_from_slice(z);
        at.push(ln_tau);
        let proposed = &newton.step;
        step.clear();
        step.extend_from_slice(proposed);
        // Lᵀ v, v given by its numbers.
        let whiten = |v: &dyn Fn(usize) -> f64, to: &mut Vec<f64>| {
            to.extend(
                (0..n).map(|j| -> f64 { (j..n).map(|i| newton.factor[i * n + j] * v(i)).sum() }),
            );
        };
        by.clear();
        for before in steps.chunks_exact(n) {
            whiten(&|i| proposed[i] - before[i], by);
        }
        here.clear();
        whiten(&|i| proposed[i], here);
        let m = points.len() / n;
        let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        right.clear();
        right.extend(by.chunks_exact(n).map(|b| dot(b, here)));
        normal.clear();
        normal.resize(m * m, 0.0);
        for (i, a) in by.chunks_exact(n).enumerate() {
            for (j, b) in by.chunks_exact(n).enumerate() {
                normal[i * m + j] = dot(a, b);
            }
            normal[i * m + i] *= 1.0 + 1e-10;
        }
        if m > 0 && cholesky_into(normal, m, lower) {
            solve_cholesky(lower, m, right);
            let earlier = points.chunks_exact(n).zip(steps.chunks_exact(n));
            for (share, (point, before)) in right.iter().zip(earlier) {
                for i in 0..n {
                    step[i] -= share * (at[i] - point[i] + proposed[i] - before[i]);
                }
            }
        }
        points.extend_from_slice(at);
        steps.extend_from_slice(proposed);
        let longest = step.iter().fold(0.0_f64, |most, s| most.max(s.abs()));
        if !longest.is_finite() {
            step.copy_from_slice(proposed);
        } else if longest > FARTHEST {
            step.iter_mut().for_each(|s| *s *= FARTHEST / longest);
        }
        step
    }
}
