//! The real tool, run as a user runs it.

mod bad_logs;
mod bad_profiles;
mod check;
mod clean_logs;
mod columns;
mod compare;
mod dresses;
mod faults;
mod fit;
mod fit_words;
mod forecast;
mod friction_factor;
mod log_rows;
mod many_rows;
mod new_log;
mod pages;
mod plan;
mod rumford;
#[path = "../support/mod.rs"]
mod simulated;
mod support;
mod tidy;
mod twelve_dresses;
mod writing;
