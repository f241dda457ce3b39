//! Why there is no plan.

use std::sync::Arc;

use thiserror::Error;

use crate::batch::BatchError;
use crate::forecast::ForecastError;

/// Why a dough cannot be planned. A dough that can be planned but not as wanted is a
/// [`Plan`](super::Plan) that says so.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum PlanError {
    /// A batch that cannot be forecast.
    #[error(transparent)]
    Forecast(#[from] ForecastError),
    /// A speed that the profile does not have.
    #[error("{batch}: the machine has no speed {speed:?}; it has {known}")]
    UnknownSpeed {
        /// Which dough.
        batch: Arc<str>,
        /// Which speed.
        speed: Arc<str>,
        /// The speeds of the profile, in words.
        known: String,
    },
    /// Minutes are wanted of a profile that knows nothing of development.
    #[error("{batch}: the profile knows no development, so that minutes at {speed} must be given")]
    NoDevelopment {
        /// Which dough.
        batch: Arc<str>,
        /// The speed whose minutes are wanted.
        speed: Arc<str>,
    },
    /// Minutes are wanted of a dough without flour.
    #[error("{batch}: without flour nothing develops, so that minutes at {speed} must be given")]
    NoFlour {
        /// Which dough.
        batch: Arc<str>,
        /// The speed whose minutes are wanted.
        speed: Arc<str>,
    },
    /// A temperature is wanted that only water could bring, and there is none to pour.
    #[error("{batch}: there is no formula water whose temperature could be planned")]
    NoWater {
        /// Which dough.
        batch: Arc<str>,
    },
    /// Flour with nothing to wet it.
    #[error("{batch}: flour without water, or anything else that wets it, makes no dough")]
    DryFlour {
        /// Which dough.
        batch: Arc<str>,
    },
    /// Neither water nor minutes are left to plan.
    #[error("{batch}: water and minutes are all given, so that nothing is left to plan")]
    NothingToPlan {
        /// Which dough.
        batch: Arc<str>,
    },
    /// Water is wanted, but not for which dough temperature.
    #[error("{batch}: water is to be planned, but no dough temperature is wanted")]
    NoTarget {
        /// Which dough.
        batch: Arc<str>,
    },
    /// More ice than formula water.
    #[error("{batch}: {ice_kg} kg of ice in {water_kg} kg of formula water")]
    IceBeyondWater {
        /// Which dough.
        batch: Arc<str>,
        /// Ice, kg.
        ice_kg: f64,
        /// Formula water, kg.
        water_kg: f64,
    },
    /// Bounds that contradict each other.
    #[error("{quantity}: at least {least} and at most {most} contradict each other")]
    Contradiction {
        /// Of what, named with its unit.
        quantity: String,
        /// The least.
        least: f64,
        /// The most.
        most: f64,
    },
    /// A wish that is no number or beyond what can be.
    #[error("{quantity} is {value}, expected {least} to {most}")]
    OutOfRange {
        /// Which wish, named as in [`Wanted`](super::Wanted).
        quantity: String,
        /// What it was.
        value: f64,
        /// The least that is possible.
        least: f64,
        /// The most that is possible.
        most: f64,
    },
}

impl From<BatchError> for PlanError {
    fn from(error: BatchError) -> Self {
        Self::Forecast(error.into())
    }
}
