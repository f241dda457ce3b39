//! Which sheet of a workbook is read.

use std::io::Read;

use super::grid::Grid;
use super::workbook::Workbook;
use super::{BARE, Refused};
use crate::column_names::ColumnNames;
use crate::guess::telling;
use crate::layout::{Fit, TELLING};
use crate::limits;

/// The sheet to read, and the others that look like a log too.
pub(crate) struct Chosen {
    pub(crate) grid: Grid,
    pub(crate) others: Vec<String>,
}

/// Reads the wanted sheet, or the first in which a header stands; where there is none, the
/// first that has anything in it.
pub(crate) fn choose(
    head: Vec<u8>,
    rest: impl Read,
    wanted: Option<&str>,
    own_names: &ColumnNames,
) -> Result<Chosen, Refused> {
    let bytes = whole(head, rest)?;
    let mut workbook = Workbook::open(bytes)?;
    let sheets = workbook.sheets();
    if let Some(wanted) = wanted {
        let found = sheets
            .iter()
            .find(|name| *name == wanted)
            .or_else(|| sheets.iter().find(|name| name.to_lowercase() == wanted.to_lowercase()));
        let Some(name) = found else {
            return Err(Refused::NoSuchSheet { wanted: wanted.to_owned(), sheets });
        };
        return Ok(Chosen { grid: workbook.grid(name, None)?, others: Vec::new() });
    }
    let mut chosen: Option<Chosen> = None;
    let mut first_filled = None;
    for name in &sheets {
        let rows = chosen.as_ref().map(|_| limits::HEADER_WITHIN_ROWS);
        let grid = workbook.grid(name, rows)?;
        let is_log = grid.header(own_names).is_some();
        match &mut chosen {
            Some(chosen) if is_log => chosen.others.push(name.clone()),
            None if is_log => chosen = Some(Chosen { grid, others: Vec::new() }),
            None if first_filled.is_none() && grid.height() > 0 => first_filled = Some(grid),
            _ => {}
        }
    }
    let fallback = || first_filled.map(|grid| Chosen { grid, others: Vec::new() });
    chosen.or_else(fallback).ok_or_else(|| Refused::Broken(BARE.into()))
}

/// All bytes of a workbook.
fn whole(mut head: Vec<u8>, rest: impl Read) -> Result<Vec<u8>, Refused> {
    let most = limits::WORKBOOK_BYTES;
    let left = (most + 1).saturating_sub(head.len() as u64);
    rest.take(left).read_to_end(&mut head).map_err(|e| Refused::Broken(e.to_string()))?;
    if head.len() as u64 > most {
        return Err(Refused::Large { what: "bytes of a workbook", most });
    }
    Ok(head)
}

impl Grid {
    /// The row of the header, as an index among the rows; `None`: no row looks like one.
    pub(crate) fn header(&self, own_names: &ColumnNames) -> Option<usize> {
        let rows = self.height().min(limits::HEADER_WITHIN_ROWS);
        let mut best: Option<(Fit, usize)> = None;
        for index in 0..rows {
            let fit = Fit::of(self.record(index).cells(), own_names);
            if fit.is_header(index == 0) && best.is_none_or(|(best, _)| fit > best) {
                best = Some((fit, index));
            }
        }
        best.map(|(_, index)| index)
    }

    /// The row that says most of what a log has, in words that are not its own.
    pub(crate) fn header_in_other_words(&self) -> Option<usize> {
        let mut best: Option<(usize, usize)> = None;
        for index in 0..self.height().min(limits::HEADER_WITHIN_ROWS) {
            let told = telling(self.record(index).cells());
            if told >= TELLING && best.is_none_or(|(most, _)| told > most) {
                best = Some((told, index));
            }
        }
        best.map(|(_, index)| index)
    }
}
