//! The real tool, run as a user runs it.

mod bad_logs;
mod bad_profiles;
mod check;
mod compare;
mod fit;
mod fit_words;
mod forecast;
mod friction_factor;
mod many_rows;
mod pages;
mod plan;
mod rumford;
mod support;
mod writing;
