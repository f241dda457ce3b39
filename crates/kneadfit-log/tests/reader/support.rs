//! A short way to a log and to what was said of it.

use kneadfit_log::{LogRead, Outcome, Problem, ProblemKind, ReadOptions, Severity, read_log};

/// A header whose rows below need eight cells.
pub const HEADER: &str = "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,dough_c";
/// A row of a usual batch under it.
pub const GOOD: &str = "1,10,21,6.5,12,24,4,19.8";

/// Reads text as `kitchen.csv` of the machine `spiral`.
pub fn read(text: &str) -> LogRead {
    read_with(text, &ReadOptions::default())
}

pub fn read_with(text: &str, options: &ReadOptions) -> LogRead {
    let read = read_log("kitchen.csv", "spiral", text.as_bytes(), options);
    assert_accounted(&read);
    read
}

/// Reads rows under [`HEADER`].
pub fn read_rows(rows: &[&str]) -> LogRead {
    read(&format!("{HEADER}\n{}\n", rows.join("\n")))
}

/// Every row went somewhere, and where it says it went.
pub fn assert_accounted(read: &LogRead) {
    let parts = read.rows_used() + read.rows_set_aside() + read.rows_left_out();
    assert_eq!(parts, read.rows_read());
    let stages: usize = read
        .machines
        .iter()
        .flat_map(|machine| machine.batches())
        .map(|batch| batch.stages.len())
        .sum();
    assert_eq!(stages, read.rows_used());
    for (index, row) in read.rows.iter().enumerate() {
        match row.outcome {
            Outcome::Used { machine, batch, stage } => {
                let machine = &read.machines[machine];
                assert_eq!(machine.rows_of(batch)[stage], index);
                assert_eq!(Some(&machine.batches()[batch].id), row.batch.as_ref());
                assert_eq!(Some(machine.machine()), row.machine.as_ref());
            }
            Outcome::SetAside { problem } => {
                assert_eq!(read.problems[problem].severity, Severity::Error);
            }
            _ => {}
        }
    }
    for problem in &read.problems {
        let block = problem.to_string();
        assert!(block.lines().count() >= 4, "{block}");
        assert!(block.len() < 2000, "a block that nobody reads: {} bytes", block.len());
        serde_json::to_string(problem).expect("a problem is JSON");
    }
}

/// The only problem.
pub fn only(read: &LogRead) -> &Problem {
    assert_eq!(read.problems.len(), 1, "{:#?}", read.problems);
    &read.problems[0]
}

/// The only problem, an error that set the only bad row aside, in this column.
pub fn only_error<'a>(read: &'a LogRead, column: Option<&str>) -> &'a ProblemKind {
    let problem = only(read);
    assert_eq!(problem.severity, Severity::Error);
    assert_eq!(problem.column.as_ref().map(|c| &*c.name), column);
    assert_eq!(read.rows_set_aside(), 1);
    &problem.kind
}
