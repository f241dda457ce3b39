//! What reading gives: a log a machine, the problems, and where every row went.

use std::sync::Arc;

use kneadfit::batch::{Batch, BatchLog};
use serde::Serialize;

use crate::dialect::Dialect;
use crate::gaps::Gaps;
use crate::problem::{ColumnRef, Problem, Severity};

/// Why a row is neither used nor at fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum LeftOut {
    /// Another machine than the one asked for.
    OtherMachine,
    /// Mixed before the first day asked for.
    BeforeSince,
    /// Mixed after the last day asked for.
    AfterUntil,
    /// Without a date, where a span of days is asked for; a doubt says so.
    Undated,
}

/// What became of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Outcome {
    /// It is a stage of a batch.
    Used {
        /// Index among [`LogRead::machines`].
        machine: usize,
        /// Index among the batches of that machine's log.
        batch: usize,
        /// Index among the stages of that batch.
        stage: usize,
    },
    /// It is not used, for a fault.
    SetAside {
        /// Index among [`LogRead::problems`] of the first fault that set it aside.
        problem: usize,
    },
    /// It is not used, as it was not asked for.
    LeftOut(LeftOut),
}

/// One data row of a log.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RowRef {
    /// Index of its file in the order of reading.
    pub source: usize,
    /// Line of the file on which it begins, from 1.
    pub line: u64,
    /// Number of the data row in its file, from 1.
    pub row: u64,
    /// The batch as the row names it; `None`: blank or not readable.
    pub batch: Option<Arc<str>>,
    /// The machine as the row names it, or the file's default.
    pub machine: Option<Arc<str>>,
    /// The day as the row has it; `None`: not logged.
    pub date: Option<Arc<str>>,
    /// What became of it.
    pub outcome: Outcome,
}

/// The log of one machine, and which rows it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct MachineLog {
    /// The batches, for the core.
    pub log: BatchLog,
    /// Where the rows of each batch begin in `stage_rows`; one more at the end.
    pub(crate) starts: Vec<usize>,
    /// Index among [`LogRead::rows`] of every stage's row, batch after batch.
    pub(crate) stage_rows: Vec<usize>,
}

impl MachineLog {
    /// The rows of a batch's stages, as indices among [`LogRead::rows`].
    ///
    /// # Panics
    ///
    /// When the log has no batch of that index.
    pub fn rows_of(&self, batch: usize) -> &[usize] {
        &self.stage_rows[self.starts[batch]..self.starts[batch + 1]]
    }

    /// The machine's name.
    pub fn machine(&self) -> &Arc<str> {
        &self.log.machine
    }

    /// The machine's batches.
    pub fn batches(&self) -> &[Batch] {
        &self.log.batches
    }
}

/// What was read of one or several files.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct LogRead {
    /// One log a machine, in the order in which the machines first appear; only
    /// machines of which a batch is usable.
    pub machines: Vec<MachineLog>,
    /// What is wrong or doubtful, in the order in which it was found.
    pub problems: Vec<Problem>,
    /// Every data row, in the order of the files. Blank lines are not rows.
    pub rows: Vec<RowRef>,
    /// What each of the rows leaves to a plan, in their order; only filled where the log
    /// is read to plan, and nothing for rows that are not used.
    pub gaps: Vec<Gaps>,
    /// The note of each of the rows, in their order, as it was written; only filled where
    /// [notes are kept](crate::ReadOptions::with_notes).
    pub notes: Vec<Option<Arc<str>>>,
    /// The files' names in the order of reading.
    pub sources: Vec<Arc<str>>,
    /// How each file was read, in the same order.
    pub dialects: Vec<Dialect>,
    /// The columns of each file, in the same order; none of a file without a header.
    pub columns: Vec<Vec<ColumnRef>>,
}

impl LogRead {
    /// How many data rows the files have.
    pub fn rows_read(&self) -> usize {
        self.rows.len()
    }

    /// How many rows are stages of a batch.
    pub fn rows_used(&self) -> usize {
        self.count(|outcome| matches!(outcome, Outcome::Used { .. }))
    }

    /// How many rows are not used for a fault.
    pub fn rows_set_aside(&self) -> usize {
        self.count(|outcome| matches!(outcome, Outcome::SetAside { .. }))
    }

    /// How many rows were not asked for.
    pub fn rows_left_out(&self) -> usize {
        self.count(|outcome| matches!(outcome, Outcome::LeftOut(_)))
    }

    fn count(&self, wanted: fn(&Outcome) -> bool) -> usize {
        self.rows.iter().filter(|row| wanted(&row.outcome)).count()
    }

    /// Whether nothing usable is left.
    pub fn is_empty(&self) -> bool {
        self.machines.is_empty()
    }

    /// Whether a row or a file was set aside.
    pub fn has_errors(&self) -> bool {
        self.problems.iter().any(|problem| problem.severity == Severity::Error)
    }

    /// The batch and the index of its stage that a row is; `None`: the row is not used.
    pub fn stage_of(&self, row: &RowRef) -> Option<(&Batch, usize)> {
        match row.outcome {
            Outcome::Used { machine, batch, stage } => {
                Some((&self.machines[machine].log.batches[batch], stage))
            }
            _ => None,
        }
    }

    /// Why a row is set aside; `None`: it is not.
    pub fn why_set_aside(&self, row: &RowRef) -> Option<&Problem> {
        match row.outcome {
            Outcome::SetAside { problem } => self.problems.get(problem),
            _ => None,
        }
    }
}
