//! What was read of a piece of a log by itself, put behind what was read before it.

use std::iter::Zip;
use std::vec::Drain;

use kneadfit::batch::Batch;
use memchr::memchr;

use crate::assemble::Assembler;
use crate::columns::Header;
use crate::lines::Lines;
use crate::machines::{Facts, Machine};
use crate::problem::Problem;
use crate::records::Records;
use crate::result::{Outcome, RowRef};

use super::cutter::Piece;
use super::part::Part;

/// Where a part's rows come to stand.
struct Place {
    /// How many rows there are before them, of all files.
    rows: usize,
    /// How many data rows of the file there are before them.
    file_rows: u64,
    source: usize,
    /// The index here of each of the part's machines.
    machines: Vec<usize>,
}

impl Assembler {
    /// Takes over what a part read of its piece; `file_rows`: how many data rows of the file
    /// stand before it. Rows of batches that are known here already are read anew, as what
    /// they mean hangs on what was read before. `like_it`: how many pieces like this one are
    /// in memory, so that room is made for them at once.
    pub(crate) fn absorb(
        &mut self,
        part: &mut Part,
        piece: &Piece,
        (file_rows, like_it): (u64, usize),
        header: &mut Header,
    ) {
        let theirs = &mut part.assembler;
        header.examples.append(&mut part.header.examples);
        header.repeats.append(&mut part.header.repeats);
        for (ours, theirs) in self.written.iter_mut().zip(&theirs.written) {
            *ours |= theirs;
        }
        let (rows, source) = (self.rows.len(), self.sources.len() - 1);
        self.machine_named |= theirs.machine_named;
        self.machine_blank = self.machine_blank.or(theirs.machine_blank.map(|row| rows + row));
        self.rows.reserve(like_it * theirs.rows.len());
        let mut machines = Vec::with_capacity(theirs.machines.list.len());
        for machine in &theirs.machines.list {
            let index = self.machines.of(&machine.name, None, header);
            self.machines.list[index].make_room(like_it * machine.batches.len());
            machines.push(index);
        }
        let place = Place { rows, file_rows, source, machines };
        let known = self.known_firsts(part, &place, header);
        match known.is_empty() {
            true => self.append(part, &place),
            false => self.merge(part, piece, &place, &known, header),
        }
    }

    /// The first rows of the part's batches that are no first rows here; the others are now.
    fn known_firsts(&mut self, part: &Part, place: &Place, header: &Header) -> Vec<usize> {
        let mut known = Vec::new();
        for (index, (row, origin)) in part.assembler.rows.iter().zip(&part.origins).enumerate() {
            let Some(name) = row.batch.as_ref().filter(|_| origin.first == index) else { continue };
            let machine = match (row.outcome, &row.machine) {
                (Outcome::Used { machine, .. }, _) => place.machines[machine],
                (_, Some(machine)) => self.machines.of(machine, None, header),
                (_, None) => continue,
            };
            let ours = &mut self.machines.list[machine].known;
            let (hash, next) = (origin.hash, place.rows + index);
            if ours.first_by_hash_or(hash, name, next, &self.rows).is_some() {
                known.push(index);
            }
        }
        known
    }

    /// Takes over all of a part: none of its batches is known here.
    fn append(&mut self, part: &mut Part, place: &Place) {
        let theirs = &mut part.assembler;
        let mut batches_before = Vec::with_capacity(place.machines.len());
        for (machine, &index) in theirs.machines.list.iter_mut().zip(&place.machines) {
            let into = &mut self.machines.list[index];
            batches_before.push(into.batches.len());
            into.batches.append(&mut machine.batches);
            for facts in &mut machine.facts {
                facts.first_row += place.rows;
                facts.latest_row += place.rows;
            }
            into.facts.append(&mut machine.facts);
        }
        let mut speeds = vec![0; place.machines.len()];
        for (row, origin) in theirs.rows.iter_mut().zip(&part.origins) {
            row.source = place.source;
            row.row += place.file_rows;
            match &mut row.outcome {
                Outcome::Used { machine, batch, .. } => {
                    speeds[*machine] |= origin.speeds;
                    *batch += batches_before[*machine];
                    *machine = place.machines[*machine];
                }
                Outcome::SetAside { problem } => *problem += self.problems.len(),
                Outcome::LeftOut(_) => {}
            }
        }
        self.rows.append(&mut theirs.rows);
        for problem in &mut theirs.problems {
            move_down(problem, place.file_rows);
        }
        self.problems.append(&mut theirs.problems);
        if !theirs.notes.is_empty() {
            self.notes.resize(place.rows, None);
            self.notes.append(&mut theirs.notes);
        }
        for (&machine, speeds) in place.machines.iter().zip(speeds) {
            note_speeds(speeds, &mut self.machines.list[machine]);
        }
    }

    /// Takes over a part row by row, those of batches that are known here anew.
    fn merge(
        &mut self,
        part: &mut Part,
        piece: &Piece,
        place: &Place,
        known: &[usize],
        header: &mut Header,
    ) {
        let theirs = &mut part.assembler;
        let mut batches: Vec<_> = theirs.machines.list.iter_mut().map(drained).collect();
        // The index here of each batch that has come.
        let mut moved = vec![Vec::new(); batches.len()];
        let mut problems = theirs.problems.drain(..).peekable();
        let mut problems_seen = 0;
        let mut notes = theirs.notes.drain(..);
        for (index, mut row) in theirs.rows.drain(..).enumerate() {
            let origin = &part.origins[index];
            let note = notes.next().flatten();
            let number = row.row;
            let of_row = |problem: &Problem| problem.place.is_some_and(|at| at.row == number);
            let of_row = std::iter::from_fn(|| problems.next_if(of_row));
            row.row += place.file_rows;
            if known.binary_search(&origin.first).is_ok() {
                if let Outcome::Used { machine, stage: 0, .. } = row.outcome {
                    batches[machine].next();
                    moved[machine].push(usize::MAX);
                }
                problems_seen += of_row.count();
                let end = part.origins.get(index + 1).map_or(piece.bytes.len(), |next| next.start);
                self.take_again(&piece.bytes[origin.start..end], part.separator, &row, header);
                continue;
            }
            match &mut row.outcome {
                Outcome::Used { machine, batch, stage } => {
                    let into = &mut self.machines.list[place.machines[*machine]];
                    if *stage == 0
                        && let Some((batch, mut facts)) = batches[*machine].next()
                    {
                        facts.first_row += place.rows;
                        facts.latest_row += place.rows;
                        moved[*machine].push(into.batches.len());
                        into.batches.push(batch);
                        into.facts.push(facts);
                    }
                    note_speeds(origin.speeds, into);
                    *batch = moved[*machine][*batch];
                    *machine = place.machines[*machine];
                }
                Outcome::SetAside { problem } => {
                    *problem = self.problems.len() + *problem - problems_seen;
                }
                Outcome::LeftOut(_) => {}
            }
            for mut problem in of_row {
                move_down(&mut problem, place.file_rows);
                self.problems.push(problem);
                problems_seen += 1;
            }
            row.source = place.source;
            self.rows.push(row);
            if note.is_some() {
                self.notes.resize(self.rows.len() - 1, None);
                self.notes.push(note);
            }
        }
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

/// A machine's batches with what is noted of them, in order.
fn drained(machine: &mut Machine) -> Zip<Drain<'_, Batch>, Drain<'_, Facts>> {
    machine.batches.drain(..).zip(machine.facts.drain(..))
}

/// A row's problem, with so many rows before those that it was counted among.
fn move_down(problem: &mut Problem, rows: u64) {
    if let Some(place) = &mut problem.place {
        place.row += rows;
    }
}

/// Notes that a machine's row has minutes at these of the file's speeds, a bit each.
fn note_speeds(speeds: u64, machine: &mut Machine) {
    for (speed, logged) in machine.logged.iter_mut().enumerate() {
        *logged |= speeds >> speed & 1 == 1;
    }
}
