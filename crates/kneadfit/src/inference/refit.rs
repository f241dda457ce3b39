//! Each batch of a short log as the others foretell it, the others fitted anew.
//!
//! The closed form of [`super::left_out`] is exact where the model is straight over what one
//! batch moves. One of a few batches may move much; to fit the others anew is cheap there.

use super::conditional::{Conditioner, Whitened};
use super::left_out::LeftOut;
use super::newton::{Near, Search};
use super::posterior::{Posterior, coordinates_of};
use crate::fit::{Coordinate, Readings};
use crate::prior::Coefficient;

/// Up to this many batches are left out by refits.
pub(crate) const REFITTED: usize = 30;
/// The refit is found when it moves by less than this share of a standard error (or, where
/// nobody looks again, would move by less than three times that): far less than the others'
/// forecast is sure of.
const NEAR: f64 = 2e-5;
const PASSES: usize = 40;
/// The closed form begins no farther than this many spreads of a prior from the whole log's
/// answer.
const FARTHEST: f64 = 1.0;

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
    posterior: &mut Posterior,
    readings: &mut impl Readings,
    table: &[Coefficient],
) -> Vec<Option<Refit>> {
    let batches = posterior.whitened.lin.batch_count();
    if batches > REFITTED {
        return Vec::new();
    }
    let coordinates = coordinates_of(table);
    let tau = posterior.typical_scatter();
    let Posterior { whitened, conditioner, fitted, .. } = posterior;
    // Where nothing settles, the closed form says nothing of where to begin either.
    let closed = conditioner.settle(whitened, tau).is_some();
    let whole = conditioner.suspicion.clone();
    let mut w = whitened.clone();
    let mut c = Conditioner::new(&w, conditioner.loss);
    let mut left = LeftOut::default();
    let mut moved = Vec::new();
    let mut start = fitted.clone();
    let mut refit = |batch: usize| {
        // The closed form comes near.
        start.copy_from_slice(fitted);
        if closed && conditioner.leave_out(whitened, batch, tau, &mut left) {
            left.moved(conditioner.gram(), &mut moved);
            for ((x, step), moved) in coordinates.iter().zip(conditioner.step()).zip(&moved) {
                start[x.index] += x.spread * (step + moved).clamp(-FARTHEST, FARTHEST);
            }
        }
        c.suspicion.clone_from(&whole);
        c.left_aside = Some(batch);
        let search = Search { scale: None, near: Near::StandardErrors(NEAR), passes: PASSES };
        let mut held = tau;
        let met = search.run(readings, &coordinates, &mut c, &mut w, &mut start, &mut held).ok()?;
        if !met {
            return None;
        }
        w.set_rows(&coordinates);
        Refit::of(&w, &mut c, &coordinates, batch, tau)
    };
    (0..batches).map(&mut refit).collect()
}

impl Refit {
    /// What the others say, `c` and `w` being at their fit.
    fn of(
        w: &Whitened,
        c: &mut Conditioner,
        coordinates: &[Coordinate],
        batch: usize,
        tau: f64,
    ) -> Option<Self> {
        let p = coordinates.len();
        // The covariance of `z` is the inverse of what the score knows.
        c.factor_score(coordinates)?;
        let rows = w.lin.batch(batch);
        let n = rows.residuals.len();
        let mut half = Vec::with_capacity(p);
        let variances = (0..n)
            .map(|i| {
                half.clear();
                half.extend_from_slice(&w.rows_of(batch)[i * p..(i + 1) * p]);
                c.gram().half_solve(&mut half);
                let doubt: f64 = half.iter().map(|h| h * h).sum();
                doubt + rows.covariance[i * n + i] + (tau * rows.shift[i]).powi(2)
            })
            .collect();
        Some(Self { residuals: rows.residuals.to_vec(), variances })
    }
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
        let table = heat_coefficients(&HeatModel::new(16.5), &speeds.map(Into::into), &[]);
        let of = |batches: Vec<Batch>| {
            let log = BatchLog::new("spiral", speeds, batches).unwrap();
            let model = HeatModel::new(16.5);
            let mut readings =
                HeatReadings::new(model, Uncertainties::default(), &log, &[], &table).unwrap();
            let assumptions = Assumptions {
                scatter: ScatterPrior::Known(0.3),
                loss: Some(MistypedRows::TEMPERATURES),
            };
            (Posterior::fit(&mut readings, &table, assumptions).unwrap(), readings)
        };
        let (mut posterior, mut readings) = of(all.clone());
        let refits = refits(&mut posterior, &mut readings, &table);
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
