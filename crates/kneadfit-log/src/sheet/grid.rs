//! The filled block of a sheet, row by row.

use std::sync::Arc;

use super::Refused;
use super::cells::Cell;
use super::merged::Merged;
use crate::limits;
use crate::record::Record;
use crate::sheet_cell::CellKind;

/// Cells as they come, within the limits.
pub(super) struct Cells {
    cells: Vec<(u32, u32, Cell)>,
    rows: Option<usize>,
    first_row: Option<u32>,
}

impl Cells {
    /// `rows`: no more than so many, from the first filled one on.
    pub(super) fn new(rows: Option<usize>) -> Self {
        Self { cells: Vec::new(), rows, first_row: None }
    }

    /// Takes a cell; `false`: no more are wanted.
    pub(super) fn add(&mut self, row: u32, column: u32, cell: Cell) -> Result<bool, Refused> {
        if cell.text.trim().is_empty() {
            return Ok(true);
        }
        let large = |what, most: usize| Err(Refused::Large { what, most: most as u64 });
        if column as usize >= limits::SHEET_COLUMNS {
            return large("columns of a sheet", limits::SHEET_COLUMNS);
        }
        if row as usize >= limits::SHEET_ROWS {
            return large("rows of a sheet", limits::SHEET_ROWS);
        }
        let first = *self.first_row.get_or_insert(row);
        if self.rows.is_some_and(|rows| row.saturating_sub(first) as usize > rows) {
            return Ok(false);
        }
        if self.cells.len() >= limits::SHEET_CELLS {
            return large("cells of a sheet", limits::SHEET_CELLS);
        }
        self.cells.push((row, column, cell));
        Ok(true)
    }

    /// Marks the numbers of these cells as shown in per cent.
    pub(super) fn show_per_cent(&mut self, of: impl Fn(u32, u32) -> bool) {
        for (row, column, cell) in &mut self.cells {
            if cell.kind == CellKind::Number && of(*row, *column) {
                cell.kind = CellKind::PerCent;
            }
        }
    }

    /// The block of rows from the first filled column's left edge on.
    pub(super) fn into_grid(mut self, name: &str) -> Result<Grid, Refused> {
        // Files have them in order, mostly.
        self.cells.sort_by_key(|(row, column, _)| (*row, *column));
        let width = self.cells.iter().map(|(_, column, _)| *column as usize + 1).max().unwrap_or(0);
        let mut rows = self.cells.iter().map(|(row, ..)| *row).collect::<Vec<_>>();
        rows.dedup();
        if rows.len().saturating_mul(width) > limits::SHEET_CELLS {
            let most = limits::SHEET_CELLS as u64;
            return Err(Refused::Large { what: "cells of a sheet", most });
        }
        let mut grid = Grid {
            name: name.into(),
            width,
            bytes: Vec::new(),
            ends: Vec::with_capacity(rows.len() * width),
            kinds: Vec::with_capacity(rows.len() * width),
            rows: Vec::with_capacity(rows.len()),
            merged: Vec::new(),
        };
        let mut cells = self.cells.into_iter().peekable();
        for row in rows {
            grid.rows.push((row, grid.bytes.len()));
            let start = grid.bytes.len();
            for column in 0..width as u32 {
                let mut last = None;
                while let Some((.., cell)) = cells.next_if(|(r, c, _)| (*r, *c) == (row, column)) {
                    last = Some(cell);
                }
                // Of two cells in one place the last holds.
                if let Some(cell) = &last {
                    grid.bytes.extend_from_slice(cell.text.as_bytes());
                }
                grid.ends.push(grid.bytes.len() - start);
                grid.kinds.push(last.map_or(CellKind::Text, |cell| cell.kind));
            }
        }
        Ok(grid)
    }
}

/// A sheet's rows that have something in them.
#[derive(Debug)]
pub(crate) struct Grid {
    pub(crate) name: Arc<str>,
    width: usize,
    /// The rows' texts, one after the other.
    bytes: Vec<u8>,
    /// Where each cell ends in its row's text.
    ends: Vec<usize>,
    kinds: Vec<CellKind>,
    /// Each row of the sheet, from 0, and where its text begins.
    rows: Vec<(u32, usize)>,
    pub(super) merged: Vec<Merged>,
}

impl Grid {
    /// How many rows have something in them.
    pub(crate) fn height(&self) -> usize {
        self.rows.len()
    }

    /// The index of a row of the sheet among them; `None`: nothing is in it.
    pub(super) fn index_of(&self, row: u32) -> Option<usize> {
        self.rows.binary_search_by_key(&row, |(row, _)| *row).ok()
    }

    /// The same rows with other cells.
    pub(super) fn rebuilt(&self, cell: impl Fn(&Self, usize, usize) -> (&[u8], CellKind)) -> Self {
        let mut grid = Self {
            name: self.name.clone(),
            width: self.width,
            bytes: Vec::with_capacity(self.bytes.len()),
            ends: Vec::with_capacity(self.ends.len()),
            kinds: Vec::with_capacity(self.kinds.len()),
            rows: Vec::with_capacity(self.rows.len()),
            merged: Vec::new(),
        };
        for (index, (row, _)) in self.rows.iter().enumerate() {
            let start = grid.bytes.len();
            grid.rows.push((*row, start));
            for column in 0..self.width {
                let (text, kind) = cell(self, index, column);
                grid.bytes.extend_from_slice(text);
                grid.ends.push(grid.bytes.len() - start);
                grid.kinds.push(kind);
            }
        }
        grid
    }

    /// One of them, by its index among them.
    pub(crate) fn record(&self, index: usize) -> Record<'_> {
        let (row, start) = self.rows[index];
        let end = self.rows.get(index + 1).map_or(self.bytes.len(), |next| next.1);
        let cells = index * self.width..(index + 1) * self.width;
        let bytes = &self.bytes[start..end];
        let line = u64::from(row) + 1;
        Record::of_sheet(bytes, &self.ends[cells.clone()], &self.kinds[cells], line)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell(text: &str) -> Cell {
        Cell { text: text.into(), kind: CellKind::Text }
    }

    fn texts(grid: &Grid, row: usize) -> Vec<String> {
        let record = grid.record(row);
        record.cells().map(|cell| String::from_utf8_lossy(cell).into_owned()).collect()
    }

    #[test]
    fn rows_are_those_of_the_sheet_and_as_wide_as_the_widest() {
        let mut cells = Cells::new(None);
        for (row, column, text) in
            [(7, 2, "c"), (2, 1, "old"), (2, 1, "b"), (7, 0, "a"), (3, 3, " ")]
        {
            assert!(cells.add(row, column, cell(text)).unwrap());
        }
        let grid = cells.into_grid("Log").unwrap();
        assert_eq!(grid.height(), 2);
        assert_eq!(texts(&grid, 0), ["", "b", ""]);
        assert_eq!(texts(&grid, 1), ["a", "", "c"]);
        assert_eq!((grid.record(0).line, grid.record(1).line), (3, 8));
    }

    #[test]
    fn what_is_too_large_is_refused() {
        let mut cells = Cells::new(None);
        assert!(cells.add(0, limits::SHEET_COLUMNS as u32, cell("x")).is_err());
        assert!(cells.add(limits::SHEET_ROWS as u32, 0, cell("x")).is_err());
        for row in 0..10_000 {
            cells.add(row, 0, cell("x")).unwrap();
        }
        cells.add(0, limits::SHEET_COLUMNS as u32 - 1, cell("x")).unwrap();
        assert!(matches!(cells.into_grid("Log"), Err(Refused::Large { .. })));
    }

    #[test]
    fn a_glance_ends_after_its_rows() {
        let mut cells = Cells::new(Some(5));
        assert!(cells.add(100, 0, cell("x")).unwrap());
        assert!(cells.add(105, 0, cell("x")).unwrap());
        assert!(!cells.add(106, 0, cell("x")).unwrap());
    }
}
