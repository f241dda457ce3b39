//! The memory of a solve, to be used again by the next one.

use nalgebra::DVector;

use super::trust_region::Subproblem;
use crate::numeric::{Factor, Triangle};

/// Memory for problems of n coefficients. A solve in it allocates nothing that
/// grows with the problem.
#[derive(Debug, Clone)]
pub struct Workspace {
    pub(super) triangle: Triangle,
    /// Of the current point.
    pub(super) factor: Factor,
    pub(super) subproblem: Subproblem,
    /// The current point between runs; the executor's state has it during one.
    pub(super) coefficients: DVector<f64>,
    pub(super) trial: DVector<f64>,
    pub(super) polish_entry: DVector<f64>,
    /// Column norms of the Jacobian at the current point.
    pub(super) norms: DVector<f64>,
    /// `‖Qᵀr‖` there.
    pub(super) reducible: f64,
    pub(super) scales: DVector<f64>,
    pub(super) largest_norms: DVector<f64>,
    pub(super) spare: DVector<f64>,
    /// The best result of earlier strategies, kept while another runs.
    pub(super) kept_coefficients: DVector<f64>,
    pub(super) kept_factor: Factor,
}

impl Workspace {
    /// Memory for `coefficient_count` coefficients.
    pub fn new(coefficient_count: usize) -> Self {
        let zeros = || DVector::zeros(coefficient_count);
        Self {
            triangle: Triangle::new(coefficient_count),
            factor: Factor::zeros(coefficient_count),
            subproblem: Subproblem::new(coefficient_count),
            coefficients: zeros(),
            trial: zeros(),
            polish_entry: zeros(),
            norms: zeros(),
            reducible: 0.0,
            scales: zeros(),
            largest_norms: zeros(),
            spare: zeros(),
            kept_coefficients: zeros(),
            kept_factor: Factor::zeros(coefficient_count),
        }
    }

    /// The number n of coefficients.
    pub fn coefficient_count(&self) -> usize {
        self.trial.len()
    }

    /// The coefficients that the last solve returned.
    pub fn coefficients(&self) -> &DVector<f64> {
        &self.coefficients
    }

    /// The factor of Jacobian and residuals at [`coefficients`](Self::coefficients).
    pub fn factor(&self) -> &Factor {
        &self.factor
    }

    /// Exchanges the current result with the one that is kept aside.
    pub(super) fn exchange_kept(&mut self) {
        std::mem::swap(&mut self.coefficients, &mut self.kept_coefficients);
        std::mem::swap(&mut self.factor, &mut self.kept_factor);
    }
}
