//! A text cut where records end, so that each piece can be read by itself.

use csv_core::{ReadRecordResult, Reader};
use memchr::{memchr, memchr_iter, memrchr2};

use crate::input::{Bytes, Input};
use crate::records::parser_within;

/// A piece of a text: whole records, and where they stand.
pub(crate) struct Piece {
    pub(crate) bytes: Bytes,
    /// Line of the file on which it begins, counted from 1.
    pub(crate) line: u64,
}

/// Cuts pieces off an input, which stands where a record begins.
pub(crate) struct Cutter<'i, 'a> {
    input: &'i mut Input<'a>,
    separator: u8,
    size: usize,
    line: u64,
}

impl<'i, 'a> Cutter<'i, 'a> {
    /// Pieces of about `size` bytes, the first of which begins on this line.
    pub(crate) fn new(input: &'i mut Input<'a>, separator: u8, size: usize, line: u64) -> Self {
        Self { input, separator, size, line }
    }

    /// The line on which the next piece begins.
    pub(crate) fn line(&self) -> u64 {
        self.line
    }

    /// How many pieces are left of what is in memory.
    pub(crate) fn left_in_memory(&self) -> usize {
        let bytes: usize = self.input.ahead.iter().map(|bytes| bytes.len()).sum();
        bytes.div_ceil(self.size)
    }

    pub(crate) fn separator(&self) -> u8 {
        self.separator
    }

    /// The next piece; `None`: the text ends, or the stream broke off. Then what is left of
    /// the input is less than a record.
    pub(crate) fn next(&mut self) -> Option<Piece> {
        let bytes = self.cut_off_front().or_else(|| self.gather())?;
        let line = self.line;
        self.line += memchr_iter(b'\n', &bytes).count() as u64;
        Some(Piece { bytes, line })
    }

    /// A piece of what is in memory as it is.
    fn cut_off_front(&mut self) -> Option<Bytes> {
        let front = self.input.ahead.front_mut().filter(|front| front.len() >= self.size)?;
        let end = Ends::new(self.separator).last_in(&front[..self.size])?;
        Some(front.split_to(end))
    }

    /// A piece that is read, longer where a record is.
    fn gather(&mut self) -> Option<Bytes> {
        let mut bytes = Vec::with_capacity(self.size);
        let mut ends = Ends::new(self.separator);
        let mut wanted = self.size;
        let end = loop {
            let more = self.input.gather(&mut bytes, wanted);
            match ends.last_in(&bytes) {
                _ if !more && !self.input.has_failed() => break bytes.len(),
                Some(end) => break end,
                None if !more => break 0,
                None => wanted *= 2,
            }
        };
        let mut rest = Bytes::from(bytes.into(), 0);
        let piece = rest.split_to(end);
        if !rest.is_empty() {
            self.input.ahead.push_front(rest);
        }
        (end > 0).then_some(piece)
    }

    /// Gives a piece back, and with it all that was cut after it, in the order of the text.
    pub(crate) fn give_back(&mut self, pieces: impl DoubleEndedIterator<Item = Bytes>) {
        for bytes in pieces.rev() {
            self.input.ahead.push_front(bytes);
        }
    }
}

/// Finds where records end in a text that grows.
struct Ends {
    separator: u8,
    /// Made where there is a quote: its tables take as long as some hundred rows.
    parser: Option<Box<Reader>>,
    /// How far it has come.
    parsed: usize,
    /// The end of the last whole record that it met.
    last: Option<usize>,
}

impl Ends {
    fn new(separator: u8) -> Self {
        Self { separator, parser: None, parsed: 0, last: None }
    }

    /// The end of the last record that ends in `bytes`; they begin as they did before.
    fn last_in(&mut self, bytes: &[u8]) -> Option<usize> {
        if self.parser.is_none() && memchr(b'"', bytes).is_none() {
            return memrchr2(b'\n', b'\r', bytes).map(|at| at + 1);
        }
        let (mut cells, mut ends) = ([0; 1024], [0; 64]);
        let parser = self.parser.get_or_insert_with(|| parser_within(self.separator).into());
        while self.parsed < bytes.len() {
            let (result, taken, ..) =
                parser.read_record(&bytes[self.parsed..], &mut cells, &mut ends);
            self.parsed += taken;
            if result == ReadRecordResult::Record {
                self.last = Some(self.parsed);
            }
        }
        self.last
    }
}
