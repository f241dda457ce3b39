//! The fit: whitened residuals, the solver and its outcome.
