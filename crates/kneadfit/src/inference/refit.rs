//! Each batch of a short log as the others foretell it, the others fitted anew.
//!
//! The closed form of [`super::left_out`] is exact where the model is straight over what one
//! batch moves. One of a few batches may move much; to fit the others anew is cheap there.

use super::conditional::Conditioner;
use super::newton::{Near, Search};
use super::posterior::{Posterior, coordinates_of};
use super::score::Score;
use crate::fit::{Readings, Suspicion};
use crate::numeric::{cholesky, solve_cholesky};
use crate::prior::Coefficient;

/// Up to this many batches are left out by refits.
pub(crate) const REFITTED: usize = 30;
/// The refit is found when it moves by less than this share of a standard error:
/// far less than the others' forecast is sure of.
const NEAR: f64 = 1e-4;
const PASSES: usize = 40;

/// What the others, fitted anew, say of one batch.
#[derive(Clone, Debug)]
pub(crate) struct Refit {
    /// Forecast − observed, one a reading.
    pub residuals: Vec<f64>,
    /// Their variances: the others' doubt, thermometers and scatter.
    pub variances: Vec<f64>,
}

/// A refit a batch, at the typical scatter; `None` where the others did not settle, nothing
/// at all for a log that is not short.
pub(crate) fn refits(
    posterior: &Posterior,
    readings: &mut impl Readings,
    table: &[Coefficient],
) -> Vec<Option<Refit>> {
    let batches = posterior.whitened.lin.batch_count();
    if batches > REFITTED {
        return Vec::new();
    }
    (0..batches).map(|batch| refit(posterior, readings, table, batch)).collect()
}

fn refit(
    posterior: &Posterior,
    readings: &mut impl Readings,
    table: &[Coefficient],
    batch: usize,
) -> Option<Refit> {
    let coordinates = coordinates_of(table);
    let mut w = posterior.whitened.clone();
    let mut c = Conditioner::new(&w, posterior.conditioner.loss);
    let Suspicion { batch: whole, reading } = &posterior.conditioner.suspicion;
    c.suspicion.batch.copy_from_slice(whole);
    c.suspicion.reading.copy_from_slice(reading);
    c.left_aside = Some(batch);
    let mut fitted = posterior.fitted.clone();
    let mut tau = posterior.typical_scatter();
    let mut score = Score::new(w.lin.coefficients);
    let search = Search { scale: None, near: Near::StandardErrors(NEAR), passes: PASSES };
    let met = search
        .run(readings, &coordinates, &mut c, &mut w, &mut fitted, &mut tau, &mut score)
        .ok()?;
    if !met {
        return None;
    }
    w.set_rows(&coordinates);
    let p = coordinates.len();
    let factor = cholesky(&score.information(&coordinates), p)?;
    let rows = w.lin.batch(batch);
    let n = rows.residuals.len();
    let first = w.lin.offsets[batch] as usize;
    let variances = (0..n)
        .map(|i| {
            let row = &w.rows[(first + i) * p..(first + i + 1) * p];
            let mut known = row.to_vec();
            solve_cholesky(&factor, p, &mut known);
            let doubt: f64 = known.iter().zip(row).map(|(a, b)| a * b).sum();
            doubt + rows.covariance[i * n + i] + (tau * rows.shift[i]).powi(2)
        })
        .collect();
    Some(Refit { residuals: rows.residuals.to_vec(), variances })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::{Batch, BatchLog};
    use crate::charge::{Charge, Material, Phase};
    use crate::fit::{HeatReadings, MistypedRows};
    use crate::inference::{Assumptions, ScatterPrior};
    use crate::prior::heat_coefficients;
    use crate::thermal::{HeatModel, Uncertainties};

    /// Outside value: the whole fit of the log without the batch, made from nothing.
    #[test]
    fn a_refit_is_the_fit_of_the_log_without_the_batch() {
        let mix = |id: &str, water_c, low, high, dough_c| {
            let charge = Charge::new(24.0).with(Material::Flour, 10.0, 21.0).with(
                Material::Water,
                6.5,
                water_c,
            );
            let phases = vec![Phase::mixing("low", low), Phase::mixing("high", high)];
            Batch::new(id, charge, phases).read_dough(dough_c)
        };
        let all = vec![
            mix("1", 8.0, 4.0, 6.0, 24.6),
            mix("2", 8.0, 9.0, 2.0, 22.0),
            mix("3", 14.0, 2.0, 9.0, 29.9),
            mix("4", 11.0, 1.0, 0.0, 17.6),
        ];
        let speeds = ["low", "high"];
        let table = heat_coefficients(&HeatModel::new(16.5), &speeds.map(Into::into));
        let of = |batches: Vec<Batch>| {
            let log = BatchLog::new("spiral", speeds, batches).unwrap();
            let model = HeatModel::new(16.5);
            let mut readings =
                HeatReadings::new(model, Uncertainties::default(), &log, &table).unwrap();
            let assumptions = Assumptions {
                scatter: ScatterPrior::Known(0.3),
                loss: Some(MistypedRows::TEMPERATURES),
            };
            (Posterior::fit(&mut readings, &table, assumptions).unwrap(), readings)
        };
        let (posterior, mut readings) = of(all.clone());
        let refits = refits(&posterior, &mut readings, &table);
        for left in 0..all.len() {
            let mut others = all.clone();
            others.remove(left);
            let mut lin = readings.shape();
            readings.evaluate(&of(others).0.mode, true, &mut lin);
            let refit = refits[left].as_ref().unwrap();
            let whole = lin.residuals[left];
            assert!((refit.residuals[0] - whole).abs() < 1e-4, "{left}: {refit:?} {whole}");
            assert!(refit.variances[0] > 0.3 * 0.3 * 2.0, "{left}: {refit:?}");
        }
    }
}
