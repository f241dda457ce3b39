//! The most probable coefficients at one scatter, by the solver.

use super::Gram;
use super::linearisation::{Linearisation, Readings};
use super::whitening::{Suspicion, Whitener};
use super::{FitError, TerminationReason};

pub(crate) fn find_mode(
    readings: &mut impl Readings,
    priors: &[(usize, f64)],
    medians: &[f64],
    tau: f64,
    suspicion: &Suspicion,
    lin: &mut Linearisation,
    fitted: &mut [f64],
) -> Result<TerminationReason, FitError> {
    let p = priors.len();
    let n = lin.coefficients;
    let mut gram = Gram::new(p);
    let mut wh = Whitener::default();
    let cost = |readings: &mut dyn FnMut(&[f64], bool, &mut Linearisation) -> bool,
                fitted: &[f64],
                lin: &mut Linearisation,
                wh: &mut Whitener|
     -> Option<f64> {
        if !readings(fitted, false, lin) {
            return None;
        }
        let mut c = 0.0;
        for (k, &(i, s)) in priors.iter().enumerate() {
            let z = (fitted[i] - medians[k]) / s;
            c += 0.5 * z * z;
        }
        for b in 0..lin.batch_count() {
            let rows = lin.batch(b);
            let f = lin.offsets[b] as usize;
            if !wh.factor(
                &rows,
                tau,
                suspicion.batch[b],
                &suspicion.reading[f..f + rows.residuals.len()],
            ) {
                return None;
            }
            let mut r = rows.residuals.to_vec();
            wh.whiten(&mut r);
            c += 0.5 * r.iter().map(|r| r * r).sum::<f64>();
        }
        Some(c)
    };
    {
        let mut eval = |f: &[f64], j: bool, l: &mut Linearisation| readings.evaluate(f, j, l);
        let mut mu = 1e-3;
        let mut current = cost(&mut eval, fitted, lin, &mut wh).ok_or(FitError::NotFinite)?;
        for _ in 0..100 {
            if !eval(fitted, true, lin) {
                return Err(FitError::NotFinite);
            }
            let z: Vec<f64> =
                priors.iter().zip(medians).map(|(&(i, s), m)| (fitted[i] - m) / s).collect();
            let mut done = false;
            loop {
                gram.start(&z);
                for i in 0..p {
                    gram.lower[i * p + i] += mu;
                }
                for b in 0..lin.batch_count() {
                    let rows = lin.batch(b);
                    let f = lin.offsets[b] as usize;
                    let k = rows.residuals.len();
                    if !wh.factor(&rows, tau, suspicion.batch[b], &suspicion.reading[f..f + k]) {
                        return Err(FitError::NotFinite);
                    }
                    let mut r = rows.residuals.to_vec();
                    wh.whiten(&mut r);
                    let mut m = vec![0.0; k * p];
                    for j in 0..p {
                        let mut col: Vec<f64> = (0..k)
                            .map(|i| rows.jacobian[i * n + priors[j].0] * priors[j].1)
                            .collect();
                        wh.whiten(&mut col);
                        for i in 0..k {
                            m[i * p + j] = col[i];
                        }
                    }
                    for i in 0..k {
                        gram.add(&m[i * p..(i + 1) * p], r[i], 1.0, 1.0);
                    }
                }
                if !gram.factor() {
                    return Err(FitError::NotFinite);
                }
                let mut step = vec![0.0; p];
                gram.step(&mut step);
                let mut trial = fitted.to_vec();
                for (k, &(i, s)) in priors.iter().enumerate() {
                    trial[i] += s * step[k];
                }
                let size = step.iter().fold(0.0_f64, |a, b| a.max(b.abs()));
                if size < 1e-10 {
                    done = true;
                    break;
                }
                match cost(&mut eval, &trial, lin, &mut wh) {
                    Some(c) if c <= current => {
                        current = c;
                        fitted.copy_from_slice(&trial);
                        mu = (mu * 0.1).max(1e-12);
                        break;
                    }
                    _ => {
                        mu = (mu * 10.0).max(1e-6);
                        if mu > 1e12 {
                            done = true;
                            break;
                        }
                        if !eval(fitted, true, lin) {
                            return Err(FitError::NotFinite);
                        }
                    }
                }
            }
            if done {
                break;
            }
        }
    }
    Ok(TerminationReason::Converged)
}
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tmp {
    Converged,
    IterationLimit,
}
