//! Numbers that others certified or published, and properties that must hold
//! for every problem.
//!
//! `cargo test --test reference -- --nocapture` also prints the digits reached.

mod bates_watts;
mod dataset;
mod dual;
mod nist_linear;
mod nist_models;
mod nist_nonlinear;
mod quantile_values;
mod regression;
mod solver_properties;
mod triangle_properties;
