//! What a share of a log tells of the Newton step of the whole one.
//!
//! The Newton matrix lacks what the model's bend, the inputs' covariance and the scatter's share
//! do to the slope. All of it shows in the slopes `f` of a share of the batches, at the price of
//! that share: with `F`, `M` slope and Newton matrix of the whole log at `x₀`, and `m` the
//! share's own,
//!
//! ```text
//! F(x₀) + M (x − x₀) + times · [ f(x) − f(x₀) − m (x − x₀) ] = 0
//! ```
//!
//! is solved for `x` instead of its first two terms alone. Where a Newton step over a great many
//! batches leaves a tenth of itself, this one leaves some hundredths.

use super::conditional::{Conditioner, Whitened};
use super::score::{Newton, Score};
use crate::fit::{Coordinate, Readings};
use crate::numeric::solve_cholesky;

/// Each round leaves a tenth of the one before.
const ROUNDS: usize = 3;
/// A round that moves the step by less than this, in standard errors, is the last.
const SETTLED: f64 = 1e-4;
/// A step that is shorter than this leaves next to nothing anyway.
const SHORT: f64 = 5e-3;
/// A step is bent by no more than this share of itself: beyond that the share of the log is
/// another log.
const MOST_BENT: f64 = 0.5;

/// A share of a log near whose own answer the whole log's lies.
pub(super) struct Share<R> {
    pub readings: R,
    pub w: Whitened,
    pub c: Conditioner,
    /// How many batches of the log go on one of the share.
    pub times: f64,
}

/// Bends Newton steps towards where they should have led.
pub(super) trait Guide {
    /// Bends the step that `newton` proposes from `fitted` and `tau`.
    fn bend(&mut self, coordinates: &[Coordinate], fitted: &[f64], tau: f64, newton: &mut Newton);
}

impl<R: Readings> Share<R> {
    /// Slope and curvature at a point; `None` where the model has no finite value.
    fn score(&mut self, fitted: &[f64], tau: f64) -> Option<&Score> {
        let Self { readings, w, c, .. } = self;
        c.share = 1.0;
        c.score_at(readings, fitted, &mut w.lin, tau)?.then_some(&c.room.score)
    }

    fn bent(
        &mut self,
        coordinates: &[Coordinate],
        fitted: &[f64],
        tau: f64,
        newton: &Newton,
    ) -> Option<Vec<f64>> {
        let p = coordinates.len();
        let here = self.score(fitted, tau)?.clone();
        let mut step = newton.step.clone();
        let mut moved = fitted.to_vec();
        for _ in 0..ROUNDS {
            for (x, step) in coordinates.iter().zip(&step) {
                moved[x.index] = fitted[x.index] + x.spread * step;
            }
            let times = self.times;
            let there = self.score(&moved, tau * step[p].exp())?;
            let mut next = newton.pull.clone();
            here.left_over(there, coordinates, &step, |i, rest| next[i] -= times * rest);
            if !newton.scatter_is_free {
                next[p] = 0.0;
            }
            solve_cholesky(&newton.factor, p + 1, &mut next);
            let by: Vec<f64> = next.iter().zip(&step).map(|(a, b)| a - b).collect();
            step = next;
            if newton.length(&by) < SETTLED {
                break;
            }
        }
        let bent: Vec<f64> = step.iter().zip(&newton.step).map(|(a, b)| a - b).collect();
        (newton.length(&bent) <= MOST_BENT * newton.size).then_some(step)
    }
}

impl<R: Readings> Guide for Share<R> {
    fn bend(&mut self, coordinates: &[Coordinate], fitted: &[f64], tau: f64, newton: &mut Newton) {
        if newton.is_whole
            && newton.size > SHORT
            && let Some(step) = self.bent(coordinates, fitted, tau, newton)
        {
            newton.step = step;
        }
    }
}
