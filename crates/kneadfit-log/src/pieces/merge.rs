//! What was read of a piece of a log by itself, put behind what was read before it.

use std::vec::Drain;

use kneadfit::batch::Batch;
use memchr::memchr;

use super::cutter::Piece;
use super::part::Part;
use crate::assemble::Assembler;
use crate::columns::Header;
use crate::lines::Lines;
use crate::machines::{Facts, Machine};
use crate::problem::Problem;
use crate::records::Records;
use crate::result::{Outcome, RowRef};

/// A part's batches of one machine on their way.
struct Incoming<'p> {
    /// The machine's index here.
    machine: usize,
    batches: Drain<'p, Batch>,
    facts: Drain<'p, Facts>,
    /// The index here of each batch that has come.
    moved: Vec<usize>,
    /// The speeds that are noted as used, a bit each.
    speeds: u64,
}

impl<'p> Incoming<'p> {
    fn new(theirs: &'p mut Machine, machine: usize) -> Self {
        let moved = Vec::with_capacity(theirs.batches.len());
        let (batches, facts) = (theirs.batches.drain(..), theirs.facts.drain(..));
        Self { machine, batches, facts, moved, speeds: 0 }
    }

    /// The next batch comes.
    fn move_next(&mut self, into: &mut Machine, rows_before: usize) {
        if let (Some(batch), Some(mut facts)) = (self.batches.next(), self.facts.next()) {
            facts.first_row += rows_before;
            facts.latest_row += rows_before;
            self.moved.push(into.batches.len());
            into.batches.push(batch);
            into.facts.push(facts);
        }
    }

    /// The next batch is left behind.
    fn pass_over(&mut self) {
        self.batches.next();
        self.facts.next();
        self.moved.push(usize::MAX);
    }

    /// A row that comes has minutes at these speeds.
    fn note_speeds(&mut self, speeds: u64, into: &mut Machine) {
        let new = speeds & !self.speeds;
        if new != 0 {
            self.speeds |= new;
            for (speed, logged) in into.logged.iter_mut().enumerate() {
                *logged |= new >> speed & 1 == 1;
            }
        }
    }
}

impl Assembler {
    /// Takes over what a part read of its piece; `rows_before`: how many data rows of the file
    /// stand before it. Rows of batches that are known here already are read anew, as what
    /// they mean hangs on what was read before.
    pub(crate) fn absorb(
        &mut self,
        part: &mut Part,
        piece: &Piece,
        rows_before: u64,
        header: &mut Header,
    ) {
        let theirs = &mut part.assembler;
        header.examples.append(&mut part.header.examples);
        header.repeats.append(&mut part.header.repeats);
        for (ours, theirs) in self.written.iter_mut().zip(&theirs.written) {
            *ours |= theirs;
        }
        let (before, source) = (self.rows.len(), self.sources.len() - 1);
        self.machine_named |= theirs.machine_named;
        self.machine_blank = self.machine_blank.or(theirs.machine_blank.map(|row| before + row));
        let mut incoming: Vec<Incoming<'_>> = Vec::with_capacity(theirs.machines.list.len());
        for machine in &mut theirs.machines.list {
            let index = self.machines.of(&machine.name, None, header);
            incoming.push(Incoming::new(machine, index));
        }
        let mut problems = theirs.problems.drain(..).peekable();
        let mut notes = theirs.notes.drain(..);
        let mut problems_seen = 0;
        // First rows of batches that are known here.
        let mut known = Vec::new();
        for (index, mut row) in theirs.rows.drain(..).enumerate() {
            let origin = part.origins[index];
            let note = notes.next().flatten();
            let number = row.row;
            let of_row = |problem: &Problem| problem.place.is_some_and(|at| at.row == number);
            let of_row = std::iter::from_fn(|| problems.next_if(of_row));
            if origin.first == index {
                let machine = match row.outcome {
                    Outcome::Used { machine, .. } => Some(incoming[machine].machine),
                    _ => row.machine.as_ref().map(|name| self.machines.of(name, None, header)),
                };
                if machine.is_some_and(|machine| self.knows(&row, machine)) {
                    known.push(index);
                }
            }
            row.row += rows_before;
            if !known.is_empty() && known.binary_search(&origin.first).is_ok() {
                if let Outcome::Used { machine, stage: 0, .. } = row.outcome {
                    incoming[machine].pass_over();
                }
                problems_seen += of_row.count();
                let end = part.origins.get(index + 1).map_or(piece.bytes.len(), |next| next.start);
                self.take_again(&piece.bytes[origin.start..end], part.separator, &row, header);
                continue;
            }
            match &mut row.outcome {
                Outcome::Used { machine, batch, stage } => {
                    let incoming = &mut incoming[*machine];
                    let into = &mut self.machines.list[incoming.machine];
                    if *stage == 0 {
                        incoming.move_next(into, before);
                    }
                    incoming.note_speeds(origin.speeds, into);
                    (*machine, *batch) = (incoming.machine, incoming.moved[*batch]);
                }
                Outcome::SetAside { problem } => {
                    *problem = self.problems.len() + *problem - problems_seen;
                }
                Outcome::LeftOut(_) => {}
            }
            for mut problem in of_row {
                if let Some(place) = &mut problem.place {
                    place.row = row.row;
                }
                self.problems.push(problem);
                problems_seen += 1;
            }
            row.source = source;
            self.rows.push(row);
            if note.is_some() {
                self.notes.resize(self.rows.len() - 1, None);
                self.notes.push(note);
            }
        }
    }

    /// Whether a batch is known by this first row's name; from now on it is.
    fn knows(&mut self, row: &RowRef, machine: usize) -> bool {
        let (next, known) = (self.rows.len(), &mut self.machines.list[machine].known);
        row.batch.as_ref().is_some_and(|name| known.first_or(name, next, &self.rows).is_some())
    }

    /// Takes a row by its bytes, which some rows that are none may follow.
    fn take_again(&mut self, bytes: &[u8], separator: u8, row: &RowRef, header: &mut Header) {
        // A part whose rows want a look is void.
        let look = |_: &mut Header| {};
        if memchr(b'"', bytes).is_none() {
            let mut ends = Vec::new();
            if let Some(record) = Lines::new(bytes, separator, row.line).next(&mut ends) {
                self.take(&record, row.row, header, look);
            }
        } else if let Ok(Some(record)) = Records::within(bytes, separator, row.line).next() {
            self.take(&record, row.row, header, look);
        }
    }
}
