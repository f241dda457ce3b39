//! All that is read, row by row: to which machine a row counts, and what is said of it.

use std::sync::Arc;

use crate::cell::as_text;
use crate::columns::Header;
use crate::dates::{self, DateOrder, Written};
use crate::example::is_example;
use crate::gaps::{Gaps, is_unread_plan};
use crate::harmless::original;
use crate::intern::Interner;
use crate::machines::Machines;
use crate::names::is_blank;
use crate::options::{Purpose, ReadOptions};
use crate::problem::{Found, Place, Problem, ProblemKind, Severity};
use crate::record::Record;
use crate::result::{LeftOut, Outcome, RowRef};
use crate::row::{Faults, Row, is_date};
use crate::sheet_cell::CellKind;
use crate::slips::named;

/// All that was read so far.
pub(crate) struct Assembler {
    pub(crate) options: ReadOptions,
    pub(crate) problems: Vec<Problem>,
    pub(crate) rows: Vec<RowRef>,
    /// Those of the rows up to the latest that has some.
    pub(crate) gaps: Vec<Gaps>,
    /// The notes of the rows up to the latest that has one.
    pub(crate) notes: Vec<Option<Arc<str>>>,
    pub(crate) sources: Vec<Arc<str>>,
    /// The sheet of each source that is a workbook.
    pub(crate) sheets: Vec<Option<Arc<str>>>,
    pub(crate) machines: Machines,
    pub(crate) default_machine: Arc<str>,
    /// Whether a row of this file names its machine, and the first that does not.
    pub(crate) machine_named: bool,
    pub(crate) machine_blank: Option<usize>,
    pub(crate) since: Option<String>,
    pub(crate) until: Option<String>,
    /// Which of the file's speeds have anything in their column, in whatever row.
    pub(crate) written: Vec<bool>,
    names: Interner,
    dates: Interner,
    pub(crate) flours: Interner,
    /// Scratch of one row.
    pub(crate) minutes: Vec<Option<f64>>,
    pub(crate) faults: Faults,
}

impl Assembler {
    pub(crate) fn new(options: ReadOptions) -> Self {
        // Days written in full compare as texts do.
        let since = options.since.map(|day| day.to_string());
        let until = options.until.map(|day| day.to_string());
        Self {
            options,
            problems: Vec::new(),
            rows: Vec::new(),
            gaps: Vec::new(),
            notes: Vec::new(),
            sources: Vec::new(),
            sheets: Vec::new(),
            machines: Machines::default(),
            default_machine: "".into(),
            machine_named: false,
            machine_blank: None,
            since,
            until,
            written: Vec::new(),
            names: Interner::default(),
            dates: Interner::default(),
            flours: Interner::default(),
            minutes: Vec::new(),
            faults: Faults::default(),
        }
    }

    /// A new file begins.
    pub(crate) fn begin(&mut self, source: Arc<str>, default_machine: &str) {
        self.sources.push(source);
        self.sheets.push(None);
        self.default_machine = self.names.get(default_machine);
        self.machine_named = false;
        self.machine_blank = None;
    }

    /// It is a workbook, of which this sheet is read.
    pub(crate) fn begin_sheet(&mut self, sheet: Option<Arc<str>>) {
        if let Some(latest) = self.sheets.last_mut() {
            *latest = sheet;
        }
    }

    /// The name of the file that is read.
    pub(crate) fn source(&self) -> Arc<str> {
        self.sources.last().cloned().unwrap_or_else(|| "".into())
    }

    /// Its sheet.
    pub(crate) fn sheet(&self) -> Option<Arc<str>> {
        self.sheets.last().cloned().flatten()
    }

    /// Its header is read.
    pub(crate) fn begin_rows(&mut self, header: &Header) {
        self.written = vec![false; header.speeds.len()];
        self.machines.begin_rows(header.speeds.len());
    }

    /// Its rows are read.
    pub(crate) fn end_rows(&mut self, header: &Header) {
        self.machines.end_rows(header);
        let any_row = self.rows.last().is_some_and(|row| row.source + 1 == self.sources.len());
        if any_row && self.options.purpose == Purpose::Calibrating {
            self.doubt_blank_speeds(header);
        }
        if let Some(row) = self.machine_blank.filter(|_| self.machine_named) {
            let kind = ProblemKind::MachineBlank { taken_as: self.default_machine.clone() };
            self.faults.0.clear();
            self.faults.doubt(header.machine, kind);
            let (place, batch) = {
                let row = &self.rows[row];
                (Place { line: row.line, row: row.row }, row.batch.clone())
            };
            self.report(None, header, place, batch);
        }
    }

    /// A speed without a minute in any row is a column left over, or minutes left out. No
    /// rest is nothing strange.
    fn doubt_blank_speeds(&mut self, header: &Header) {
        let Some(source) = self.sources.last() else { return };
        for (speed, &column) in header.speed_columns.iter().enumerate() {
            if self.written[speed] || &*header.speeds[speed] == kneadfit::charge::REST {
                continue;
            }
            self.problems.push(Problem {
                severity: Severity::Doubt,
                source: source.clone(),
                sheet: self.sheets.last().cloned().flatten(),
                place: None,
                batch: None,
                column: Some(header.column_ref(column)),
                found: None,
                kind: ProblemKind::SpeedBlank,
            });
        }
    }

    /// Says which of a row's minutes are at a speed that its machine is known not to have.
    fn check_speeds(&mut self, machine: &str, minutes: &[Option<f64>], header: &Header) {
        let Some((known, speeds)) = &self.options.known_speeds else { return };
        if **known != *machine {
            return;
        }
        for (speed, total) in minutes.iter().enumerate() {
            let name = &header.speeds[speed];
            let has = &**name == kneadfit::charge::REST || speeds.contains(name);
            if !has && total.is_some_and(|minutes| minutes > 0.0) {
                let kind = ProblemKind::UnknownSpeed { speeds: speeds.clone() };
                self.faults.error(Some(header.speed_columns[speed]), kind);
            }
        }
    }

    /// The note of a row, as it was written, where notes are asked for.
    fn note(&mut self, record: &Record<'_>, header: &Header) -> Option<Arc<str>> {
        let index = header.note.filter(|_| self.options.keep_notes)?;
        if record.kind(index) == CellKind::Uncalculated {
            self.faults.doubt(Some(index), ProblemKind::Uncalculated);
            return None;
        }
        let cell = record.cell(index);
        match as_text(cell) {
            Some(text) if text.trim_matches(is_blank).is_empty() => None,
            Some(text) if header.sheet => Some(text.into()),
            Some(text) => Some(original(text).into()),
            None => {
                self.faults.doubt(Some(index), ProblemKind::NotUtf8);
                Some(String::from_utf8_lossy(cell).into())
            }
        }
    }

    /// The day of a row as a text.
    fn day(&mut self, text: &str, header: &Header) -> Option<Arc<str>> {
        // The same day as the row before needs no second look at the calendar.
        let same = self.rows.last().and_then(|row| row.date.as_deref()) == Some(text);
        if same || is_date(text) {
            return Some(self.dates.get(text));
        }
        match (dates::read(text), header.date_order) {
            (Some(Written::Day(day)), _)
            | (Some(Written::Either(day, _)), Some(DateOrder::DayFirst))
            | (Some(Written::Either(_, day)), Some(DateOrder::MonthFirst)) => {
                Some(self.dates.get(&day.to_string()))
            }
            // The column as a whole is doubted.
            (Some(Written::Either(..)), None) => None,
            (None, _) => {
                self.faults.error(header.date, ProblemKind::NotADate);
                None
            }
        }
    }

    /// One row; `false`: it holds totals, is an example or repeats the header, and counts as
    /// none. The first row that is not in the canonical dress has all rows looked at together, to know how they are dressed.
    pub(crate) fn take(
        &mut self,
        record: &Record<'_>,
        number: u64,
        header: &mut Header,
        look: impl FnOnce(&mut Header),
    ) -> bool {
        let place = Place { line: record.line, row: number };
        self.faults.0.clear();
        let mut minutes = std::mem::take(&mut self.minutes);
        let mut row = Row::parse(record, header, &mut minutes, &mut self.faults);
        if !header.looked && (self.faults.any_unread() || !row.is_canonical()) {
            look(header);
            self.faults.0.clear();
            row = Row::parse(record, header, &mut minutes, &mut self.faults);
        }
        if row.batch.is_some_and(is_example) && !record.unclosed {
            header.examples.push(record.line);
            self.minutes = minutes;
            return false;
        }
        if header.is_repeated_by(record) && !record.unclosed {
            header.repeats.push(record.line);
            self.minutes = minutes;
            return false;
        }
        let header = &*header;
        if header.totals.binary_search(&record.line).is_ok() {
            self.minutes = minutes;
            return false;
        }
        for (speed, &column) in header.speed_columns.iter().enumerate() {
            if !self.written[speed] {
                self.written[speed] = !record.cell(column).trim_ascii().is_empty();
            }
        }
        let lines = record.last_line - record.line + 1;
        if record.unclosed {
            self.faults.0.clear();
            self.faults.error(None, ProblemKind::UnclosedQuote { lines });
        } else if record.len() != header.columns.len() {
            // What stands under which column is not known: other faults would mislead.
            self.faults.0.clear();
            let (cells, columns) = (record.len(), header.columns.len());
            self.faults.error(None, ProblemKind::CellCount { cells, columns, lines });
        }
        let note = self.note(record, header);
        let machine_name = match row.machine {
            Some(name) => {
                self.machine_named = true;
                self.names.get(name)
            }
            None => {
                if header.machine.is_some() && self.machine_blank.is_none() {
                    self.machine_blank = Some(self.rows.len());
                }
                self.default_machine.clone()
            }
        };
        self.check_speeds(&machine_name, &minutes, header);
        let date = row.date.and_then(|text| self.day(text, header));
        let mut reference = RowRef {
            source: self.sources.len() - 1,
            line: place.line,
            row: number,
            batch: None,
            machine: None,
            date,
            outcome: Outcome::LeftOut(LeftOut::OtherMachine),
        };
        // The name moves to the row last: one count up and down again is a wait for memory.
        if self.options.machine.as_ref().is_some_and(|wanted| *wanted != machine_name) {
            reference.batch = row.batch.map(Arc::from);
            reference.machine = Some(machine_name);
            self.rows.push(reference);
        } else if let Some(id) = row.batch {
            let latest = match self.rows.last().map(|row| row.outcome) {
                Some(Outcome::Used { machine, .. }) => Some(machine),
                _ => None,
            };
            let machine = self.machines.of(&machine_name, latest, header);
            reference.machine = Some(machine_name);
            self.place_row(record, header, &row, &minutes, machine, id, reference);
        } else {
            reference.machine = Some(machine_name);
            if !self.faults.any_error() {
                self.faults.error(header.batch, ProblemKind::Blank { needed_by: None });
            }
            self.set_aside(Some(record), header, reference);
        }
        if note.is_some() {
            self.notes.resize(self.rows.len() - 1, None);
            self.notes.push(note);
        }
        self.minutes = minutes;
        true
    }

    /// Turns the row's faults into problems.
    pub(crate) fn report(
        &mut self,
        record: Option<&Record<'_>>,
        header: &Header,
        place: Place,
        batch: Option<Arc<str>>,
    ) {
        let (source, sheet) = (self.source(), self.sheet());
        for mut fault in self.faults.0.drain(..) {
            let found = fault
                .column
                .zip(record)
                .map(|(index, record)| record.cell(index))
                .filter(|cell| !cell.trim_ascii().is_empty())
                .map(Found::new);
            let column = fault.column.map(|index| header.column_ref(index));
            if record.is_some_and(|record| is_unread_plan(&fault, record, header, &self.options)) {
                fault.kind = ProblemKind::NoWaterToPlan;
            }
            let kind = found.as_ref().and_then(|found| named(&fault.kind, found.as_str()));
            let kind = kind.unwrap_or(fault.kind).in_row(&source, place.line);
            self.problems.push(Problem {
                severity: fault.severity,
                source: source.clone(),
                sheet: sheet.clone(),
                place: Some(place),
                batch: batch.clone(),
                column,
                found,
                kind,
            });
        }
    }
}
