//! The example row of a log to fill in: how it is marked, and known again.

use crate::cell::as_text;
use crate::names::is_blank;
use crate::record::Record;

/// What stands under `batch` in a row that is there as an example: such a row is no batch.
///
/// # Examples
///
/// ```
/// use kneadfit_log::{EXAMPLE_BATCH, ReadOptions, read_log};
///
/// let text = format!(
///     "batch,flour_kg,flour_c,water_kg,water_c,room_c,dough_c\n\
///      {EXAMPLE_BATCH},10,21,6.5,12,24,19.8\n\
///      1,10,20,6.5,12,24,19.5\n"
/// );
/// let read = read_log("kitchen.csv", "spiral", text.as_bytes(), &ReadOptions::default());
/// assert_eq!(read.rows_read(), 1);
/// assert_eq!(read.dialects[0].notes[0].to_string(), "line 2 is an example and no batch");
/// ```
pub const EXAMPLE_BATCH: &str = "example (not read)";

/// Whether a batch's name marks an example; capitals and the blanks around it do not matter.
pub(crate) fn is_example(batch: &str) -> bool {
    // Most names are shorter.
    batch.len() >= EXAMPLE_BATCH.len()
        && batch.trim_matches(is_blank).eq_ignore_ascii_case(EXAMPLE_BATCH)
}

/// Whether a row is an example; `batch`: the column of the batch.
pub(crate) fn is_example_row(record: &Record<'_>, batch: Option<usize>) -> bool {
    let name = batch.and_then(|index| as_text(record.cell(index)));
    !record.unclosed && name.is_some_and(is_example)
}
