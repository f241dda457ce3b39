//! Numbers that others certified or published, and properties that must hold
//! for every problem.
//!
//! `cargo test --test reference -- --nocapture` also prints the digits reached.

#[path = "../support/mod.rs"]
mod support;

mod bates_watts;
mod dataset;
mod dual;
mod nist_linear;
mod nist_models;
mod nist_nonlinear;
mod quantile_values;
mod regression;
mod rumford;
mod scipy;
mod solver_properties;
mod thermal;
mod trade;
mod trade_rule;
mod triangle_properties;
