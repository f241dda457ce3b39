//! Whether a zipped workbook may be unpacked: what it says of its sizes, and what comes out.

use std::io::{self, BufReader, Cursor, Read};

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use zip::ZipArchive;

use super::{Refused, broken};
use crate::limits;

/// What a walk through the parts told.
#[derive(Default)]
pub(super) struct Walked {
    pub(super) is_ods: bool,
    /// Whether an .xlsx asks whoever opens it to calculate every formula (ECMA-376, part 1,
    /// 18.2.2): a spreadsheet that saved it would have done so.
    pub(super) uncalculated: bool,
}

/// Walks every part once.
pub(super) fn check(bytes: &[u8]) -> Result<Walked, Refused> {
    let mut zip = ZipArchive::new(Cursor::new(bytes)).map_err(broken)?;
    if zip.len() > limits::PARTS {
        return Err(Refused::Large { what: "parts of a workbook", most: limits::PARTS as u64 });
    }
    let unpacked =
        Refused::Large { what: "bytes of an unpacked workbook", most: limits::UNPACKED_BYTES };
    // What it says costs nothing to add up; a bomb may be honest.
    let mut declared = 0_u64;
    for index in 0..zip.len() {
        declared = declared.saturating_add(zip.by_index_raw(index).map_err(broken)?.size());
    }
    if declared > limits::UNPACKED_BYTES {
        return Err(unpacked);
    }
    let mut left = limits::UNPACKED_BYTES;
    let mut walked = Walked::default();
    for index in 0..zip.len() {
        let part = zip.by_index(index).map_err(broken)?;
        let name = part.name().map_err(broken)?.to_lowercase();
        walked.is_ods |= name == "content.xml";
        let mut counted = Counted { input: part.take(left + 1), bytes: 0, tags: 0 };
        let is_xml = name.ends_with(".xml") || name.ends_with(".rels");
        let checked =
            if is_xml { check_xml(&mut counted, &mut walked) } else { drain(&mut counted) };
        if counted.bytes > left {
            return Err(unpacked);
        }
        if counted.tags > limits::TAGS {
            return Err(Refused::Large {
                what: "tags in a part of a workbook",
                most: limits::TAGS,
            });
        }
        checked?;
        left -= counted.bytes;
    }
    Ok(walked)
}

/// Counts what passes. More tags than allowed end it.
struct Counted<R> {
    input: R,
    bytes: u64,
    tags: u64,
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.tags > limits::TAGS {
            return Ok(0);
        }
        let count = self.input.read(into)?;
        self.bytes += count as u64;
        self.tags += into[..count].iter().filter(|byte| **byte == b'<').count() as u64;
        Ok(count)
    }
}

fn drain(part: &mut impl Read) -> Result<(), Refused> {
    io::copy(part, &mut io::sink()).map(drop).map_err(broken)
}

/// Whether every tag is closed: what reads the part later waits for its end.
fn check_xml(part: &mut impl Read, walked: &mut Walked) -> Result<(), Refused> {
    let mut xml = Reader::from_reader(BufReader::new(part));
    let mut buffer = Vec::new();
    let mut depth = 0_usize;
    loop {
        match xml.read_event_into(&mut buffer).map_err(broken)? {
            Event::Start(tag) => {
                depth += 1;
                walked.uncalculated |= asks_to_calculate(&tag);
            }
            Event::Empty(tag) => walked.uncalculated |= asks_to_calculate(&tag),
            Event::End(_) => depth = depth.saturating_sub(1),
            Event::Eof if depth > 0 => return Err(broken("a part breaks off")),
            Event::Eof => return Ok(()),
            _ => {}
        }
        if depth > limits::TAG_DEPTH {
            let most = limits::TAG_DEPTH as u64;
            return Err(Refused::Large { what: "tags within tags of a workbook", most });
        }
        buffer.clear();
    }
}

fn asks_to_calculate(tag: &BytesStart<'_>) -> bool {
    let asked = || tag.try_get_attribute("fullCalcOnLoad").ok()?.map(|a| a.value.into_owned());
    tag.local_name().as_ref() == "calcPr"
        && asked().is_some_and(|value| matches!(value.as_ref(), "1" | "true"))
}
