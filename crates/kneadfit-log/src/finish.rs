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
    // Where each batch of each machine went: its new index, or the problem that dropped it.
    let mut moved: Vec<(usize, Vec<Result<usize, usize>>)> =
        Vec::with_capacity(machines.list.len());
    let mut logs: Vec<MachineLog> = Vec::new();
    for mut machine in machines.list {
        let dropped = dropped(&machine, &rows, &sources, options.purpose);
        let mut fates = Vec::with_capacity(machine.batches.len());
        let mut kept = 0;
        let mut drops = dropped.into_iter().peekable();
        for index in 0..machine.batches.len() {
            match drops.next_if(|(batch, _)| *batch == index) {
                Some((_, kind)) => {
                    let row = &rows[machine.facts[index].first_row];
                    fates.push(Err(problems.len()));
                    problems.push(of_row(row, &sources, Severity::Error, kind));
                }
                None => {
                    fates.push(Ok(kept));
                    kept += 1;
                }
            }
        }
        doubt_charges(&machine, &fates, &rows, &sources, &mut problems);
        if options.purpose == Purpose::Calibrating {
            doubt_equals(&machine, &fates, &rows, &sources, &mut problems);
        }
        if kept < fates.len() {
            let mut fate = fates.iter();
            machine.batches.retain(|_| fate.next().is_some_and(Result::is_ok));
        }
        moved.push((logs.len(), fates));
        if !machine.batches.is_empty() {
            let (machine, speeds, batches) = (machine.name, machine.speeds, machine.batches);
            let log = BatchLog { machine, speeds, batches };
            let mut starts = Vec::with_capacity(log.batches.len() + 1);
            let mut start = 0;
            starts.push(start);
            for batch in &log.batches {
                start += batch.stages.len();
                starts.push(start);
            }
            logs.push(MachineLog { log, starts, stage_rows: vec![0; start] });
        }
    }
    for (index, row) in rows.iter_mut().enumerate() {
        let Outcome::Used { machine, batch, stage } = row.outcome else { continue };
        let (machine, fates) = (moved[machine].0, &moved[machine].1);
        row.outcome = match fates[batch] {
            Ok(batch) => {
                let log = &mut logs[machine];
                log.stage_rows[log.starts[batch] + stage] = index;
                Outcome::Used { machine, batch, stage }
            }
            Err(problem) => Outcome::SetAside { problem },
        };
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
