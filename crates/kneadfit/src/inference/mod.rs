//! What the log and the priors say together: covariance, intervals, scatter.

mod conditional;
mod left_out;
mod posterior;
mod scatter;
mod skew;

pub use posterior::{Assumptions, Posterior, ScatterNode};
