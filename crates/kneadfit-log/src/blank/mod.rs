//! An empty log to fill in: its columns, what they ask for, and an example row.

mod columns;
mod sheet;

use std::collections::HashSet;

use kneadfit::charge::REST;
use thiserror::Error;

use crate::names::is_speed_name;
use columns::{BlankColumn, Example};

/// Which columns an empty log has.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Extent {
    /// Those that most doughs need: flour, water, ice, salt, room, bowl, minutes, readings.
    #[default]
    Usual,
    /// All that a log can have.
    Full,
}

/// Why there is no such empty log.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum BlankLogError {
    /// No speed: a log of batches that nobody mixed.
    #[error("name one speed at least")]
    NoSpeed,
    /// A speed without a readable name.
    #[error("{speed:?} cannot head a column of minutes")]
    SpeedName {
        /// The speed.
        speed: String,
    },
    /// A speed that has its column anyway, or has two.
    #[error("{speed:?} has a column of its own already")]
    SpeedTwice {
        /// The speed.
        speed: String,
    },
    /// The workbook cannot be made.
    #[error("cannot make the workbook")]
    Workbook(#[from] rust_xlsxwriter::XlsxError),
}

/// An empty log to fill in, by hand or at a screen.
///
/// Its first row is an example, marked by its batch, [`EXAMPLE_BATCH`](crate::EXAMPLE_BATCH):
/// the reader leaves it out and says so, whether it is deleted or not.
///
/// # Examples
///
/// ```
/// use kneadfit_log::{BlankLog, Extent, ProblemKind, ReadOptions, read_log};
///
/// let blank = BlankLog::new(["low", "high"], Extent::Usual)?;
/// let text = blank.to_csv();
/// assert!(text.starts_with("batch,date,flour,flour_kg,flour_c,"));
/// let read = read_log("spiral.csv", "spiral", text.as_bytes(), &ReadOptions::default());
/// assert_eq!(read.problems[0].kind, ProblemKind::NoRows);
/// # Ok::<(), kneadfit_log::BlankLogError>(())
/// ```
#[derive(Clone, Debug)]
pub struct BlankLog {
    columns: Vec<BlankColumn>,
}

impl BlankLog {
    /// An empty log for a machine with these speeds, in their order.
    ///
    /// # Errors
    ///
    /// No speed, or one that cannot head a column, as a [`BlankLogError`].
    pub fn new<S: AsRef<str>>(
        speeds: impl IntoIterator<Item = S>,
        extent: Extent,
    ) -> Result<Self, BlankLogError> {
        let mut seen = HashSet::from([REST.to_owned()]);
        let mut named = Vec::new();
        for speed in speeds {
            let speed = speed.as_ref().to_owned();
            if !is_speed_name(&speed) {
                return Err(BlankLogError::SpeedName { speed });
            }
            if !seen.insert(speed.clone()) {
                return Err(BlankLogError::SpeedTwice { speed });
            }
            named.push(speed);
        }
        if named.is_empty() {
            return Err(BlankLogError::NoSpeed);
        }
        Ok(Self { columns: columns::of(&named, extent) })
    }

    /// The log as CSV: the header and the example.
    pub fn to_csv(&self) -> String {
        let quoted = |text: &str| match text.contains([',', '"']) {
            true => format!("\"{}\"", text.replace('"', "\"\"")),
            false => text.to_owned(),
        };
        let header: Vec<String> = self.columns.iter().map(|column| quoted(&column.name)).collect();
        let example: Vec<String> = self
            .columns
            .iter()
            .map(|column| match &column.example {
                Example::Blank => String::new(),
                Example::Text(text) => quoted(text),
                Example::Number(number) => number.to_string(),
                Example::Day(day) => day.to_string(),
            })
            .collect();
        format!("{}\n{}\n", header.join(","), example.join(","))
    }

    /// The log as a workbook in the form .xlsx.
    ///
    /// Every header has a note; every cell takes what the reader takes, and asks back where
    /// it would not; empty, the sheet prints as one page, landscape. The same speeds give the same
    /// bytes.
    ///
    /// # Errors
    ///
    /// The workbook cannot be made, as a [`BlankLogError`].
    pub fn to_xlsx(&self) -> Result<Vec<u8>, BlankLogError> {
        Ok(sheet::workbook(&self.columns)?)
    }
}
