//! Which problems of a log are whose.

use std::collections::{HashMap, HashSet};

use kneadfit_log::{LogRead, Outcome, Problem, Severity};

use crate::problems::line;

/// Rows set aside that a profile names; more are counted.
const MOST_NAMED: usize = 1000;

/// The problems of a log by machine.
pub struct MachineProblems<'a> {
    read: &'a LogRead,
    /// Indices of problems that are not of a row.
    of_files: Vec<usize>,
    /// Indices of the problems of each machine's rows.
    of_rows: HashMap<&'a str, Vec<usize>>,
    /// How many rows of each machine are set aside.
    set_aside: HashMap<&'a str, usize>,
}

impl<'a> MachineProblems<'a> {
    pub fn of(read: &'a LogRead) -> Self {
        let place = |problem: &'a Problem| Some((&*problem.source, problem.place?.line));
        let faulty: HashSet<(&str, u64)> = read.problems.iter().filter_map(place).collect();
        let mut machine_at: HashMap<(&str, u64), &str> = HashMap::new();
        let mut set_aside: HashMap<&str, usize> = HashMap::new();
        for row in &read.rows {
            let Some(machine) = row.machine.as_deref() else { continue };
            let at = (&*read.sources[row.source], row.line);
            if faulty.contains(&at) {
                machine_at.insert(at, machine);
            }
            if matches!(row.outcome, Outcome::SetAside { .. }) {
                *set_aside.entry(machine).or_default() += 1;
            }
        }
        let mut of_files = Vec::new();
        let mut of_rows: HashMap<&str, Vec<usize>> = HashMap::new();
        for (index, problem) in read.problems.iter().enumerate() {
            match place(problem).and_then(|at| machine_at.get(&at)) {
                Some(machine) => of_rows.entry(machine).or_default().push(index),
                None => of_files.push(index),
            }
        }
        Self { read, of_files, of_rows, set_aside }
    }

    /// Problems of the files and of one machine's rows, in the order of the log.
    pub fn of_machine(&self, machine: &str) -> Vec<Problem> {
        let own = self.of_rows.get(machine).map_or(&[][..], |own| own);
        let mut indices: Vec<usize> = self.of_files.iter().chain(own).copied().collect();
        indices.sort_unstable();
        indices.into_iter().map(|index| self.read.problems[index].clone()).collect()
    }

    /// How many of a machine's rows are set aside.
    pub fn rows_set_aside(&self, machine: &str) -> usize {
        self.set_aside.get(machine).copied().unwrap_or(0)
    }

    /// Which of a machine's rows are set aside and why, a line each.
    pub fn set_aside(&self, machine: &str) -> Vec<String> {
        let own = self.of_rows.get(machine).map_or(&[][..], |own| own);
        let faults = || {
            own.iter().map(|&i| &self.read.problems[i]).filter(|p| p.severity == Severity::Error)
        };
        let mut said: Vec<String> = faults().take(MOST_NAMED).map(line).collect();
        let more = faults().count().saturating_sub(MOST_NAMED);
        if more > 0 {
            said.push(format!("and {more} more"));
        }
        said
    }
}
