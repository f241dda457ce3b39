//! Rows to batches: the first row of a batch brings its charge, later rows readings.

use std::collections::hash_map::Entry;
use std::sync::Arc;

use foldhash::{HashMap, HashMapExt};
use kneadfit::batch::{Batch, BatchError, Reading, Stage, limits, validate};
use kneadfit::charge::Phase;

use crate::columns::{Header, Number};
use crate::dates::{self, DateOrder, Written};
use crate::formula::{As, charge_of};
use crate::gaps::Gaps;
use crate::intern::Interner;
use crate::later::{Later, Totals};
use crate::options::{Purpose, ReadOptions};
use crate::plausible::{check_charge, check_reading};
use crate::problem::{Found, Place, Problem, ProblemKind, Severity};
use crate::records::Record;
use crate::result::{LeftOut, Outcome, RowRef};
use crate::row::{Faults, Row, is_date};

/// What is known of a batch's name within one file: small, as every look-up of
/// a name in a long log is a walk through cold memory.
#[derive(Clone, Copy)]
enum Known {
    /// The batch of this index.
    Batch(u32),
    /// Its first row, of this index, was set aside.
    SetAside { row: u32 },
    /// It was not asked for.
    LeftOut(LeftOut),
}

/// What the end of reading asks of a batch, noted while the batch is warm in the
/// cache: going through a million batches again would cost a third of reading them.
pub(crate) struct Facts {
    /// Its first and its latest row.
    pub(crate) first_row: usize,
    latest_row: usize,
    pub(crate) charge_kg: f64,
    /// Whether any of its rows reads something.
    pub(crate) read: bool,
    /// A number made of all its numbers: equal batches have equal ones.
    pub(crate) fingerprint: u64,
    /// What the core has against it.
    pub(crate) refused: Option<Box<BatchError>>,
}

/// A machine's batches as they grow.
pub(crate) struct Machine {
    pub(crate) name: Arc<str>,
    pub(crate) speeds: Vec<Arc<str>>,
    pub(crate) batches: Vec<Batch>,
    /// One a batch.
    pub(crate) facts: Vec<Facts>,
    /// Batches of the file that is being read, by name.
    known: HashMap<Arc<str>, Known>,
    /// Exact totals of those with a second row.
    totals: HashMap<usize, Totals>,
    /// Which of the file's speeds have anything in their column, by their index.
    logged: Vec<bool>,
}

/// All that was read so far.
pub(crate) struct Assembler {
    pub(crate) options: ReadOptions,
    pub(crate) problems: Vec<Problem>,
    pub(crate) rows: Vec<RowRef>,
    /// Those of the rows up to the latest that has some.
    pub(crate) gaps: Vec<Gaps>,
    pub(crate) sources: Vec<Arc<str>>,
    /// The sheet of each source that is a workbook.
    pub(crate) sheets: Vec<Option<Arc<str>>>,
    pub(crate) machines: Vec<Machine>,
    machine_index: HashMap<Arc<str>, usize>,
    default_machine: Arc<str>,
    /// Whether a row of this file names its machine, and the first that does not.
    machine_named: bool,
    machine_blank: Option<usize>,
    since: Option<String>,
    until: Option<String>,
    /// Which of the file's speeds have anything in their column, in whatever row.
    written: Vec<bool>,
    names: Interner,
    dates: Interner,
    flours: Interner,
    /// Scratch of one row.
    minutes: Vec<Option<f64>>,
    faults: Faults,
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
            sources: Vec::new(),
            sheets: Vec::new(),
            machines: Vec::new(),
            machine_index: HashMap::new(),
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
        for machine in &mut self.machines {
            machine.known.clear();
            machine.totals.clear();
            machine.logged = vec![false; header.speeds.len()];
        }
    }

    /// Its rows are read.
    pub(crate) fn end_rows(&mut self, header: &Header) {
        for (index, speed) in header.speeds.iter().enumerate() {
            for machine in self.machines.iter_mut().filter(|machine| machine.logged[index]) {
                if &**speed != kneadfit::charge::REST && !machine.speeds.contains(speed) {
                    machine.speeds.push(self.names.get(speed));
                }
            }
        }
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

    /// One row; `false`: it holds totals, and is none. The first row that is not in the
    /// canonical dress has all rows looked at together, to know how they are dressed.
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
        let mut date = None;
        if let Some(text) = row.date {
            // The same day as the row before needs no second look at the calendar.
            let same = self.rows.last().and_then(|row| row.date.as_deref()) == Some(text);
            if same || is_date(text) {
                date = Some(self.dates.get(text));
            } else {
                match (dates::read(text), header.date_order) {
                    (Some(Written::Day(day)), _)
                    | (Some(Written::Either(day, _)), Some(DateOrder::DayFirst))
                    | (Some(Written::Either(_, day)), Some(DateOrder::MonthFirst)) => {
                        date = Some(self.dates.get(&day.to_string()));
                    }
                    // The column as a whole is doubted.
                    (Some(Written::Either(..)), None) => {}
                    (None, _) => self.faults.error(header.date, ProblemKind::NotADate),
                }
            }
        }
        let mut reference = RowRef {
            source: self.sources.len() - 1,
            line: place.line,
            row: number,
            batch: None,
            machine: Some(machine_name.clone()),
            date,
            outcome: Outcome::LeftOut(LeftOut::OtherMachine),
        };
        if self.options.machine.as_ref().is_some_and(|wanted| *wanted != machine_name) {
            reference.batch = row.batch.map(Arc::from);
            self.rows.push(reference);
        } else if let Some(id) = row.batch {
            let machine = self.machine(&machine_name, header);
            self.place_row(record, header, &row, &minutes, machine, id, reference);
        } else {
            if !self.faults.any_error() {
                self.faults.error(header.batch, ProblemKind::Blank { needed_by: None });
            }
            self.set_aside(Some(record), header, reference);
        }
        self.minutes = minutes;
        true
    }

    /// A row that names its batch: as the batch's first, or as one more of it.
    #[allow(clippy::too_many_arguments)]
    fn place_row(
        &mut self,
        record: &Record<'_>,
        header: &Header,
        row: &Row<'_>,
        minutes: &[Option<f64>],
        machine: usize,
        id: &str,
        mut reference: RowRef,
    ) {
        let latest = self.rows.last().filter(|latest| latest.source == reference.source);
        let known = match latest.map(|latest| (latest.outcome, &latest.batch)) {
            // Most later rows follow the row before: no need to look the name up.
            Some((Outcome::Used { machine: same, batch, .. }, Some(name)))
                if same == machine && **name == *id =>
            {
                reference.batch = Some(name.clone());
                Some(Known::Batch(batch as u32))
            }
            _ => {
                let machine = &mut self.machines[machine];
                match machine.known.entry(id.into()) {
                    Entry::Occupied(entry) => {
                        reference.batch = Some(entry.key().clone());
                        Some(*entry.get())
                    }
                    Entry::Vacant(entry) => {
                        reference.batch = Some(entry.key().clone());
                        // A guess to save a second look-up; put right below where it fails.
                        entry.insert(Known::Batch(machine.batches.len() as u32));
                        None
                    }
                }
            }
        };
        match known {
            None => {
                let id = reference.batch.clone();
                let known = self.first_row(record, header, row, minutes, machine, reference);
                if let (Some(id), false) = (id, matches!(known, Known::Batch(_))) {
                    self.machines[machine].known.insert(id, known);
                }
            }
            Some(Known::Batch(batch)) => {
                let batch = batch as usize;
                self.later_row(record, header, row, minutes, (machine, batch), reference);
            }
            Some(Known::SetAside { row }) => {
                let line = self.rows[row as usize].line;
                self.faults.error(None, ProblemKind::FirstRowSetAside { line });
                self.set_aside(Some(record), header, reference);
            }
            Some(Known::LeftOut(why)) => {
                reference.outcome = Outcome::LeftOut(why);
                self.rows.push(reference);
            }
        }
    }

    fn first_row(
        &mut self,
        record: &Record<'_>,
        header: &Header,
        row: &Row<'_>,
        minutes: &[Option<f64>],
        machine: usize,
        mut reference: RowRef,
    ) -> Known {
        if let Some(why) = self.outside_span(reference.date.as_deref()) {
            let undated_by_fault = why == LeftOut::Undated && self.faults.any_error();
            if !undated_by_fault {
                self.faults.0.clear();
                reference.outcome = Outcome::LeftOut(why);
                let place = Place { line: reference.line, row: reference.row };
                let batch = reference.batch.clone();
                self.rows.push(reference);
                if why == LeftOut::Undated {
                    self.faults.doubt(header.date, ProblemKind::Undated);
                    self.report(Some(record), header, place, batch);
                }
                return Known::LeftOut(why);
            }
        }
        let index = self.rows.len() as u32;
        if record.len() != header.columns.len() || record.unclosed {
            self.set_aside(Some(record), header, reference);
            return Known::SetAside { row: index };
        }
        let flour = row.flour.map(|name| self.flours.get(name));
        let reading = reading_of(row);
        let planned = self.options.purpose == Purpose::Planning && !is_read(reading);
        let written = match self.options.purpose {
            Purpose::Planning if planned => As::Planned,
            Purpose::Planning => As::Begun,
            _ => As::Logged,
        };
        let charge = charge_of(row, header, flour, written, &mut self.faults);
        if let Some(charge) = &charge {
            check_charge(row, charge, header, &mut self.faults);
            check_reading(&reading, minutes, charge, header, &mut self.faults);
        }
        let Some(charge) = charge.filter(|_| !self.faults.any_error()) else {
            self.set_aside(Some(record), header, reference);
            return Known::SetAside { row: index };
        };
        let into = &mut self.machines[machine];
        let used = minutes.iter().filter(|total| total.is_some_and(|m| m > 0.0)).count();
        let mut phases = Vec::with_capacity(used);
        for (speed, total) in minutes.iter().enumerate() {
            let Some(total) = *total else { continue };
            into.logged[speed] = true;
            if total > 0.0 {
                phases.push(Phase { speed: header.speeds[speed].clone(), minutes: total });
            }
        }
        let index = into.batches.len();
        let batch = Batch {
            id: reference.batch.clone().unwrap_or_else(|| "".into()),
            date: reference.date.clone(),
            charge,
            stages: vec![Stage { phases, reading }],
        };
        into.facts.push(Facts {
            first_row: self.rows.len(),
            latest_row: self.rows.len(),
            charge_kg: batch.charge.mass_kg(),
            read: is_read(reading),
            fingerprint: row.fingerprint(minutes, 0),
            // Later rows bring readings and minutes only, whose limits their cells keep.
            refused: validate(&batch, &header.speeds).err().map(Box::new),
        });
        into.batches.push(batch);
        let batch = index;
        if planned {
            self.leave(Gaps::of(row, minutes, header));
        }
        reference.outcome = Outcome::Used { machine, batch, stage: 0 };
        self.accept(record, header, reference);
        Known::Batch(batch as u32)
    }

    fn later_row(
        &mut self,
        record: &Record<'_>,
        header: &Header,
        row: &Row<'_>,
        minutes: &[Option<f64>],
        (machine, batch): (usize, usize),
        mut reference: RowRef,
    ) {
        let into = &mut self.machines[machine];
        let later = Later {
            record,
            header,
            row,
            minutes,
            first_line: self.rows[into.facts[batch].first_row].line,
            latest_line: self.rows[into.facts[batch].latest_row].line,
        };
        let reading = reading_of(row);
        if record.len() == header.columns.len() && !record.unclosed {
            later.check_repeats(&into.batches[batch], &mut self.faults);
            let charge = &into.batches[batch].charge;
            check_reading(&reading, minutes, charge, header, &mut self.faults);
        }
        let most = limits::READINGS_OF_A_BATCH;
        if into.batches[batch].stages.len() >= most {
            self.faults.error(header.batch, ProblemKind::TooManyReadings { most });
        }
        if self.faults.any_error() {
            self.set_aside(Some(record), header, reference);
            return;
        }
        let totals = into
            .totals
            .entry(batch)
            .or_insert_with(|| Totals::of_first_stage(&into.batches[batch], header));
        let latest = into.batches[batch].stages.last().map(|stage| stage.reading);
        match later.phases_since(totals, latest, reading, &mut self.faults) {
            Some(phases) => {
                for (speed, total) in minutes.iter().enumerate() {
                    into.logged[speed] |= total.is_some();
                }
                into.batches[batch].stages.push(Stage { phases, reading });
                into.facts[batch].latest_row = self.rows.len();
                let facts = &mut into.facts[batch];
                facts.read |= is_read(reading);
                facts.fingerprint = row.fingerprint(minutes, facts.fingerprint);
                let stage = into.batches[batch].stages.len() - 1;
                if self.options.purpose == Purpose::Planning && !is_read(reading) {
                    self.leave(Gaps::of(row, minutes, header));
                }
                reference.outcome = Outcome::Used { machine, batch, stage };
                self.accept(record, header, reference);
            }
            None => self.set_aside(Some(record), header, reference),
        }
    }

    /// Whether a day lies outside the span asked for.
    fn outside_span(&self, date: Option<&str>) -> Option<LeftOut> {
        if self.since.is_none() && self.until.is_none() {
            return None;
        }
        let Some(date) = date else { return Some(LeftOut::Undated) };
        if self.since.as_deref().is_some_and(|since| date < since) {
            Some(LeftOut::BeforeSince)
        } else if self.until.as_deref().is_some_and(|until| date > until) {
            Some(LeftOut::AfterUntil)
        } else {
            None
        }
    }

    fn machine(&mut self, name: &Arc<str>, header: &Header) -> usize {
        // Rows mostly repeat the machine of the row before.
        if let Some(Outcome::Used { machine, .. }) = self.rows.last().map(|row| row.outcome)
            && Arc::ptr_eq(&self.machines[machine].name, name)
        {
            return machine;
        }
        if let Some(&index) = self.machine_index.get(name) {
            return index;
        }
        let index = self.machines.len();
        self.machine_index.insert(name.clone(), index);
        self.machines.push(Machine {
            name: name.clone(),
            speeds: Vec::new(),
            batches: Vec::new(),
            facts: Vec::new(),
            known: HashMap::new(),
            totals: HashMap::new(),
            logged: vec![false; header.speeds.len()],
        });
        index
    }

    /// Notes what the row that comes next among the rows leaves to a plan.
    fn leave(&mut self, gaps: Gaps) {
        self.gaps.resize_with(self.rows.len(), Gaps::default);
        self.gaps.push(gaps);
    }

    fn accept(&mut self, record: &Record<'_>, header: &Header, reference: RowRef) {
        let place = Place { line: reference.line, row: reference.row };
        if !self.faults.0.is_empty() {
            self.report(Some(record), header, place, reference.batch.clone());
        }
        self.rows.push(reference);
    }

    fn set_aside(&mut self, record: Option<&Record<'_>>, header: &Header, mut reference: RowRef) {
        let before = self.problems.len();
        let first = self.faults.0.iter().position(|f| f.severity == Severity::Error);
        let place = Place { line: reference.line, row: reference.row };
        self.report(record, header, place, reference.batch.clone());
        reference.outcome = Outcome::SetAside { problem: before + first.unwrap_or(0) };
        self.rows.push(reference);
    }

    /// Turns the row's faults into problems.
    fn report(
        &mut self,
        record: Option<&Record<'_>>,
        header: &Header,
        place: Place,
        batch: Option<Arc<str>>,
    ) {
        let (source, sheet) = (self.source(), self.sheet());
        for fault in self.faults.0.drain(..) {
            let found = fault
                .column
                .zip(record)
                .map(|(index, record)| record.cell(index))
                .filter(|cell| !cell.trim_ascii().is_empty())
                .map(Found::new);
            let column = fault.column.map(|index| header.column_ref(index));
            self.problems.push(Problem {
                severity: fault.severity,
                source: source.clone(),
                sheet: sheet.clone(),
                place: Some(place),
                batch: batch.clone(),
                column,
                found,
                kind: fault.kind,
            });
        }
    }
}

fn reading_of(row: &Row<'_>) -> Reading {
    Reading { dough_c: row.get(Number::DoughC), development: row.get(Number::Development) }
}

fn is_read(reading: Reading) -> bool {
    reading.dough_c.is_some() || reading.development.is_some()
}
