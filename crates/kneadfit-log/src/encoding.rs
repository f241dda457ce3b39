//! How a text's bytes become letters: UTF-8, UTF-16 or Windows-1252, found by itself.

use std::io::{self, Read};

use encoding_rs::{CoderResult, Decoder, UTF_16BE, UTF_16LE, WINDOWS_1252};
use serde::Serialize;

/// How a text is encoded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Encoding {
    /// UTF-8, with or without a mark at its beginning.
    #[default]
    Utf8,
    /// UTF-16, the low byte first.
    Utf16Le,
    /// UTF-16, the high byte first.
    Utf16Be,
    /// Western European, one byte a letter.
    Windows1252,
}

/// Bytes that are looked at for the zeros of UTF-16 without a mark.
const ZEROS_WITHIN: usize = 1024;

impl Encoding {
    /// The encoding of a text that begins with these bytes.
    ///
    /// A mark decides. Without one, every other byte zero is UTF-16; what is valid UTF-8 is
    /// that; and else it is Windows-1252, unless most of its letters beyond ASCII are UTF-8:
    /// then it is UTF-8 with faults in it, which are named where they stand.
    pub(crate) fn of(head: &[u8]) -> Self {
        if head.starts_with(b"\xEF\xBB\xBF") {
            return Self::Utf8;
        }
        if head.starts_with(b"\xFF\xFE") {
            return Self::Utf16Le;
        }
        if head.starts_with(b"\xFE\xFF") {
            return Self::Utf16Be;
        }
        let beginning = &head[..head.len().min(ZEROS_WITHIN)];
        let zeros =
            |from: usize| beginning.iter().skip(from).step_by(2).filter(|b| **b == 0).count();
        let (even, odd) = (zeros(0), zeros(1));
        let many = beginning.len() / 5 + 1;
        if odd > many && even == 0 {
            return Self::Utf16Le;
        }
        if even > many && odd == 0 {
            return Self::Utf16Be;
        }
        if std::str::from_utf8(head).is_ok() {
            return Self::Utf8;
        }
        let (mut valid, mut faulty) = (0_usize, 0_usize);
        for chunk in head.utf8_chunks() {
            valid += chunk.valid().chars().filter(|c| !c.is_ascii()).count();
            // A letter cut off by the end of what is looked at is no fault.
            let cut = std::ptr::eq(chunk.invalid().as_ptr_range().end, head.as_ptr_range().end)
                && matches!(chunk.invalid().first(), Some(0xC2..=0xF4))
                && chunk.invalid().len() < 4
                && head.len() >= crate::limits::LOOKED_AT_BYTES;
            faulty += usize::from(!chunk.invalid().is_empty() && !cut);
        }
        if faulty > valid { Self::Windows1252 } else { Self::Utf8 }
    }

    fn decoder(self) -> Option<Decoder> {
        match self {
            Self::Utf8 => None,
            Self::Utf16Le => Some(UTF_16LE.new_decoder_with_bom_removal()),
            Self::Utf16Be => Some(UTF_16BE.new_decoder_with_bom_removal()),
            Self::Windows1252 => Some(WINDOWS_1252.new_decoder_without_bom_handling()),
        }
    }

    /// The text in UTF-8.
    pub(crate) fn decode<'a>(self, input: Box<dyn Read + 'a>) -> Box<dyn Read + 'a> {
        match self.decoder() {
            None => input,
            Some(decoder) => Box::new(Decoding {
                input,
                decoder,
                raw: vec![0; CHUNK].into_boxed_slice(),
                taken: 0,
                filled: 0,
                ended: false,
                finished: false,
                decoded: vec![0; 3 * CHUNK].into_boxed_slice(),
                handed: 0,
                ready: 0,
            }),
        }
    }
}

impl std::fmt::Display for Encoding {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Utf8 => "UTF-8",
            Self::Utf16Le | Self::Utf16Be => "UTF-16",
            Self::Windows1252 => "Windows-1252",
        })
    }
}

const CHUNK: usize = 16 * 1024;

/// A stream that is decoded as it is read. What is no letter becomes the replacement mark.
struct Decoding<R> {
    input: R,
    decoder: Decoder,
    raw: Box<[u8]>,
    taken: usize,
    filled: usize,
    ended: bool,
    finished: bool,
    /// Decoded and not yet handed out: a reader may ask for less than a letter.
    decoded: Box<[u8]>,
    handed: usize,
    ready: usize,
}

impl<R: Read> Read for Decoding<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        loop {
            if self.handed < self.ready {
                let count = into.len().min(self.ready - self.handed);
                into[..count].copy_from_slice(&self.decoded[self.handed..self.handed + count]);
                self.handed += count;
                return Ok(count);
            }
            if self.finished {
                return Ok(0);
            }
            if self.taken == self.filled && !self.ended {
                (self.taken, self.filled) = (0, 0);
                match self.input.read(&mut self.raw) {
                    Ok(0) => self.ended = true,
                    Ok(more) => self.filled = more,
                    Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                    Err(error) => return Err(error),
                }
            }
            let raw = &self.raw[self.taken..self.filled];
            let (result, taken, written, _) =
                self.decoder.decode_to_utf8(raw, &mut self.decoded, self.ended);
            self.taken += taken;
            self.finished = self.ended && result == CoderResult::InputEmpty;
            (self.handed, self.ready) = (0, written);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(bytes: &[u8]) -> (Encoding, String) {
        let encoding = Encoding::of(bytes);
        let mut decoded = Vec::new();
        encoding.decode(Box::new(bytes)).read_to_end(&mut decoded).unwrap();
        (encoding, String::from_utf8_lossy(&decoded).into_owned())
    }

    fn utf16(text: &str, order: fn(u16) -> [u8; 2]) -> Vec<u8> {
        text.encode_utf16().flat_map(order).collect()
    }

    #[test]
    fn each_encoding_is_found_and_read() {
        let text = "batch,note\n1,Bäckerei – 22 °C\n";
        assert_eq!(read(text.as_bytes()), (Encoding::Utf8, text.into()));
        for mark in ["", "\u{feff}"] {
            let marked = format!("{mark}{text}");
            let le = utf16(&marked, u16::to_le_bytes);
            assert_eq!(read(&le), (Encoding::Utf16Le, text.into()), "{mark:?}");
            let be = utf16(&marked, u16::to_be_bytes);
            assert_eq!(read(&be), (Encoding::Utf16Be, text.into()), "{mark:?}");
        }
        let western = b"batch,note\n1,B\xE4ckerei \x96 22 \xB0C\n";
        assert_eq!(read(western), (Encoding::Windows1252, text.into()));
    }

    #[test]
    fn text_that_is_mostly_utf_8_stays_utf_8() {
        let (encoding, _) = read(b"\xC3\xA4,\xC3\xB6,\xE4");
        assert_eq!(encoding, Encoding::Utf8);
    }

    #[test]
    fn long_texts_come_whole() {
        let text = "ä,1,€\n".repeat(20_000);
        assert_eq!(read(&utf16(&text, u16::to_le_bytes)).1, text);
    }
}
