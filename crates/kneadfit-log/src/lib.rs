//! Batch logs as bakers keep them.
#![warn(missing_docs)]
