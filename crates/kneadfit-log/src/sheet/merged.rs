//! Merged cells: what stands in the first of their rows counts for all of them.

use std::collections::BTreeMap;

use super::Refused;
use super::grid::Grid;
use crate::limits;
use crate::sheet_cell::CellKind;

/// A cell merged over several rows of its column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Merged {
    /// The first of its rows and its first column, from 0.
    pub(super) row: u32,
    pub(super) column: u32,
    pub(super) rows: u32,
}

/// What becomes of a column's merged cells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Spread {
    /// Their text counts for each of their rows.
    Value,
    /// Below the first row they are marked as parts of one.
    Mark,
    Not,
}

/// Those of several rows, where there are not more than any log has.
pub(super) fn of_rows(dimensions: &[calamine::Dimensions]) -> Result<Vec<Merged>, Refused> {
    let merged = dimensions.iter().filter(|d| d.end.0 > d.start.0).map(|d| Merged {
        row: d.start.0,
        column: d.start.1,
        rows: (d.end.0 - d.start.0).saturating_add(1),
    });
    let merged: Vec<Merged> = merged.collect();
    if merged.len() > limits::MERGED_CELLS { Err(too_many()) } else { Ok(merged) }
}

pub(super) fn too_many() -> Refused {
    Refused::Large { what: "merged cells of a sheet", most: limits::MERGED_CELLS as u64 }
}

impl Grid {
    /// Takes merged cells; they may not cover more than a sheet's cells, one over the other.
    pub(super) fn with_merged(mut self, merged: Vec<Merged>) -> Result<Self, Refused> {
        let height = self.height() as u64;
        let covered: u64 = merged.iter().map(|cell| height.min(u64::from(cell.rows))).sum();
        if covered > limits::SHEET_CELLS as u64 {
            return Err(too_many());
        }
        self.merged = merged;
        Ok(self)
    }

    /// Spreads merged cells over their rows, from the row of this index on. Gives the columns
    /// in which a value was spread.
    pub(crate) fn spread(&mut self, from: usize, of: impl Fn(usize) -> Spread) -> Vec<usize> {
        // The cell to be written, and the row of its text.
        let mut texts = BTreeMap::new();
        for merged in &self.merged {
            let (column, end) = (merged.column as usize, merged.row.saturating_add(merged.rows));
            let spread = of(column);
            let Some(first) = self.index_of(merged.row).filter(|first| *first >= from) else {
                continue;
            };
            if spread == Spread::Not || self.record(first).cell(column).trim_ascii().is_empty() {
                continue;
            }
            for index in
                (first + 1..self.height()).take_while(|i| self.record(*i).line <= end.into())
            {
                texts.insert((index, column), (first, spread));
            }
        }
        if texts.is_empty() {
            return Vec::new();
        }
        let mut spread_in: Vec<usize> = texts
            .iter()
            .filter(|(_, (_, spread))| *spread == Spread::Value)
            .map(|((_, column), _)| *column)
            .collect();
        spread_in.sort_unstable();
        spread_in.dedup();
        *self = self.rebuilt(|old, index, column| match texts.get(&(index, column)) {
            Some(&(first, spread)) => {
                let record = old.record(first);
                let kind =
                    if spread == Spread::Mark { CellKind::Covered } else { record.kind(column) };
                (record.cell(column), kind)
            }
            None => (old.record(index).cell(column), old.record(index).kind(column)),
        });
        spread_in
    }
}
