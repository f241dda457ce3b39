//! Bytes to records, each with the line on which it begins.
//!
//! The loop is that of the csv crate, written out on csv-core for two reasons:
//! the crate's own positions point at the blank line *before* a record and lag
//! by one where lines end in CRLF, and it does not tell a quote that is never
//! closed from a cell that ends with the file. A baker needs both to find the row.

use std::io::{self, Read};

use csv_core::{ReadRecordResult, Reader, ReaderBuilder};

use crate::record::Record;

const CHUNK: usize = 64 * 1024;

/// A parser that does not stand at a text's beginning: a mark there is part of a cell.
pub(crate) fn parser_within(separator: u8) -> Reader {
    let mut parser = ReaderBuilder::new().delimiter(separator).build();
    // It takes the first bytes that it is ever given for the beginning.
    parser.read_record(b"\n", &mut [0; 4], &mut [0; 4]);
    parser
}

/// Cells and ends larger than this are given back after the record that needed them.
const KEPT_BYTES: usize = 1024 * 1024;

/// Reads records one after the other into the same scratch.
pub(crate) struct Records<R> {
    input: R,
    parser: Reader,
    buffer: Box<[u8]>,
    /// How many bytes were read before those in the buffer.
    passed: usize,
    at: usize,
    filled: usize,
    started: bool,
    ended: bool,
    line: u64,
    /// Whether the last byte taken ended a line.
    line_ended: bool,
    cells: Vec<u8>,
    ends: Vec<usize>,
}

impl<'a> Records<&'a [u8]> {
    /// Records of a piece of a text that begins on this line, not of its beginning.
    pub(crate) fn within(piece: &'a [u8], separator: u8, line: u64) -> Self {
        let records = Self::with(piece, parser_within(separator), CHUNK.min(piece.len()));
        Self { line, started: true, ..records }
    }
}

impl<R: Read> Records<R> {
    /// Records with this byte between their cells.
    pub(crate) fn new(input: R, separator: u8) -> Self {
        Self::with(input, ReaderBuilder::new().delimiter(separator).build(), CHUNK)
    }

    fn with(input: R, parser: Reader, buffer: usize) -> Self {
        Self {
            input,
            parser,
            buffer: vec![0; buffer].into_boxed_slice(),
            passed: 0,
            at: 0,
            filled: 0,
            started: false,
            ended: false,
            line: 1,
            line_ended: false,
            cells: vec![0; 1024],
            ends: vec![0; 64],
        }
    }

    /// The next record that is not an empty line; `None` at the end of the file.
    pub(crate) fn next(&mut self) -> io::Result<Option<Record<'_>>> {
        if !self.started {
            self.skip_mark()?;
        }
        if !self.skip_empty_lines()? {
            return Ok(None);
        }
        if self.cells.len() > KEPT_BYTES {
            self.cells = vec![0; 1024];
        }
        let (start, line) = (self.passed + self.at, self.line);
        self.parser.set_line(line);
        // Lines' ends that are ours and not the file's.
        let mut fed_lines = 0;
        let (mut written, mut ended, mut unclosed) = (0, 0, false);
        loop {
            if self.at == self.filled && !self.ended {
                self.fill()?;
            }
            // A line's end in place of the file's: where the parser takes it as text,
            // a quote is open. (A copy of the parser cannot be asked: csv-core's
            // `Clone` loses part of its tables.)
            let at_end = self.at == self.filled && !unclosed;
            let input = if at_end { b"\n" } else { &self.buffer[self.at..self.filled] };
            let (result, taken, out, cells) =
                self.parser.read_record(input, &mut self.cells[written..], &mut self.ends[ended..]);
            fed_lines += if at_end { taken as u64 } else { 0 };
            let taken = if at_end { 0 } else { taken };
            unclosed |= at_end && result == ReadRecordResult::InputEmpty;
            let bytes = &self.buffer[self.at..self.at + taken];
            if let Some(last) = bytes.last() {
                self.line_ended = *last == b'\n';
            }
            self.at += taken;
            written += out;
            ended += cells;
            match result {
                ReadRecordResult::InputEmpty => {}
                ReadRecordResult::OutputFull => self.cells.resize(self.cells.len() * 2, 0),
                ReadRecordResult::OutputEndsFull => self.ends.resize(self.ends.len() * 2, 0),
                ReadRecordResult::Record => {
                    self.line = self.parser.line() - fed_lines;
                    let last_line = self.line - u64::from(self.line_ended);
                    let (cells, ends) = (&self.cells[..written], &self.ends[..ended]);
                    let lines = (line, last_line);
                    return Ok(Some(Record::parsed(cells, ends, start, lines, unclosed)));
                }
                ReadRecordResult::End => return Ok(None),
            }
        }
    }

    /// How many bytes are taken, and how many are read.
    pub(crate) fn position(&self) -> (usize, usize) {
        (self.passed + self.at, self.passed + self.filled)
    }

    /// Lets go of what was read ahead, so that somebody else can go on with the input: on
    /// this line.
    pub(crate) fn hand_over(&mut self) -> u64 {
        (self.passed, self.at, self.filled) = (self.passed + self.at, 0, 0);
        self.line
    }

    /// Goes on with the input, on this line.
    pub(crate) fn take_back(&mut self, line: u64) {
        (self.line, self.ended) = (line, false);
    }

    pub(crate) fn input(&mut self) -> &mut R {
        &mut self.input
    }

    fn skip_mark(&mut self) -> io::Result<()> {
        self.started = true;
        while self.filled < 3 && !self.ended {
            self.fill()?;
        }
        if self.buffer[..self.filled].starts_with(b"\xEF\xBB\xBF") {
            self.at = 3;
        }
        Ok(())
    }

    /// Stops at the first byte of a record; `false` when there is none.
    fn skip_empty_lines(&mut self) -> io::Result<bool> {
        loop {
            while self.at < self.filled {
                match self.buffer[self.at] {
                    b'\n' => self.line += 1,
                    b'\r' => {}
                    _ => return Ok(true),
                }
                self.at += 1;
            }
            if self.ended {
                return Ok(false);
            }
            self.fill()?;
        }
    }

    /// Reads on behind what is there, from the buffer's start once all is taken.
    fn fill(&mut self) -> io::Result<()> {
        if self.at == self.filled {
            self.passed += self.filled;
            (self.at, self.filled) = (0, 0);
        }
        loop {
            match self.input.read(&mut self.buffer[self.filled..]) {
                Ok(0) => self.ended = true,
                Ok(more) => self.filled += more,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(error),
            }
            return Ok(());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hands out one byte a call, so that every boundary falls inside a chunk.
    struct Drip<'a>(&'a [u8]);

    impl Read for Drip<'_> {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            let Some((&first, rest)) = self.0.split_first() else { return Ok(0) };
            into[0] = first;
            self.0 = rest;
            Ok(1)
        }
    }

    fn lines_and_cells(text: &str) -> Vec<(u64, u64, Vec<String>)> {
        let mut records = Records::new(Drip(text.as_bytes()), b',');
        let mut seen = Vec::new();
        while let Some(record) = records.next().unwrap() {
            let cells = record.cells().map(|c| String::from_utf8_lossy(c).into_owned()).collect();
            seen.push((record.line, record.last_line, cells));
        }
        seen
    }

    #[test]
    fn lines_are_those_of_an_editor() {
        for text in [
            "\u{feff}a,b\n\n\n1,\"x\ny\"\n2,z\n",
            "a,b\r\n\r\n\r\n1,\"x\r\ny\"\r\n2,z",
            "\u{feff}a,b\r\n\n\r\n1,\"x\ny\"\r\n2,z\r\n\r\n",
        ] {
            let seen = lines_and_cells(text);
            let lines: Vec<_> = seen.iter().map(|(first, last, _)| (*first, *last)).collect();
            assert_eq!(lines, [(1, 1), (4, 5), (6, 6)], "{text:?}");
            assert_eq!(seen[0].2, ["a", "b"]);
            assert_eq!(seen[2].2, ["2", "z"]);
        }
    }

    #[test]
    fn an_open_quote_is_told_from_a_cell_that_ends_with_the_file() {
        for (text, expected) in
            [("a\n\"b", true), ("a\n\"b\"", false), ("a\nb", false), ("a\n\"b\n", true)]
        {
            let mut records = Records::new(text.as_bytes(), b',');
            records.next().unwrap().unwrap();
            assert_eq!(records.next().unwrap().unwrap().unclosed, expected, "{text:?}");
        }
    }

    #[test]
    fn a_cell_beyond_every_buffer_comes_whole() {
        let text = format!("a,b\n1,\"{}\"\n2,z\n", "x".repeat(3 * KEPT_BYTES));
        let mut records = Records::new(text.as_bytes(), b',');
        records.next().unwrap().unwrap();
        assert_eq!(records.next().unwrap().unwrap().cell(1).len(), 3 * KEPT_BYTES);
        assert_eq!(records.next().unwrap().unwrap().cell(1), b"z");
    }
}
