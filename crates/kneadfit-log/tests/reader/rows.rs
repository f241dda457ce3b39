//! Cells of one row, and what of a log is asked for.

use jiff::civil::date;
use kneadfit_log::{LeftOut, Outcome, ProblemKind, ReadOptions, Severity};

use crate::support::{GOOD, HEADER, only, only_error, read, read_rows, read_with};

/// A usual row with one cell replaced.
fn with(column: usize, cell: &str) -> String {
    let mut cells: Vec<&str> = GOOD.split(',').collect();
    cells[column] = cell;
    cells.join(",")
}

#[test]
fn what_is_not_a_number_is_shown_with_its_column() {
    for cell in ["ten", "10 kg", "1.2.3", "--", "0x10", "1_000"] {
        let read = read_rows(&[&with(1, cell)]);
        let kind = only_error(&read, Some("flour_kg"));
        assert_eq!(*kind, ProblemKind::NotANumber { with_point: None }, "{cell}");
        let problem = only(&read);
        assert_eq!(problem.found.as_ref().unwrap().as_str(), cell);
        assert_eq!(problem.column.as_ref().unwrap().number, 2);
    }
    for cell in ["NaN", "inf", "-inf", "Infinity", "1e400"] {
        let read = read_rows(&[&with(1, cell)]);
        assert_eq!(*only_error(&read, Some("flour_kg")), ProblemKind::NotFinite, "{cell}");
    }
    for (column, cell) in
        [(1, "1e308"), (1, "-10"), (6, "-4"), (6, "1e5"), (7, "-80"), (5, "1e308")]
    {
        let read = read_rows(&[&with(column, cell)]);
        let name = HEADER.split(',').nth(column);
        assert!(matches!(only_error(&read, name), ProblemKind::OutOfRange { .. }), "{cell}");
    }
}

#[test]
fn a_decimal_comma_is_hinted_at_and_not_read() {
    let read = read_rows(&[&with(6, "\"4,5\"")]);
    let expected = ProblemKind::NotANumber { with_point: Some(4.5) };
    assert_eq!(*only_error(&read, Some("minutes_low")), expected);
    assert_eq!(only(&read).hint().unwrap(), "if the comma is a decimal comma, write 4.5");
}

#[test]
fn every_fault_of_a_row_is_told_and_the_first_set_it_aside() {
    let twice = read_rows(&["1,ten,21,6.5,NaN,24,4,19.8"]);
    assert_eq!(twice.problems.len(), 2);
    assert_eq!(twice.rows[0].outcome, Outcome::SetAside { problem: 0 });
    assert_eq!(twice.why_set_aside(&twice.rows[0]), Some(&twice.problems[0]));

    // A bad day does not hide what is wrong with the dough.
    let undated = read(&format!("{HEADER},date\n1,10,21,30,12,24,4,19.8,today\n"));
    let kinds: Vec<_> = undated.problems.iter().map(|problem| &problem.kind).collect();
    assert!(matches!(kinds[..], [ProblemKind::NotADate, ProblemKind::Hydration { .. }]));
}

#[test]
fn a_row_without_a_batch_is_set_aside() {
    let read = read_rows(&[&with(0, "  ")]);
    assert_eq!(*only_error(&read, Some("batch")), ProblemKind::Blank { needed_by: None });
    assert!(only(&read).to_string().contains("a blank cell"));
}

#[test]
fn dates_are_iso_and_of_the_calendar() {
    for (day, good) in [("2026-03-14", true), ("14.3.2026", false), ("2026-02-30", false)] {
        let read = read(&format!("{HEADER},date\n{GOOD},{day}\n"));
        if good {
            assert_eq!(read.machines[0].log.batches[0].date.as_deref(), Some(day));
        } else {
            assert_eq!(*only_error(&read, Some("date")), ProblemKind::NotADate);
        }
    }
}

#[test]
fn a_span_of_days_leaves_batches_out_with_all_their_rows() {
    let rest = &GOOD[1..];
    let text = format!(
        "{HEADER},date\na{rest},2026-03-01\na,,,,,,6,21,2026-03-20\nb{rest},2026-03-10\n\
         c{rest},2026-04-01\nd{rest},\ne,ten,,,,,,,2026-01-01\n"
    );
    let options = ReadOptions::default().since(date(2026, 3, 10)).until(date(2026, 3, 31));
    let read = read_with(&text, &options);
    let outcomes: Vec<_> = read.rows.iter().map(|row| row.outcome).collect();
    assert_eq!(
        outcomes,
        [
            Outcome::LeftOut(LeftOut::BeforeSince),
            Outcome::LeftOut(LeftOut::BeforeSince),
            Outcome::Used { machine: 0, batch: 0, stage: 0 },
            Outcome::LeftOut(LeftOut::AfterUntil),
            Outcome::LeftOut(LeftOut::Undated),
            Outcome::LeftOut(LeftOut::BeforeSince),
        ]
    );
    let problem = only(&read);
    assert_eq!((&problem.kind, problem.severity), (&ProblemKind::Undated, Severity::Doubt));
}

#[test]
fn one_machine_is_read_and_faults_of_others_are_not_told() {
    let text =
        format!("{HEADER},machine\n{GOOD},hand\n1,x{},spiral\n2{},hand\n", &GOOD[4..], &GOOD[1..]);
    let read = read_with(&text, &ReadOptions::default().only_machine("hand"));
    assert!(read.problems.is_empty());
    assert_eq!(read.machines.len(), 1);
    assert_eq!((read.rows_used(), read.rows_left_out()), (2, 1));
}

#[test]
fn a_batch_of_which_nothing_is_read_serves_forecasts_only() {
    let text = format!(
        "{HEADER},development\n1,10,21,6.5,12,24,4,,\n1,,,,,,8,,\n2{},\n3,10,21,6.5,12,24,4,,0.5\n",
        &GOOD[1..]
    );
    let calibrating = read(&text);
    assert_eq!(only(&calibrating).kind, ProblemKind::NothingRead);
    assert_eq!((calibrating.rows_used(), calibrating.rows_set_aside()), (2, 2));
    assert_eq!(calibrating.rows[2].outcome, Outcome::Used { machine: 0, batch: 0, stage: 0 });

    let forecasting = read_with(&text, &ReadOptions::forecasting());
    assert!(forecasting.problems.is_empty());
    assert_eq!(forecasting.rows_used(), 4);
}

#[test]
fn a_block_of_json_has_its_fields_and_words() {
    let read = read_rows(&[&with(2, "75")]);
    let value = serde_json::to_value(only(&read)).unwrap();
    assert_eq!(value["severity"], "error");
    assert_eq!((&value["line"], &value["row"]), (&2.into(), &1.into()));
    assert_eq!((&value["column"], &value["column_number"]), (&"flour_c".into(), &3.into()));
    assert_eq!(value["found"], "75");
    assert_eq!(value["problem"]["kind"], "not_a_dough_temperature");
    assert!(value["hint"].as_str().unwrap().contains("23.9"));
}
