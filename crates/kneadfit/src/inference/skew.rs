//! From the mode to the median: what the model's curvature does to the posterior.
//!
//! The most probable coefficients are not in the middle of a skewed posterior. To first
//! order in the curvature of the model the mean lies off the mode by
//!
//! ```text
//! E[z] − mode ≈ −½ Σ Σ_r wᵣ [ fᵣ tr(Fᵣ Σ) + 2 Fᵣ Σ fᵣ ]
//! ```
//!
//! (`fᵣ`, `Fᵣ`: gradient and Hessian of reading r, `wᵣ` its precision), and the median of
//! a mildly skewed distribution two thirds of the way there. `Fᵣ Σ` is taken from
//! differences of the analytic gradient over ± one standard deviation along the columns of
//! Σ's Cholesky factor, so that it is the curvature over the range that matters.
//!
//! # References
//!
//! The shift of the mean: Tierney & Kadane, J. Am. Stat. Assoc. 81:82–86, 1986, by its
//! first-order expansion; two thirds: Pearson's relation of mean, median and mode.

use super::conditional::{Conditioner, Whitened};
use crate::fit::{Coordinate, Readings, Whitener};
use crate::numeric::cholesky;

/// The shift is an expansion for mild skews: it goes no farther than this, in the metric of
/// the covariance. Far more coefficients than batches would add up to more.
const FARTHEST: f64 = 1.0;
/// Share of the way from mode to mean at which the median lies.
const MEDIAN_BETWEEN: f64 = 2.0 / 3.0;

/// Shift from mode to median in `z`. Leaves the residuals and rows of `w` to be
/// linearised anew.
pub(crate) fn mode_to_median(
    readings: &mut impl Readings,
    c: &Conditioner,
    w: &mut Whitened,
    coordinates: &[Coordinate],
    fitted: &[f64],
    covariance: &[f64],
    tau: f64,
) -> Option<Vec<f64>> {
    let p = coordinates.len();
    let count = w.lin.reading_count();
    let spread = cholesky(covariance, p)?;
    let gradients = w.rows.clone();
    // tr(Fᵣ Σ) and Fᵣ Σ fᵣ, a reading.
    let mut trace = vec![0.0; count];
    let mut crossed = vec![0.0; count * p];
    let mut ahead = Vec::with_capacity(count * p);
    let mut moved = fitted.to_vec();
    for column in 0..p {
        let mut gradients_at = |sign: f64, w: &mut Whitened| {
            moved.copy_from_slice(fitted);
            for (i, x) in coordinates.iter().enumerate().skip(column) {
                moved[x.index] += sign * x.spread * spread[i * p + column];
            }
            let finite = readings.evaluate(&moved, true, &mut w.lin);
            w.set_rows(coordinates);
            finite
        };
        if !gradients_at(1.0, w) {
            return None;
        }
        std::mem::swap(&mut ahead, &mut w.rows);
        if !gradients_at(-1.0, w) {
            return None;
        }
        for r in 0..count {
            let row = r * p..(r + 1) * p;
            let along: f64 =
                (column..p).map(|i| spread[i * p + column] * gradients[r * p + i]).sum();
            let second = ahead[row.clone()].iter().zip(&w.rows[row.clone()]);
            for (j, (plus, minus)) in second.enumerate() {
                let bend = 0.5 * (plus - minus);
                if j >= column {
                    trace[r] += spread[j * p + column] * bend;
                }
                crossed[r * p + j] += bend * along;
            }
        }
    }
    let mut pull = vec![0.0; p];
    let mut whitener = Whitener::default();
    for batch in 0..w.lin.batch_count() {
        let rows = w.lin.batch(batch);
        let first = w.lin.offsets[batch] as usize;
        let n = rows.residuals.len();
        let alone = &c.suspicion.reading[first..first + n];
        if !whitener.factor(&rows, tau, c.suspicion.batch[batch], alone) {
            return None;
        }
        let mut weighted = trace[first..first + n].to_vec();
        whitener.whiten(&mut weighted);
        whitener.whiten_transposed(&mut weighted);
        for i in 0..n {
            // Of V⁻¹ the diagonal alone is used in the crossed term: it is all there is
            // for a batch read once.
            let mut unit = vec![0.0; n];
            unit[i] = 1.0;
            whitener.whiten(&mut unit);
            let precision: f64 = unit.iter().map(|u| u * u).sum();
            for j in 0..p {
                let at = (first + i) * p + j;
                pull[j] += gradients[at] * weighted[i] + 2.0 * precision * crossed[at];
            }
        }
    }
    let mut shift: Vec<f64> = covariance
        .chunks_exact(p.max(1))
        .map(|row| {
            let mean: f64 = row.iter().zip(&pull).map(|(c, g)| c * g).sum();
            -0.5 * MEDIAN_BETWEEN * mean
        })
        .collect();
    // Its length is that of L⁻¹ shift.
    let mut whitened = shift.clone();
    for i in 0..p {
        let dot: f64 = (0..i).map(|j| spread[i * p + j] * whitened[j]).sum();
        whitened[i] = (whitened[i] - dot) / spread[i * p + i];
    }
    let length = crate::numeric::sum::norm(&whitened);
    if length > FARTHEST {
        shift.iter_mut().for_each(|s| *s *= FARTHEST / length);
    }
    Some(shift)
}
