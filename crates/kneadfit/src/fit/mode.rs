//! The most probable coefficients at one scatter, through the solver.

use super::linearisation::{Linearisation, Readings};
use super::solver::{LeastSquares, Options, Summary, Workspace, solve_in};
use super::whitening::{Suspicion, Whitener, whiten};
use crate::numeric::Triangle;

/// One coordinate of the solver: `fitted[index] = centre + spread · x`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Coordinate {
    /// Which coefficient.
    pub index: usize,
    /// Its fitted value at `x = 0`: the prior's median.
    pub centre: f64,
    /// Its prior's spread; 1 without a prior.
    pub spread: f64,
}

/// Room for a [`WhitenedProblem`], to be used again by the next one.
#[derive(Clone, Debug, Default)]
pub(crate) struct ProblemRoom {
    fitted: Vec<f64>,
    start: Vec<f64>,
    /// Cholesky factors of the batches' covariances, one block after the other.
    factors: Vec<f64>,
    rows: Vec<f64>,
    column: Vec<f64>,
    whitener: Whitener,
}

/// Readings whitened by fixed covariances, with one pseudo-residual `x` a coordinate
/// where there are priors.
pub(crate) struct WhitenedProblem<'a, R> {
    readings: &'a mut R,
    coordinates: &'a [Coordinate],
    with_prior: bool,
    lin: &'a mut Linearisation,
    room: &'a mut ProblemRoom,
}

impl<'a, R: Readings> WhitenedProblem<'a, R> {
    /// Readings whitened by what `lin` holds of their covariance, the scatter and the
    /// suspicion; `None` when a covariance is not positive definite.
    pub fn whitened(
        readings: &'a mut R,
        coordinates: &'a [Coordinate],
        lin: &'a mut Linearisation,
        tau: f64,
        suspicion: &Suspicion,
        room: &'a mut ProblemRoom,
    ) -> Option<Self> {
        room.factors.clear();
        for batch in 0..lin.batch_count() {
            let rows = lin.batch(batch);
            let alone = &suspicion.reading[lin.readings_of(batch)];
            if !room.whitener.factor(&rows, tau, suspicion.batch[batch], alone) {
                return None;
            }
            room.factors.extend_from_slice(room.whitener.lower());
        }
        Some(Self { readings, coordinates, with_prior: true, lin, room })
    }

    /// Plain residuals, without priors.
    pub fn plain(
        readings: &'a mut R,
        coordinates: &'a [Coordinate],
        lin: &'a mut Linearisation,
        room: &'a mut ProblemRoom,
    ) -> Self {
        room.factors.clear();
        Self { readings, coordinates, with_prior: false, lin, room }
    }

    /// Solves from the present coefficients; they come back changed in `fitted`.
    pub fn solve(
        &mut self,
        options: &Options,
        workspace: &mut Workspace,
        fitted: &mut [f64],
    ) -> Summary {
        let most = self.lin.most_readings();
        let ProblemRoom { fitted: all, start, rows, column, .. } = &mut *self.room;
        all.clear();
        all.extend_from_slice(fitted);
        rows.resize(most.max(1) * self.coordinates.len(), 0.0);
        column.resize(most, 0.0);
        start.clear();
        start.extend(self.coordinates.iter().map(|c| (fitted[c.index] - c.centre) / c.spread));
        let start = std::mem::take(start);
        let summary = solve_in(workspace, self, &start, options);
        self.room.start = start;
        for (c, x) in self.coordinates.iter().zip(workspace.coefficients().iter()) {
            fitted[c.index] = c.centre + c.spread * x;
        }
        summary
    }

    fn set(&mut self, x: &[f64]) {
        for (c, x) in self.coordinates.iter().zip(x) {
            self.room.fitted[c.index] = c.centre + c.spread * x;
        }
    }

    /// Whitens residuals in place and adds up the cost.
    fn whiten_residuals(&mut self, x: &[f64]) -> Option<f64> {
        let mut squares = 0.0;
        if self.with_prior {
            squares += x.iter().map(|x| x * x).sum::<f64>();
        }
        if self.room.factors.is_empty() {
            squares += self.lin.residuals.iter().map(|r| r * r).sum::<f64>();
        } else {
            for batch in 0..self.lin.batch_count() {
                let rows = self.lin.offsets[batch] as usize..self.lin.offsets[batch + 1] as usize;
                let block = self.lin.blocks[batch] as usize..self.lin.blocks[batch + 1] as usize;
                let residuals = &mut self.lin.residuals[rows];
                whiten(&self.room.factors[block], residuals);
                squares += residuals.iter().map(|r| r * r).sum::<f64>();
            }
        }
        squares.is_finite().then_some(0.5 * squares)
    }
}

impl<R: Readings> LeastSquares for WhitenedProblem<'_, R> {
    fn coefficient_count(&self) -> usize {
        self.coordinates.len()
    }

    fn cost(&mut self, x: &[f64]) -> Option<f64> {
        self.set(x);
        if !self.readings.evaluate(&self.room.fitted, false, self.lin) {
            return None;
        }
        self.whiten_residuals(x)
    }

    fn linearise(&mut self, x: &[f64], triangle: &mut Triangle) -> Option<f64> {
        self.set(x);
        if !self.readings.evaluate(&self.room.fitted, true, self.lin) {
            return None;
        }
        let cost = self.whiten_residuals(x)?;
        let p = self.coordinates.len();
        let n = self.lin.coefficients;
        let ProblemRoom { rows, column, factors, .. } = &mut *self.room;
        if self.with_prior {
            for (k, &residual) in x.iter().enumerate() {
                let row = &mut rows[..p];
                row.fill(0.0);
                row[k] = 1.0;
                triangle.push_row(row, residual);
            }
        }
        for batch in 0..self.lin.batch_count() {
            let readings = self.lin.readings_of(batch);
            let (first, count) = (readings.start, readings.len());
            let block = self.lin.blocks[batch] as usize..self.lin.blocks[batch + 1] as usize;
            for (k, c) in self.coordinates.iter().enumerate() {
                let column = &mut column[..count];
                for (i, value) in column.iter_mut().enumerate() {
                    *value = self.lin.jacobian[(first + i) * n + c.index] * c.spread;
                }
                if !factors.is_empty() {
                    whiten(&factors[block.clone()], column);
                }
                for (i, value) in column.iter().enumerate() {
                    rows[i * p + k] = *value;
                }
            }
            for i in 0..count {
                triangle.push_row(&rows[i * p..(i + 1) * p], self.lin.residuals[first + i]);
            }
        }
        Some(cost)
    }
}
