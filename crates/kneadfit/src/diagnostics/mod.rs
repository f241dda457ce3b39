//! What a fit's residuals say: batch by batch, left out, and what the log leaves open.

mod batches;
mod misfit;
mod survey;
mod unknown;
mod warmth;

pub use batches::{
    BatchDiagnostics, BatchReadings, LOOKS_MISTYPED, LeftOutErrors, ReadingDiagnostics,
};
pub(crate) use batches::{LeftOutSums, Observed, ReadingScale, of_plain, of_posterior};
pub use misfit::disbelieved;
pub(crate) use misfit::{mostly_disbelieved, unlike_a_mixer};
pub(crate) use survey::Survey;
pub(crate) use unknown::{NEXT_TO_NOTHING, left_open};
pub use unknown::{Unknown, batch_that_tells};
