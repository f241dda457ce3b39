//! Each batch beside what the fit says of it, and what the others alone say of it.

use std::sync::Arc;

use rayon::prelude::*;
use smallvec::SmallVec;

use crate::batch::{BatchLog, limits};
use crate::fit::{Logged, PIECE};
use crate::inference::{Conditioner, LeftOut, PlainFit, Posterior, Refit, Whitened};
use crate::numeric::{cholesky, solve_cholesky};

/// One reading beside the fit.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingDiagnostics {
    /// Which stage of its batch.
    pub stage: usize,
    /// What was read, °C or grade.
    pub observed: f64,
    /// What the fit says, in the same unit.
    pub fitted: f64,
    /// predicted − observed.
    pub residual: f64,
    /// The residual in its own standard deviations, as thermometers and scatter make it.
    pub standardised: f64,
    /// What the fit of the other batches says; `None` where they say nothing. Up to 30
    /// batches the others are fitted anew, at the scatter of all; beyond that, and without
    /// priors, it is the closed form, which is exact where the model is straight over what
    /// one batch moves.
    pub left_out: Option<f64>,
    /// Standard deviation of `left_out − observed`.
    pub left_out_sd: Option<f64>,
    /// How much the reading counts: 1 in full, near 0 when it looks mistyped.
    pub weight: f64,
}

/// The readings of one batch, a slice to whoever looks at them. Most batches are read once: that
/// reading lies in its place, so that a great many batches are not a great many allocations.
pub type BatchReadings = SmallVec<[ReadingDiagnostics; 1]>;

/// One batch beside the fit.
#[derive(Clone, Debug, PartialEq)]
pub struct BatchDiagnostics {
    /// The baker's name for it.
    pub id: Arc<str>,
    /// Its day, where logged.
    pub date: Option<Arc<str>>,
    /// Its place in the log, from 0.
    pub in_log: usize,
    /// Its readings in order.
    pub readings: BatchReadings,
    /// How far the batch alone moves the coefficients, squared and in units of their
    /// covariance, a coefficient (Cook's distance).
    pub influence: f64,
    /// How much the batch counts: 1 in full, near 0 when it looks mistyped.
    pub weight: f64,
}

/// Below this weight a row looks mistyped and is named.
pub const LOOKS_MISTYPED: f64 = 0.5;

impl BatchDiagnostics {
    /// Whether the batch, or one of its readings, looks mistyped.
    pub fn looks_mistyped(&self) -> bool {
        self.weight < LOOKS_MISTYPED || self.readings.iter().any(|r| r.weight < LOOKS_MISTYPED)
    }
}

/// Errors of forecasting each reading from the other batches, rows that look mistyped
/// left aside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeftOutErrors {
    /// Root mean square.
    pub rms: f64,
    /// Mean of predicted − observed.
    pub bias: f64,
    /// Largest in size.
    pub worst: f64,
    /// Over how many readings.
    pub readings: usize,
}

impl LeftOutErrors {
    /// The errors over some batches; `None` when there is no reading left.
    pub fn of(batches: &[BatchDiagnostics]) -> Option<Self> {
        let mut sums = LeftOutSums::default();
        batches.iter().for_each(|batch| sums.add(batch));
        sums.errors()
    }
}

/// What [`LeftOutErrors`] are worked out from, over batches that follow each other.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct LeftOutSums {
    squares: f64,
    sum: f64,
    worst: f64,
    readings: usize,
}

impl LeftOutSums {
    pub fn add(&mut self, batch: &BatchDiagnostics) {
        if batch.weight.is_nan() || batch.weight < LOOKS_MISTYPED {
            return;
        }
        let errors = batch
            .readings
            .iter()
            .filter(|r| r.weight >= LOOKS_MISTYPED)
            .filter_map(|r| Some(r.left_out? - r.observed))
            .filter(|e| e.is_finite());
        for error in errors {
            self.squares += error * error;
            self.sum += error;
            if error.abs() > self.worst.abs() {
                self.worst = error;
            }
            self.readings += 1;
        }
    }

    /// With the batches that follow.
    pub fn and(self, next: Self) -> Self {
        Self {
            squares: self.squares + next.squares,
            sum: self.sum + next.sum,
            worst: if next.worst.abs() > self.worst.abs() { next.worst } else { self.worst },
            readings: self.readings + next.readings,
        }
    }

    /// `None` when there is no reading left.
    pub fn errors(self) -> Option<LeftOutErrors> {
        let Self { squares, sum, worst, readings } = self;
        let n = readings as f64;
        let rms = (squares / n).sqrt();
        (readings > 0).then(|| LeftOutErrors { rms, bias: sum / n, worst, readings })
    }
}

/// What a reading is called in the log: batch, stage and observed value of each.
pub(crate) struct Observed<'a> {
    pub log: &'a BatchLog,
    pub logged: &'a Logged,
    pub scale: ReadingScale,
}

/// What readings of a kind can be.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ReadingScale {
    /// As far apart as what is read in a kitchen lies: a forecast with this standard
    /// deviation tells nothing.
    pub spread: f64,
    /// What a reading can be.
    pub possible: (f64, f64),
    /// The unit in which batches scatter.
    pub scatter_unit: &'static str,
}

impl ReadingScale {
    /// Dough temperatures, °C: between ice and a dough that is lost to heat.
    pub const TEMPERATURES: Self = Self {
        spread: 50.0,
        possible: limits::TEMPERATURE_C,
        scatter_unit: " °C per 10 °C of warmth by friction",
    };
    /// Grades. The straight line of a closed form may leave their scale by a little.
    pub const GRADES: Self =
        Self { spread: 1.0, possible: (-1.0, 2.0), scatter_unit: " of ln dose" };

    /// Whether a forecast says anything of a reading.
    fn tells(&self, forecast: f64, sd: f64) -> bool {
        sd < self.spread && (self.possible.0..=self.possible.1).contains(&forecast)
    }
}

/// Diagnostics of a fit with priors. Batches are left out by `refits` where there are some,
/// else in closed form around the linearisation at the result; influences always so.
pub(crate) fn of_posterior(
    posterior: &mut Posterior,
    refits: &[Option<Refit>],
    observed: &Observed<'_>,
) -> Vec<BatchDiagnostics> {
    let tau = posterior.typical_scatter();
    let Posterior { whitened: w, conditioner: c, .. } = posterior;
    if c.settle(w, tau).is_none() {
        return Vec::new();
    }
    let (w, c) = (&*w, &*c);
    let one = |room: &mut LeftOut, index| of_batch(w, c, tau, index, refits, observed, room);
    let batches = w.lin.batch_count();
    if batches <= PIECE {
        let mut room = LeftOut::default();
        return (0..batches).map(|index| one(&mut room, index)).collect();
    }
    (0..batches).into_par_iter().with_min_len(PIECE).map_init(LeftOut::default, one).collect()
}

fn of_batch(
    w: &Whitened,
    c: &Conditioner,
    tau: f64,
    index: usize,
    refits: &[Option<Refit>],
    observed: &Observed<'_>,
    room: &mut LeftOut,
) -> BatchDiagnostics {
    let p = w.z.len().max(1) as f64;
    let rows = w.lin.batch(index);
    let n = rows.residuals.len();
    let first = w.lin.readings_of(index).start;
    let left = c.leave_out(w, index, tau, room).then_some(&*room);
    let refit = refits.get(index).and_then(Option::as_ref);
    let suspicion = c.suspicion.batch[index];
    let own = |i: usize| rows.covariance[i * n + i] + (tau * rows.shift[i]).powi(2);
    let reading = |i: usize| {
        let (stage, value) = observed.logged.read(first + i);
        let residual = rows.residuals[i];
        let alone = c.suspicion.reading[first + i];
        ReadingDiagnostics {
            stage: stage as usize,
            observed: value,
            fitted: value + residual,
            residual,
            standardised: residual / own(i).sqrt(),
            left_out: match (refit, left) {
                (Some(refit), _) => Some(value + refit.residuals[i]),
                (None, left) => left.map(|l| value + l.residuals[i]),
            },
            left_out_sd: match (refit, left) {
                (Some(refit), _) => Some(refit.variances[i].sqrt()),
                (None, left) => {
                    left.map(|l| (l.variances[i] - suspicion - alone).max(own(i)).sqrt())
                }
            },
            weight: own(i) / (own(i) + alone),
        }
    };
    let typical = (0..n).map(own).sum::<f64>() / n as f64;
    diagnosed(
        observed,
        index,
        (0..n).map(reading).collect(),
        left.map_or(0.0, |l| l.influence / p),
        typical / (typical + suspicion),
    )
}

fn diagnosed(
    observed: &Observed<'_>,
    index: usize,
    readings: BatchReadings,
    influence: f64,
    weight: f64,
) -> BatchDiagnostics {
    let in_log = observed.logged.in_log[index] as usize;
    let batch = &observed.log.batches[in_log];
    BatchDiagnostics {
        id: batch.id.clone(),
        date: batch.date.clone(),
        in_log,
        readings,
        influence,
        weight,
    }
}

/// A batch with less than this left of its own residual holds a coefficient alone: what
/// would be left is rounding.
const ALONE: f64 = 1e-6;

/// Diagnostics of a plain fit. A batch is left out in closed form,
/// `e_−b = (I − H_b)⁻¹ e_b`; where it alone tells a coefficient, the others say nothing
/// of it. They say nothing either where their forecast is as wide as all that could be read,
/// or lies beyond it: there the closed form is a straight line drawn far out of the log.
pub(crate) fn of_plain(fit: &PlainFit, observed: &Observed<'_>) -> Vec<BatchDiagnostics> {
    let lin = &fit.lin;
    let p = fit.free.len();
    let sd = fit.residual_sd();
    let variance = sd.map_or(f64::NAN, |s| s * s);
    (0..lin.batch_count())
        .map(|index| {
            let rows = lin.batch(index);
            let n = rows.residuals.len();
            let first = lin.offsets[index] as usize;
            let free_row = |i: usize| -> Vec<f64> {
                fit.free.iter().map(|&f| rows.jacobian[i * lin.coefficients + f]).collect()
            };
            // H_b = J_b (JᵀJ)⁻¹ J_bᵀ = J_b Cov J_bᵀ / s².
            let mut reduced = vec![0.0; n * n];
            let mut known = fit.covariance.is_some() && variance > 0.0;
            if let (Some(covariance), true) = (&fit.covariance, known) {
                for i in 0..n {
                    let at_i = free_row(i);
                    let spread: Vec<f64> = covariance
                        .chunks_exact(p.max(1))
                        .map(|c| c.iter().zip(&at_i).map(|(a, b)| a * b).sum())
                        .collect();
                    for j in 0..n {
                        let dot: f64 = spread.iter().zip(free_row(j)).map(|(a, b)| a * b).sum();
                        reduced[i * n + j] = f64::from(i == j) - dot / variance;
                    }
                }
            }
            let factor = if known { cholesky(&reduced, n) } else { None };
            let alone = (0..n).any(|i| reduced[i * n + i] < ALONE);
            known &= factor.is_some() && !alone;
            let mut left = rows.residuals.to_vec();
            let mut widths = vec![f64::NAN; n];
            if let (Some(lower), true) = (&factor, known) {
                solve_cholesky(lower, n, &mut left);
                for (i, width) in widths.iter_mut().enumerate() {
                    let mut unit = vec![0.0; n];
                    unit[i] = 1.0;
                    solve_cholesky(lower, n, &mut unit);
                    *width = (variance * unit[i]).sqrt();
                }
            }
            let influence: f64 = if known && p > 0 {
                // (θ − θ_−b)ᵀ Cov⁻¹ (θ − θ_−b) / p = e_−bᵀ H_b e_−b / (s² p).
                let mut sum = 0.0;
                for i in 0..n {
                    for j in 0..n {
                        let leverage = f64::from(i == j) - reduced[i * n + j];
                        sum += left[i] * leverage * left[j];
                    }
                }
                sum / (variance * p as f64)
            } else {
                0.0
            };
            let readings = (0..n)
                .map(|i| {
                    let (stage, value) = observed.logged.read(first + i);
                    let residual = rows.residuals[i];
                    let tells = known && observed.scale.tells(value + left[i], widths[i]);
                    ReadingDiagnostics {
                        stage: stage as usize,
                        observed: value,
                        fitted: value + residual,
                        residual,
                        standardised: sd.map_or(0.0, |s| if s > 0.0 { residual / s } else { 0.0 }),
                        left_out: tells.then(|| value + left[i]),
                        left_out_sd: tells.then_some(widths[i]),
                        weight: 1.0,
                    }
                })
                .collect();
            diagnosed(observed, index, readings, influence, 1.0)
        })
        .collect()
}
