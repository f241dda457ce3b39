//! Why a log cannot be written.

use std::sync::Arc;

use thiserror::Error;

/// Why a log cannot be written so that it reads back.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum WriteError {
    /// The output refused.
    #[error("cannot write the log")]
    Output(#[from] csv::Error),
    /// A name or day that the reader would not take, or not take as it is.
    #[error("{column} of batch {batch:?} cannot be {text:?} in a log")]
    Text {
        /// The batch.
        batch: Arc<str>,
        /// The column.
        column: &'static str,
        /// What would have to be written.
        text: Arc<str>,
    },
    /// A speed without a readable name.
    #[error("machine {machine:?} has a speed {speed:?}, which cannot head a column")]
    SpeedName {
        /// The machine.
        machine: Arc<str>,
        /// The speed.
        speed: Arc<str>,
    },
    /// Two machines use the same speeds in different orders; columns have one.
    #[error("machine {machine:?} uses {speed:?} in another order than a machine before")]
    SpeedOrder {
        /// The machine.
        machine: Arc<str>,
        /// The speed.
        speed: Arc<str>,
    },
    /// A phase at a speed that the log does not list.
    #[error("batch {batch:?}: {speed:?} is not a speed of its machine")]
    UnknownSpeed {
        /// The batch.
        batch: Arc<str>,
        /// The speed.
        speed: Arc<str>,
    },
    /// Two batches of one machine under one name would read as one.
    #[error("machine {machine:?} has two batches {batch:?}")]
    BatchTwice {
        /// The machine.
        machine: Arc<str>,
        /// The batch.
        batch: Arc<str>,
    },
    /// A log has one column a material.
    #[error("batch {batch:?} has two ingredients that would stand in {column}")]
    IngredientTwice {
        /// The batch.
        batch: Arc<str>,
        /// The column.
        column: &'static str,
    },
    /// Salt, sugar and fat have no column for a temperature: they are at the room's.
    #[error("batch {batch:?}: {column} is at {temperature_c} °C, and a log cannot say so")]
    NotAtRoomTemperature {
        /// The batch.
        batch: Arc<str>,
        /// The column of its mass.
        column: &'static str,
        /// Its temperature, °C.
        temperature_c: f64,
    },
    /// A batch without a stage has no row.
    #[error("batch {batch:?} has no stage, and so no row")]
    NoStage {
        /// The batch.
        batch: Arc<str>,
    },
}
