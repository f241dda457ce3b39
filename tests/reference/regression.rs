//! A model and data as a problem for the solver.

use kneadfit::fit::solver::LeastSquares;
use kneadfit::numeric::{RankAnalysis, Triangle};
use nalgebra::DMatrix;

use crate::dual::{Dual, MOST};

pub type Model = fn(&[Dual], &[f64]) -> Dual;

/// Least squares of `model(coefficients, predictors) − response`.
pub struct Regression<'a> {
    pub model: Model,
    /// The response, then the predictors.
    pub rows: &'a [Vec<f64>],
    pub coefficient_count: usize,
}

impl Regression<'_> {
    fn each(&self, coefficients: &[f64], mut push: impl FnMut(&[f64], f64)) -> Option<f64> {
        let mut variables = [Dual::from(0.0); MOST];
        for (j, &value) in coefficients.iter().enumerate() {
            variables[j] = Dual::variable(value, j);
        }
        let mut squares = 0.0;
        for row in self.rows {
            let predicted = (self.model)(&variables[..coefficients.len()], &row[1..]);
            let residual = predicted.value - row[0];
            push(&predicted.slopes[..coefficients.len()], residual);
            squares += residual * residual;
        }
        f64::is_finite(squares).then_some(0.5 * squares)
    }

    pub fn residuals(&self, coefficients: &[f64]) -> Vec<f64> {
        let mut residuals = Vec::new();
        self.each(coefficients, |_, residual| residuals.push(residual));
        residuals
    }

    pub fn jacobian(&self, coefficients: &[f64]) -> DMatrix<f64> {
        let mut entries = Vec::new();
        self.each(coefficients, |row, _| entries.extend_from_slice(row));
        DMatrix::from_row_slice(self.rows.len(), self.coefficient_count, &entries)
    }
}

impl LeastSquares for Regression<'_> {
    fn coefficient_count(&self) -> usize {
        self.coefficient_count
    }

    fn cost(&mut self, coefficients: &[f64]) -> Option<f64> {
        self.each(coefficients, |_, _| ())
    }

    fn linearise(&mut self, coefficients: &[f64], triangle: &mut Triangle) -> Option<f64> {
        self.each(coefficients, |row, residual| triangle.push_row(row, residual))
    }
}

/// `s √((JᵀJ)⁻¹)ⱼⱼ` with `s² = ‖r‖²/(m − n)`, `None` where undetermined.
pub fn standard_errors(factor: &kneadfit::numeric::Factor, rss: f64) -> Vec<Option<f64>> {
    let n = factor.coefficient_count();
    let deviation = (rss / (factor.row_count() - n) as f64).sqrt();
    let analysis = RankAnalysis::new(factor);
    (0..n).map(|j| analysis.standard_error(j).map(|error| deviation * error)).collect()
}
