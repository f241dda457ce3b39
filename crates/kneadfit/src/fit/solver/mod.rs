//! Nonlinear least squares: the only module that names argmin.
//!
//! A problem pushes its rows into a [`Triangle`]; the
//! solver sees the triangle only, so its own work and memory do not grow with
//! the number of rows. Residuals are predicted − observed, and the cost is
//! ½‖r‖².
//!
//! | file | idea |
//! |---|---|
//! | `levenberg_marquardt` | the algorithm, as an argmin solver |
//! | `trust_region` | the damped step on the triangle |
//! | `options`, `outcome` | what may be chosen, how it can end |
//! | `state`, `workspace` | what the executor carries, what is kept for the next solve |

mod levenberg_marquardt;
mod options;
mod outcome;
mod state;
mod trust_region;
mod workspace;

use argmin::core::{Executor, State};
use nalgebra::DVector;

pub use options::{Options, Scaling, Strategy};
pub use outcome::TerminationReason;
pub use workspace::Workspace;

use crate::numeric::{Factor, Triangle};
use levenberg_marquardt::LevenbergMarquardt;
use state::FitState;

/// Two costs closer than this, relative, are of the same minimum.
const SAME_MINIMUM: f64 = 1e-9;

/// The rounding of a cost: a result may exceed the start's by this share.
const COST_ROUNDING: f64 = 1e-13;

/// A nonlinear least-squares problem that pushes its rows.
///
/// # Examples
///
/// See [`solve`].
pub trait LeastSquares {
    /// The number n of coefficients, the same in every call.
    fn coefficient_count(&self) -> usize;

    /// ½‖r‖² at the coefficients; `None` where the residuals are not finite or
    /// the model does not exist.
    fn cost(&mut self, coefficients: &[f64]) -> Option<f64>;

    /// Pushes all rows `[∂r/∂θ | r]` at the coefficients into the triangle,
    /// which comes empty, and returns the cost; `None` as for
    /// [`cost`](Self::cost), with any rows pushed.
    ///
    /// # Shape
    ///
    /// n derivatives and one residual a row; as many rows in every call.
    fn linearise(&mut self, coefficients: &[f64], triangle: &mut Triangle) -> Option<f64>;
}

/// How a solve went; the coefficients are in the [`Workspace`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// ½‖r‖² at the result; NaN where the start was not finite.
    pub cost: f64,
    /// Why the solver stopped.
    pub reason: TerminationReason,
    /// Trial points, over all strategies.
    pub iterations: u64,
    /// Calls of the problem, costs and linearisations together.
    pub evaluations: u64,
    /// The strategy that gave the result.
    pub strategy: Strategy,
}

/// The result of [`solve`].
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// The coefficients of the lowest cost found, n entries; never worse than
    /// the start (beyond the rounding of the cost, a share of 1e-13).
    pub coefficients: DVector<f64>,
    /// The factor of `[J | r]` there, for covariance, leverages and the like.
    pub factor: Factor,
    /// How the solve went.
    pub summary: Summary,
}

impl Summary {
    /// Whether a minimum was found.
    pub fn is_success(&self) -> bool {
        self.reason.is_success()
    }

    /// The residual sum of squares ‖r‖², twice the cost.
    pub fn rss(&self) -> f64 {
        2.0 * self.cost
    }

    /// The lower cost wins; of two that share a minimum the one that is sure of it.
    fn is_better_than(&self, other: &Self) -> bool {
        let same = (self.cost - other.cost).abs() <= SAME_MINIMUM * self.cost.max(other.cost);
        if same { self.is_success() && !other.is_success() } else { self.cost < other.cost }
    }
}

/// Minimises ½‖r‖² from `start`.
///
/// Not converging is no error: read [`Summary::reason`].
///
/// # Panics
///
/// When `start` has not as many entries as the problem has coefficients.
///
/// # Examples
///
/// y = a e^(−k x) through (0, 2), (1, 1), (2, ½) exactly: a = 2, k = ln 2.
///
/// ```
/// use kneadfit::fit::solver::{LeastSquares, Options, solve};
/// use kneadfit::numeric::Triangle;
///
/// struct Decay;
///
/// impl Decay {
///     fn each(c: &[f64], mut row: impl FnMut([f64; 2], f64)) -> Option<f64> {
///         let mut squares = 0.0;
///         for (x, y) in [(0.0, 2.0), (1.0, 1.0), (2.0, 0.5)] {
///             let decay = (-c[1] * x).exp();
///             let residual = c[0] * decay - y;
///             row([decay, -x * c[0] * decay], residual);
///             squares += residual * residual;
///         }
///         squares.is_finite().then_some(0.5 * squares)
///     }
/// }
///
/// impl LeastSquares for Decay {
///     fn coefficient_count(&self) -> usize {
///         2
///     }
///     fn cost(&mut self, c: &[f64]) -> Option<f64> {
///         Self::each(c, |_, _| ())
///     }
///     fn linearise(&mut self, c: &[f64], triangle: &mut Triangle) -> Option<f64> {
///         Self::each(c, |derivatives, residual| triangle.push_row(&derivatives, residual))
///     }
/// }
///
/// let solution = solve(&mut Decay, &[1.0, 1.0], &Options::default());
/// assert!(solution.summary.is_success());
/// assert!((solution.coefficients[0] - 2.0).abs() < 1e-10);
/// assert!((solution.coefficients[1] - 2.0_f64.ln()).abs() < 1e-10);
/// ```
pub fn solve<P: LeastSquares + ?Sized>(
    problem: &mut P,
    start: &[f64],
    options: &Options,
) -> Solution {
    let mut workspace = Workspace::new(problem.coefficient_count());
    let summary = solve_in(&mut workspace, problem, start, options);
    Solution { coefficients: workspace.coefficients, factor: workspace.factor, summary }
}

/// As [`solve`], in memory of an earlier solve; coefficients and factor stay in
/// the workspace.
///
/// A warm start costs little: from the minimum itself one evaluation, from
/// near it two or three.
///
/// # Panics
///
/// When workspace, problem and `start` differ in their number of coefficients.
pub fn solve_in<P: LeastSquares + ?Sized>(
    workspace: &mut Workspace,
    problem: &mut P,
    start: &[f64],
    options: &Options,
) -> Summary {
    let n = problem.coefficient_count();
    assert_eq!(start.len(), n, "a start needs one value a coefficient");
    assert_eq!(
        workspace.coefficient_count(),
        n,
        "the workspace is for another number of coefficients"
    );
    let mut best = run(workspace, problem, start, options, options.first_strategy());
    let hopeless = matches!(
        best.reason,
        TerminationReason::NotFiniteAtStart | TerminationReason::NothingToFit
    );
    if hopeless {
        return best;
    }
    let (mut iterations, mut evaluations) = (best.iterations, best.evaluations);
    for (number, strategy) in options.further_strategies().into_iter().enumerate() {
        if best.is_success() && !(options.thorough && number == 0) {
            break;
        }
        workspace.exchange_kept();
        let next = run(workspace, problem, start, options, strategy);
        iterations += next.iterations;
        evaluations += next.evaluations;
        if next.is_better_than(&best) {
            best = next;
        } else {
            workspace.exchange_kept();
        }
    }
    Summary { iterations, evaluations, ..best }
}

/// One strategy, through argmin's executor.
fn run<P: LeastSquares + ?Sized>(
    workspace: &mut Workspace,
    problem: &mut P,
    start: &[f64],
    options: &Options,
    strategy: Strategy,
) -> Summary {
    let mut coefficients = std::mem::replace(&mut workspace.coefficients, DVector::zeros(0));
    coefficients.copy_from_slice(start);
    let solver = LevenbergMarquardt::new(workspace, options, strategy);
    let executor = Executor::new(&mut *problem, solver).ctrlc(false).configure(|mut state| {
        state.coefficients = coefficients;
        state.iteration_limit = options.iteration_limit;
        state
    });
    let finished = match executor.run() {
        Ok(finished) => finished,
        Err(error) => unreachable!("neither this solver nor its executor can fail: {error}"),
    };
    let iterations = finished.state.get_iter();
    let FitState { mut coefficients, cost, .. } = finished.state;
    let LevenbergMarquardt { outcome, evaluations, start_cost, start_is_minimum, .. } =
        finished.solver;
    let mut summary = Summary {
        cost: if cost.is_finite() { cost } else { f64::NAN },
        reason: outcome.unwrap_or(TerminationReason::IterationLimit),
        iterations,
        evaluations,
        strategy,
    };
    if cost > start_cost * (1.0 + COST_ROUNDING) {
        // The polish judges by step size: it may end a little above a start that
        // was a minimum already. The start is then the better answer.
        coefficients.copy_from_slice(start);
        workspace.triangle.reset();
        if problem.linearise(start, &mut workspace.triangle).is_some() {
            workspace.triangle.swap_factor(&mut workspace.factor);
        }
        summary.cost = start_cost;
        summary.reason = if start_is_minimum {
            TerminationReason::ConvergedToRounding
        } else {
            TerminationReason::Stalled
        };
        summary.evaluations += 1;
    }
    workspace.coefficients = coefficients;
    summary
}
