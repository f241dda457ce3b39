//! Sheets of a workbook as records: .xlsx, .xls and .ods, their stored values and no formula.
//!
//! A workbook is first walked by the guards, which refuse what would take more memory than a
//! log may; calamine reads it then.

mod cells;
mod grid;
mod ods;
mod xls;
mod zip_guard;

use std::io::{Cursor, Read};
use std::panic::{AssertUnwindSafe, catch_unwind};

use calamine::{Data, DataRef, Ods, Reader, Xls, Xlsx};

pub(crate) use grid::Grid;

use crate::column_names::ColumnNames;
use crate::guess::telling;
use crate::layout::{Fit, TELLING};
use crate::limits;
use crate::problem::ProblemKind;
use grid::Cells;

/// What the bytes of a file begin with.
const ZIP: &[u8] = b"PK\x03\x04";
const COMPOUND: &[u8] = b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1";

/// Whether these are the first bytes of a workbook.
pub(crate) fn is_workbook(head: &[u8]) -> bool {
    head.starts_with(ZIP) || head.starts_with(COMPOUND)
}

/// The sheet to read, and the others that look like a log too.
pub(crate) struct Chosen {
    pub(crate) grid: Grid,
    pub(crate) others: Vec<String>,
}

/// Why a workbook gives no sheet.
#[derive(Debug)]
pub(crate) enum Refused {
    /// Larger than what is read.
    Large {
        what: &'static str,
        most: u64,
    },
    /// Not to be read at all, in the words of whoever tried.
    Broken(String),
    NoSuchSheet {
        wanted: String,
        sheets: Vec<String>,
    },
}

impl From<Refused> for ProblemKind {
    fn from(refused: Refused) -> Self {
        match refused {
            Refused::Large { what, most } => Self::TooLarge { what, most },
            Refused::Broken(reason) => Self::NoWorkbook { reason },
            Refused::NoSuchSheet { wanted, sheets } => Self::NoSuchSheet { wanted, sheets },
        }
    }
}

/// Why a workbook with a password is not read.
pub(crate) const LOCKED: &str = "the workbook is locked with a password";
/// Why a workbook without a filled cell is not read.
pub(crate) const BARE: &str = "no sheet has anything in it";

pub(super) fn broken(reason: impl std::fmt::Display) -> Refused {
    Refused::Broken(format!("the workbook is damaged: {reason}"))
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

/// An opened workbook that the guards have let pass.
enum Workbook {
    Xlsx(Box<Xlsx<Cursor<Vec<u8>>>>),
    Ods(Ods<Cursor<Vec<u8>>>),
    Xls(Xls<Cursor<Vec<u8>>>),
}

impl Workbook {
    fn open(bytes: Vec<u8>) -> Result<Self, Refused> {
        if bytes.starts_with(COMPOUND) {
            let clean = xls::checked(bytes)?;
            return guarded(|| Xls::new(Cursor::new(clean)).map_err(broken)).map(Self::Xls);
        }
        let is_ods = zip_guard::check(&bytes)?;
        if is_ods {
            ods::check(&bytes)?;
            return guarded(|| Ods::new(Cursor::new(bytes)).map_err(broken)).map(Self::Ods);
        }
        guarded(|| Xlsx::new(Cursor::new(bytes)).map_err(broken)).map(|x| Self::Xlsx(Box::new(x)))
    }

    /// The sheets in their order; charts and the like are none.
    fn sheets(&self) -> Vec<String> {
        let of = |sheets: &[calamine::Sheet]| {
            sheets
                .iter()
                .filter(|sheet| sheet.typ == calamine::SheetType::WorkSheet)
                .map(|sheet| sheet.name.clone())
                .collect()
        };
        match self {
            Self::Xlsx(book) => of(book.sheets_metadata()),
            Self::Ods(book) => of(book.sheets_metadata()),
            Self::Xls(book) => of(book.sheets_metadata()),
        }
    }

    /// A sheet's cells; `rows`: no more than so many from the first filled one on.
    fn grid(&mut self, name: &str, rows: Option<usize>) -> Result<Grid, Refused> {
        guarded(|| {
            let mut cells = Cells::new(rows);
            match self {
                Self::Xlsx(book) => xlsx_cells(book, name, &mut cells)?,
                Self::Ods(book) => {
                    range_cells(&book.worksheet_range(name).map_err(broken)?, &mut cells)?
                }
                Self::Xls(book) => {
                    range_cells(&book.worksheet_range(name).map_err(broken)?, &mut cells)?
                }
            }
            cells.into_grid(name)
        })
    }
}

/// Cell by cell, as the block that they span may be huge.
fn xlsx_cells(
    book: &mut Xlsx<Cursor<Vec<u8>>>,
    name: &str,
    cells: &mut Cells,
) -> Result<(), Refused> {
    let mut reader = match book.worksheet_cells_reader(name) {
        Ok(reader) => reader,
        Err(calamine::XlsxError::NotAWorksheet(_)) => return Ok(()),
        Err(error) => return Err(broken(error)),
    };
    while let Some(cell) = reader.next_cell().map_err(broken)? {
        let (row, column) = cell.get_position();
        if matches!(cell.get_value(), DataRef::Empty) {
            continue;
        }
        if !cells.add(row, column, cells::of(cell.get_value()))? {
            break;
        }
    }
    Ok(())
}

fn range_cells(range: &calamine::Range<Data>, cells: &mut Cells) -> Result<(), Refused> {
    let (row, column) = range.start().unwrap_or_default();
    for (down, right, value) in range.used_cells() {
        let (row, column) = (row + down as u32, column + right as u32);
        if !cells.add(row, column, cells::of_owned(value))? {
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
