//! What can only be told once every row is read.

use std::sync::Arc;

use foldhash::{HashMap, HashMapExt};
use kneadfit::batch::BatchLog;

use crate::assemble::Assembler;
use crate::gaps::Gaps;
use crate::machines::Machine;
use crate::options::Purpose;
use crate::plausible::LARGE_CHARGE_KG;
use crate::problem::{Place, Problem, ProblemKind, Severity};
use crate::result::{LogRead, MachineLog, Outcome, RowRef};

/// A charge so many times the middle one, or so small a part of it, is doubted:
/// grams among kilograms are a factor of a thousand.
const UNLIKE: f64 = 200.0;

/// The files that were read.
struct Sources {
    names: Vec<Arc<str>>,
    /// The sheet of each that is a workbook.
    sheets: Vec<Option<Arc<str>>>,
}

/// Closes the logs: drops the batches that cannot be used and tells every row its place.
pub(crate) fn finish(assembler: Assembler) -> LogRead {
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
    let sources = &Sources { names: sources, sheets };
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
        let dropped = dropped(&machine, &rows, sources, options.purpose);
        let mut fates = Vec::with_capacity(machine.batches.len());
        let mut kept = 0;
        let mut drops = dropped.into_iter().peekable();
        for index in 0..machine.batches.len() {
            match drops.next_if(|(batch, _)| *batch == index) {
                Some((_, kind)) => {
                    let row = &rows[machine.facts[index].first_row];
                    fates.push(Err(problems.len()));
                    problems.push(of_row(row, sources, Severity::Error, kind));
                }
                None => {
                    fates.push(Ok(kept));
                    kept += 1;
                }
            }
        }
        doubt_charges(&machine, &fates, &rows, sources, &mut problems);
        if options.purpose == Purpose::Calibrating {
            doubt_equals(&machine, &fates, &rows, sources, &mut problems);
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
    let sources = sources.names.clone();
    LogRead {
        machines: logs,
        problems,
        rows,
        gaps,
        notes,
        sources,
        dialects: Vec::new(),
        columns: Vec::new(),
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

/// Doubts the charges that are quite unlike the machine's others.
fn doubt_charges(
    machine: &Machine,
    fates: &[Result<usize, usize>],
    rows: &[RowRef],
    sources: &Sources,
    problems: &mut Vec<Problem>,
) {
    let kept = || machine.facts.iter().enumerate().filter(|(index, _)| fates[*index].is_ok());
    let mut masses: Vec<f64> = kept().map(|(_, facts)| facts.charge_kg).collect();
    if masses.is_empty() {
        return;
    }
    let middle = masses.len() / 2;
    let median_kg = *masses.select_nth_unstable_by(middle, f64::total_cmp).1;
    for (index, facts) in kept() {
        let charge_kg = facts.charge_kg;
        // Those that are too large for any mixer have their doubt already.
        if charge_kg > LARGE_CHARGE_KG {
            continue;
        }
        if charge_kg > UNLIKE * median_kg || charge_kg * UNLIKE < median_kg {
            let row = &rows[machine.facts[index].first_row];
            let kind = ProblemKind::UnlikeOtherCharges { charge_kg, median_kg };
            problems.push(of_row(row, sources, Severity::Doubt, kind));
        }
    }
}

/// Doubts the batches that are equal in every number to an earlier one: two doughs differ
/// at least in what the thermometer reads, and copies would count as proof. Thermometers that
/// show whole degrees read two doughs of one recipe alike any day.
fn doubt_equals(
    machine: &Machine,
    fates: &[Result<usize, usize>],
    rows: &[RowRef],
    sources: &Sources,
    problems: &mut Vec<Problem>,
) {
    if whole_degrees(machine) {
        return;
    }
    let mut seen: HashMap<u64, usize> = HashMap::with_capacity(machine.facts.len());
    let kept = machine.facts.iter().enumerate().filter(|(index, _)| fates[*index].is_ok());
    for (index, facts) in kept {
        let first = *seen.entry(facts.fingerprint).or_insert(index);
        let (batch, earlier) = (&machine.batches[index], &machine.batches[first]);
        if first != index && batch.charge == earlier.charge && batch.stages == earlier.stages {
            let at = &rows[machine.facts[first].first_row];
            let kind =
                ProblemKind::EqualBatch { source: sources.names[at.source].clone(), line: at.line };
            let row = &rows[facts.first_row];
            problems.push(of_row(row, sources, Severity::Doubt, kind));
        }
    }
}

/// Whether every temperature of a machine's batches is of whole degrees, °C or °F.
fn whole_degrees(machine: &Machine) -> bool {
    let all_whole = |of: fn(f64) -> f64| {
        let whole = |c: f64| (of(c) - of(c).round()).abs() < 1e-6;
        machine.batches.iter().all(|batch| {
            let parts = batch.charge.ingredients.iter().map(|part| part.temperature_c);
            let read = batch.stages.iter().filter_map(|stage| stage.reading.dough_c);
            parts.chain(read).chain([batch.charge.room_c]).all(whole)
        })
    };
    all_whole(|c| c) || all_whole(|c| c * 1.8 + 32.0)
}

fn of_row(row: &RowRef, sources: &Sources, severity: Severity, kind: ProblemKind) -> Problem {
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
