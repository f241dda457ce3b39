//! What is wrong with a log: where, what was found, what was expected, and what
//! to write instead. Fields, not prose; the prose is made of them in one place.

mod dress_text;
mod hints;
mod kind;
mod mends;
mod text;
mod words;

use std::sync::Arc;

use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

pub use crate::cell::Found;
use crate::mend::Mend;
pub(crate) use hints::is_it;
pub use kind::ProblemKind;

/// How much a problem matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Unlikely, but possible: the row is used, and it is said.
    Doubt,
    /// Impossible or unreadable: the row is set aside, or the whole file where
    /// the problem has no row.
    Error,
}

/// A data row in its file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Place {
    /// Line on which the row begins, as an editor counts: the first is 1.
    pub line: u64,
    /// Number of the data row: the first with something in it under the header is 1.
    pub row: u64,
}

/// A column of a file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ColumnRef {
    /// Its header, as written.
    pub name: Arc<str>,
    /// Its number from the left; the first is 1.
    pub number: usize,
    /// What it is called in a canonical log, in its own unit; as written where not known.
    #[serde(skip)]
    pub meaning: Arc<str>,
}

impl ColumnRef {
    /// The letters by which a spreadsheet calls it.
    ///
    /// # Examples
    ///
    /// ```
    /// let column = |number| kneadfit_log::ColumnRef {
    ///     name: "dough_c".into(),
    ///     number,
    ///     meaning: "dough_c".into(),
    /// };
    /// assert_eq!(column(1).letters(), "A");
    /// assert_eq!(column(26).letters(), "Z");
    /// assert_eq!(column(27).letters(), "AA");
    /// assert_eq!(column(703).letters(), "AAA");
    /// ```
    pub fn letters(&self) -> String {
        let mut rest = self.number;
        let mut letters = Vec::new();
        while rest > 0 {
            letters.push(char::from(b'A' + ((rest - 1) % 26) as u8));
            rest = (rest - 1) / 26;
        }
        letters.iter().rev().collect()
    }
}

/// One thing that is wrong, or doubtful, in a log.
///
/// `Display` renders it as a block of lines that a baker can act on; it
/// serializes with its fields and the same words.
///
/// # Examples
///
/// ```
/// use kneadfit_log::{ReadOptions, read_log};
///
/// let text = "batch,flour_kg,flour_c,water_kg,water_c,room_c,dough_c\n\
///             1,10,75,6.5,12,24,21\n";
/// let read = read_log("kitchen.csv", "spiral", text.as_bytes(), &ReadOptions::default());
/// assert_eq!(
///     read.problems[0].to_string(),
///     "kitchen.csv, line 2 (row 1), batch 1, column flour_c (3rd): error\n  \
///      found:    75\n  \
///      expected: a temperature of -30 to 50 °C, as there is flour in the batch\n  \
///      hint:     75 °F is 23.9 °C: write 23.9 if it was read in °F\n  \
///      so:       the row is set aside"
/// );
/// ```
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Problem {
    /// Whether the row is still used.
    pub severity: Severity,
    /// Name of the file, as the caller gave it.
    pub source: Arc<str>,
    /// The sheet of a workbook; `None`: the file is a text.
    pub sheet: Option<Arc<str>>,
    /// The data row; `None`: the problem is that of the whole file.
    pub place: Option<Place>,
    /// The batch as the row names it; `None`: not known or not of a row.
    pub batch: Option<Arc<str>>,
    /// The column; `None`: the problem is not that of one cell.
    pub column: Option<ColumnRef>,
    /// What the cell held; `None`: nothing, or it is not of one cell.
    pub found: Option<Found>,
    /// What it is.
    pub kind: ProblemKind,
}

impl Severity {
    /// The severity as a word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Error => "error",
            Self::Doubt => "doubt",
        }
    }
}

impl Problem {
    /// Where it lies, in words: the file and, where they are known, line, batch and column.
    pub fn whereabouts(&self) -> String {
        text::whereabouts(self)
    }

    /// What was found, in words: the cell, or what the row or file amounts to.
    pub fn found_in_words(&self) -> String {
        text::found(self)
    }

    /// What would have been right, in words.
    pub fn expected(&self) -> String {
        text::expected(self)
    }

    /// What to write instead, or where to look; `None`: nothing to add.
    pub fn hint(&self) -> Option<String> {
        hints::hint(self)
    }

    /// What the row most likely was to say, where that can be told: nothing is mended but in
    /// the log, by the baker. [`ReadOptions::with_mends`](crate::ReadOptions::with_mends)
    /// shows what would be.
    pub fn mend(&self) -> Option<Mend> {
        mends::mend(self)
    }

    /// The same in words.
    pub fn mend_in_words(&self) -> Option<String> {
        self.mend().map(|mend| mends::words(&mend, self))
    }

    /// What became of the row, the column or the file.
    pub fn consequence(&self) -> &'static str {
        text::consequence(self)
    }
}

impl Serialize for Problem {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut fields = serializer.serialize_struct("Problem", 15)?;
        fields.serialize_field("severity", &self.severity)?;
        fields.serialize_field("source", &self.source)?;
        fields.serialize_field("sheet", &self.sheet)?;
        fields.serialize_field("line", &self.place.map(|p| p.line))?;
        fields.serialize_field("row", &self.place.map(|p| p.row))?;
        fields.serialize_field("batch", &self.batch)?;
        fields.serialize_field("column", &self.column.as_ref().map(|c| &c.name))?;
        fields.serialize_field("column_number", &self.column.as_ref().map(|c| c.number))?;
        let letters = self.column.as_ref().filter(|_| self.sheet.is_some());
        fields.serialize_field("column_letters", &letters.map(ColumnRef::letters))?;
        fields.serialize_field("found", &self.found)?;
        fields.serialize_field("expected", &self.expected())?;
        fields.serialize_field("hint", &self.hint())?;
        fields.serialize_field("mend", &self.mend())?;
        fields.serialize_field("mend_in_words", &self.mend_in_words())?;
        fields.serialize_field("problem", &self.kind)?;
        fields.end()
    }
}
