//! Records of a text without a quote: each is a line, its cells stand in it as they are.

use crate::records::Record;

/// Walks through the lines of a piece that has no quote in it.
pub(crate) struct Lines<'a> {
    piece: &'a [u8],
    separator: u8,
    at: usize,
    /// Line of the file at which it stands.
    line: u64,
}

impl<'a> Lines<'a> {
    /// The lines of a piece that begins on this line of the file.
    pub(crate) fn new(piece: &'a [u8], separator: u8, line: u64) -> Self {
        Self { piece, separator, at: 0, line }
    }

    /// The next line that is not empty; `ends` is its scratch.
    pub(crate) fn next<'e>(&mut self, ends: &'e mut Vec<usize>) -> Option<Record<'e>>
    where
        'a: 'e,
    {
        loop {
            match self.piece.get(self.at)? {
                b'\n' => self.line += 1,
                b'\r' => {}
                _ => break,
            }
            self.at += 1;
        }
        let start = self.at;
        let rest = &self.piece[self.at..];
        ends.clear();
        let mut length = rest.len();
        for (index, &byte) in rest.iter().enumerate() {
            if byte == self.separator {
                ends.push(index);
            } else if matches!(byte, b'\n' | b'\r') {
                length = index;
                break;
            }
        }
        ends.push(length);
        let line = self.line;
        self.at += length;
        // The end of the line is passed with the empty ones that may follow.
        Some(Record::of_line(&rest[..length], ends, start, line))
    }
}
