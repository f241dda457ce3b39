//! Calibrates a dough mixer from the batches that a baker logs.
#![warn(missing_docs)]

pub mod batch;
pub mod calibration;
pub mod charge;
pub mod development;
pub mod diagnostics;
pub mod domain;
pub mod fit;
pub mod forecast;
pub mod inference;
pub mod machine_factor;
pub mod numeric;
pub mod planning;
pub mod prior;
pub mod profile;
pub mod publish;
pub mod thermal;
pub mod trade_rule;
pub mod units;

/// Compiles and runs what the README shows of the crate.
#[cfg(doctest)]
#[doc = include_str!("../../../README.md")]
mod readme {}
