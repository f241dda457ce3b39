//! A piece of a log read by itself, as if nothing stood before it.

use memchr::memchr;

use super::cutter::Piece;
use crate::assemble::Assembler;
use crate::columns::Header;
use crate::firsts::NameHash;
use crate::lines::Lines;
use crate::record::Record;
use crate::records::Records;
use crate::result::Outcome;

/// So many speeds at most have a place in an [`Origin`].
pub(crate) const MOST_SPEEDS: usize = u64::BITS as usize;

/// So many machines at most are remembered from one piece to the next.
const KEPT_MACHINES: usize = 64;

/// A piece of a log and what was read of it, by the same assembler that reads whole logs.
/// That holds of every batch whose name the log before it does not know.
pub(crate) struct Part {
    pub(crate) header: Header,
    pub(crate) assembler: Assembler,
    /// One a row.
    pub(crate) origins: Vec<Origin>,
    pub(crate) separator: u8,
    /// Scratch of one line.
    ends: Vec<usize>,
}

/// Where a row comes from.
#[derive(Clone, Copy)]
pub(crate) struct Origin {
    /// Where it begins among the piece's bytes.
    pub(crate) start: usize,
    /// The first row of its batch among the part's; [`NO_FIRST`]: it is of none.
    pub(crate) first: usize,
    /// The hash of that batch's name, where it is this row.
    pub(crate) hash: NameHash,
    /// At which of the file's speeds it has minutes, where it is used: a bit each.
    pub(crate) speeds: u64,
}

pub(crate) const NO_FIRST: usize = usize::MAX;

impl Part {
    /// One that has read nothing, of a log with this header.
    pub(crate) fn new(assembler: Assembler, header: &Header, separator: u8) -> Self {
        let header = header.apart();
        let mut part = Self { assembler, header, origins: Vec::new(), separator, ends: Vec::new() };
        part.assembler.begin_rows(&part.header);
        part
    }

    /// Reads a piece; `false`: a row of it wants all rows looked at together, and what was
    /// read is void.
    pub(crate) fn read(&mut self, piece: &Piece) -> bool {
        let bytes = &piece.bytes[..];
        if memchr(b'"', bytes).is_none() {
            let mut lines = Lines::new(bytes, self.separator, piece.line);
            let mut ends = std::mem::take(&mut self.ends);
            let mut all_canonical = true;
            while all_canonical && let Some(record) = lines.next(&mut ends) {
                all_canonical = self.take(&record);
            }
            self.ends = ends;
            return all_canonical;
        }
        let mut records = Records::within(bytes, self.separator, piece.line);
        loop {
            match records.next() {
                Ok(Some(record)) if !self.take(&record) => return false,
                Ok(Some(_)) => {}
                // A piece in memory has no error.
                Ok(None) | Err(_) => return true,
            }
        }
    }

    /// Whether the record is canonical.
    fn take(&mut self, record: &Record<'_>) -> bool {
        if record.is_blank() {
            return true;
        }
        let mut canonical = true;
        let number = self.origins.len() as u64 + 1;
        let look = |_: &mut Header| canonical = false;
        if self.assembler.take(record, number, &mut self.header, look) {
            self.origins.push(self.assembler.origin_of_latest(record.start));
        }
        canonical
    }

    /// Forgets what was read.
    pub(crate) fn clear(&mut self) {
        self.origins.clear();
        self.header.examples.clear();
        self.header.repeats.clear();
        self.assembler.forget_rows(KEPT_MACHINES);
    }
}

impl Assembler {
    /// Another that reads a part of the same file.
    pub(crate) fn apart(&self) -> Self {
        let mut apart = Self::new(self.options.clone());
        apart.machines = self.machines.apart();
        apart.begin(self.source(), &self.default_machine);
        apart
    }

    /// Forgets the rows that were read, and the machines where they are more than a few.
    pub(crate) fn forget_rows(&mut self, kept_machines: usize) {
        self.problems.clear();
        self.rows.clear();
        self.gaps.clear();
        self.notes.clear();
        self.machine_blank = None;
        self.machines.forget_rows(kept_machines);
    }

    /// Where the latest row comes from, which begins here.
    fn origin_of_latest(&self, start: usize) -> Origin {
        let none = Origin { start, first: NO_FIRST, hash: NameHash::default(), speeds: 0 };
        let Some(row) = self.rows.last() else { return none };
        let (machine, first, speeds) = if let Outcome::Used { machine, batch, .. } = row.outcome {
            let bit = |(speed, total): (usize, &Option<f64>)| u64::from(total.is_some()) << speed;
            let speeds =
                self.minutes.iter().enumerate().map(bit).fold(0, |speeds, bit| speeds | bit);
            let machine = &self.machines.list[machine];
            (machine, machine.facts[batch].first_row, speeds)
        } else {
            let machine = row.machine.as_ref().and_then(|name| self.machines.named(name));
            let Some((machine, name)) = machine.zip(row.batch.as_ref()) else { return none };
            let Some(first) = machine.known.first(name, &self.rows) else { return none };
            (machine, first, 0)
        };
        // The latest name that was asked for, where this row is its first.
        Origin { start, first, hash: machine.known.latest, speeds }
    }
}
