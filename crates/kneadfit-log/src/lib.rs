//! Batch logs as bakers keep them: a CSV or a workbook in, a
//! [`BatchLog`](kneadfit::batch::BatchLog) a machine out, and every row that is wrong named
//! with what to write instead.
//!
//! Nothing is guessed in silence and nothing is repaired: a row is used as it
//! stands, used with a doubt said, or set aside with the reason.
#![warn(missing_docs)]

mod assemble;
mod batches;
mod blank;
mod cell;
mod charges;
mod clock;
mod column_list;
mod column_names;
mod columns;
mod dates;
mod decimal;
mod dialect;
mod dressed;
mod encoding;
mod equals;
mod example;
mod finish;
mod firsts;
mod formula;
mod gap_finder;
mod gaps;
mod guess;
mod harmless;
mod header;
mod hunt;
mod ice;
mod input;
mod intern;
mod later;
mod layout;
pub mod limits;
mod lines;
mod look;
mod machines;
mod mend;
mod months;
mod names;
mod options;
mod other_scale;
mod pieces;
mod plausible;
mod problem;
mod read;
mod record;
mod records;
mod result;
mod row;
mod sheet;
mod sheet_cell;
mod slips;
mod source;
mod stages;
pub mod summary;
mod totals;
mod typed_times;
mod unit;
mod units_row;
mod untold;
mod whole_degrees;
mod write;

pub use blank::{BlankLog, BlankLogError, Extent};
pub use column_list::ColumnNamesError;
pub use column_names::ColumnNames;
pub use columns::{MINUTES_PREFIX, SECONDS_PREFIX};
pub use dates::DateOrder;
pub use dialect::{Dialect, Note};
pub use encoding::Encoding;
pub use example::EXAMPLE_BATCH;
pub use gaps::{Gaps, TotalMinutes};
pub use guess::{ColumnGuess, ColumnGuesses, Sureness, guess_columns};
pub use harmless::harmless;
pub use hunt::{MOST_BATCHES, hunt};
pub use mend::{Mend, MendedCell, Slip};
pub use options::{Purpose, ReadOptions};
pub use problem::{ColumnRef, Found, Place, Problem, ProblemKind, Severity};
pub use read::{LogReader, read_log};
pub use result::{LeftOut, LogRead, MachineLog, Outcome, RowRef};
pub use stages::{StageScale, StageScaleError};
pub use summary::Summary;
pub use write::{WriteError, write_logs, write_read};
