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

#[cfg(test)]
mod tests {
    use super::super::newton::{Near, Search};
    use super::super::posterior::coordinates_of;
    use super::*;
    use crate::batch::{Batch, BatchLog};
    use crate::charge::{Charge, Material, Phase};
    use crate::fit::{HeatReadings, MistypedRows};
    use crate::prior::{Coefficient, heat_coefficients};
    use crate::thermal::{HeatModel, Uncertainties};

    /// Forty doughs of one machine, none quite as the model would have it.
    fn readings() -> (HeatReadings, Vec<Coefficient>) {
        let speeds = ["low".into(), "high".into()];
        let model = HeatModel::new(17.0);
        let table = heat_coefficients(&model, &speeds, &[]);
        let machine = crate::thermal::HeatCoefficients::typical(&model, 2);
        let batches = (0..40_u32).map(|i| {
            let part = |n: u32| f64::from(i * n % 11) / 11.0;
            let charge = Charge::new(17.0 + 9.0 * part(3))
                .with(Material::Flour, 6.0 + 5.0 * part(5), 20.0)
                .with(Material::Water, 5.0 + 2.0 * part(2), 5.0 + 8.0 * part(7));
            let phases = vec![
                Phase::mixing("low", 3.0 + 4.0 * part(4)),
                Phase::mixing("high", 6.0 * part(6)),
            ];
            let batch = Batch::new(i.to_string(), charge, phases);
            let dough_c = model.forecast_c(&machine, &batch, &speeds).unwrap()[0];
            batch.read_dough(1.06 * dough_c + 5.0 * part(9) - 4.0)
        });
        let log = BatchLog::new("spiral", speeds.clone(), batches.collect()).unwrap();
        (HeatReadings::new(model, Uncertainties::default(), &log, &[], &table).unwrap(), table)
    }

    /// A share that is the whole log knows all that the Newton matrix lacks.
    #[test]
    fn a_bent_step_leads_nearer_than_newtons() {
        let (readings, table) = readings();
        let coordinates = coordinates_of(&table);
        let z = vec![0.0; coordinates.len()];
        let w = Whitened { lin: readings.shape(), z, ..Whitened::default() };
        let c = Conditioner::new(&w, Some(MistypedRows::TEMPERATURES));
        let mut share = Share { readings, w, c, times: 1.0 };
        let fitted: Vec<f64> = table.iter().map(|c| c.scale.fitted(c.start())).collect();
        let (mut fitted, mut tau) = (fitted, 0.4);
        // Newton's proposal at a point, and its size.
        let propose = |share: &mut Share<HeatReadings>, fitted: &[f64], tau: f64| {
            share.w.set_z(&coordinates, fitted);
            let (z, mut newton) = (share.w.z.clone(), Newton::default());
            let ratio = Some((tau / 0.5_f64).powi(2));
            share.score(fitted, tau).unwrap().newton(&z, &coordinates, ratio, &mut newton).unwrap();
            newton
        };
        let go = |fitted: &[f64], tau: f64, step: &[f64]| {
            let mut to = fitted.to_vec();
            for (x, step) in coordinates.iter().zip(step) {
                to[x.index] += x.spread * step;
            }
            (to, tau * step[coordinates.len()].exp())
        };
        // From afar to the peak, and a little away from it.
        let near = Near::StandardErrors(1e-3);
        let search = Search { scale: Some(0.5), near, passes: 100 };
        let Share { readings, w, c, .. } = &mut share;
        let met = search.run(readings, &coordinates, c, w, &mut fitted, &mut tau);
        assert_eq!(met, Ok(true));
        fitted[0] += 0.02;
        tau *= 1.05;
        let plain = propose(&mut share, &fitted, tau);
        let mut bent = plain.clone();
        share.bend(&coordinates, &fitted, tau, &mut bent);
        assert_ne!(plain.step, bent.step);
        let left = |share: &mut Share<HeatReadings>, step: &[f64]| {
            let (fitted, tau) = go(&fitted, tau, step);
            propose(share, &fitted, tau).size
        };
        let (by_newton, by_bent) = (left(&mut share, &plain.step), left(&mut share, &bent.step));
        assert!(by_newton < 0.5 * plain.size, "{by_newton} of {}", plain.size);
        assert!(by_bent < 0.1 * by_newton, "{by_bent} instead of {by_newton}");
        // What is next to nothing is left as it is.
        let mut short = plain.clone();
        short.size = 0.5 * SHORT;
        share.bend(&coordinates, &fitted, tau, &mut short);
        assert_eq!(short.step, plain.step);
    }
}
