//! What must hold for every log.

#[path = "../support/mod.rs"]
mod support;

mod any_log;
mod forecasts;
mod friction_factor;
mod mistyped;
mod on_the_way;
mod order;
