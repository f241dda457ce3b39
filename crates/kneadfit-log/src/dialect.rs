//! How a file was read: what was found out about it by itself, so that nothing is guessed
//! in silence.

use std::fmt;
use std::sync::Arc;

use serde::{Serialize, Serializer};

use crate::dates::DateOrder;
use crate::encoding::Encoding;
use crate::look::order_in_words;

/// How one file of a log was read.
///
/// # Examples
///
/// ```
/// use kneadfit_log::{ReadOptions, read_log};
///
/// let text = "Our log\nbatch;date;flour_kg;flour_c;water_kg;water_c;room_c;dough_c\n\
///             1;13/04/2026;10;21;6,5;12;24;19,8\n";
/// let read = read_log("april.csv", "spiral", text.as_bytes(), &ReadOptions::default());
/// let said: Vec<String> = read.dialects[0].notes.iter().map(|note| note.to_string()).collect();
/// assert_eq!(said, [
///     "columns are parted by a semicolon",
///     "line 1 above the header is not read",
///     "a decimal comma in water_kg, dough_c",
///     "dates have the day first",
/// ]);
/// ```
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Dialect {
    /// The sheet that was read; `None`: the file is a text.
    pub sheet: Option<Arc<str>>,
    /// What differs from a canonical log, in a fixed order; empty: nothing.
    pub notes: Vec<Note>,
}

/// One thing that was found out about a file.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Note {
    /// Sheets of a workbook that have something in them and are not read, where none was
    /// asked for.
    OtherSheets(Vec<Arc<str>>),
    /// Another encoding than UTF-8.
    Encoding(Encoding),
    /// Something else than a comma parts the columns.
    Separator(char),
    /// A row of units under the header, by its line.
    Units {
        /// The line.
        line: u64,
        /// Whether it is a row of a sheet.
        sheet: bool,
    },
    /// Rows that repeat the header, by their lines.
    Repeats {
        /// The lines.
        lines: Vec<u64>,
        /// Whether they are rows of a sheet.
        sheet: bool,
    },
    /// Rows above the header, by their lines.
    Above {
        /// The lines.
        lines: Vec<u64>,
        /// Whether they are rows of a sheet.
        sheet: bool,
    },
    /// Columns with a decimal comma, by their headers.
    DecimalComma(Vec<Arc<str>>),
    /// Columns of a sheet in which merged cells count for all of their rows, by their headers.
    Merged(Vec<Arc<str>>),
    /// Times of a sheet of whole minutes, hours among them.
    Times {
        /// The column's header.
        column: Arc<str>,
        /// Whether they are read as minutes and seconds; else as hours and minutes.
        typed: bool,
    },
    /// The order of day and month in dates that need one.
    Dates(DateOrder),
    /// Example rows of a log to fill in, by their lines.
    Examples {
        /// The lines.
        lines: Vec<u64>,
        /// Whether they are rows of a sheet.
        sheet: bool,
    },
    /// Rows of totals, by their lines: they are no batches.
    Totals {
        /// The lines.
        lines: Vec<u64>,
        /// Whether they are rows of a sheet.
        sheet: bool,
    },
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OtherSheets(sheets) => {
                let (word, are) = if sheets.len() == 1 { ("", "is") } else { ("s", "are") };
                write!(f, "the sheet{word} {} {are} not read", named(sheets))
            }
            Self::Encoding(encoding) => write!(f, "the text is in {encoding}"),
            Self::Separator(separator) => {
                let name = match separator {
                    ';' => "a semicolon",
                    '\t' => "a tab",
                    '|' => "a bar",
                    _ => "a comma",
                };
                write!(f, "columns are parted by {name}")
            }
            Self::Above { lines, sheet } => {
                write!(f, "{} above the header {} not read", places(lines, *sheet), are(lines))
            }
            Self::Units { line, sheet } => {
                write!(f, "{} holds the units and no batch", places(&[*line], *sheet))
            }
            Self::Repeats { lines, sheet } => {
                let repeat = if lines.len() == 1 { "repeats" } else { "repeat" };
                write!(
                    f,
                    "{} {repeat} the header and {} not read",
                    places(lines, *sheet),
                    are(lines)
                )
            }
            Self::DecimalComma(columns) => write!(f, "a decimal comma in {}", named(columns)),
            Self::Merged(columns) => {
                write!(f, "merged cells of {} count for all of their rows", named(columns))
            }
            Self::Times { column, typed } => {
                let column = crate::cell::Found::new(column.as_bytes());
                let read = if *typed { "minutes:seconds" } else { "hours:minutes" };
                write!(f, "times of the column {column} are read as {read}")
            }
            Self::Dates(order) => write!(f, "dates have {}", order_in_words(*order)),
            Self::Examples { lines, sheet } => {
                let kind = if lines.len() == 1 { "an example" } else { "examples" };
                write!(f, "{} {} {kind} and no batch", places(lines, *sheet), are(lines))
            }
            Self::Totals { lines, sheet } => {
                let kind = if lines.len() == 1 { "a row of totals" } else { "rows of totals" };
                write!(f, "{} {} {kind} and no batch", places(lines, *sheet), are(lines))
            }
        }
    }
}

impl Serialize for Note {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

fn named(columns: &[Arc<str>]) -> String {
    const MOST: usize = 24;
    let shown = columns.iter().take(MOST);
    let names = shown.map(|name| crate::cell::Found::new(name.as_bytes()).to_string());
    let more = if columns.len() > MOST { " and more" } else { "" };
    format!("{}{more}", names.collect::<Vec<_>>().join(", "))
}

fn are(lines: &[u64]) -> &'static str {
    if lines.len() == 1 { "is" } else { "are" }
}

fn places(lines: &[u64], sheet: bool) -> String {
    const MOST: usize = 6;
    let word = if sheet { "row" } else { "line" };
    let plural = if lines.len() == 1 { "" } else { "s" };
    let shown: Vec<String> = lines.iter().take(MOST).map(u64::to_string).collect();
    let more = if lines.len() > MOST { " and more" } else { "" };
    format!("{word}{plural} {}{more}", shown.join(", "))
}
