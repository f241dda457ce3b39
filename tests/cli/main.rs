//! The real tool, run as a user runs it.

mod bad_logs;
mod bad_profiles;
mod check;
mod dresses;
mod fit;
mod forecast;
mod pages;
mod support;
mod writing;
