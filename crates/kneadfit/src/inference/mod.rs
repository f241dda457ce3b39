//! What the log and the priors say together: covariance, intervals, scatter.

#[cfg(test)]
mod allocations;
mod conditional;
mod desk;
mod estimate;
mod explanations;
mod guide;
mod left_out;
mod mode;
mod newton;
mod plain;
mod posterior;
mod refit;
mod scatter;
mod score;
mod skew;

pub(crate) use conditional::{Conditioner, Whitened};
pub(crate) use estimate::estimates;
pub use estimate::{Estimate, MOSTLY_PRIOR, Status};
pub(crate) use left_out::LeftOut;
pub use plain::{PlainFit, fit_plain};
pub use posterior::{Assumptions, Posterior, ScatterNode, ScatterPrior};
pub(crate) use refit::{Refit, refits};
