//! What a cell was most likely meant to hold, and reading a log as if it did.

use std::sync::Arc;

use serde::Serialize;

use crate::record::Record;
use crate::sheet_cell::CellKind;

/// A cell to be read as if it held another number.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MendedCell {
    /// Name of the file, as the caller gave it.
    pub source: Arc<str>,
    /// Line of the file on which its row begins, from 1.
    pub line: u64,
    /// Number of its column from the left; the first is 1.
    pub column: usize,
    /// What the column is called in a canonical log.
    pub name: Arc<str>,
    /// The number, in the column's unit.
    pub value: f64,
}

/// How a cell most likely came to be wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Slip {
    /// °F in a column of °C.
    Fahrenheit,
    /// °C in a column of °F.
    Celsius,
    /// Grams in a column of kilograms, pounds or ounces.
    Grams,
    /// Kilograms in columns of grams.
    Kilograms,
    /// Pounds in columns of ounces.
    Pounds,
    /// Ounces in columns of pounds.
    Ounces,
    /// Seconds in a column of minutes.
    Seconds,
    /// Per cent in a column of parts of 1.
    PerCent,
    /// A part of a day in a column of minutes.
    DayPart,
    /// Minutes and seconds that a spreadsheet took for hours and minutes.
    HoursForMinutes,
    /// A number that a spreadsheet took for a date.
    MadeADate,
    /// A number with a unit, a word or a decimal comma.
    Spelling,
    /// The masses of flour and water, each in the other's place.
    FlourAndWaterSwapped,
    /// The temperatures of flour and water, each in the other's place.
    FlourAndWaterTemperaturesSwapped,
    /// The temperatures of room and dough, each in the other's place.
    RoomAndDoughSwapped,
}

/// What would make a row right, if it is what was meant: the baker decides, in the log.
///
/// Made by [`Problem::mend`](crate::Problem::mend).
///
/// # Examples
///
/// ```
/// use kneadfit_log::{ReadOptions, Slip, read_log};
///
/// let text = "batch,flour_kg,flour_c,water_kg,water_c,room_c,dough_c\n\
///             1,10,75,6.5,12,24,21\n";
/// let read = |options| read_log("kitchen.csv", "spiral", text.as_bytes(), &options);
/// let mend = read(ReadOptions::default()).problems[0].mend().unwrap();
/// assert_eq!((mend.slip, mend.cells[0].value), (Slip::Fahrenheit, 23.9));
///
/// let mended = read(ReadOptions::default().with_mends(mend.cells));
/// assert_eq!(mended.rows_used(), 1);
/// ```
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Mend {
    /// How it came to be wrong.
    pub slip: Slip,
    /// What the cells would hold.
    pub cells: Vec<MendedCell>,
}

/// A record with some of its cells mended.
#[derive(Default)]
pub(crate) struct MendedRecord {
    bytes: Vec<u8>,
    ends: Vec<usize>,
    kinds: Vec<CellKind>,
}

impl MendedRecord {
    /// The record as `mends` have it, or as it is.
    pub(crate) fn of<'a>(
        &'a mut self,
        record: Record<'a>,
        source: &str,
        mends: &[MendedCell],
    ) -> Record<'a> {
        let of_row = |m: &&MendedCell| m.line == record.line && *m.source == *source;
        if !mends.iter().any(|m| of_row(&m)) {
            return record;
        }
        self.bytes.clear();
        self.ends.clear();
        self.kinds.clear();
        for (index, cell) in record.cells().enumerate() {
            let mend = mends.iter().filter(of_row).rfind(|m| m.column == index + 1);
            match mend {
                Some(mend) => self.bytes.extend(mend.value.to_string().bytes()),
                None => self.bytes.extend(cell),
            }
            // A number as it is, however the column's others are written.
            self.kinds.push(mend.map_or(record.kind(index), |_| CellKind::Number));
            self.ends.push(self.bytes.len());
        }
        record.with_cells(&self.bytes, &self.ends, &self.kinds)
    }
}
