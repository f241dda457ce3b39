//! The simulated kitchens behave as kitchens do, and their integration as heat does.

#[path = "../support/mod.rs"]
mod support;

mod demo;
mod exact;
mod habits;
mod physics;
mod trade;
