//! One record: its cells, and where it stands.

use std::ops::Range;

use crate::cell::as_text;
use crate::sheet_cell::CellKind;

/// One record, borrowed from the reader's scratch.
#[derive(Clone, Copy)]
pub(crate) struct Record<'a> {
    bytes: &'a [u8],
    /// Where each cell ends in `bytes`.
    ends: &'a [usize],
    /// How many bytes stand between a cell and the next.
    gap: usize,
    /// The same bytes, where they are known to be UTF-8.
    text: Option<&'a str>,
    /// Where it begins among the bytes of its text or piece.
    pub(crate) start: usize,
    /// Line of the file on which it begins, counted from 1.
    pub(crate) line: u64,
    /// Line on which it ends.
    pub(crate) last_line: u64,
    /// Whether the file ended inside a quoted cell of this record.
    pub(crate) unclosed: bool,
    /// What the cells of a sheet are; empty: all are text.
    kinds: &'a [CellKind],
}

impl<'a> Record<'a> {
    /// A record whose cells were taken out of their quotes, between these lines.
    pub(crate) fn parsed(
        bytes: &'a [u8],
        ends: &'a [usize],
        start: usize,
        (line, last_line): (u64, u64),
        unclosed: bool,
    ) -> Self {
        Self { bytes, ends, gap: 0, text: None, start, line, last_line, unclosed, kinds: &[] }
    }

    /// The record of a sheet's row. `ends` says where each cell ends in `bytes`.
    pub(crate) fn of_sheet(
        bytes: &'a [u8],
        ends: &'a [usize],
        kinds: &'a [CellKind],
        line: u64,
    ) -> Self {
        Self { kinds, ..Self::parsed(bytes, ends, 0, (line, line), false) }
    }

    /// The record of a line without quotes, as it stands in the text; `text`: the same
    /// bytes, where they are UTF-8.
    pub(crate) fn of_line(
        bytes: &'a [u8],
        text: Option<&'a str>,
        ends: &'a [usize],
        (start, line): (usize, u64),
    ) -> Self {
        let last_line = line;
        Self { bytes, ends, gap: 1, text, start, line, last_line, unclosed: false, kinds: &[] }
    }

    /// The same record with other cells.
    pub(crate) fn with_cells(
        self,
        bytes: &'a [u8],
        ends: &'a [usize],
        kinds: &'a [CellKind],
    ) -> Self {
        Self { bytes, ends, kinds, gap: 0, text: None, ..self }
    }

    /// What a cell is, where a sheet says so.
    pub(crate) fn kind(&self, index: usize) -> CellKind {
        self.kinds.get(index).copied().unwrap_or_default()
    }

    /// How many cells it has.
    pub(crate) fn len(&self) -> usize {
        self.ends.len()
    }

    /// The cells in order.
    pub(crate) fn cells(&self) -> impl Iterator<Item = &'a [u8]> {
        let bytes = self.bytes;
        self.ranges().map(move |range| &bytes[range])
    }

    /// Where the cells stand.
    pub(crate) fn ranges(&self) -> impl Iterator<Item = Range<usize>> {
        let (mut start, gap) = (0, self.gap);
        self.ends.iter().map(move |&end| {
            let range = start..end;
            start = end + gap;
            range
        })
    }

    /// The cell that stands there.
    pub(crate) fn cell_at(&self, range: Range<usize>) -> &'a [u8] {
        &self.bytes[range]
    }

    /// The same as text; `None`: it is not UTF-8.
    pub(crate) fn text_at(&self, range: Range<usize>) -> Option<&'a str> {
        match self.text {
            Some(text) => text.get(range),
            None => as_text(self.cell_at(range)),
        }
    }

    /// One cell; empty past the last.
    pub(crate) fn cell(&self, index: usize) -> &'a [u8] {
        self.range(index).map_or(&[], |range| &self.bytes[range])
    }

    /// The same as text; `None`: it is not UTF-8.
    pub(crate) fn text(&self, index: usize) -> Option<&'a str> {
        self.range(index).map_or(Some(""), |range| self.text_at(range))
    }

    fn range(&self, index: usize) -> Option<Range<usize>> {
        let before = index.checked_sub(1).and_then(|before| self.ends.get(before));
        let start = before.map_or(0, |end| end + self.gap);
        self.ends.get(index).map(|&end| start..end)
    }

    /// Whether nothing is written in any cell.
    pub(crate) fn is_blank(&self) -> bool {
        self.cells().all(|cell| cell.iter().all(u8::is_ascii_whitespace))
    }
}
