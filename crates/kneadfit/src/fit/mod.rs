//! The fit: whitened residuals, the solver and its outcome.
//!
//! Residuals are predicted − observed everywhere.

mod development;
mod gram;
mod heat;
mod linearisation;
mod logged;
mod mode;
pub mod solver;
mod whitening;

pub use development::DevelopmentReadings;
pub(crate) use gram::Gram;
pub use heat::HeatReadings;
pub use linearisation::{BatchRows, Linearisation, Readings};
pub(crate) use linearisation::{LinearisationPiece, PIECE};
pub(crate) use logged::Logged;
pub(crate) use mode::{Coordinate, ProblemRoom, WhitenedProblem};
pub use solver::TerminationReason;
pub use whitening::MistypedRows;
pub(crate) use whitening::{LN_TWO_PI, Suspicion, SuspicionPiece, Whitener};

use thiserror::Error;

/// Why there is no fit at all.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum FitError {
    /// The model or its derivatives have no finite value on the way.
    #[error("the model has no finite value for these batches")]
    NotFinite,
    /// Nothing was read.
    #[error("no batch has a reading to fit")]
    NoReadings,
}
