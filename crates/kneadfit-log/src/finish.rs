//! What can only be told once every row is read.

use std::sync::Arc;

use foldhash::{HashMap, HashMapExt};
use kneadfit::batch::BatchLog;

use crate::assemble::Assembler;
use crate::charges::doubt_charges;
use crate::equals::doubt_equals;
use crate::gaps::Gaps;
use crate::machines::Machine;
use crate::options::Purpose;
use crate::problem::{ColumnRef, Place, Problem, ProblemKind, Severity};
use crate::result::{LogRead, MachineLog, Outcome, RowRef};

/// The files that were read.
pub(crate) struct Sources {
    pub(crate) names: Vec<Arc<str>>,
    /// The sheet of each that is a workbook.
    sheets: Vec<Option<Arc<str>>>,
    /// The columns of each.
    pub(crate) columns: Vec<Vec<ColumnRef>>,
}

/// Closes the logs: drops the batches that cannot be used and tells every row its place.
pub(crate) fn finish(assembler: Assembler, columns: Vec<Vec<ColumnRef>>) -> LogRead {
    let Assembler {
        options,
        mut problems,
        mut rows,
        mut gaps,
        mut notes,
        sources,
        sheets,
        machines,
        ..
    } = assembler;
    let sources = Sources { names: sources, sheets, columns };
    if options.purpose == Purpose::Planning {
        gaps.resize_with(rows.len(), Gaps::default);
    }
    if options.keep_notes {
        notes.resize(rows.len(), None);
    }
    // Which log each machine's is, and the batches that were dropped.
    let mut moved: Vec<(usize, Dropped)> = Vec::with_capacity(machines.list.len());
    let mut logs: Vec<MachineLog> = Vec::new();
    let (mut all_stay, mut all_placed) = (true, true);
    for mut machine in machines.list {
        let mut drops = Dropped::default();
        for (batch, kind) in dropped(&machine, &rows, &sources, options.purpose) {
            let row = &rows[machine.facts[batch].first_row];
            drops.0.push((batch, problems.len()));
            problems.push(of_row(row, &sources, Severity::Error, kind));
        }
        doubt_charges(&machine, &drops, &rows, &sources, &mut problems);
        if options.purpose == Purpose::Calibrating {
            doubt_equals(&machine, &drops, &rows, &sources, &mut problems);
        }
        if !drops.0.is_empty() {
            let mut index = 0..;
            machine.batches.retain(|_| index.next().is_some_and(|index| drops.keep(index)));
            let mut index = 0..;
            machine.facts.retain(|_| index.next().is_some_and(|index| drops.keep(index)));
        }
        all_stay &= drops.0.is_empty() && moved.len() == logs.len();
        moved.push((logs.len(), drops));
        if !machine.batches.is_empty() {
            let (log, placed) = log_of(machine);
            all_placed &= placed;
            logs.push(log);
        }
    }
    if !all_stay || !all_placed {
        place_rows(&mut rows, &moved, &mut logs);
    }
    LogRead {
        machines: logs,
        problems,
        rows,
        gaps,
        notes,
        sources: sources.names,
        dialects: Vec::new(),
        columns: sources.columns,
    }
}

/// The batches of a machine that were dropped, in order, and the problems that did it.
#[derive(Default)]
pub(crate) struct Dropped(Vec<(usize, usize)>);

impl Dropped {
    /// Whether a batch is kept.
    pub(crate) fn keep(&self, batch: usize) -> bool {
        self.0.is_empty() || self.fate(batch).is_ok()
    }

    /// The new index of a batch, or the problem that dropped it.
    fn fate(&self, batch: usize) -> Result<usize, usize> {
        match self.0.binary_search_by_key(&batch, |(batch, _)| *batch) {
            Ok(at) => Err(self.0[at].1),
            Err(before) => Ok(batch - before),
        }
    }
}

/// A machine's log, and whether the rows of its stages are known: those of most batches
/// follow each other.
fn log_of(machine: Machine) -> (MachineLog, bool) {
    let Machine { name: machine, speeds, batches, facts, .. } = machine;
    let mut starts = Vec::with_capacity(batches.len() + 1);
    let mut stage_rows = Vec::with_capacity(batches.len());
    let mut placed = true;
    starts.push(0);
    for (batch, facts) in batches.iter().zip(&facts) {
        let rows = facts.first_row..facts.latest_row + 1;
        let stages = if rows.len() == 1 { 1 } else { batch.stages.len() };
        placed &= rows.len() == stages;
        stage_rows.extend(rows.take(stages));
        starts.push(stage_rows.len());
    }
    (MachineLog { log: BatchLog { machine, speeds, batches }, starts, stage_rows }, placed)
}

/// Tells every row its place, and every stage its row.
fn place_rows(rows: &mut [RowRef], moved: &[(usize, Dropped)], logs: &mut [MachineLog]) {
    for (index, row) in rows.iter_mut().enumerate() {
        let Outcome::Used { machine, batch, stage } = row.outcome else { continue };
        let (machine, drops) = (moved[machine].0, &moved[machine].1);
        row.outcome = match drops.fate(batch) {
            Ok(batch) => {
                let log = &mut logs[machine];
                log.stage_rows[log.starts[batch] + stage] = index;
                Outcome::Used { machine, batch, stage }
            }
            Err(problem) => Outcome::SetAside { problem },
        };
    }
}

/// The batches of a machine that cannot be used after all, in order, and why.
fn dropped(
    machine: &Machine,
    rows: &[RowRef],
    sources: &Sources,
    purpose: Purpose,
) -> Vec<(usize, ProblemKind)> {
    let mut dropped = Vec::new();
    let copies = Copies::of(machine, rows);
    for (index, facts) in machine.facts.iter().enumerate() {
        let kind = if purpose == Purpose::Calibrating && !facts.read {
            ProblemKind::NothingRead
        } else if let Some(first) = copies.earlier(machine, rows, index) {
            let row = &rows[machine.facts[first].first_row];
            ProblemKind::RepeatedBatch { source: sources.names[row.source].clone(), line: row.line }
        } else if let Some(error) = &facts.refused {
            ProblemKind::Refused { error: (**error).clone() }
        } else {
            continue;
        };
        dropped.push((index, kind));
    }
    dropped
}

/// Batches of one name by name, where a machine's batches come from several files.
struct Copies<'a>(HashMap<&'a str, Vec<usize>>);

impl<'a> Copies<'a> {
    fn of(machine: &'a Machine, rows: &[RowRef]) -> Self {
        let mut by_name = HashMap::<_, Vec<_>>::new();
        let mut files = machine.facts.iter().map(|facts| rows[facts.first_row].source);
        let first = files.next();
        if files.any(|file| Some(file) != first) {
            for (index, batch) in machine.batches.iter().enumerate() {
                by_name.entry(&*batch.id).or_default().push(index);
            }
        }
        Self(by_name)
    }

    /// An equal batch of an earlier file.
    fn earlier(&self, machine: &Machine, rows: &[RowRef], index: usize) -> Option<usize> {
        let batch = &machine.batches[index];
        let file = |index: usize| rows[machine.facts[index].first_row].source;
        self.0
            .get(&*batch.id)?
            .iter()
            .copied()
            .take_while(|&other| file(other) < file(index))
            .find(|&other| machine.batches[other] == *batch)
    }
}

pub(crate) fn of_row(
    row: &RowRef,
    sources: &Sources,
    severity: Severity,
    kind: ProblemKind,
) -> Problem {
    Problem {
        severity,
        source: sources.names[row.source].clone(),
        sheet: sources.sheets[row.source].clone(),
        place: Some(Place { line: row.line, row: row.row }),
        batch: row.batch.clone(),
        column: None,
        found: None,
        kind,
    }
}
