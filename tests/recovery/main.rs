//! Whether a fit recovers a truth that is known, and whether what it says of its own
//! doubt holds: counted over simulated kitchens, seeds fixed.

#[path = "../support/mod.rs"]
mod support;

mod bakers;
mod calibrated;
mod coverage;
mod flours;
mod many;
mod mistyped;
mod noiseless;
mod on_the_way;
mod richer;
