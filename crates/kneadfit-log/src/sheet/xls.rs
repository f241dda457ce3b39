//! Whether an .xls may be read. Its compound file is written anew with nothing but the
//! workbook's stream in it, so that what reads it meets no chain without an end; and the
//! stream is walked for sheets whose block of cells would be huge.

use std::collections::HashSet;
use std::io::{Cursor, Read, Write};

use cfb::{CompoundFile, Version};

use super::{Refused, broken};
use crate::limits;

/// Records of the stream ([MS-XLS] 2.3.1).
const BOF: u16 = 0x0809;
const BOUND_SHEET: u16 = 0x0085;
const DIMENSIONS: u16 = 0x0200;
/// Records that begin with a row and a column: blank, number, label, rich string, boolean,
/// number packed, shared label, several numbers packed, formula.
const CELLS: [u16; 9] = [0x0201, 0x0203, 0x0204, 0x00D6, 0x0205, 0x027E, 0x00FD, 0x00BD, 0x0006];

/// The compound file with its workbook alone.
pub(super) fn checked(bytes: Vec<u8>) -> Result<Vec<u8>, Refused> {
    let mut file = CompoundFile::open(Cursor::new(bytes)).map_err(broken)?;
    if file.is_stream("/EncryptedPackage") {
        return Err(Refused::Broken(super::LOCKED.into()));
    }
    let name = ["/Workbook", "/Book"].into_iter().find(|name| file.is_stream(name));
    let Some(name) = name else { return Err(broken("there is no workbook in it")) };
    let mut stream = Vec::new();
    file.open_stream(name)
        .map_err(broken)?
        .take(limits::WORKBOOK_BYTES)
        .read_to_end(&mut stream)
        .map_err(broken)?;
    drop(file);
    check_stream(&stream)?;
    // The older version, with short sectors: what reads it knows that one best.
    let mut clean =
        CompoundFile::create_with_version(Version::V3, Cursor::new(Vec::new())).map_err(broken)?;
    clean.create_stream(name).map_err(broken)?.write_all(&stream).map_err(broken)?;
    clean.flush().map_err(broken)?;
    Ok(clean.into_inner().into_inner())
}

/// How far the cells of one sheet reach, beside what the sheets before it take.
#[derive(Default)]
struct Extent {
    before: u64,
    block: u64,
    rows: Option<(u32, u32)>,
    columns: Option<(u32, u32)>,
}

impl Extent {
    fn add(&mut self, row: u32, column: u32) -> Result<(), Refused> {
        let grown = |range: Option<(u32, u32)>, at: u32| match range {
            None => (at, at),
            Some((first, last)) => (first.min(at), last.max(at)),
        };
        let (rows, columns) = (grown(self.rows, row), grown(self.columns, column));
        (self.rows, self.columns) = (Some(rows), Some(columns));
        self.block = u64::from(rows.1 - rows.0 + 1) * u64::from(columns.1 - columns.0 + 1);
        if self.before + self.block > limits::SHEET_CELLS as u64 {
            let most = limits::SHEET_CELLS as u64;
            return Err(Refused::Large { what: "cells of a sheet", most });
        }
        Ok(())
    }
}

fn check_stream(stream: &[u8]) -> Result<(), Refused> {
    let mut beginnings = HashSet::new();
    let mut sheets = Vec::new();
    let mut extent = Extent::default();
    let mut claimed = 0;
    let mut at = 0;
    while let Some(head) = stream.get(at..at + 4) {
        let kind = u16::from_le_bytes([head[0], head[1]]);
        let length = usize::from(u16::from_le_bytes([head[2], head[3]]));
        let Some(data) = stream.get(at + 4..at + 4 + length) else { break };
        let u16_at = |k: usize| data.get(k..k + 2).map(|b| u16::from_le_bytes([b[0], b[1]]));
        let u32_at =
            |k: usize| data.get(k..k + 4).map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]));
        match kind {
            BOF => {
                beginnings.insert(at as u64);
                extent = Extent { before: extent.before + extent.block, ..Extent::default() };
            }
            BOUND_SHEET => sheets.extend(u32_at(0).map(u64::from)),
            DIMENSIONS => claimed = check_dimensions(data, claimed)?,
            _ if CELLS.contains(&kind) => {
                if let (Some(row), Some(column)) = (u16_at(0), u16_at(2)) {
                    extent.add(row.into(), column.into())?;
                    // Several numbers packed end with their last column.
                    if kind == 0x00BD && length >= 6 {
                        let last = u16_at(length - 2).unwrap_or(column);
                        extent.add(row.into(), last.max(column).into())?;
                    }
                }
            }
            _ => {}
        }
        at += 4 + length;
    }
    // A sheet that begins within a record would be read as other records than were walked.
    if sheets.iter().any(|sheet| !beginnings.contains(sheet)) {
        return Err(broken("a sheet begins where none can"));
    }
    Ok(())
}

/// What a sheet says of its block: room is made for that before a cell is read.
/// Gives what all sheets so far claim.
fn check_dimensions(data: &[u8], claimed: u64) -> Result<u64, Refused> {
    let number = |k: usize, bytes: usize| -> Option<u64> {
        let slice = data.get(k..k + bytes)?;
        Some(slice.iter().rev().fold(0, |value, byte| value << 8 | u64::from(*byte)))
    };
    // Rows have two bytes in the oldest files, four in the others.
    let read = || match data.len() {
        10 => Some((number(0, 2)?, number(2, 2)?, number(4, 2)?, number(6, 2)?)),
        _ => Some((number(0, 4)?, number(4, 4)?, number(8, 2)?, number(10, 2)?)),
    };
    let Some((first_row, end_row, first_column, end_column)) = read() else {
        return Err(broken("a sheet does not say its size"));
    };
    if (first_row, end_row, first_column, end_column) == (0, 0, 0, 0) {
        return Ok(claimed);
    }
    if end_row < first_row || end_column < first_column {
        return Err(broken("a sheet ends before it begins"));
    }
    let block = (end_row - first_row + 1).saturating_mul(end_column - first_column + 1);
    let claimed = claimed.saturating_add(block);
    if claimed > limits::SHEET_CELLS as u64 {
        return Err(Refused::Large { what: "cells of a sheet", most: limits::SHEET_CELLS as u64 });
    }
    Ok(claimed)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(kind: u16, data: &[u8]) -> Vec<u8> {
        let mut bytes = kind.to_le_bytes().to_vec();
        bytes.extend((data.len() as u16).to_le_bytes());
        bytes.extend(data);
        bytes
    }

    fn number(row: u16, column: u16) -> Vec<u8> {
        let mut data = row.to_le_bytes().to_vec();
        data.extend(column.to_le_bytes());
        data.extend([0; 10]);
        record(0x0203, &data)
    }

    #[test]
    fn two_far_cells_are_a_huge_block() {
        let near = [record(BOF, &[0; 16]), number(0, 0), number(9, 9)].concat();
        assert!(check_stream(&near).is_ok());
        let far = [record(BOF, &[0; 16]), number(0, 0), number(65_535, 255)].concat();
        assert!(matches!(check_stream(&far), Err(Refused::Large { .. })));
    }

    #[test]
    fn a_claim_of_a_huge_block_is_refused() {
        let mut claim = vec![0; 14];
        claim[4..8].copy_from_slice(&u32::MAX.to_le_bytes());
        claim[10..12].copy_from_slice(&u16::MAX.to_le_bytes());
        let stream = [record(BOF, &[0; 16]), record(DIMENSIONS, &claim)].concat();
        assert!(matches!(check_stream(&stream), Err(Refused::Large { .. })));
    }

    #[test]
    fn a_sheet_that_begins_within_a_record_is_damage() {
        let stream = [record(BOF, &[0; 16]), record(BOUND_SHEET, &[3, 0, 0, 0, 0, 0])].concat();
        assert!(matches!(check_stream(&stream), Err(Refused::Broken(_))));
    }
}
