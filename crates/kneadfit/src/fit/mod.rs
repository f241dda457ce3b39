//! The fit: whitened residuals, the solver and its outcome.

mod development;
mod gram;
mod heat;
mod linearisation;
mod mode;
mod whitening;

pub use development::DevelopmentReadings;
pub use gram::Gram;
pub use heat::HeatReadings;
pub use linearisation::{BatchRows, Linearisation, Readings};
pub use mode::Tmp as TerminationReason;
pub(crate) use mode::find_mode;
pub use whitening::{LN_TWO_PI, MistypedRows, Suspicion, Whitener, ln_normal};

use thiserror::Error;

/// Why there is no fit at all.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum FitError {
    /// The model has no finite value where the fit starts.
    #[error("the model has no finite value at the start of the fit")]
    NotFinite,
    /// Nothing was read.
    #[error("no batch has a reading to fit")]
    NoReadings,
}
