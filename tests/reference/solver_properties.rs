//! What must hold of every solve, whatever the problem.

use kneadfit::fit::solver::{LeastSquares, Options, TerminationReason, Workspace, solve, solve_in};
use kneadfit::numeric::Triangle;
use proptest::prelude::*;

use crate::dual::Dual;
use crate::nist_models::saturation;
use crate::regression::{Model, Regression};

/// Counts calls, and fails outside a box.
struct Guarded<'a> {
    inner: Regression<'a>,
    largest: f64,
    calls: u64,
    refused: u64,
}

impl Guarded<'_> {
    fn allowed(&mut self, coefficients: &[f64]) -> bool {
        self.calls += 1;
        let allowed = coefficients.iter().all(|c| c.abs() <= self.largest);
        self.refused += u64::from(!allowed);
        allowed
    }
}

impl LeastSquares for Guarded<'_> {
    fn coefficient_count(&self) -> usize {
        self.inner.coefficient_count
    }
    fn cost(&mut self, coefficients: &[f64]) -> Option<f64> {
        if self.allowed(coefficients) { self.inner.cost(coefficients) } else { None }
    }
    fn linearise(&mut self, coefficients: &[f64], triangle: &mut Triangle) -> Option<f64> {
        if self.allowed(coefficients) { self.inner.linearise(coefficients, triangle) } else { None }
    }
}

fn decay(b: &[Dual], x: &[f64]) -> Dual {
    b[0] + b[1] * (-(b[2] * x[0])).exp()
}

fn rows(of: impl Fn(f64) -> f64, noise: &[f64]) -> Vec<Vec<f64>> {
    noise.iter().enumerate().map(|(i, e)| vec![of(i as f64) + e, i as f64]).collect()
}

/// Largest `|∂cost/∂θⱼ|` over `‖Jⱼ‖ ‖r‖`.
fn cosine(problem: &Regression<'_>, at: &[f64]) -> f64 {
    let jacobian = problem.jacobian(at);
    let residuals = nalgebra::DVector::from_vec(problem.residuals(at));
    (0..at.len())
        .map(|j| {
            let column = jacobian.column(j);
            column.dot(&residuals).abs() / (column.norm() * residuals.norm())
        })
        .fold(0.0, f64::max)
}

proptest! {
    #[test]
    fn never_worse_than_the_start_and_success_is_a_stationary_point(
        noise in prop::collection::vec(-5.0..5.0_f64, 6..30),
        truth in (-20.0..20.0_f64, -20.0..20.0_f64, 0.01..2.0_f64),
        start in (-50.0..50.0_f64, -50.0..50.0_f64, -2.0..20.0_f64),
        ridge in any::<bool>(),
    ) {
        let rows = rows(|x| truth.0 + truth.1 * (-truth.2 * x).exp(), &noise);
        let (model, start): (Model, Vec<f64>) = if ridge {
            (saturation, vec![start.1, start.2])
        } else {
            (decay, vec![start.0, start.1, start.2])
        };
        let mut problem = Regression { model, rows: &rows, coefficient_count: start.len() };
        let before = problem.cost(&start);
        let options = Options { iteration_limit: 300, ..Options::default() };
        let solution = solve(&mut problem, &start, &options);
        let found = solution.coefficients.as_slice();
        if let Some(before) = before {
            prop_assert!(problem.cost(found).unwrap() <= before * (1.0 + 1e-12));
        }
        if solution.summary.is_success() {
            prop_assert!(cosine(&problem, found) < 1e-6, "{:?} at {found:?}", solution.summary);
        }
    }

    #[test]
    fn from_the_minimum_itself_one_call_and_from_nearby_few(
        noise in prop::collection::vec(-0.1..0.1_f64, 12),
        nudge in -1e-4..1e-4_f64,
    ) {
        let rows = rows(|x| 20.0 + 8.0 * (-0.3 * x).exp(), &noise);
        let inner = Regression { model: decay, rows: &rows, coefficient_count: 3 };
        let mut problem = Guarded { inner, largest: 1e6, calls: 0, refused: 0 };
        let options = Options::default();
        let mut workspace = Workspace::new(3);
        let cold = solve_in(&mut workspace, &mut problem, &[15.0, 10.0, 0.2], &options);
        prop_assert!(cold.is_success());
        prop_assert_eq!(cold.evaluations, problem.calls);
        let minimum = workspace.coefficients().as_slice().to_vec();
        let again = solve_in(&mut workspace, &mut problem, &minimum, &options);
        prop_assert!(again.is_success());
        prop_assert_eq!(again.evaluations, 1);
        prop_assert_eq!(workspace.coefficients().as_slice(), &minimum[..]);
        let near: Vec<f64> = minimum.iter().map(|c| c * (1.0 + nudge)).collect();
        let warm = solve_in(&mut workspace, &mut problem, &near, &options);
        prop_assert!(warm.is_success());
        prop_assert!(warm.evaluations <= 8, "{warm:?}");
    }
}

#[test]
fn a_model_that_does_not_exist_everywhere_is_fitted_where_it_does() {
    let rows = rows(|x| 20.0 + 8.0 * (-0.3 * x).exp(), &[0.0; 12]);
    let inner = Regression { model: decay, rows: &rows, coefficient_count: 3 };
    // Some steps from here leave the box.
    let mut problem = Guarded { inner, largest: 30.0, calls: 0, refused: 0 };
    let solution = solve(&mut problem, &[0.0, 29.0, 0.01], &Options::default());
    assert!(problem.refused > 0);
    assert!(solution.summary.is_success(), "{:?}", solution.summary);
    assert!((solution.coefficients[0] - 20.0).abs() < 1e-9);
    assert_eq!(solution.summary.evaluations, problem.calls);
}

#[test]
fn every_way_not_to_start_has_its_name() {
    let rows = rows(|x| x, &[0.0; 4]);
    let none: Vec<Vec<f64>> = Vec::new();
    let of = |rows, coefficient_count| Regression { model: decay, rows, coefficient_count };
    let reason = |mut problem: Regression<'_>, start: &[f64]| {
        solve(&mut problem, start, &Options::default()).summary.reason
    };
    assert_eq!(reason(of(&rows, 3), &[1.0, 1.0, f64::NAN]), TerminationReason::NotFiniteAtStart);
    assert_eq!(reason(of(&rows, 3), &[1.0, 1.0, -1e4]), TerminationReason::NotFiniteAtStart);
    assert_eq!(reason(of(&none, 3), &[1.0; 3]), TerminationReason::NothingToFit);
}

/// b₀ and b₁ act as a sum, so neither has a value of its own.
fn only_a_sum(b: &[Dual], x: &[f64]) -> Dual {
    (b[0] + b[1]) * (-(b[2] * x[0])).exp()
}

#[test]
fn a_direction_without_information_is_named_and_the_rest_is_fitted() {
    let rows = rows(|x| 8.0 * (-0.3 * x).exp(), &[0.01, -0.02, 0.03, 0.01, -0.01, 0.02, -0.03]);
    let mut problem = Regression { model: only_a_sum, rows: &rows, coefficient_count: 3 };
    let solution = solve(&mut problem, &[1.0, 2.0, 0.1], &Options::default());
    assert_eq!(solution.summary.reason, TerminationReason::RankDeficient);
    assert!(cosine(&problem, solution.coefficients.as_slice()) < 1e-8);
    assert!((solution.coefficients[2] - 0.3).abs() < 0.01);
    let analysis = kneadfit::numeric::RankAnalysis::new(&solution.factor);
    assert_eq!(analysis.undetermined(), [0, 1]);
}

#[test]
fn too_few_rows_are_rank_deficient() {
    let rows = rows(|x| 8.0 * (-0.3 * x).exp(), &[0.0, 0.0]);
    let mut problem = Regression { model: decay, rows: &rows, coefficient_count: 3 };
    let solution = solve(&mut problem, &[1.0, 2.0, 0.1], &Options::default());
    assert!(!solution.summary.is_success(), "{:?}", solution.summary);
}

/// Derivatives that do not belong to the residuals.
struct WrongSign<'a>(Regression<'a>);

impl LeastSquares for WrongSign<'_> {
    fn coefficient_count(&self) -> usize {
        self.0.coefficient_count
    }
    fn cost(&mut self, coefficients: &[f64]) -> Option<f64> {
        self.0.cost(coefficients)
    }
    fn linearise(&mut self, coefficients: &[f64], triangle: &mut Triangle) -> Option<f64> {
        let jacobian = -self.0.jacobian(coefficients);
        for (row, residual) in jacobian.row_iter().zip(self.0.residuals(coefficients)) {
            triangle.push_row(&row.iter().copied().collect::<Vec<f64>>(), residual);
        }
        self.cost(coefficients)
    }
}

#[test]
fn wrong_derivatives_stall_and_do_no_harm() {
    let rows = rows(|x| 20.0 + 8.0 * (-0.3 * x).exp(), &[0.1; 12]);
    let mut problem = WrongSign(Regression { model: decay, rows: &rows, coefficient_count: 3 });
    let start = [15.0, 10.0, 0.2];
    let before = problem.cost(&start).unwrap();
    let solution = solve(&mut problem, &start, &Options::default());
    assert_eq!(solution.summary.reason, TerminationReason::Stalled);
    assert!(solution.summary.cost <= before);
}
