//! Rows to batches: the first row of a batch brings its charge, later rows readings.

use kneadfit::batch::{Batch, Reading, Stage, limits, validate};
use kneadfit::charge::Phase;

use crate::assemble::Assembler;
use crate::columns::{Header, Number};
use crate::formula::{As, charge_of};
use crate::gaps::Gaps;
use crate::later::{Later, Totals};
use crate::machines::Facts;
use crate::options::Purpose;
use crate::other_scale::check_scale;
use crate::plausible::{check_charge, check_reading};
use crate::problem::{Place, ProblemKind, Severity};
use crate::record::Record;
use crate::result::{LeftOut, Outcome, RowRef};
use crate::row::Row;

/// For so many stages at most room is made beforehand.
const FORESEEN_STAGES: usize = 8;

impl Assembler {
    /// A row that names its batch: as the batch's first, or as one more of it.
    #[allow(clippy::too_many_arguments)]
    pub(crate) fn place_row(
        &mut self,
        record: &Record<'_>,
        header: &Header,
        row: &Row<'_>,
        minutes: &[Option<f64>],
        machine: usize,
        id: &str,
        mut reference: RowRef,
    ) {
        let next = self.rows.len();
        let latest = self.rows.last().filter(|latest| latest.source == reference.source);
        let first = match latest.map(|latest| (latest.outcome, &latest.batch)) {
            // Most later rows follow the row before: no need to look the name up.
            Some((Outcome::Used { machine: same, batch, .. }, Some(name)))
                if same == machine && **name == *id =>
            {
                Some(self.machines.list[machine].facts[batch].first_row)
            }
            _ => self.machines.list[machine].known.first_or(id, next, &self.rows),
        };
        // One copy of the name for all rows of a batch.
        let known = first.and_then(|first| self.rows[first].batch.clone());
        reference.batch = Some(known.unwrap_or_else(|| id.into()));
        let Some(first) = first else {
            return self.first_row(record, header, row, minutes, machine, reference);
        };
        match self.rows[first].outcome {
            Outcome::Used { batch, .. } => {
                self.later_row(record, header, row, minutes, (machine, batch), reference);
            }
            Outcome::SetAside { .. } => {
                let line = self.rows[first].line;
                self.faults.error(None, ProblemKind::FirstRowSetAside { line });
                self.set_aside(Some(record), header, reference);
            }
            Outcome::LeftOut(why) => {
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
    ) {
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
                return;
            }
        }
        if record.len() != header.columns.len() || record.unclosed {
            return self.set_aside(Some(record), header, reference);
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
            if charge.flour_kg() > 0.0 {
                check_scale(row, header, &mut self.faults);
            }
        }
        let Some(charge) = charge.filter(|_| !self.faults.any_error()) else {
            return self.set_aside(Some(record), header, reference);
        };
        let into = &mut self.machines.list[machine];
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
        // Most batches of a log are read as often as the one before.
        let alike = into.batches.last().map_or(1, |batch| batch.stages.len());
        let mut stages = Vec::with_capacity(alike.min(FORESEEN_STAGES));
        stages.push(Stage { phases, reading });
        let batch = Batch {
            id: reference.batch.clone().unwrap_or_else(|| "".into()),
            date: reference.date.clone(),
            charge,
            stages,
        };
        into.facts.push(Facts {
            first_row: self.rows.len(),
            latest_row: self.rows.len(),
            charge_kg: batch.charge.mass_kg(),
            read: is_read(reading),
            fingerprint: row.fingerprint(minutes, 0),
            // Later rows bring readings and minutes only, whose limits their cells keep.
            refused: validate(&batch, &header.speeds).err().map(Box::new),
            totals: None,
        });
        into.batches.push(batch);
        let batch = index;
        if planned {
            self.leave(Gaps::of(row, minutes, header));
        }
        reference.outcome = Outcome::Used { machine, batch, stage: 0 };
        self.accept(record, header, reference);
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
        let into = &mut self.machines.list[machine];
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
            later.check_day(&into.batches[batch], reference.date.as_deref(), &mut self.faults);
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
        let first_stage = || Totals::of_first_stage(&into.batches[batch], header);
        let totals = into.facts[batch].totals.get_or_insert_with(first_stage);
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

    pub(crate) fn set_aside(
        &mut self,
        record: Option<&Record<'_>>,
        header: &Header,
        mut reference: RowRef,
    ) {
        let before = self.problems.len();
        let first = self.faults.0.iter().position(|f| f.severity == Severity::Error);
        let place = Place { line: reference.line, row: reference.row };
        self.report(record, header, place, reference.batch.clone());
        reference.outcome = Outcome::SetAside { problem: before + first.unwrap_or(0) };
        self.rows.push(reference);
    }
}

fn reading_of(row: &Row<'_>) -> Reading {
    Reading { dough_c: row.get(Number::DoughC), development: row.get(Number::Development) }
}

fn is_read(reading: Reading) -> bool {
    reading.dough_c.is_some() || reading.development.is_some()
}
