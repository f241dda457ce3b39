//! Slope and curvature of a log's probability in coefficients and ln τ together.

use super::conditional::{Conditioner, Whitened, single_variance};
use crate::fit::{Coordinate, MistypedRows};
use crate::numeric::{cholesky, solve_cholesky};

/// Sums over all batches of what −ln p does, by all coefficients on their fitted scale,
/// held ones included, and by ln τ.
#[derive(Clone, Debug)]
pub(super) struct Score {
    n: usize,
    gradient: Vec<f64>,
    /// Row-major and full.
    hessian: Vec<f64>,
    /// Mixed with ln τ.
    cross: Vec<f64>,
    by_ln_tau: f64,
    by_ln_tau_twice: f64,
}

/// A Newton step.
pub(super) struct Newton {
    /// In `z`, then ln τ.
    pub step: Vec<f64>,
    /// Cholesky factor of the Newton matrix, row-major.
    pub factor: Vec<f64>,
    /// Length of the step in standard errors.
    pub size: f64,
}

impl Score {
    pub fn new(coefficients: usize) -> Self {
        let n = coefficients;
        Self {
            n,
            gradient: vec![0.0; n],
            hessian: vec![0.0; n * n],
            cross: vec![0.0; n],
            by_ln_tau: 0.0,
            by_ln_tau_twice: 0.0,
        }
    }

    fn clear(&mut self) {
        *self = Self::new(self.n);
    }

    #[inline]
    fn add(&mut self, row: &[f64], pull: f64, curvature: f64, crossed: f64) {
        let n = self.n;
        for (i, &value) in row.iter().enumerate() {
            self.gradient[i] += pull * value;
            self.cross[i] += crossed * value;
            let scaled = curvature * value;
            for (sum, &other) in self.hessian[i * n..(i + 1) * n].iter_mut().zip(row) {
                *sum += scaled * other;
            }
        }
    }

    /// Information in `z` alone, the prior's included, row-major.
    pub fn information(&self, coordinates: &[Coordinate]) -> Vec<f64> {
        let p = coordinates.len();
        let mut information = vec![0.0; p * p];
        for (i, a) in coordinates.iter().enumerate() {
            for (j, b) in coordinates.iter().enumerate() {
                information[i * p + j] =
                    self.hessian[a.index * self.n + b.index] * a.spread * b.spread
                        + f64::from(i == j);
            }
        }
        information
    }

    /// The Newton step from `z`; `ratio` is (τ / its prior's scale)², `None` where τ is
    /// known.
    pub fn newton(
        &self,
        z: &[f64],
        coordinates: &[Coordinate],
        ratio: Option<f64>,
    ) -> Option<Newton> {
        let p = coordinates.len();
        let m = p + 1;
        let inner = self.information(coordinates);
        let mut matrix = vec![0.0; m * m];
        let mut step = vec![0.0; m];
        for i in 0..p {
            matrix[i * m..i * m + p].copy_from_slice(&inner[i * p..(i + 1) * p]);
            let x = coordinates[i];
            step[i] = -(z[i] + self.gradient[x.index] * x.spread);
        }
        matrix[p * m + p] = 1.0;
        if let Some(ratio) = ratio {
            step[p] = -(self.by_ln_tau - 1.0 + ratio);
            let twice = self.by_ln_tau_twice + 2.0 * ratio;
            // Far from its peak the likelihood of ln τ may bend up.
            matrix[p * m + p] = if twice > 0.0 { twice } else { step[p].abs().max(1.0) };
            for (i, x) in coordinates.iter().enumerate() {
                matrix[i * m + p] = self.cross[x.index] * x.spread;
                matrix[p * m + i] = matrix[i * m + p];
            }
        }
        let factor = cholesky(&matrix, m).or_else(|| {
            for i in 0..p {
                matrix[i * m + p] = 0.0;
                matrix[p * m + i] = 0.0;
            }
            cholesky(&matrix, m)
        })?;
        let pull = step.clone();
        solve_cholesky(&factor, m, &mut step);
        let size = pull.iter().zip(&step).map(|(a, b)| a * b).sum::<f64>().max(0.0).sqrt();
        size.is_finite().then_some(Newton { step, factor, size })
    }
}

/// What one reading's −ln p does by its residual and by ln τ.
struct Bend {
    suspicion: f64,
    pull: f64,
    curvature: f64,
    crossed: f64,
    by_ln_tau: f64,
    by_ln_tau_twice: f64,
}

/// A reading whose variance is `variance`, of which `scatter` is τ²s².
#[inline]
fn bend(residual: f64, variance: f64, scatter: f64, loss: Option<MistypedRows>) -> Bend {
    let narrow = 1.0 / variance;
    let square = residual * residual;
    // Of one normal density: ∂ln p/∂v, the same twice, and ∂²ln p/∂r∂v.
    let by_variance = |precision: f64| 0.5 * precision * (square * precision - 1.0);
    let twice = |precision: f64| precision * precision * (0.5 - square * precision);
    let a = by_variance(narrow);
    let mut slope = a;
    let mut bent = twice(narrow);
    let mut precision = narrow;
    let mut curvature = narrow;
    let mut mixed = residual * narrow * narrow;
    if let Some(loss) = loss {
        let wide = 1.0 / (variance + loss.spread * loss.spread);
        let good = loss.good(residual, variance);
        let bad = 1.0 - good;
        let b = by_variance(wide);
        precision = good * narrow + bad * wide;
        let torn = residual * (narrow - wide);
        curvature = (precision - good * bad * torn * torn).max(0.0);
        slope = good * a + bad * b;
        bent = good * (bent + a * a) + bad * (twice(wide) + b * b) - slope * slope;
        mixed = good * residual * narrow * (narrow - a)
            + bad * residual * wide * (wide - b)
            + precision * residual * slope;
    }
    // ∂v/∂ln τ = 2τ²s², and twice that again.
    let by = 2.0 * scatter;
    Bend {
        suspicion: 1.0 / precision - variance,
        pull: precision * residual,
        curvature,
        crossed: -mixed * by,
        by_ln_tau: -slope * by,
        by_ln_tau_twice: -(bent * by + 2.0 * slope) * by,
    }
}

impl Conditioner {
    /// Slope and curvature at the point of linearisation and scatter `tau`. Suspects each
    /// batch as its residuals there say.
    pub(super) fn score(&mut self, w: &Whitened, tau: f64, score: &mut Score) -> Option<()> {
        score.clear();
        self.start_here();
        let n = score.n;
        let left_aside = self.left_aside;
        for batch in (0..w.lin.batch_count()).filter(|b| Some(*b) != left_aside) {
            let rows = w.lin.batch(batch);
            if let [residual] = *rows.residuals {
                let variance = single_variance(&rows, tau);
                let scatter = variance - rows.covariance[0];
                let b = bend(residual, variance, scatter, self.loss);
                self.suspicion.batch[batch] = b.suspicion.max(0.0);
                score.add(rows.jacobian, b.pull, b.curvature, b.crossed);
                score.by_ln_tau += b.by_ln_tau;
                score.by_ln_tau_twice += b.by_ln_tau_twice;
                continue;
            }
            self.reconsider_batch(w, batch, tau)?;
            let (rows_white, residuals, shift) = self.whitened_batch(w, batch, tau)?;
            let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
            // sᵀV⁻¹s and sᵀV⁻¹r.
            let own = dot(shift, shift);
            let off = dot(shift, residuals);
            let by = 2.0 * tau * tau;
            for (i, row) in rows_white.chunks_exact(n.max(1)).enumerate() {
                score.add(row, residuals[i], 1.0, -by * off * shift[i]);
            }
            let slope = 0.5 * (own - off * off);
            score.by_ln_tau += slope * by;
            score.by_ln_tau_twice +=
                (own * off * off - 0.5 * own * own) * by * by + 2.0 * slope * by;
        }
        let finite = score.by_ln_tau.is_finite() && score.gradient.iter().all(|g| g.is_finite());
        finite.then_some(())
    }
}
