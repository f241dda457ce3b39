//! Each batch as the others foretell it, in closed form.
//!
//! With everything normal around one linearisation, the posterior without batch `b`
//! needs no refit: with `S = J_b H⁻¹ J_bᵀ` and the batch's residuals `e` at the mode,
//!
//! ```text
//! residuals of the others' forecast:  (I − S V⁻¹)⁻¹ e = V (V − S)⁻¹ e
//! their covariance:                   V (V − S)⁻¹ V
//! coefficients of the others:         δ_−b = δ + H⁻¹ J_bᵀ (V − S)⁻¹ e
//! ```

use std::ops::Range;

use super::conditional::{Conditioner, Whitened};
use super::desk::single_variance;
use crate::fit::{Gram, Whitener};

/// One batch left out; holds the room for it, so that one after the other allocates nothing. Good
/// for one settled conditioner.
#[derive(Clone, Debug, Default)]
pub(crate) struct LeftOut {
    /// Residuals of the others' forecast (predicted − observed), one a reading.
    pub residuals: Vec<f64>,
    /// Their variances, one a reading.
    pub variances: Vec<f64>,
    /// Squared length of the shift in the metric of the information: how much the batch
    /// alone moves the coefficients, in standard errors.
    pub influence: f64,
    /// Residual of the batch's common shift, and its variance.
    shift: (f64, f64),
    /// `L⁻¹ J_bᵀ (V − S)⁻¹ e`, L the factor of the information.
    half: Vec<f64>,
    ahead: Ahead,
}

/// So many batches are prepared at once: the numbers of one wait for each other.
const AT_ONCE: usize = 4;

/// Batches that follow each other, prepared to be left out. Good for one settled conditioner.
#[derive(Clone, Debug, Default)]
struct Ahead {
    batches: Range<usize>,
    /// `L⁻¹ J_bᵀ` of those that were read once, a batch a column.
    half: Vec<[f64; AT_ONCE]>,
    /// How far the step moves each one's residual.
    moved: [f64; AT_ONCE],
    /// `S = J_b H⁻¹ J_bᵀ` of each.
    known: [f64; AT_ONCE],
}

impl Ahead {
    fn prepare(&mut self, w: &Whitened, gram: &Gram, step: &[f64], batch: usize) {
        let p = w.z.len();
        let Self { batches, half, moved, known } = self;
        *batches = batch..w.lin.batch_count().min(batch + AT_ONCE);
        half.clear();
        half.resize(p, [0.0; AT_ONCE]);
        *moved = [0.0; AT_ONCE];
        for (column, batch) in batches.clone().enumerate() {
            let readings = w.lin.readings_of(batch);
            if readings.len() == 1 {
                let row = &w.rows[readings.start * p..readings.end * p];
                moved[column] = row.iter().zip(step).map(|(j, s)| j * s).sum::<f64>();
                half.iter_mut().zip(row).for_each(|(to, from)| to[column] = *from);
            }
        }
        gram.half_solve_columns(half);
        *known = [0.0; AT_ONCE];
        for half in half {
            known.iter_mut().zip(half).for_each(|(known, h)| *known += *h * *h);
        }
    }
}

impl LeftOut {
    /// Residual of the batch's common shift divided by its standard deviation.
    pub fn off(&self) -> f64 {
        self.shift.0 / self.shift.1.sqrt()
    }

    /// How far the coefficients are from the whole log's mode without the batch, in `z`.
    pub fn moved(&self, gram: &Gram, moved: &mut Vec<f64>) {
        moved.clone_from(&self.half);
        gram.other_half_solve(moved);
    }
}

impl Conditioner {
    /// How many standard deviations each batch is off what the others say of it, at
    /// scatter `tau` and the present suspicion (without reweighting).
    pub fn left_out(&mut self, w: &Whitened, tau: f64) -> Option<Vec<f64>> {
        let loss = self.loss.take();
        let settled = self.settle(w, tau);
        let mut offs = Vec::with_capacity(w.lin.batch_count());
        let mut outcome = settled;
        let mut left = LeftOut::default();
        if settled.is_some() {
            for batch in 0..w.lin.batch_count() {
                match self.leave_out(w, batch, tau, &mut left) {
                    true => offs.push(left.off()),
                    false => outcome = None,
                }
            }
        }
        self.loss = loss;
        outcome.map(|()| offs)
    }

    /// Leaves one batch out, after [`Conditioner::settle`] at the same `tau`; `false` where
    /// the others say nothing of it.
    #[must_use]
    pub fn leave_out(&self, w: &Whitened, batch: usize, tau: f64, left: &mut LeftOut) -> bool {
        if let [residual] = *w.lin.batch(batch).residuals {
            return self.leave_single_out(w, residual, batch, tau, left);
        }
        let found = leave_out(w, self.gram(), self.step(), &self.suspicion, batch, tau);
        found.is_some_and(|found| {
            *left = LeftOut { ahead: std::mem::take(&mut left.ahead), ..found };
            true
        })
    }

    /// The same for a batch read once, where every matrix is a number.
    fn leave_single_out(
        &self,
        w: &Whitened,
        residual: f64,
        batch: usize,
        tau: f64,
        left: &mut LeftOut,
    ) -> bool {
        let rows = w.lin.batch(batch);
        let first = w.lin.offsets[batch] as usize;
        let LeftOut { half, ahead, .. } = left;
        if !ahead.batches.contains(&batch) {
            ahead.prepare(w, self.gram(), self.step(), batch);
        }
        let column = batch - ahead.batches.start;
        let (at_mode, known) = (residual + ahead.moved[column], ahead.known[column]);
        let variance = single_variance(&rows, tau)
            + self.suspicion.batch[batch]
            + self.suspicion.reading[first];
        let rest = variance - known;
        if rest.is_nan() || rest <= 0.0 {
            return false;
        }
        let weighted = at_mode / rest;
        half.clear();
        half.extend(ahead.half.iter().map(|half| half[column] * weighted));
        left.residuals.clear();
        left.residuals.push(variance * weighted);
        left.variances.clear();
        left.variances.push(variance * variance / rest);
        left.influence = weighted * weighted * known;
        left.shift = (at_mode, rest);
        true
    }
}

fn leave_out(
    w: &Whitened,
    gram: &Gram,
    step: &[f64],
    suspicion: &crate::fit::Suspicion,
    batch: usize,
    tau: f64,
) -> Option<LeftOut> {
    let p = w.z.len();
    let rows = w.lin.batch(batch);
    let n = rows.residuals.len();
    let first = w.lin.offsets[batch] as usize;
    let jacobian = &w.rows[first * p..(first + n) * p];
    // Residuals at the mode, and H^(-½) J_bᵀ, a column a reading.
    let mut residuals = Vec::with_capacity(n);
    let mut half = jacobian.to_vec();
    for i in 0..n {
        let row = &jacobian[i * p..(i + 1) * p];
        residuals.push(rows.residuals[i] + row.iter().zip(step).map(|(j, s)| j * s).sum::<f64>());
        gram.half_solve(&mut half[i * p..(i + 1) * p]);
    }
    let dot = |i: usize, j: usize| -> f64 {
        half[i * p..(i + 1) * p].iter().zip(&half[j * p..(j + 1) * p]).map(|(a, b)| a * b).sum()
    };
    // V − S, factored through the whitener by handing it S-less covariance.
    let own = suspicion.batch[batch];
    let alone = &suspicion.reading[first..first + n];
    let mut reduced = Vec::with_capacity(n * n);
    let mut variance = Vec::with_capacity(n * n);
    for i in 0..n {
        for j in 0..n {
            let (a, b) = (i.max(j), i.min(j));
            let mut v =
                rows.covariance[a * n + b] + tau * tau * rows.shift[a] * rows.shift[b] + own;
            if i == j {
                v += alone[i];
            }
            variance.push(v);
            reduced.push(v - dot(i, j));
        }
    }
    let plain = crate::fit::BatchRows { covariance: &reduced, ..rows };
    let mut whitener = Whitener::default();
    if !whitener.factor(&plain, 0.0, 0.0, &vec![0.0; n]) {
        return None;
    }
    let solve = |values: &mut [f64]| {
        whitener.whiten(values);
        whitener.whiten_transposed(values);
    };
    let at_mode = residuals;
    let mut weighted = at_mode.clone();
    solve(&mut weighted);
    let mut left = LeftOut::default();
    let mut shift = vec![0.0; p];
    for i in 0..n {
        let row = &variance[i * n..(i + 1) * n];
        left.residuals.push(row.iter().zip(&weighted).map(|(v, r)| v * r).sum());
        let mut column = row.to_vec();
        solve(&mut column);
        left.variances.push(row.iter().zip(&column).map(|(a, b)| a * b).sum());
        for (shift, j) in shift.iter_mut().zip(&jacobian[i * p..(i + 1) * p]) {
            *shift += j * weighted[i];
        }
    }
    gram.half_solve(&mut shift);
    left.influence = shift.iter().map(|s| s * s).sum();
    left.half = shift;
    // A shift common to the batch's readings, under the others' forecast: its estimate
    // over its standard deviation is 1ᵀV⁻¹e / √(1ᵀ V⁻¹(V−S)V⁻¹ 1).
    let mut ones = vec![1.0; n];
    let total: f64 = {
        let whitened = crate::fit::BatchRows { covariance: &variance, ..rows };
        let mut full = Whitener::default();
        if !full.factor(&whitened, 0.0, 0.0, &vec![0.0; n]) {
            return None;
        }
        full.whiten(&mut ones);
        full.whiten_transposed(&mut ones);
        let mut sum = 0.0;
        for i in 0..n {
            for j in 0..n {
                sum += ones[i] * reduced[i * n + j] * ones[j];
            }
        }
        sum
    };
    let pull: f64 = ones.iter().zip(&at_mode).map(|(a, b)| a * b).sum();
    left.shift = (pull, total.max(f64::MIN_POSITIVE));
    Some(left)
}
