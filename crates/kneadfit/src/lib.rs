//! Calibrates a dough mixer from the batches that a baker logs.
#![warn(missing_docs)]

pub mod batch;
pub mod charge;
pub mod development;
pub mod fit;
pub mod numeric;
pub mod thermal;
pub mod units;
