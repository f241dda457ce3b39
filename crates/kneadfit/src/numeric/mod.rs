//! Arithmetic that knows no dough: factorisations, quantiles, derivative checks.
