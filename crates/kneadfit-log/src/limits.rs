//! How much of a file is read: beyond these it is refused, and said, before memory is spent.
//!
//! A text is read as a stream and has no limit but that of its columns: what is kept of it grows with its
//! rows. A workbook must be in memory as a whole, and unpacked; a few kilobytes can claim
//! gigabytes there.

/// Of a text, how much is looked at to find out how it is written, bytes. A text up to this
/// long is judged as a whole; of a longer one the beginning decides.
pub const LOOKED_AT_BYTES: usize = 8 * 1024 * 1024;

/// Of a text, how much is looked at to find the header and what parts the columns, bytes.
pub const HEADER_WITHIN_BYTES: usize = 64 * 1024;

/// The row of a header at the latest, blank ones not counted.
pub const HEADER_WITHIN_ROWS: usize = 30;

/// A workbook's size as a file, bytes.
pub const WORKBOOK_BYTES: u64 = 64 * 1024 * 1024;

/// A workbook's parts, all together, unpacked, bytes.
pub const UNPACKED_BYTES: u64 = 256 * 1024 * 1024;

/// Parts of a workbook: sheets, styles, pictures.
pub const PARTS: usize = 10_000;

/// Tags in one part of a workbook: a filled cell takes four.
pub const TAGS: u64 = 8_000_000;

/// Tags within tags.
pub const TAG_DEPTH: usize = 256;

/// The last column that may hold something, of a text or a sheet: a log has some twenty.
pub const SHEET_COLUMNS: usize = 1024;

/// What a text has too many of, in words.
pub(crate) const COLUMNS_OF_A_TEXT: &str = "columns of a text";

/// The last row that may hold something: what the formats themselves allow.
pub const SHEET_ROWS: usize = 1_048_576;

/// Cells in the block from the first filled cell to the last, blank ones among them; in an
/// .xls or .ods, which are read as a whole, those of all sheets together.
pub const SHEET_CELLS: usize = 4_000_000;

/// Merged cells of one sheet; and what they cover are no more than its cells.
pub const MERGED_CELLS: usize = 100_000;

/// Blanks that one cell of an .ods may ask for in a row.
pub(crate) const BLANKS: u64 = 32_767;
