//! The real tool, run as a user runs it.

mod bad_logs;
mod bad_profiles;
mod check;
mod compare;
mod dresses;
mod fit;
mod forecast;
mod friction_factor;
mod pages;
mod plan;
mod support;
mod writing;
