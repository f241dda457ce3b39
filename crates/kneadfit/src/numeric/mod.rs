//! Arithmetic that knows no dough: factorisations, quantiles, derivative checks.
//!
//! | module | gives |
//! |---|---|
//! | [`triangle`] | a least-squares problem of any length folded into one small triangle, row by row |
//! | [`factor`] | what the triangle knows: step, gradient, leverages, triangular solves |
//! | [`rank`] | which directions the rows determine, and the covariance of those |
//! | [`quadrature`] | integrals over a phase that relaxes exponentially |
//! | [`quantiles`] | normal, Student and chi-squared distributions |
//! | [`differences`] | a check of an analytic Jacobian against finite differences |
//! | [`sum`] | sums that do not lose digits over a million terms |

mod cholesky;
pub mod differences;
pub mod factor;
pub mod quadrature;
pub mod quantiles;
pub mod rank;
pub mod sum;
pub mod triangle;

pub(crate) use cholesky::cholesky_into;
pub use cholesky::{cholesky, solve_cholesky};
pub use factor::Factor;
pub use quantiles::normal_quantile;
pub use rank::RankAnalysis;
pub use triangle::Triangle;
