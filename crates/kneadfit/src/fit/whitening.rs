//! The covariance of one batch's readings, factored, and what a mistyped row does to it.

use std::ops::Range;

use super::linearisation::{BatchRows, Linearisation, PIECE};

/// How much more uncertain a batch and its readings are taken to be than their
/// thermometers say, because they may be mistyped. Nought for a batch that fits.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Suspicion {
    /// Variance added to all readings of a batch together, one number a batch.
    pub batch: Vec<f64>,
    /// Variance added to one reading alone, one number a reading.
    pub reading: Vec<f64>,
}

impl Suspicion {
    /// No suspicion of anybody.
    pub fn none(batches: usize, readings: usize) -> Self {
        Self { batch: vec![0.0; batches], reading: vec![0.0; readings] }
    }

    /// The suspicion of the batches of `lin`, [`PIECE`] after [`PIECE`].
    pub(crate) fn pieces(&mut self, lin: &Linearisation) -> Vec<SuspicionPiece<'_>> {
        let Self { batch, reading } = self;
        let mut reading = reading.as_mut_slice();
        let mut begin = 0;
        batch
            .chunks_mut(PIECE)
            .map(|batch| {
                let batches = begin..begin + batch.len();
                begin = batches.end;
                let end = lin.offsets[batches.end] - lin.offsets[batches.start];
                SuspicionPiece {
                    batches,
                    batch,
                    reading: reading.split_off_mut(..end as usize).unwrap_or_default(),
                }
            })
            .collect()
    }
}

/// The [`Suspicion`] of some batches that follow each other.
#[derive(Debug)]
pub(crate) struct SuspicionPiece<'a> {
    /// Which batches.
    pub batches: Range<usize>,
    /// Of all readings of a batch together.
    pub batch: &'a mut [f64],
    /// Of each reading alone.
    pub reading: &'a mut [f64],
}

/// Cholesky factor of one batch's covariance
///
/// ```text
/// V = S + τ² s sᵀ + B 1 1ᵀ + diag(v)
/// ```
///
/// `S`: thermometers; `τ`: scatter along the direction `s`; `B`, `v`: [`Suspicion`].
#[derive(Clone, Debug, Default)]
pub struct Whitener {
    n: usize,
    lower: Vec<f64>,
}

impl Whitener {
    /// Factors the covariance of one batch; `false` when it is not positive definite.
    #[must_use]
    pub fn factor(&mut self, rows: &BatchRows<'_>, tau: f64, batch: f64, reading: &[f64]) -> bool {
        let n = rows.residuals.len();
        self.n = n;
        self.lower.clear();
        self.lower.extend_from_slice(rows.covariance);
        for i in 0..n {
            for j in 0..=i {
                self.lower[i * n + j] += tau * tau * rows.shift[i] * rows.shift[j] + batch;
            }
            self.lower[i * n + i] += reading[i];
        }
        for j in 0..n {
            for k in 0..j {
                let factor = self.lower[j * n + k];
                for i in j..n {
                    self.lower[i * n + j] -= self.lower[i * n + k] * factor;
                }
            }
            let pivot = self.lower[j * n + j];
            if !(pivot > 0.0 && pivot.is_finite()) {
                return false;
            }
            let scale = 1.0 / pivot.sqrt();
            for i in j..n {
                self.lower[i * n + j] *= scale;
            }
        }
        true
    }

    /// The factor L, row-major, its lower triangle filled.
    pub fn lower(&self) -> &[f64] {
        &self.lower
    }

    /// Replaces `values` by `L⁻¹ values`.
    pub fn whiten(&self, values: &mut [f64]) {
        whiten(&self.lower, values);
    }

    /// Replaces `values` by `L⁻ᵀ values`; after [`Self::whiten`], by `V⁻¹ values`.
    pub fn whiten_transposed(&self, values: &mut [f64]) {
        for i in (0..self.n).rev() {
            let mut value = values[i];
            for j in i + 1..self.n {
                value -= self.lower[j * self.n + i] * values[j];
            }
            values[i] = value / self.lower[i * self.n + i];
        }
    }

    /// ln det V.
    pub fn ln_determinant(&self) -> f64 {
        (0..self.n).map(|i| 2.0 * self.lower[i * self.n + i].ln()).sum()
    }
}

/// Replaces `values` by `L⁻¹ values`, `lower` the factor of a [`Whitener`].
#[inline]
pub fn whiten(lower: &[f64], values: &mut [f64]) {
    let n = values.len();
    for i in 0..n {
        let row = &lower[i * n..(i + 1) * n];
        let mut value = values[i];
        for j in 0..i {
            value -= row[j] * values[j];
        }
        values[i] = value / row[i];
    }
}

/// The loss: each batch, and each reading of a batch with several, is as its
/// thermometers make it or, with a small chance, mistyped.
///
/// ```text
/// p(r) = (1 − ε) N(r; 0, V) + ε N(r; 0, V + s² 1 1ᵀ)
/// ```
///
/// It is quadratic for a batch that fits and flat for one that is far off: a
/// redescending loss whose tuning constants are things that a baker can name.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MistypedRows {
    /// ε: the share of rows that are mistyped.
    pub share: f64,
    /// s: how far off a mistyped row is, in the unit of the reading.
    pub spread: f64,
}

impl MistypedRows {
    /// One row in fifty, off by some 20 °C: °F read as °C, a digit too many or too few.
    pub const TEMPERATURES: Self = Self { share: 0.02, spread: 20.0 };
    /// One grade in a hundred, anywhere on the scale.
    pub const GRADES: Self = Self { share: 0.01, spread: 1.0 };

    /// Of a residual with variance `variance`: by how much it is likelier mistyped than not.
    #[inline]
    pub fn odds(&self, residual: f64, variance: f64) -> f64 {
        let wide = variance + self.spread * self.spread;
        let gain = 0.5 * residual * residual * (1.0 / variance - 1.0 / wide);
        self.share / (1.0 - self.share) * (variance / wide).sqrt() * gain.exp()
    }

    /// The chance that it is not mistyped.
    #[inline]
    pub fn good(&self, residual: f64, variance: f64) -> f64 {
        1.0 / (1.0 + self.odds(residual, variance))
    }

    /// ln p.
    pub fn ln_p(&self, residual: f64, variance: f64) -> f64 {
        let odds = self.odds(residual, variance);
        if odds.is_finite() {
            (-self.share).ln_1p() + ln_normal(residual, variance) + odds.ln_1p()
        } else {
            let wide = variance + self.spread * self.spread;
            ln_normal(residual, wide) + self.share.ln()
        }
    }

    /// The variance to add to `variance` so that the residual pulls as the loss says.
    #[inline]
    pub fn added_variance(&self, residual: f64, variance: f64) -> f64 {
        let good = self.good(residual, variance);
        let wide = variance + self.spread * self.spread;
        1.0 / (good / variance + (1.0 - good) / wide) - variance
    }

    /// The loss's own curvature at a residual: the precision that it contributes to the
    /// information, not below nought where the loss bends down.
    pub fn curvature(&self, residual: f64, variance: f64) -> f64 {
        let good = self.good(residual, variance);
        let narrow = 1.0 / variance;
        let wide = 1.0 / (variance + self.spread * self.spread);
        let torn = residual * (narrow - wide);
        (good * narrow + (1.0 - good) * wide - good * (1.0 - good) * torn * torn).max(0.0)
    }
}

/// ln of the normal density of `residual` with variance `variance`.
fn ln_normal(residual: f64, variance: f64) -> f64 {
    -0.5 * (residual * residual / variance + variance.ln() + LN_TWO_PI)
}

/// ln 2π.
pub const LN_TWO_PI: f64 = 1.837_877_066_409_345_3;
