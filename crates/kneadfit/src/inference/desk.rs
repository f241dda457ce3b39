//! One batch at a time: whitened, weighed and, where a row may be mistyped, suspected.

use crate::fit::{BatchRows, LN_TWO_PI, MistypedRows, Whitener};

/// Up to this many readings of a batch are judged one by one.
const ONE_BY_ONE: usize = 8;

/// Room to look at one batch after the other, so that nothing is allocated a batch.
#[derive(Clone, Debug, Default)]
pub(crate) struct Desk {
    /// Residuals of the batch at hand, whitened or not.
    pub residuals: Vec<f64>,
    /// Its whitened rows.
    pub rows: Vec<f64>,
    /// Its whitened scatter direction.
    pub shift: Vec<f64>,
    whitener: Whitener,
    column: Vec<f64>,
    pulled: Vec<f64>,
    before: Vec<f64>,
}

/// How far a batch and its readings are suspected: variances that are added to theirs.
#[derive(Debug)]
pub(crate) struct Doubt<'a> {
    pub whole: &'a mut f64,
    pub alone: &'a mut [f64],
}

impl Desk {
    /// The batch's residuals at the point of linearisation, or a `step` in `z` away from it,
    /// along the rows of `jacobian`.
    pub fn take_residuals(&mut self, rows: &BatchRows<'_>, jacobian: &[f64], step: &[f64]) {
        self.residuals.clear();
        if step.iter().all(|step| *step == 0.0) {
            // A search among many batches has no rows in `z` at all.
            self.residuals.extend_from_slice(rows.residuals);
            return;
        }
        let along = jacobian.chunks_exact(step.len());
        for (&residual, row) in rows.residuals.iter().zip(along) {
            let moved: f64 = row.iter().zip(step).map(|(j, step)| j * step).sum();
            self.residuals.push(residual + moved);
        }
    }

    /// Whitens the batch's residuals at the point of linearisation and the rows of
    /// `jacobian`, `width` numbers a reading.
    pub fn whiten(
        &mut self,
        rows: &BatchRows<'_>,
        (jacobian, width): (&[f64], usize),
        tau: f64,
        whole: f64,
        alone: &[f64],
    ) -> Option<()> {
        let n = rows.residuals.len();
        self.whitener.factor(rows, tau, whole, alone).then_some(())?;
        self.residuals.clear();
        self.residuals.extend_from_slice(rows.residuals);
        self.whitener.whiten(&mut self.residuals);
        self.rows.clear();
        self.rows.resize(n * width, 0.0);
        self.column.clear();
        self.column.resize(n, 0.0);
        for j in 0..width {
            for i in 0..n {
                self.column[i] = jacobian[i * width + j];
            }
            self.whitener.whiten(&mut self.column);
            for i in 0..n {
                self.rows[i * width + j] = self.column[i];
            }
        }
        Some(())
    }

    /// Whitens the scatter direction of the batch that was whitened last.
    pub fn whiten_shift(&mut self, rows: &BatchRows<'_>) {
        self.shift.clear();
        self.shift.extend_from_slice(rows.shift);
        self.whitener.whiten(&mut self.shift);
    }

    /// Asks how far the batch is to be suspected, by the residuals at hand.
    pub fn reconsider(
        &mut self,
        rows: &BatchRows<'_>,
        tau: f64,
        loss: MistypedRows,
        doubt: Doubt<'_>,
    ) -> Option<()> {
        if let [residual] = self.residuals[..] {
            *doubt.whole = loss.added_variance(residual, single_variance(rows, tau));
            return Some(());
        }
        self.reconsider_several(rows, tau, loss, doubt)
    }

    /// The same, but going only `share` of the way.
    pub fn reconsider_gently(
        &mut self,
        rows: &BatchRows<'_>,
        tau: f64,
        loss: MistypedRows,
        doubt: Doubt<'_>,
        share: f64,
    ) -> Option<()> {
        let Doubt { whole, alone } = doubt;
        let whole_before = *whole;
        self.before.clear();
        self.before.extend_from_slice(alone);
        self.reconsider(rows, tau, loss, Doubt { whole, alone })?;
        if share < 1.0 {
            blend(std::slice::from_mut(whole), &[whole_before], share);
            blend(alone, &self.before, share);
        }
        Some(())
    }

    /// A batch with several readings may be off as a whole, or one of them alone.
    fn reconsider_several(
        &mut self,
        rows: &BatchRows<'_>,
        tau: f64,
        loss: MistypedRows,
        doubt: Doubt<'_>,
    ) -> Option<()> {
        let Doubt { whole, alone } = doubt;
        let n = rows.residuals.len();
        // Single readings first: one that is mistyped is no reason to doubt its batch.
        self.weigh(rows, tau, *whole, alone)?;
        for i in 0..n {
            if i > 0 && n <= ONE_BY_ONE {
                // Each reading is judged with what has just been decided of the others:
                // judged all at once, they may swing between two verdicts.
                self.weigh(rows, tau, *whole, alone)?;
            }
            self.column.clear();
            self.column.resize(n, 0.0);
            self.column[i] = 1.0;
            self.whitener.whiten(&mut self.column);
            let precision: f64 = self.column.iter().map(|v| v * v).sum();
            let variance = 1.0 / precision - alone[i];
            if variance > 0.0 {
                alone[i] = loss.added_variance(self.pulled[i] / precision, variance);
            }
        }
        // V⁻¹ 1: a shift common to all readings.
        self.weigh(rows, tau, *whole, alone)?;
        self.column.clear();
        self.column.resize(n, 1.0);
        self.whitener.whiten(&mut self.column);
        self.whitener.whiten_transposed(&mut self.column);
        let precision: f64 = self.column.iter().sum();
        let shift = self.pulled.iter().sum::<f64>() / precision;
        let variance = 1.0 / precision - *whole;
        if variance > 0.0 {
            *whole = loss.added_variance(shift, variance);
        }
        Some(())
    }

    /// Factors the batch's covariance and weighs the residuals at hand: `V⁻¹ r`.
    fn weigh(&mut self, rows: &BatchRows<'_>, tau: f64, whole: f64, alone: &[f64]) -> Option<()> {
        self.whitener.factor(rows, tau, whole, alone).then_some(())?;
        self.pulled.clear();
        self.pulled.extend_from_slice(&self.residuals);
        self.whitener.whiten(&mut self.pulled);
        self.whitener.whiten_transposed(&mut self.pulled);
        Some(())
    }

    /// ln of the normal density of the residuals at hand, suspicion included; whitens them.
    pub fn ln_normal(
        &mut self,
        rows: &BatchRows<'_>,
        tau: f64,
        whole: f64,
        alone: &[f64],
    ) -> Option<f64> {
        self.whitener.factor(rows, tau, whole, alone).then_some(())?;
        self.whitener.whiten(&mut self.residuals);
        let squares: f64 = self.residuals.iter().map(|r| r * r).sum();
        let n = self.residuals.len() as f64;
        Some(-0.5 * (squares + self.whitener.ln_determinant() + n * LN_TWO_PI))
    }
}

/// Goes `share` of the way from the suspicions before to the new ones, on the scale of
/// logarithms: they span many orders of magnitude.
pub(super) fn blend(new: &mut [f64], before: &[f64], share: f64) {
    for (new, before) in new.iter_mut().zip(before) {
        *new = new.max(0.0).powf(share) * before.max(0.0).powf(1.0 - share);
    }
}

/// Variance of a batch that was read once, without suspicion.
#[inline]
pub(super) fn single_variance(rows: &BatchRows<'_>, tau: f64) -> f64 {
    rows.covariance[0] + tau * tau * rows.shift[0] * rows.shift[0]
}
