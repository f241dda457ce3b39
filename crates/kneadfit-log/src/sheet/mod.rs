//! Sheets of a workbook as records: .xlsx, .xls and .ods, their stored values and no formula.
//!
//! A workbook is first walked by the guards, which refuse what would take more memory than a
//! log may; calamine reads it then.

mod cells;
mod choose;
mod grid;
mod marks;
mod merged;
mod ods;
mod workbook;
mod xls;
mod zip_guard;

pub(crate) use choose::{Chosen, choose};
pub(crate) use grid::Grid;
pub(crate) use merged::Spread;

use crate::problem::ProblemKind;

/// What the bytes of a file begin with.
const ZIP: &[u8] = b"PK\x03\x04";
const COMPOUND: &[u8] = b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1";

/// Whether these are the first bytes of a workbook.
pub(crate) fn is_workbook(head: &[u8]) -> bool {
    head.starts_with(ZIP) || head.starts_with(COMPOUND)
}

/// Why a workbook gives no sheet.
#[derive(Debug)]
pub(crate) enum Refused {
    /// Larger than what is read.
    Large {
        what: &'static str,
        most: u64,
    },
    /// Not to be read at all, in the words of whoever tried.
    Broken(String),
    NoSuchSheet {
        wanted: String,
        sheets: Vec<String>,
    },
}

impl From<Refused> for ProblemKind {
    fn from(refused: Refused) -> Self {
        match refused {
            Refused::Large { what, most } => Self::TooLarge { what, most },
            Refused::Broken(reason) => Self::NoWorkbook { reason },
            Refused::NoSuchSheet { wanted, sheets } => Self::NoSuchSheet { wanted, sheets },
        }
    }
}

/// Why a workbook with a password is not read.
pub(crate) const LOCKED: &str = "the workbook is locked with a password";
/// Why a workbook without a filled cell is not read.
pub(crate) const BARE: &str = "no sheet has anything in it";

pub(super) fn broken(reason: impl std::fmt::Display) -> Refused {
    Refused::Broken(format!("the workbook is damaged: {reason}"))
}
