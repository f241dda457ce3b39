//! Records of a text without a quote: each is a line, its cells stand in it as they are.

use memchr::memchr2;

use crate::record::Record;

/// Walks through the lines of a piece that has no quote in it.
pub(crate) struct Lines<'a> {
    piece: &'a [u8],
    /// The same, where it is UTF-8: then no cell needs to be looked at again.
    text: Option<&'a str>,
    separator: u8,
    at: usize,
    /// Line of the file at which it stands.
    line: u64,
}

impl<'a> Lines<'a> {
    /// The lines of a piece that begins on this line of the file.
    pub(crate) fn new(piece: &'a [u8], separator: u8, line: u64) -> Self {
        let text = std::str::from_utf8(piece).ok();
        Self { piece, text, separator, at: 0, line }
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
        let rest = &self.piece[start..];
        let line = &rest[..memchr2(b'\n', b'\r', rest).unwrap_or(rest.len())];
        // The end of the line is passed with the empty ones that may follow.
        self.at += line.len();
        ends.clear();
        find_all(self.separator, line, ends);
        ends.push(line.len());
        let text = self.text.and_then(|text| text.get(start..self.at));
        Some(Record::of_line(line, text, ends, (start, self.line)))
    }
}

/// Notes where a byte stands in a line, eight bytes at a time.
fn find_all(wanted: u8, line: &[u8], found: &mut Vec<usize>) {
    const LOW: u64 = 0x7F7F_7F7F_7F7F_7F7F;
    let everywhere = u64::from_ne_bytes([wanted; 8]);
    let (eights, rest) = line.as_chunks::<8>();
    for (index, eight) in eights.iter().enumerate() {
        let other = u64::from_le_bytes(*eight) ^ everywhere;
        // The top bit of each byte in which nothing differs.
        let mut hits = !(((other & LOW) + LOW) | other | LOW);
        while hits != 0 {
            found.push(8 * index + hits.trailing_zeros() as usize / 8);
            hits &= hits - 1;
        }
    }
    let before = line.len() - rest.len();
    found.extend((before..).zip(rest).filter(|(_, byte)| **byte == wanted).map(|(at, _)| at));
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        #[test]
        fn every_one_is_found(line in proptest::collection::vec(40_u8..48, 0..40)) {
            let mut found = Vec::new();
            find_all(b',', &line, &mut found);
            let expected: Vec<usize> = (0..line.len()).filter(|at| line[*at] == b',').collect();
            proptest::prop_assert_eq!(found, expected);
        }
    }
}
