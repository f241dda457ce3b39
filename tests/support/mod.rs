//! Simulated kitchens for the statistical tests and the demo.
//!
//! Two processes make batches whose truth is known: [`kitchen`] is richer than the
//! fitted model, as a real kitchen is; [`exact`] is the fitted model itself, written
//! a second time, with exactly the noise that the fit assumes. Neither uses any of
//! the core's models: they share its vocabulary (charges, batches) alone.
//!
//! All draws come from ChaCha8 and all transcendental functions from `libm`, so that
//! one seed gives the same bits on every platform.
#![allow(dead_code, reason = "each test binary uses a part of what is here")]

pub mod demo;
pub mod exact;
pub mod kitchen;
pub mod machines;
pub mod process;
pub mod rng;
pub mod rule;
