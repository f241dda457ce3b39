//! A workbook as calamine reads it, once the guards have let it pass.

use std::collections::HashSet;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

use calamine::{Data, DataRef, Ods, Reader, Style, Xls, Xlsx, XlsxFormulaMetadata};

use super::cells::{self, Cell};
use super::grid::{Cells, Grid};
use super::marks::Marks;
use super::merged::{self, Merged};
use super::{COMPOUND, Refused, broken, ods, xls, zip_guard};
use crate::limits;

/// An opened workbook that the guards have let pass.
pub(super) enum Workbook {
    Xlsx {
        book: Box<Xlsx<Cursor<Vec<u8>>>>,
        /// Whether it asks whoever opens it to calculate anew: no spreadsheet has saved it.
        uncalculated: bool,
    },
    Ods {
        book: Ods<Cursor<Vec<u8>>>,
        /// What is marked in each sheet.
        marks: Vec<Marks>,
    },
    Xls(Xls<Cursor<Vec<u8>>>),
}

impl Workbook {
    pub(super) fn open(bytes: Vec<u8>) -> Result<Self, Refused> {
        if bytes.starts_with(COMPOUND) {
            let clean = xls::checked(bytes)?;
            return guarded(|| Xls::new(Cursor::new(clean)).map_err(broken)).map(Self::Xls);
        }
        let walked = zip_guard::check(&bytes)?;
        if walked.is_ods {
            let marks = ods::check(&bytes)?;
            let book = guarded(|| Ods::new(Cursor::new(bytes)).map_err(broken))?;
            return Ok(Self::Ods { book, marks });
        }
        let book = guarded(|| Xlsx::new(Cursor::new(bytes)).map_err(broken))?;
        Ok(Self::Xlsx { book: Box::new(book), uncalculated: walked.uncalculated })
    }

    /// The sheets in their order; charts and the like are none.
    pub(super) fn sheets(&self) -> Vec<String> {
        let of = |sheets: &[calamine::Sheet]| {
            sheets
                .iter()
                .filter(|sheet| sheet.typ == calamine::SheetType::WorkSheet)
                .map(|sheet| sheet.name.clone())
                .collect()
        };
        match self {
            Self::Xlsx { book, .. } => of(book.sheets_metadata()),
            Self::Ods { book, .. } => of(book.sheets_metadata()),
            Self::Xls(book) => of(book.sheets_metadata()),
        }
    }

    /// A sheet's cells; `rows`: no more than so many from the first filled one on.
    pub(super) fn grid(&mut self, name: &str, rows: Option<usize>) -> Result<Grid, Refused> {
        guarded(|| {
            let mut cells = Cells::new(rows);
            match self {
                Self::Xlsx { book, uncalculated } => {
                    xlsx_cells(book, name, *uncalculated, &mut cells)?
                }
                Self::Ods { book, marks } => {
                    range_cells(book, name, false, &mut cells)?;
                    if let Some(marks) = marks_of(book, marks, name) {
                        cells.show_per_cent(|row, column| marks.per_cent.contains(&(row, column)));
                    }
                }
                Self::Xls(book) => range_cells(book, name, true, &mut cells)?,
            }
            let grid = cells.into_grid(name)?;
            // A glance is no reading.
            if rows.is_some() { Ok(grid) } else { grid.with_merged(self.merged(name)?) }
        })
    }

    /// A sheet's merged cells of several rows.
    fn merged(&mut self, name: &str) -> Result<Vec<Merged>, Refused> {
        match self {
            Self::Xlsx { book, .. } => {
                merged::of_rows(&book.merge_cells_by_sheet_name(name).map_err(broken)?)
            }
            Self::Ods { book, marks } => Ok(marks_of(book, marks, name)
                .map(|marks| marks.merged.clone())
                .unwrap_or_default()),
            Self::Xls(book) => {
                merged::of_rows(&book.merge_cells_by_sheet_name(name).map_err(broken)?)
            }
        }
    }
}

fn marks_of<'a>(book: &Ods<Cursor<Vec<u8>>>, marks: &'a [Marks], name: &str) -> Option<&'a Marks> {
    marks.get(book.sheets_metadata().iter().position(|sheet| sheet.name == name)?)
}

/// Cell by cell, as the block that they span may be huge.
fn xlsx_cells(
    book: &mut Xlsx<Cursor<Vec<u8>>>,
    name: &str,
    uncalculated: bool,
    cells: &mut Cells,
) -> Result<(), Refused> {
    let mut reader = match book.worksheet_cells_reader(name) {
        Ok(reader) => reader,
        Err(calamine::XlsxError::NotAWorksheet(_)) => return Ok(()),
        Err(error) => return Err(broken(error)),
    };
    while let Some(record) = reader.next_cell_with_formula_metadata().map_err(broken)? {
        let cell = match (&record.value, &record.formula) {
            (DataRef::Empty, None) => continue,
            (DataRef::Empty, Some(formula)) => Cell::uncalculated(formula_text(formula)),
            // What programs that never calculate store for the value that they leave open.
            (value, Some(formula)) if uncalculated && is_nought(value) => {
                Cell::uncalculated(formula_text(formula))
            }
            (value, _) => cells::of(value),
        };
        let (row, column) = record.pos;
        if !cells.add(row, column, cell)? {
            break;
        }
    }
    // Values and styles do not come in one pass; few sheets need the second.
    let per_cent: Vec<bool> = reader.styles().iter().map(shows_per_cent).collect();
    drop(reader);
    if per_cent.contains(&true) {
        let mut reader = book.worksheet_cells_reader(name).map_err(broken)?;
        let mut shown = HashSet::new();
        while let Some((row, column, style)) = reader.next_style_id().map_err(broken)? {
            if per_cent.get(style) == Some(&true) && shown.len() < limits::SHEET_CELLS {
                shown.insert((row, column));
            }
        }
        cells.show_per_cent(|row, column| shown.contains(&(row, column)));
    }
    Ok(())
}

/// Whether a style shows 0.85 as 85 %: a per cent sign in its format that is no quoted text.
fn shows_per_cent(style: &Style) -> bool {
    let format = style.number_format.as_ref().map_or("", |format| &format.format_code);
    let unquoted = format.split('"').step_by(2);
    unquoted.into_iter().any(|part| part.replace("\\%", "").contains('%'))
}

fn is_nought(value: &DataRef<'_>) -> bool {
    match value {
        DataRef::Int(value) => *value == 0,
        DataRef::Float(value) => *value == 0.0,
        DataRef::DateTime(moment) => moment.as_f64() == 0.0,
        _ => false,
    }
}

/// A formula that others share is written beside the first of them.
fn formula_text(formula: &XlsxFormulaMetadata) -> &str {
    match formula {
        XlsxFormulaMetadata::Normal { formula } | XlsxFormulaMetadata::Shared { formula, .. } => {
            formula
        }
        _ => "…",
    }
}

/// The cells of a sheet that is in memory as a block, and the formulas without a value.
/// `all_empty`: where every formula's value is an empty text, none was calculated, as an .xls
/// has no other way to say so.
fn range_cells<B: Reader<Cursor<Vec<u8>>>>(
    book: &mut B,
    name: &str,
    all_empty: bool,
    cells: &mut Cells,
) -> Result<(), Refused>
where
    B::Error: std::fmt::Display,
{
    let range = book.worksheet_range(name).map_err(broken)?;
    let (row, column) = range.start().unwrap_or_default();
    for (down, right, value) in range.used_cells() {
        let (row, column) = (row + down as u32, column + right as u32);
        if !cells.add(row, column, cells::of_owned(value))? {
            break;
        }
    }
    let formulas = book.worksheet_formula(name).map_err(broken)?;
    let (row, column) = formulas.start().unwrap_or_default();
    let stored = |down: usize, right: usize| {
        let value = range.get_value((row + down as u32, column + right as u32));
        value.filter(|value| **value != Data::Empty)
    };
    let is_more = |value: &Data| !matches!(value, Data::String(text) if text.is_empty());
    let calculated = !all_empty
        || formulas.used_cells().any(|(down, right, _)| stored(down, right).is_some_and(is_more));
    for (down, right, formula) in formulas.used_cells() {
        let has_value = calculated && stored(down, right).is_some();
        let (row, column) = (row + down as u32, column + right as u32);
        if !has_value && !cells.add(row, column, Cell::uncalculated(formula))? {
            break;
        }
    }
    Ok(())
}

/// What calamine does, where a panic of its is one more damaged workbook.
fn guarded<T>(read: impl FnOnce() -> Result<T, Refused>) -> Result<T, Refused> {
    catch_unwind(AssertUnwindSafe(read))
        .unwrap_or_else(|_| Err(broken("it has parts that contradict each other")))
}
