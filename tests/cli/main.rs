//! The real tool, run as a user runs it.

mod bad_logs;
mod bad_profiles;
mod check;
mod compare;
mod dresses;
mod faults;
mod fit;
mod forecast;
mod friction_factor;
mod pages;
mod plan;
#[path = "../support/mod.rs"]
mod simulated;
mod support;
mod writing;
