//! The real tool, run as a user runs it.

mod bad_logs;
mod bad_profiles;
mod check;
mod columns;
mod compare;
mod dresses;
mod faults;
mod fit;
mod forecast;
mod friction_factor;
mod new_log;
mod pages;
mod plan;
#[path = "../support/mod.rs"]
mod simulated;
mod support;
mod tidy;
mod twelve_dresses;
mod writing;
