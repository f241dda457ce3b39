//! Which sheet of a workbook is read.

use std::io::Read;
use std::sync::Arc;

use super::grid::Grid;
use super::workbook::Workbook;
use super::{BARE, Refused};
use crate::column_names::ColumnNames;
use crate::guess::telling;
use crate::layout::{Fit, TELLING};
use crate::limits;
use crate::record::Record;

/// The sheet to read, and what else there is.
pub(crate) struct Chosen {
    pub(crate) grid: Grid,
    /// Others that look like a log too.
    pub(crate) others: Vec<String>,
    /// Others that have something in them, where none was asked for.
    pub(crate) beside: Vec<Arc<str>>,
}

/// Reads the wanted sheet, or the one that is most like a log; where none is like one, the
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
        let grid = workbook.grid(name, None)?;
        return Ok(Chosen { grid, others: Vec::new(), beside: Vec::new() });
    }
    let mut glances = Vec::with_capacity(sheets.len());
    for name in sheets {
        let grid = workbook.grid(&name, Some(limits::HEADER_WITHIN_ROWS))?;
        if grid.height() > 0 {
            glances.push((Likeness::of(&grid, own_names), name));
        }
    }
    let Some(chosen) = most_like_a_log(&glances) else {
        return Err(Refused::Broken(BARE.into()));
    };
    let grid = workbook.grid(&glances[chosen].1, None)?;
    let best = glances[chosen].0;
    let (mut others, mut beside) = (Vec::new(), Vec::new());
    for (index, (likeness, name)) in glances.into_iter().enumerate() {
        if index != chosen {
            let is_log = likeness.is_as_good_as(best) && likeness.rows;
            if is_log { others.push(name) } else { beside.push(name.into()) }
        }
    }
    Ok(Chosen { grid, others, beside })
}

/// How much a sheet is like a log.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Likeness {
    /// The columns of its header that a log has.
    known: usize,
    /// The things that some row says in words that are not the log's own.
    told: usize,
    /// Whether something stands under the header.
    rows: bool,
}

impl Likeness {
    fn of(grid: &Grid, own_names: &ColumnNames) -> Self {
        let header = grid.fitting(own_names);
        let in_other_words = grid.telling();
        let index = header.map(|(_, index)| index).or(in_other_words.map(|(_, index)| index));
        Self {
            known: header.map_or(0, |(fit, _)| fit.known()),
            told: in_other_words.map_or(0, |(told, _)| told),
            rows: index.is_some_and(|index| index + 1 < grid.height()),
        }
    }

    /// Whether it is a log where the other is: a sheet a month may have a column more, while
    /// notes on the columns name but a few of them.
    fn is_as_good_as(self, other: Self) -> bool {
        match other.known {
            0 => other.told > 0 && 2 * self.told >= other.told,
            known => 2 * self.known >= known,
        }
    }
}

/// The first sheet with rows among those that are like a log, else the first of these; else
/// the first.
fn most_like_a_log(glances: &[(Likeness, String)]) -> Option<usize> {
    let likeness = || glances.iter().map(|(likeness, _)| *likeness);
    let best = likeness().max_by_key(|likeness| (likeness.known, likeness.told))?;
    let good = || likeness().enumerate().filter(|(_, likeness)| likeness.is_as_good_as(best));
    let filled = good().find(|(_, likeness)| likeness.rows).or_else(|| good().next());
    Some(filled.map_or(0, |(index, _)| index))
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
        let fitting = self.fitting(own_names).map(|(_, index)| index);
        fitting.or_else(|| self.telling().map(|(_, index)| index))
    }

    /// The row that fits best as the header.
    fn fitting(&self, own_names: &ColumnNames) -> Option<(Fit, usize)> {
        self.best_row(|record, index| {
            let fit = Fit::of(record.cells(), own_names);
            fit.is_header(index == 0).then_some(fit)
        })
    }

    /// The row that says most of what a log has, in words that are not its own.
    fn telling(&self) -> Option<(usize, usize)> {
        self.best_row(|record, _| Some(telling(record.cells())).filter(|told| *told >= TELLING))
    }

    fn best_row<T: PartialOrd>(
        &self,
        of: impl Fn(&Record<'_>, usize) -> Option<T>,
    ) -> Option<(T, usize)> {
        let mut best: Option<(T, usize)> = None;
        for index in 0..self.height().min(limits::HEADER_WITHIN_ROWS) {
            if let Some(value) = of(&self.record(index), index)
                && best.as_ref().is_none_or(|(best, _)| value > *best)
            {
                best = Some((value, index));
            }
        }
        best
    }
}
