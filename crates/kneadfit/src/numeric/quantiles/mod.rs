//! Normal, Student and chi-squared distributions, for intervals and tests.
//!
//! Tails are computed as tails, never as one minus the rest, so a probability
//! of 10⁻³⁰ has as many digits as one of 0.3. Quantiles are roots of these
//! functions found by Newton's method, so their accuracy is that of the
//! distribution function and of nothing else.

mod chi_squared;
mod normal;
mod student;

pub use chi_squared::{chi_squared_cdf, chi_squared_tail};
pub use normal::{normal_cdf, normal_density, normal_quantile};
pub use student::{student_t_cdf, student_t_density, student_t_for_level, student_t_quantile};

/// Newton's method stops when a step no longer changes more than this, relative.
const NEWTON_TOLERANCE: f64 = 4.0 * f64::EPSILON;

/// Newton's method converges here within ten steps; more would mean that
/// rounding makes the last bit alternate.
const NEWTON_LIMIT: usize = 60;
