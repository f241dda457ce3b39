//! Levenberg–Marquardt as an argmin solver, finished by undamped Gauss–Newton.
//!
//! 1. *Descent.* The damped step inside a trust region; the region grows and
//!    shrinks with the gain ratio, actual over predicted reduction of the cost.
//! 2. *Polish.* Near the minimum the cost no longer tells two points apart: it
//!    is flat to half of the digits. Undamped Gauss–Newton steps are then judged
//!    by their size, which must shrink. Where it does not, before rounding can be
//!    the reason, the polish is undone and descent goes on.
//!
//! A trial point is linearised at once while trials succeed, because the next
//! iteration needs the derivatives there anyway; after a rejection only the
//! cost is asked for.

use argmin::core::{Error, KV, Problem, Solver, State, TerminationReason as ExecutorReason};

use super::LeastSquares;
use super::options::{Options, Scaling, Strategy};
use super::outcome::TerminationReason;
use super::state::FitState;
use super::workspace::Workspace;

/// Trials that gain less than this share of the prediction are rejected.
const LEAST_GAIN: f64 = 1e-4;
/// Below this gain ratio the region shrinks.
const POOR_GAIN: f64 = 0.25;
/// Above this gain ratio the region may grow.
const GOOD_GAIN: f64 = 0.75;
/// After a trial without a finite cost the region shrinks to this share.
const RETREAT: f64 = 0.1;

/// Polish may begin when the linear model predicts to remove less than this
/// share of the sum of squares …
const POLISH_REDUCTION: f64 = 1e-8;
/// … or when no coefficient would change by more than this share of itself.
const POLISH_STEP: f64 = 1e-5;
/// A polish that raises the cost by more than this share is not going to the minimum.
const POLISH_RISE: f64 = 1e-9;
/// A polish step must be shorter than this share of the one before.
const CONTRACTION: f64 = 0.9;
/// So many that are not end the polish: the first steps may follow a bend.
const STRIKES: u32 = 3;
/// A step longer by this factor ends it at once.
const DIVERGENCE: f64 = 4.0;

/// Where steps stop shrinking, these sizes (relative to the coefficients; to
/// the standard errors) tell rounding from a model that does not converge.
const ROUNDING_STEP: f64 = 1e-8;
const ROUNDING_OFFSET: f64 = 1e-7;

/// A point whose scaled gradient is below this is stationary: the cosine
/// between the residuals and a column of the Jacobian.
const STATIONARY_COSINE: f64 = 1e-9;

/// The region has closed when it is this small beside the coefficients.
const CLOSED_REGION: f64 = 1e-15;

#[derive(Debug, Clone, Copy)]
enum Phase {
    Descent,
    /// `previous` is the size of the step taken last, `strikes` how often a step
    /// was not shorter than the one before.
    Polish {
        previous: f64,
        strikes: u32,
    },
}

/// One run of one strategy.
pub(super) struct LevenbergMarquardt<'w> {
    pub work: &'w mut Workspace,
    pub outcome: Option<TerminationReason>,
    pub evaluations: u64,
    pub start_cost: f64,
    /// Whether the undamped step at the start was within rounding already.
    pub start_is_minimum: bool,
    options: Options,
    strategy: Strategy,
    radius: f64,
    phase: Phase,
    polish_allowed: bool,
    last_accepted: bool,
    polish_entry_cost: f64,
}

/// The two measures of the undamped step.
#[derive(Debug, Clone, Copy)]
struct StepSize {
    /// Largest change of a coefficient relative to itself.
    relative: f64,
    /// Relative to the standard errors.
    offset: f64,
}

impl StepSize {
    fn is_rounding(self) -> bool {
        self.relative <= ROUNDING_STEP || self.offset <= ROUNDING_OFFSET
    }
}

impl<'w> LevenbergMarquardt<'w> {
    pub fn new(work: &'w mut Workspace, options: &Options, strategy: Strategy) -> Self {
        Self {
            work,
            outcome: None,
            evaluations: 0,
            start_cost: f64::INFINITY,
            start_is_minimum: false,
            options: *options,
            strategy,
            radius: 0.0,
            phase: Phase::Descent,
            polish_allowed: true,
            last_accepted: true,
            polish_entry_cost: f64::INFINITY,
        }
    }

    fn stop(&mut self, state: FitState, outcome: TerminationReason) -> FitState {
        self.outcome = Some(outcome);
        state.terminate_with(if outcome.is_success() {
            ExecutorReason::SolverConverged
        } else {
            // An empty text allocates nothing; the outcome carries the reason.
            ExecutorReason::SolverExit(String::new())
        })
    }

    /// Linearises at the trial point; None when anything there is not finite.
    fn linearise_trial<P: LeastSquares + ?Sized>(&mut self, problem: &mut P) -> Option<f64> {
        self.evaluations += 1;
        self.work.triangle.reset();
        let cost = problem.linearise(self.work.trial.as_slice(), &mut self.work.triangle)?;
        (cost.is_finite() && self.work.triangle.factor().is_finite()).then_some(cost)
    }

    /// Makes the trial point, already linearised, the current one.
    fn accept(&mut self, state: &mut FitState, cost: f64) {
        self.work.triangle.swap_factor(&mut self.work.factor);
        std::mem::swap(&mut self.work.trial, &mut state.coefficients);
        state.cost = cost;
        self.rescale();
    }

    fn rescale(&mut self) {
        let work = &mut *self.work;
        for j in 0..work.scales.len() {
            let norm = work.factor.column_norm(j);
            work.norms[j] = norm;
            let scale = match self.strategy.scaling {
                Scaling::LargestColumnNorms => work.largest_norms[j].max(norm),
                Scaling::CurrentColumnNorms => norm,
            };
            work.largest_norms[j] = scale;
            work.scales[j] = if scale > 0.0 { scale } else { 1.0 };
        }
        work.subproblem.set(&work.factor, work.norms.as_slice(), work.scales.as_slice());
        work.reducible = work.factor.reducible_norm();
    }

    fn step_size(&self, state: &FitState) -> StepSize {
        let work = &*self.work;
        if !work.subproblem.is_regular() {
            return StepSize { relative: f64::INFINITY, offset: f64::INFINITY };
        }
        let mut relative = 0.0_f64;
        for j in 0..work.scales.len() {
            let step = (work.subproblem.undamped[j] / work.scales[j]).abs();
            if step > 0.0 {
                relative = relative.max(step / state.coefficients[j].abs());
            }
        }
        let n = work.factor.coefficient_count();
        let removed = work.reducible;
        let offset = if removed == 0.0 {
            0.0
        } else if work.factor.row_count() > n {
            let dof = (work.factor.row_count() - n) as f64;
            removed / work.factor.remainder() * (dof / n as f64).sqrt()
        } else {
            f64::INFINITY
        };
        StepSize { relative, offset }
    }

    /// Largest cosine between the residuals and a Jacobian column.
    fn gradient_cosine(&mut self) -> f64 {
        let work = &mut *self.work;
        let norm = work.factor.residual_norm();
        work.factor.gradient(work.spare.as_mut_slice());
        let mut largest = 0.0_f64;
        for j in 0..work.spare.len() {
            if work.spare[j] != 0.0 {
                largest = largest.max(work.spare[j].abs() / work.norms[j] / norm);
            }
        }
        largest
    }

    /// What to call a point where the region has closed or the cost is flat.
    fn outcome_without_progress(&mut self, size: StepSize) -> TerminationReason {
        if size.is_rounding() {
            TerminationReason::ConvergedToRounding
        } else if !self.work.subproblem.is_regular() {
            TerminationReason::RankDeficient
        } else {
            TerminationReason::Stalled
        }
    }

    fn set_trial(&mut self, state: &FitState, undamped: bool) {
        let work = &mut *self.work;
        let step = if undamped { &work.subproblem.undamped } else { &work.subproblem.step };
        for (j, scaled) in step.iter().enumerate() {
            work.trial[j] = state.coefficients[j] + scaled / work.scales[j];
        }
    }

    /// One undamped step, taken whatever the cost says as long as it is finite.
    fn polish<P: LeastSquares + ?Sized>(
        &mut self,
        problem: &mut P,
        mut state: FitState,
        strikes: u32,
    ) -> FitState {
        self.set_trial(&state, true);
        match self.linearise_trial(problem) {
            Some(cost) => {
                let previous = self.work.subproblem.undamped_norm;
                self.phase = Phase::Polish { previous, strikes };
                self.accept(&mut state, cost);
                state
            }
            None => self.undo_polish(problem, state),
        }
    }

    /// Back to where the polish began; descent goes on from there.
    fn undo_polish<P: LeastSquares + ?Sized>(
        &mut self,
        problem: &mut P,
        mut state: FitState,
    ) -> FitState {
        self.phase = Phase::Descent;
        self.polish_allowed = false;
        self.work.trial.copy_from(&self.work.polish_entry);
        match self.linearise_trial(problem) {
            Some(cost) => {
                self.accept(&mut state, cost);
                state
            }
            // It was finite before: the problem does not repeat itself.
            None => self.stop(state, TerminationReason::Stalled),
        }
    }

    /// One damped step.
    fn descend<P: LeastSquares + ?Sized>(
        &mut self,
        problem: &mut P,
        mut state: FitState,
        size: StepSize,
    ) -> FitState {
        let predicted = self.work.subproblem.solve(self.radius);
        if predicted <= 2.0 * f64::EPSILON * state.cost {
            // The cost cannot show such a gain.
            let outcome = self.outcome_without_progress(size);
            return self.stop(state, outcome);
        }
        self.set_trial(&state, false);
        let eager = self.last_accepted;
        let cost = if eager {
            self.linearise_trial(problem)
        } else {
            self.evaluations += 1;
            problem.cost(self.work.trial.as_slice()).filter(|cost| cost.is_finite())
        };
        let step_norm = self.work.subproblem.step_norm;
        let gain = cost.map_or(f64::NEG_INFINITY, |cost| (state.cost - cost) / predicted);
        if gain < POOR_GAIN {
            let shrink = if gain >= 0.0 {
                0.5
            } else if gain.is_finite() {
                // The minimum of the parabola through both costs and the slope.
                (0.5 / (1.0 - 0.5 * gain)).max(RETREAT)
            } else {
                RETREAT
            };
            self.radius = shrink * self.radius.min(step_norm / RETREAT);
            self.work.subproblem.stiffen(shrink);
        } else if gain >= GOOD_GAIN || self.work.subproblem.is_inside(self.radius) {
            self.radius = 2.0 * step_norm;
            self.work.subproblem.stiffen(2.0);
        }
        self.last_accepted = false;
        if let Some(cost) = cost.filter(|_| gain >= LEAST_GAIN) {
            let linearised = if eager { Some(cost) } else { self.linearise_trial(problem) };
            if linearised.is_some() {
                self.last_accepted = true;
                self.accept(&mut state, cost);
                return state;
            }
            self.radius *= RETREAT;
        }
        let length: f64 = (0..self.work.scales.len())
            .map(|j| self.work.scales[j] * state.coefficients[j])
            .fold(0.0, f64::hypot);
        if self.radius <= CLOSED_REGION * length || self.radius < f64::MIN_POSITIVE {
            let outcome = self.outcome_without_progress(size);
            return self.stop(state, outcome);
        }
        state
    }
}

impl<P: LeastSquares + ?Sized> Solver<&mut P, FitState> for LevenbergMarquardt<'_> {
    fn name(&self) -> &str {
        "Levenberg-Marquardt on a triangle"
    }

    fn init(
        &mut self,
        problem: &mut Problem<&mut P>,
        mut state: FitState,
    ) -> Result<(FitState, Option<KV>), Error> {
        let Some(problem) = problem.problem.as_mut() else {
            return Ok((self.stop(state, TerminationReason::NothingToFit), None));
        };
        self.work.trial.copy_from(&state.coefficients);
        self.work.subproblem.reset();
        self.work.largest_norms.fill(0.0);
        let Some(cost) = self.linearise_trial(&mut **problem) else {
            return Ok((self.stop(state, TerminationReason::NotFiniteAtStart), None));
        };
        if self.work.triangle.row_count() == 0 || self.work.trial.is_empty() {
            return Ok((self.stop(state, TerminationReason::NothingToFit), None));
        }
        self.start_cost = cost;
        self.accept(&mut state, cost);
        self.start_is_minimum = self.step_size(&state).is_rounding();
        let length: f64 = (0..self.work.scales.len())
            .map(|j| self.work.scales[j] * state.coefficients[j])
            .fold(0.0, f64::hypot);
        self.radius = self.strategy.first_radius * if length > 0.0 { length } else { 1.0 };
        Ok((state, None))
    }

    fn next_iter(
        &mut self,
        problem: &mut Problem<&mut P>,
        mut state: FitState,
    ) -> Result<(FitState, Option<KV>), Error> {
        let Some(problem) = problem.problem.as_mut() else {
            return Ok((self.stop(state, TerminationReason::NothingToFit), None));
        };
        let problem: &mut P = problem;
        let size = self.step_size(&state);
        let rose = matches!(self.phase, Phase::Polish { .. })
            && state.cost > self.polish_entry_cost * (1.0 + POLISH_RISE);
        let converged = if rose {
            None
        } else if size.relative <= self.options.step_tolerance {
            Some(TerminationReason::ConvergedStep)
        } else if size.offset <= self.options.offset_tolerance {
            Some(TerminationReason::ConvergedOffset)
        } else {
            None
        };
        if let Some(outcome) = converged {
            return Ok((self.stop(state, outcome), None));
        }
        if !self.work.subproblem.is_regular() && self.gradient_cosine() <= STATIONARY_COSINE {
            return Ok((self.stop(state, TerminationReason::RankDeficient), None));
        }
        let norm = self.work.subproblem.undamped_norm;
        if let Phase::Polish { previous, strikes } = self.phase {
            let strikes = strikes + u32::from(norm >= CONTRACTION * previous);
            let lost = rose || (norm > DIVERGENCE * previous && !size.is_rounding());
            state = if lost || (strikes >= STRIKES && !size.is_rounding()) {
                self.undo_polish(problem, state)
            } else if strikes >= STRIKES {
                self.stop(state, TerminationReason::ConvergedToRounding)
            } else {
                self.polish(problem, state, strikes)
            };
            return Ok((state, None));
        }
        let total = self.work.factor.residual_norm();
        let removed = self.work.factor.reducible_norm();
        let near =
            removed * removed <= POLISH_REDUCTION * total * total || size.relative <= POLISH_STEP;
        state = if self.polish_allowed && near && self.work.subproblem.is_inside(self.radius) {
            self.work.polish_entry.copy_from(&state.coefficients);
            self.polish_entry_cost = state.cost;
            self.polish(problem, state, 0)
        } else {
            self.descend(problem, state, size)
        };
        Ok((state, None))
    }
}
