//! The state that argmin's executor carries from iteration to iteration.
//!
//! argmin's own `IterState` clones the coefficients whenever the cost improves;
//! this one keeps them in place, so that an iteration allocates nothing.

use std::collections::HashMap;
use std::time::Duration;

use argmin::core::{Problem, State, TerminationReason, TerminationStatus};
use nalgebra::DVector;

/// Coefficients and cost of the best point so far, and the executor's counters.
#[derive(Debug)]
pub(super) struct FitState {
    pub coefficients: DVector<f64>,
    pub cost: f64,
    pub iteration_limit: u64,
    iterations: u64,
    last_best: u64,
    status: TerminationStatus,
    /// Stays empty: the solver counts evaluations itself.
    counts: HashMap<String, u64>,
}

impl State for FitState {
    type Param = DVector<f64>;
    type Float = f64;

    fn new() -> Self {
        Self {
            coefficients: DVector::zeros(0),
            cost: f64::INFINITY,
            iteration_limit: u64::MAX,
            iterations: 0,
            last_best: 0,
            status: TerminationStatus::NotTerminated,
            counts: HashMap::new(),
        }
    }

    fn update(&mut self) {
        self.last_best = self.iterations;
    }

    fn get_param(&self) -> Option<&DVector<f64>> {
        Some(&self.coefficients)
    }

    fn get_best_param(&self) -> Option<&DVector<f64>> {
        Some(&self.coefficients)
    }

    fn get_max_iters(&self) -> u64 {
        self.iteration_limit
    }

    fn increment_iter(&mut self) {
        self.iterations += 1;
    }

    fn get_iter(&self) -> u64 {
        self.iterations
    }

    fn get_cost(&self) -> f64 {
        self.cost
    }

    fn get_best_cost(&self) -> f64 {
        self.cost
    }

    fn get_target_cost(&self) -> f64 {
        f64::NEG_INFINITY
    }

    fn func_counts<O>(&mut self, _: &Problem<O>) {}

    fn get_func_counts(&self) -> &HashMap<String, u64> {
        &self.counts
    }

    fn time(&mut self, _: Option<Duration>) -> &mut Self {
        self
    }

    fn get_time(&self) -> Option<Duration> {
        None
    }

    fn get_last_best_iter(&self) -> u64 {
        self.last_best
    }

    fn is_best(&self) -> bool {
        self.last_best == self.iterations
    }

    fn terminate_with(mut self, reason: TerminationReason) -> Self {
        self.status = TerminationStatus::Terminated(reason);
        self
    }

    fn get_termination_status(&self) -> &TerminationStatus {
        &self.status
    }

    fn get_termination_reason(&self) -> Option<&TerminationReason> {
        match &self.status {
            TerminationStatus::Terminated(reason) => Some(reason),
            TerminationStatus::NotTerminated => None,
        }
    }
}
