//! Whether an .ods may be read: a few bytes in it can stand for millions of cells.

use std::io::{BufReader, Cursor};

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use zip::ZipArchive;

use super::marks::{At, Marks};
use super::{Refused, broken};
use crate::limits;

/// Walks the sheets and counts the cells that they would have. Gives what is marked
/// in each.
pub(super) fn check(bytes: &[u8]) -> Result<Vec<Marks>, Refused> {
    let mut zip = ZipArchive::new(Cursor::new(bytes)).map_err(broken)?;
    let part = zip.by_name("content.xml").map_err(broken)?;
    let mut xml = Reader::from_reader(BufReader::new(part));
    let mut buffer = Vec::new();
    let mut extent = Extent::default();
    let mut marks: Vec<Marks> = Vec::new();
    loop {
        match xml.read_event_into(&mut buffer).map_err(broken)? {
            Event::Start(tag) => {
                extent.open(&tag)?;
                mark(&tag, &extent, &mut marks)?;
            }
            // A tag that is closed at once has nothing in it but its attributes.
            Event::Empty(tag) => {
                extent.open(&tag)?;
                mark(&tag, &extent, &mut marks)?;
                extent.close(tag.name().0)?;
            }
            Event::Text(text) => extent.filled |= extent.in_cell && !text.trim_ascii().is_empty(),
            Event::End(tag) => extent.close(tag.name().0)?,
            Event::Eof => return Ok(marks),
            _ => {}
        }
        buffer.clear();
    }
}

/// Takes what a tag says of a cell of the latest sheet.
fn mark(tag: &BytesStart<'_>, extent: &Extent, marks: &mut Vec<Marks>) -> Result<(), Refused> {
    match tag.name().0 {
        // A table without a name is no sheet.
        "table:table" if tag.try_get_attribute("table:name").map_err(broken)?.is_some() => {
            marks.push(Marks::default());
        }
        "table:table-cell" => {
            let number = |value: u64| u32::try_from(value).unwrap_or(u32::MAX);
            let at = At {
                row: number(extent.rows),
                column: number(extent.columns),
                rows: number(extent.row_repeats),
                columns: number(extent.cell_repeats),
            };
            if let Some(marks) = marks.last_mut() {
                marks.merge(at, number(repeats(tag, "table:number-rows-spanned")?))?;
                let kind = tag.try_get_attribute("office:value-type").map_err(broken)?;
                if kind.is_some_and(|kind| kind.value == "percentage") {
                    marks.show_per_cent(at);
                }
            }
        }
        _ => {}
    }
    Ok(())
}

/// How far a sheet's filled cells reach.
#[derive(Default)]
struct Extent {
    /// Rows before the one that is read.
    rows: u64,
    row_repeats: u64,
    /// Columns of the row that is read, up to its latest cell, and up to its latest filled one.
    columns: u64,
    filled_columns: u64,
    cell_repeats: u64,
    in_cell: bool,
    filled: bool,
    widest: u64,
    last_row: u64,
    first_row: Option<u64>,
    /// Cells as they stand, those repeated in their row counted one by one.
    written: u64,
    /// The block of this sheet's cells, and those of the sheets before it.
    block: u64,
    before: u64,
}

impl Extent {
    fn open(&mut self, tag: &BytesStart<'_>) -> Result<(), Refused> {
        match tag.name().0 {
            "table:table" => {
                let before = self.before.saturating_add(self.block);
                *self = Self { written: self.written, before, ..Self::default() };
            }
            "table:table-row" => {
                self.row_repeats = repeats(tag, "table:number-rows-repeated")?;
                (self.columns, self.filled_columns) = (0, 0);
            }
            "table:table-cell" | "table:covered-table-cell" => {
                self.cell_repeats = repeats(tag, "table:number-columns-repeated")?;
                self.in_cell = true;
                self.filled = tag
                    .attributes()
                    .with_checks(false)
                    .flatten()
                    .any(|a| a.key.0.starts_with("office:") || a.key.0 == "table:formula");
            }
            "text:s" if repeats(tag, "text:c")? > limits::BLANKS => {
                return Err(Refused::Large { what: "blanks in a row", most: limits::BLANKS });
            }
            _ => {}
        }
        Ok(())
    }

    fn close(&mut self, name: &str) -> Result<(), Refused> {
        match name {
            "table:table-cell" | "table:covered-table-cell" => {
                self.in_cell = false;
                self.columns = self.columns.saturating_add(self.cell_repeats);
                if self.filled {
                    self.filled_columns = self.columns;
                    if self.filled_columns > limits::SHEET_COLUMNS as u64 {
                        let most = limits::SHEET_COLUMNS as u64;
                        return Err(Refused::Large { what: "columns of a sheet", most });
                    }
                }
            }
            "table:table-row" => {
                let end = self.rows.saturating_add(self.row_repeats);
                self.written = self.written.saturating_add(self.filled_columns);
                if self.filled_columns > 0 {
                    self.widest = self.widest.max(self.filled_columns);
                    self.first_row.get_or_insert(self.rows);
                    self.last_row = end;
                }
                self.rows = end;
                if self.last_row > limits::SHEET_ROWS as u64 {
                    let most = limits::SHEET_ROWS as u64;
                    return Err(Refused::Large { what: "rows of a sheet", most });
                }
                let height = self.last_row - self.first_row.unwrap_or(0);
                self.block = height.saturating_mul(self.widest);
                if self.before.saturating_add(self.block).max(self.written)
                    > limits::SHEET_CELLS as u64
                {
                    let most = limits::SHEET_CELLS as u64;
                    return Err(Refused::Large { what: "cells of a sheet", most });
                }
            }
            _ => {}
        }
        Ok(())
    }
}

/// How often something is repeated, once where it does not say.
fn repeats(tag: &BytesStart<'_>, attribute: &str) -> Result<u64, Refused> {
    match tag.try_get_attribute(attribute).map_err(broken)? {
        None => Ok(1),
        Some(value) => value.value.trim().parse().map_err(broken),
    }
}
