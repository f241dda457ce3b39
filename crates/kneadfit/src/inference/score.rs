//! Slope and curvature of a log's probability in coefficients and ln τ together.

use rayon::prelude::*;

use super::conditional::Conditioner;
use super::desk::{Desk, Doubt, single_variance};
use crate::fit::{
    Coordinate, Linearisation, LinearisationPiece, MistypedRows, PIECE, Readings, Suspicion,
    SuspicionPiece,
};
use crate::numeric::{cholesky_into, solve_cholesky};

/// Sums over all batches of what −ln p does, by all coefficients on their fitted scale,
/// held ones included, and by ln τ.
#[derive(Clone, Debug, Default)]
pub(super) struct Score {
    n: usize,
    gradient: Vec<f64>,
    /// Row-major; its lower triangle counts.
    hessian: Vec<f64>,
    /// Mixed with ln τ.
    cross: Vec<f64>,
    by_ln_tau: f64,
    by_ln_tau_twice: f64,
}

/// A Newton step.
#[derive(Clone, Debug, Default)]
pub(super) struct Newton {
    /// In `z`, then ln τ.
    pub step: Vec<f64>,
    /// Cholesky factor of the Newton matrix, row-major.
    pub factor: Vec<f64>,
    /// Length of the step in standard errors.
    pub size: f64,
    /// The slope downhill, of which the step is the answer.
    pub pull: Vec<f64>,
    /// Whether ln τ is searched for, too.
    pub scatter_is_free: bool,
    /// Whether the matrix is the second derivatives as they are: far from a peak they may not do.
    pub is_whole: bool,
    matrix: Vec<f64>,
}

impl Newton {
    /// Length of a step in standard errors, by the matrix.
    pub fn length(&self, step: &[f64]) -> f64 {
        let n = step.len();
        let along = |j: usize| (j..n).map(|i| self.factor[i * n + j] * step[i]).sum::<f64>();
        (0..n).map(|j| along(j).powi(2)).sum::<f64>().sqrt()
    }
}

impl Score {
    /// Nothing yet, of so many coefficients.
    fn start(&mut self, coefficients: usize) {
        let n = coefficients;
        self.n = n;
        for (sums, count) in
            [(&mut self.gradient, n), (&mut self.hessian, n * n), (&mut self.cross, n)]
        {
            sums.clear();
            sums.resize(count, 0.0);
        }
        self.by_ln_tau = 0.0;
        self.by_ln_tau_twice = 0.0;
    }

    #[inline]
    fn add(&mut self, row: &[f64], pull: f64, curvature: f64, crossed: f64) {
        // As many coefficients as machines of one to four speeds have: loops of a known length
        // are worked out several numbers at once.
        match row.len() {
            7 => self.add_known::<7>(row, pull, curvature, crossed),
            8 => self.add_known::<8>(row, pull, curvature, crossed),
            9 => self.add_known::<9>(row, pull, curvature, crossed),
            10 => self.add_known::<10>(row, pull, curvature, crossed),
            _ => self.add_any(row, pull, curvature, crossed),
        }
    }

    #[inline]
    fn add_known<const N: usize>(&mut self, row: &[f64], pull: f64, curvature: f64, crossed: f64) {
        let (Ok(row), Ok(gradient), Ok(cross)) = (
            <&[f64; N]>::try_from(row),
            <&mut [f64; N]>::try_from(&mut self.gradient[..]),
            <&mut [f64; N]>::try_from(&mut self.cross[..]),
        ) else {
            return self.add_any(row, pull, curvature, crossed);
        };
        let (hessian, _) = self.hessian.as_chunks_mut::<N>();
        // A copy stands in registers, where no sum can be in its way.
        let row = *row;
        for i in 0..N {
            gradient[i] += pull * row[i];
        }
        for i in 0..N {
            cross[i] += crossed * row[i];
        }
        for (sums, value) in hessian.iter_mut().zip(row) {
            let scaled = curvature * value;
            for j in 0..N {
                sums[j] += scaled * row[j];
            }
        }
    }

    #[inline]
    fn add_any(&mut self, row: &[f64], pull: f64, curvature: f64, crossed: f64) {
        let n = self.n;
        for (i, &value) in row.iter().enumerate() {
            self.gradient[i] += pull * value;
            self.cross[i] += crossed * value;
            let scaled = curvature * value;
            for (sum, &other) in self.hessian[i * n..i * n + i + 1].iter_mut().zip(row) {
                *sum += scaled * other;
            }
        }
    }

    /// Adds what is known of other batches.
    fn add_all(&mut self, other: &Self) {
        let sums = |to: &mut [f64], from: &[f64]| {
            to.iter_mut().zip(from).for_each(|(to, from)| *to += from);
        };
        sums(&mut self.gradient, &other.gradient);
        sums(&mut self.hessian, &other.hessian);
        sums(&mut self.cross, &other.cross);
        self.by_ln_tau += other.by_ln_tau;
        self.by_ln_tau_twice += other.by_ln_tau_twice;
    }

    /// What the slope `there`, a `step` in `z` and ln τ away, has beyond what slope and curvature
    /// here say of it: calls `at(i, rest)` for each coordinate, ln τ the last.
    pub fn left_over(
        &self,
        there: &Self,
        coordinates: &[Coordinate],
        step: &[f64],
        mut at: impl FnMut(usize, f64),
    ) {
        let p = coordinates.len();
        let mut by_ln_tau = there.by_ln_tau - self.by_ln_tau - self.by_ln_tau_twice * step[p];
        for (i, a) in coordinates.iter().enumerate() {
            let mut rest = there.gradient[a.index] - self.gradient[a.index];
            rest -= self.cross[a.index] * step[p];
            for (b, step) in coordinates.iter().zip(step) {
                let (below, across) = (a.index.max(b.index), a.index.min(b.index));
                rest -= self.hessian[below * self.n + across] * b.spread * step;
            }
            by_ln_tau -= self.cross[a.index] * a.spread * step[i];
            at(i, rest * a.spread);
        }
        at(p, by_ln_tau);
    }

    /// Information in `z` alone, the prior's included, row-major.
    pub fn information(&self, coordinates: &[Coordinate], information: &mut Vec<f64>) {
        information.clear();
        for (i, a) in coordinates.iter().enumerate() {
            information.extend(coordinates.iter().enumerate().map(|(j, b)| {
                let (below, across) = (a.index.max(b.index), a.index.min(b.index));
                self.hessian[below * self.n + across] * a.spread * b.spread + f64::from(i == j)
            }));
        }
    }

    /// The Newton step from `z`; `ratio` is (τ / its prior's scale)², `None` where τ is
    /// known.
    pub fn newton(
        &self,
        z: &[f64],
        coordinates: &[Coordinate],
        ratio: Option<f64>,
        newton: &mut Newton,
    ) -> Option<()> {
        let p = coordinates.len();
        let m = p + 1;
        let Newton { step, factor, size, matrix, pull, scatter_is_free, is_whole } = newton;
        (*scatter_is_free, *is_whole) = (ratio.is_some(), true);
        // The inner matrix first, in the room of the factor.
        self.information(coordinates, factor);
        matrix.clear();
        matrix.resize(m * m, 0.0);
        step.clear();
        step.resize(m, 0.0);
        for i in 0..p {
            matrix[i * m..i * m + p].copy_from_slice(&factor[i * p..(i + 1) * p]);
            let x = coordinates[i];
            step[i] = -(z[i] + self.gradient[x.index] * x.spread);
        }
        matrix[p * m + p] = 1.0;
        if let Some(ratio) = ratio {
            step[p] = -(self.by_ln_tau - 1.0 + ratio);
            let twice = self.by_ln_tau_twice + 2.0 * ratio;
            // Far from its peak the likelihood of ln τ may bend up.
            *is_whole = twice > 0.0;
            matrix[p * m + p] = if *is_whole { twice } else { step[p].abs().max(1.0) };
            for (i, x) in coordinates.iter().enumerate() {
                matrix[i * m + p] = self.cross[x.index] * x.spread;
                matrix[p * m + i] = matrix[i * m + p];
            }
        }
        if !cholesky_into(matrix, m, factor) {
            *is_whole = false;
            for i in 0..p {
                matrix[i * m + p] = 0.0;
                matrix[p * m + i] = 0.0;
            }
            cholesky_into(matrix, m, factor).then_some(())?;
        }
        pull.clear();
        pull.extend_from_slice(step);
        solve_cholesky(factor, m, step);
        *size = pull.iter().zip(&*step).map(|(a, b)| a * b).sum::<f64>().max(0.0).sqrt();
        size.is_finite().then_some(())
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

/// Looks at a piece of a log, batch by batch, at the point of linearisation.
struct Look {
    coefficients: usize,
    tau: f64,
    loss: Option<MistypedRows>,
    left_aside: Option<usize>,
    share: f64,
}

impl Look {
    /// Adds the batches of a piece to `score`, and suspects each as its residuals say.
    fn at(
        &self,
        lin: &LinearisationPiece<'_>,
        suspicion: SuspicionPiece<'_>,
        desk: &mut Desk,
        score: &mut Score,
    ) -> Option<()> {
        let Self { coefficients: n, tau, loss, left_aside, share } = *self;
        let SuspicionPiece { batches, batch: whole, reading: alone } = suspicion;
        for (index, whole) in batches.zip(whole) {
            if Some(index) == left_aside {
                continue;
            }
            let rows = lin.batch(index);
            if let [residual] = *rows.residuals {
                let variance = single_variance(&rows, tau);
                let scatter = variance - rows.covariance[0];
                let b = bend(residual, variance, scatter, loss);
                *whole = b.suspicion.max(0.0);
                score.add(rows.jacobian, b.pull, b.curvature, b.crossed);
                score.by_ln_tau += b.by_ln_tau;
                score.by_ln_tau_twice += b.by_ln_tau_twice;
                continue;
            }
            let alone = &mut alone[lin.readings_of(index)];
            if let Some(loss) = loss {
                desk.take_residuals(&rows, &[], &[]);
                desk.reconsider_gently(&rows, tau, loss, Doubt { whole, alone }, share)?;
            }
            desk.whiten(&rows, (rows.jacobian, n), tau, *whole, alone)?;
            let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
            // sᵀV⁻¹s and sᵀV⁻¹r.
            desk.whiten_shift(&rows);
            let own = dot(&desk.shift, &desk.shift);
            let off = dot(&desk.shift, &desk.residuals);
            let by = 2.0 * tau * tau;
            for (i, row) in desk.rows.chunks_exact(n.max(1)).enumerate() {
                score.add(row, desk.residuals[i], 1.0, -by * off * desk.shift[i]);
            }
            let slope = 0.5 * (own - off * off);
            score.by_ln_tau += slope * by;
            score.by_ln_tau_twice +=
                (own * off * off - 0.5 * own * own) * by * by + 2.0 * slope * by;
        }
        Some(())
    }
}

impl Conditioner {
    /// Linearises `readings` at `fitted`; then slope and curvature there, at scatter `tau`, into
    /// the score of its room. Suspects each batch as its residuals there say. `Some(false)`: the
    /// model has no finite value there.
    pub(super) fn score_at(
        &mut self,
        readings: &mut impl Readings,
        fitted: &[f64],
        lin: &mut Linearisation,
        tau: f64,
    ) -> Option<bool> {
        let Self { loss, left_aside, share, .. } = *self;
        let n = lin.coefficients;
        let look = Look { coefficients: n, tau, loss, left_aside, share };
        let score = &mut self.room.score;
        if !readings.linearise(fitted, lin) {
            return Some(false);
        }
        score.start(n);
        if lin.batch_count() <= PIECE {
            let Suspicion { batch, reading } = &mut self.suspicion;
            let all = SuspicionPiece { batches: 0..batch.len(), batch, reading };
            look.at(&lin.whole(), all, &mut self.desk, score)?;
        } else {
            let suspicions = self.suspicion.pieces(lin);
            let parts: Vec<Option<Score>> = lin
                .pieces()
                .into_par_iter()
                .zip(suspicions)
                .map_init(Desk::default, |desk, (piece, suspicion)| {
                    let mut part = Score::default();
                    part.start(n);
                    look.at(&piece, suspicion, desk, &mut part)?;
                    Some(part)
                })
                .collect();
            // In the order of the log, so that no bit hangs on the number of threads.
            for part in parts {
                score.add_all(&part?);
            }
        }
        let finite = score.by_ln_tau.is_finite() && score.gradient.iter().all(|g| g.is_finite());
        self.start_here();
        finite.then_some(true)
    }
}
