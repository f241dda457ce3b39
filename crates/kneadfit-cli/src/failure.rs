//! How a command ends, and what the exit code says.

use std::fmt;
use std::process::ExitCode;

/// How a command ended, where it ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// All was done.
    Done,
    /// A machine has no usable fit.
    NoFit,
    /// Something in the input is at fault; what could be done without it is done.
    BadInput,
}

impl From<Ended> for ExitCode {
    fn from(ended: Ended) -> Self {
        match ended {
            Ended::Done => Self::SUCCESS,
            Ended::NoFit => Self::from(1),
            Ended::BadInput => Self::from(2),
        }
    }
}

/// That whoever read standard output has gone: there is nobody left to tell.
#[derive(Debug)]
pub struct ReaderGone;

impl fmt::Display for ReaderGone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("nobody reads the output any more")
    }
}

impl std::error::Error for ReaderGone {}
