//! The coefficients that a log and the priors give together, and how well they are known.

use super::conditional::{Conditioner, Whitened};
use super::scatter::{self, Node};
use crate::fit::{FitError, MistypedRows, Readings, TerminationReason};
use crate::prior::Coefficient;

/// What is assumed of a set of readings beside their model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Assumptions {
    /// Scale of the half-normal prior of the scatter from batch to batch.
    pub scatter_scale: f64,
    /// The loss for mistyped rows; `None`: every row is taken at its word.
    pub loss: Option<MistypedRows>,
}

/// One scatter with its share of the posterior.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScatterNode {
    /// Scatter from batch to batch, standard deviation.
    pub scatter: f64,
    /// Its share; all shares sum to 1.
    pub weight: f64,
}

/// Coefficients with their joint doubt, scatter integrated over.
#[derive(Clone, Debug)]
pub struct Posterior {
    /// All coefficients on their fitted scale, held ones included.
    pub fitted: Vec<f64>,
    /// Which coefficients are free, in order.
    pub free: Vec<usize>,
    /// Covariance of the free coefficients on their fitted scale, row-major.
    pub covariance: Vec<f64>,
    /// The scatter's posterior.
    pub scatter: Vec<ScatterNode>,
    /// How the fit ended.
    pub outcome: TerminationReason,
    /// How often the model was linearised around the whole posterior.
    pub rounds: usize,
    pub(crate) whitened: Whitened,
    pub(crate) conditioner: Conditioner,
    pub(crate) priors: Vec<(usize, f64)>,
}

/// The posterior is settled when its mean moves by less than this share of a standard error.
const SETTLED: f64 = 1e-10;
const MOST_ROUNDS: usize = 60;
/// From this round on the grid of scatters stays where it is, so that rounds can settle.
const GRID_STAYS: usize = 2;
/// A batch this many standard deviations off what the others say starts as suspected.
const STARTLING: f64 = 3.5;
/// Up to this many batches, the most startling is set aside one at a time, so that one
/// gross mistake cannot hide another; among more batches mistakes cannot hide.
const ONE_AT_A_TIME: usize = 200;

impl Posterior {
    /// Fits the free coefficients of `table` to `readings`.
    ///
    /// # Errors
    ///
    /// [`FitError`] when there is no answer at all. A fit that did not settle is an
    /// answer with a named [`TerminationReason`].
    pub fn fit(
        readings: &mut impl Readings,
        table: &[Coefficient],
        assumptions: Assumptions,
    ) -> Result<Self, FitError> {
        let priors: Vec<(usize, f64)> = table
            .iter()
            .enumerate()
            .filter(|(_, c)| c.held_at.is_none())
            .map(|(i, c)| (i, c.prior.spread))
            .collect();
        let medians: Vec<f64> =
            priors.iter().map(|&(i, _)| table[i].scale.fitted(table[i].prior.median)).collect();
        let mut fitted: Vec<f64> = table.iter().map(|c| c.scale.fitted(c.start())).collect();
        let mut w = Whitened { lin: readings.shape(), ..Whitened::default() };
        w.z = vec![0.0; priors.len()];
        let mut c = Conditioner::new(&w, assumptions.loss);
        // The median of the half-normal prior stands for the scatter until it is fitted.
        let tau = 0.674_489_750_196_082 * assumptions.scatter_scale;

        let mut outcome = find_mode(readings, &priors, &medians, tau, &mut c, &mut w, &mut fitted)?;
        if assumptions.loss.is_some()
            && suspect_startling(&w, &mut c, tau).ok_or(FitError::NotFinite)?
        {
            outcome = find_mode(readings, &priors, &medians, tau, &mut c, &mut w, &mut fitted)?;
        }
        let grid =
            scatter::place(&mut c, &w, assumptions.scatter_scale).ok_or(FitError::NotFinite)?;
        let tau = grid[4].exp();
        outcome = find_mode(readings, &priors, &medians, tau, &mut c, &mut w, &mut fitted)?;
        let grid =
            scatter::place(&mut c, &w, assumptions.scatter_scale).ok_or(FitError::NotFinite)?;
        let mut nodes;
        let mut step;
        let mut covariance;
        let mut rounds = 0;
        let p = priors.len();
        loop {
            nodes = scatter::integrate(&mut c, &w, assumptions.scatter_scale, &grid)
                .ok_or(FitError::NotFinite)?;
            (step, covariance) = scatter::mixture(&nodes);
            rounds += 1;
            let moved = (0..p)
                .map(|i| step[i].abs() / covariance[i * p + i].sqrt())
                .fold(0.0_f64, f64::max);
            for (k, &(index, prior_spread)) in priors.iter().enumerate() {
                fitted[index] += prior_spread * step[k];
            }
            if moved < 1e-3 || rounds == std::env::var("RR").map_or(5, |v| v.parse().unwrap()) {
                break;
            }
            linearise(readings, &mut w, &priors, &medians, &fitted)?;
        }
        linearise(readings, &mut w, &priors, &medians, &fitted)?;
        c.settle(&w, tau);
        step.fill(0.0);
        let shift = if std::env::var("NOSHIFT").is_ok() {
            vec![0.0; p]
        } else {
            super::skew::mean_shift(readings, &mut c, &mut w, &priors, &fitted, &covariance, tau)
                .ok_or(FitError::NotFinite)?
        };
        for (k, &(index, prior_spread)) in priors.iter().enumerate() {
            fitted[index] += prior_spread * (step[k] + shift[k]);
        }
        linearise(readings, &mut w, &priors, &medians, &fitted)?;
        let _ = &mut outcome;
        let _ = &mut rounds;
        for i in 0..p {
            for j in 0..p {
                covariance[i * p + j] *= priors[i].1 * priors[j].1;
            }
        }
        Ok(Self {
            fitted,
            free: priors.iter().map(|&(i, _)| i).collect(),
            covariance,
            scatter: nodes
                .iter()
                .map(|n| ScatterNode { scatter: n.conditional.tau, weight: n.weight })
                .collect(),
            outcome,
            rounds,
            whitened: w,
            conditioner: c,
            priors,
        })
    }

    /// Root mean square of the scatter over its posterior.
    pub fn typical_scatter(&self) -> f64 {
        self.scatter.iter().map(|n| n.weight * n.scatter * n.scatter).sum::<f64>().sqrt()
    }

    /// Standard error of each free coefficient on its fitted scale.
    pub fn standard_errors(&self) -> Vec<f64> {
        let p = self.free.len();
        (0..p).map(|i| self.covariance[i * p + i].sqrt()).collect()
    }
}

/// Evaluates the model, its derivatives and its inputs' doubt at `fitted`.
pub(crate) fn linearise(
    readings: &mut impl Readings,
    w: &mut Whitened,
    priors: &[(usize, f64)],
    medians: &[f64],
    fitted: &[f64],
) -> Result<(), FitError> {
    if !readings.evaluate(fitted, true, &mut w.lin) {
        return Err(FitError::NotFinite);
    }
    readings.spread(fitted, &mut w.lin);
    w.set_rows(priors);
    for ((z, &(index, spread)), median) in w.z.iter_mut().zip(priors).zip(medians) {
        *z = (fitted[index] - median) / spread;
    }
    Ok(())
}

/// Suspects, before any robust fit, the batches that are far off what the others say of
/// them; whether any was. Without this a redescending loss may settle on the mistake.
fn suspect_startling(w: &Whitened, c: &mut Conditioner, tau: f64) -> Option<bool> {
    let loss = c.loss?;
    let batches = w.lin.batch_count();
    let one_at_a_time = batches <= ONE_AT_A_TIME;
    let most = if one_at_a_time { batches / 4 + 1 } else { 1 };
    let mut any = false;
    for _ in 0..most {
        let offs = c.left_out(w, tau)?;
        let mut found = false;
        let mut worst = (0.0, 0);
        for (batch, off) in offs.iter().enumerate() {
            if c.suspicion.batch[batch] > 0.0 {
                continue;
            }
            if !one_at_a_time && off.abs() > STARTLING {
                c.suspicion.batch[batch] = loss.spread * loss.spread;
                found = true;
            }
            if off.abs() > worst.0 {
                worst = (off.abs(), batch);
            }
        }
        if one_at_a_time && worst.0 > STARTLING {
            c.suspicion.batch[worst.1] = loss.spread * loss.spread;
            found = true;
        }
        any |= found;
        if !found {
            break;
        }
    }
    Some(any)
}

fn find_mode(
    readings: &mut impl Readings,
    priors: &[(usize, f64)],
    medians: &[f64],
    tau: f64,
    c: &mut Conditioner,
    w: &mut Whitened,
    fitted: &mut [f64],
) -> Result<TerminationReason, FitError> {
    let mut outcome = TerminationReason::IterationLimit;
    for _ in 0..40 {
        linearise(readings, w, priors, medians, fitted)?;
        c.reconsider_here(w, tau).ok_or(FitError::NotFinite)?;
        let before = w.z.clone();
        crate::fit::find_mode(readings, priors, medians, tau, &c.suspicion, &mut w.lin, fitted)?;
        let mut moved = 0.0_f64;
        for ((z, &(index, spread)), median) in before.iter().zip(priors).zip(medians) {
            moved = moved.max((z - (fitted[index] - median) / spread).abs());
        }
        if moved < 1e-10 {
            outcome = TerminationReason::Converged;
            break;
        }
    }
    linearise(readings, w, priors, medians, fitted)?;
    Ok(outcome)
}
