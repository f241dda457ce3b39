//! The posterior at one scatter from batch to batch.
//!
//! Around one linearisation everything is normal: with the coefficients in
//! prior-whitened coordinates `z` and readings `r₀ + J(z − z₀)`, the posterior at a
//! scatter τ is found by solving `H δ = −(z₀ + Jᵀ V⁻¹ r₀)`, `H = I + Jᵀ V⁻¹ J`, again
//! and again until what the loss for mistyped rows adds to `V` has settled.

use rayon::prelude::*;

use super::desk::{Desk, Doubt, blend, single_variance};
use super::newton::Room;
use crate::fit::{Coordinate, Gram, Linearisation, MistypedRows, PIECE, Suspicion};

/// A linearisation in prior-whitened coordinates of the free coefficients.
#[derive(Clone, Debug, Default)]
pub(crate) struct Whitened {
    pub lin: Linearisation,
    /// Current coordinates: (fitted − prior) / spread.
    pub z: Vec<f64>,
    /// Rows of d(predicted)/dz, `z.len()` numbers a reading.
    pub rows: Vec<f64>,
}

impl Whitened {
    /// Takes over the free columns of the Jacobian, each times its prior's spread.
    pub fn set_rows(&mut self, free: &[Coordinate]) {
        let n = self.lin.coefficients;
        self.rows.clear();
        for row in self.lin.jacobian.chunks_exact(n.max(1)) {
            self.rows.extend(free.iter().map(|x| row[x.index] * x.spread));
        }
    }

    /// The same in the Jacobian's own place, which is empty from then on: a great many batches
    /// wait for memory more than for anything else.
    pub fn turn_into_rows(&mut self, free: &[Coordinate]) {
        let n = std::mem::take(&mut self.lin.coefficients);
        let p = free.len();
        let mut rows = std::mem::take(&mut self.lin.jacobian);
        if p == n {
            // All are free, and each row stays where it is.
            rows.par_chunks_mut(PIECE * p.max(1)).for_each(|rows| {
                for row in rows.chunks_exact_mut(p.max(1)) {
                    row.iter_mut().zip(free).for_each(|(value, x)| *value *= x.spread);
                }
            });
            self.rows = rows;
            return;
        }
        for reading in 0..self.lin.reading_count() {
            for (j, x) in free.iter().enumerate() {
                // Free coefficients are in order, so that none is written over unread.
                rows[reading * p + j] = rows[reading * n + x.index] * x.spread;
            }
        }
        rows.truncate(self.lin.reading_count() * p);
        self.rows = rows;
    }

    /// Takes over the coefficients at which the linearisation is.
    pub fn set_z(&mut self, free: &[Coordinate], fitted: &[f64]) {
        self.z.clear();
        self.z.extend(free.iter().map(|x| (fitted[x.index] - x.centre) / x.spread));
    }

    /// Moves the residuals a little along the Jacobian, `z` having moved by `step`.
    pub fn move_along(&mut self, free: &[Coordinate], step: &[f64]) {
        let Linearisation { residuals, jacobian, coefficients, .. } = &mut self.lin;
        let mut moved = vec![0.0; *coefficients];
        for (x, step) in free.iter().zip(step) {
            moved[x.index] = x.spread * step;
        }
        let n = moved.len().max(1);
        let along = |(residuals, rows): (&mut [f64], &[f64])| {
            for (residual, row) in residuals.iter_mut().zip(rows.chunks_exact(n)) {
                *residual += row.iter().zip(&moved).map(|(j, m)| j * m).sum::<f64>();
            }
        };
        if residuals.len() <= PIECE {
            along((residuals, jacobian));
        } else {
            let rows = jacobian.par_chunks(PIECE * n);
            residuals.par_chunks_mut(PIECE).zip(rows).for_each(along);
        }
    }

    pub(super) fn rows_of(&self, batch: usize) -> &[f64] {
        let p = self.z.len();
        let readings = self.lin.readings_of(batch);
        &self.rows[readings.start * p..readings.end * p]
    }
}

/// The posterior at one scatter.
#[derive(Clone, Debug)]
pub(crate) struct Conditional {
    /// τ.
    pub tau: f64,
    /// Step from the point of linearisation to the mode, in `z`.
    pub step: Vec<f64>,
    /// Covariance of `z`, row-major.
    pub covariance: Vec<f64>,
    /// ln p(readings | τ) by Laplace's method, but for a constant.
    pub ln_evidence: f64,
}

/// Room and state for [`Conditional`]s, reused from one to the next.
#[derive(Clone, Debug)]
pub(crate) struct Conditioner {
    pub loss: Option<MistypedRows>,
    pub suspicion: Suspicion,
    /// A batch of which a score does not ask.
    pub left_aside: Option<usize>,
    /// How much of the way the suspicions of batches with several readings go in a score.
    pub share: f64,
    /// When reweighting is settled, in standard errors.
    pub settled: f64,
    gram: Gram,
    /// The scatter at which gram, step and suspicion are settled for good.
    at_rest: Option<f64>,
    step: Vec<f64>,
    last: Vec<f64>,
    pub(super) desk: Desk,
    /// A search's, kept from one to the next.
    pub(super) room: Room,
}

/// Rounds of reweighting are enough when the step moves by less than this share of a
/// standard error.
pub(crate) const SETTLED: f64 = 1e-11;
/// The same while only a place to look is wanted.
pub(crate) const ROUGHLY: f64 = 1e-2;
/// The same on the grid of scatters, whose own spacing is coarser by far.
pub(crate) const ON_GRID: f64 = 1e-6;
/// A log that takes more rounds of reweighting than this is torn between two readings of
/// itself; the last round is then as good as any.
const MOST_ROUNDS: usize = 60;

impl Conditioner {
    pub fn new(whitened: &Whitened, loss: Option<MistypedRows>) -> Self {
        let p = whitened.z.len();
        Self {
            loss,
            suspicion: Suspicion::none(whitened.lin.batch_count(), whitened.lin.reading_count()),
            left_aside: None,
            share: 1.0,
            settled: SETTLED,
            gram: Gram::new(p),
            at_rest: None,
            step: vec![0.0; p],
            last: vec![0.0; p],
            desk: Desk::default(),
            room: Room::default(),
        }
    }

    pub fn gram(&self) -> &Gram {
        &self.gram
    }

    /// The step to the mode of the last `tau` settled at, in `z`.
    pub fn step(&self) -> &[f64] {
        &self.step
    }

    /// What the log adds to the prior's information at scatter `tau`: `H − I` in `z`,
    /// row-major.
    pub fn information(&mut self, w: &Whitened, tau: f64) -> Option<Vec<f64>> {
        self.settle(w, tau)?;
        let p = w.z.len();
        let lower = &self.gram.lower;
        let mut information = vec![0.0; p * p];
        for i in 0..p {
            for j in 0..=i {
                let dot: f64 = (0..=j).map(|k| lower[i * p + k] * lower[j * p + k]).sum();
                let value = if i == j { dot - 1.0 } else { dot };
                information[i * p + j] = value;
                information[j * p + i] = value;
            }
        }
        Some(information)
    }

    /// The posterior at scatter `tau`; `None` when a number overflows.
    pub fn at(&mut self, w: &Whitened, tau: f64) -> Option<Conditional> {
        let ln_evidence = self.ln_evidence(w, tau)?;
        Some(Conditional {
            tau,
            step: self.step.clone(),
            covariance: self.gram.inverse(),
            ln_evidence,
        })
    }

    /// ln p(readings | τ) by Laplace's method, but for a constant; leaves the information
    /// factored.
    pub fn ln_evidence(&mut self, w: &Whitened, tau: f64) -> Option<f64> {
        self.settle(w, tau)?;
        let mut ln_evidence = 0.0;
        self.gram.start(&w.z);
        for batch in 0..w.lin.batch_count() {
            ln_evidence += self.add_curvature(w, batch, tau)?;
        }
        if !self.gram.factor() {
            return None;
        }
        let prior: f64 = w.z.iter().zip(&self.step).map(|(z, step)| (z + step) * (z + step)).sum();
        ln_evidence -= 0.5 * (prior + self.gram.ln_determinant());
        ln_evidence.is_finite().then_some(ln_evidence)
    }

    /// Reweights until the step has settled; leaves it in `self.step`.
    pub fn settle(&mut self, w: &Whitened, tau: f64) -> Option<()> {
        if self.at_rest.is_some_and(|rest| (rest - tau).abs() <= 1e-12 * tau) {
            return Some(());
        }
        for round in 0..MOST_ROUNDS {
            self.gram.start(&w.z);
            for batch in 0..w.lin.batch_count() {
                self.add_batch(w, batch, tau)?;
            }
            if !self.gram.factor() {
                return None;
            }
            self.last.copy_from_slice(&self.step);
            self.gram.step(&mut self.step);
            if self.loss.is_none() {
                return Some(());
            }
            self.reconsider(w, tau)?;
            // The change of the step in standard errors: Lᵀ(δ − δ_before).
            let p = self.step.len();
            let moved = (0..p).fold(0.0_f64, |most, column| {
                let dot: f64 = (column..p)
                    .map(|i| self.gram.lower[i * p + column] * (self.step[i] - self.last[i]))
                    .sum();
                most.max(dot.abs())
            });
            if round > 0 && moved < self.settled {
                break;
            }
        }
        Some(())
    }

    fn add_batch(&mut self, w: &Whitened, batch: usize, tau: f64) -> Option<()> {
        let Self { gram, desk, suspicion, .. } = self;
        let rows = w.lin.batch(batch);
        let jacobian = w.rows_of(batch);
        let p = w.z.len();
        if let [residual] = *rows.residuals {
            let precision = 1.0 / (single_variance(&rows, tau) + suspicion.batch[batch]);
            gram.add(jacobian, residual, precision, precision);
            return precision.is_finite().then_some(());
        }
        let alone = &suspicion.reading[w.lin.readings_of(batch)];
        desk.whiten(&rows, (jacobian, p), tau, suspicion.batch[batch], alone)?;
        for (row, residual) in desk.rows.chunks_exact(p.max(1)).zip(&desk.residuals) {
            gram.add(row, *residual, 1.0, 1.0);
        }
        Some(())
    }

    /// Asks of each batch at the point of linearisation how far it is to be suspected, and
    /// goes `share` of the way there.
    pub fn reconsider_here(&mut self, w: &Whitened, tau: f64, share: f64) -> Option<()> {
        self.step.fill(0.0);
        let before = (share < 1.0).then(|| self.suspicion.clone());
        self.reconsider(w, tau)?;
        if let Some(before) = before {
            blend(&mut self.suspicion.batch, &before.batch, share);
            blend(&mut self.suspicion.reading, &before.reading, share);
        }
        Some(())
    }

    /// Asks of each batch anew how far it is to be suspected.
    fn reconsider(&mut self, w: &Whitened, tau: f64) -> Option<()> {
        let Some(loss) = self.loss else { return Some(()) };
        for batch in 0..w.lin.batch_count() {
            let rows = w.lin.batch(batch);
            let doubt = Doubt {
                whole: &mut self.suspicion.batch[batch],
                alone: &mut self.suspicion.reading[w.lin.readings_of(batch)],
            };
            self.desk.take_residuals(&rows, w.rows_of(batch), &self.step);
            self.desk.reconsider(&rows, tau, loss, doubt)?;
        }
        Some(())
    }

    /// Looks at the point of linearisation itself.
    pub(super) fn start_here(&mut self) {
        self.step.fill(0.0);
        self.at_rest = None;
    }

    /// Factors the information of which the last score knows, the prior's included.
    pub(super) fn factor_score(&mut self, coordinates: &[Coordinate]) -> Option<()> {
        self.room.score.information(coordinates, &mut self.gram.lower);
        self.gram.factor().then_some(())
    }

    /// Rests at the point of linearisation, all that the last score says of it taken over;
    /// returns the covariance of `z`.
    pub(super) fn rest(&mut self, coordinates: &[Coordinate], tau: f64) -> Option<Vec<f64>> {
        self.start_here();
        self.factor_score(coordinates)?;
        self.at_rest = Some(tau);
        Some(self.gram.inverse())
    }

    /// Adds the loss's own curvature of a batch at the settled step; returns its ln p.
    fn add_curvature(&mut self, w: &Whitened, batch: usize, tau: f64) -> Option<f64> {
        let rows = w.lin.batch(batch);
        self.desk.take_residuals(&rows, w.rows_of(batch), &self.step);
        if let ([residual], Some(loss)) = (&self.desk.residuals[..], self.loss) {
            let variance = single_variance(&rows, tau);
            let ln_p = loss.ln_p(*residual, variance);
            self.gram.add(w.rows_of(batch), 0.0, loss.curvature(*residual, variance), 0.0);
            return Some(ln_p);
        }
        let at_step = std::mem::take(&mut self.desk.residuals);
        self.add_batch(w, batch, tau)?;
        self.desk.residuals = at_step;
        let alone = &self.suspicion.reading[w.lin.readings_of(batch)];
        self.desk.ln_normal(&rows, tau, self.suspicion.batch[batch], alone)
    }
}
