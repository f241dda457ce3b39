//! The fit: whitened residuals, the solver and its outcome.

pub mod solver;
