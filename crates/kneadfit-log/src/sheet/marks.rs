//! What an .ods says of cells beside their values.

use std::collections::HashSet;

use super::Refused;
use super::merged::{Merged, too_many};
use crate::limits;

/// A cell, and how often it is repeated.
#[derive(Clone, Copy)]
pub(super) struct At {
    pub(super) row: u32,
    pub(super) column: u32,
    pub(super) rows: u32,
    pub(super) columns: u32,
}

/// Of one sheet.
#[derive(Default)]
pub(super) struct Marks {
    pub(super) merged: Vec<Merged>,
    /// Cells that show their number in per cent.
    pub(super) per_cent: HashSet<(u32, u32)>,
}

impl Marks {
    /// A cell that covers so many rows.
    pub(super) fn merge(&mut self, at: At, rows: u32) -> Result<(), Refused> {
        if rows > 1 {
            if self.merged.len() >= limits::MERGED_CELLS {
                return Err(too_many());
            }
            self.merged.push(Merged { row: at.row, column: at.column, rows });
        }
        Ok(())
    }

    pub(super) fn show_per_cent(&mut self, at: At) {
        for row in at.row..at.row.saturating_add(at.rows) {
            for column in at.column..at.column.saturating_add(at.columns) {
                // So many cells are refused elsewhere.
                if self.per_cent.len() >= limits::SHEET_CELLS {
                    return;
                }
                self.per_cent.insert((row, column));
            }
        }
    }
}
