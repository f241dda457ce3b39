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
fn a_decimal_comma_among_points_is_hinted_at_and_not_read() {
    let other = with(6, "4.25").replacen('1', "2", 1);
    for rows in [[with(6, "\"4,5\""), other.clone()], [other, with(6, "\"4,5\"")]] {
        let read = read_rows(&rows.each_ref().map(String::as_str));
        let expected = ProblemKind::NotANumber { with_point: Some(4.5) };
        assert_eq!(*only_error(&read, Some("minutes_low")), expected);
        assert_eq!(only(&read).hint().unwrap(), "if the comma is a decimal comma, write 4.5");
    }
}

#[test]
fn a_comma_that_may_part_thousands_is_not_read_where_others_have_points() {
    let read = read_rows(&[&with(6, "\"1,250\"")]);
    let expected = ProblemKind::NotANumber { with_point: Some(1.25) };
    assert_eq!(*only_error(&read, Some("minutes_low")), expected);
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
fn dates_are_of_the_calendar() {
    for (day, good) in [("2026-03-14", true), ("30.2.2026", false), ("2026-02-30", false)] {
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
    let text = format!(
        "{HEADER},machine\n{GOOD},hand\n1,x{},spiral\n2,10,21,6.5,12,24,5,20.3,hand\n",
        &GOOD[4..]
    );
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

#[test]
fn a_temperature_of_flour_without_flour_is_doubted_and_used() {
    for flour_kg in ["0", "", "0.0"] {
        let read = read_rows(&[&with(1, flour_kg)]);
        let problem = only(&read);
        assert_eq!((&problem.kind, problem.severity), (&ProblemKind::NoFlour, Severity::Doubt));
        assert_eq!(&*problem.column.as_ref().unwrap().name, "flour_c");
        assert!(problem.consequence().contains("without flour"));
        assert_eq!(read.rows_used(), 1);
    }
    // Water alone, and flour that cannot be read, are other things.
    assert!(read_rows(&["1,0,,6.5,12,24,4,12.8"]).problems.is_empty());
    let read = read_rows(&[&with(1, "ten")]);
    only_error(&read, Some("flour_kg"));
    assert_eq!(only(&read).hint().unwrap(), "write 10: figures alone, the unit is in the header");
}

#[test]
fn a_charge_of_tons_is_doubted_as_grams() {
    let rows = ["1,10000,21,6500,12,24,4,19.8", "2,9000,21,6500,12,24,4,19.8"];
    let read = read_rows(&rows);
    assert_eq!((read.problems.len(), read.rows_used()), (2, 2));
    for problem in &read.problems {
        assert!(matches!(problem.kind, ProblemKind::LargeCharge { .. }), "{problem}");
        assert_eq!(problem.severity, Severity::Doubt);
        assert!(problem.hint().unwrap().starts_with("all masses read as grams: flour_kg "));
    }
    let mends = read.problems.iter().flat_map(|problem| problem.mend().unwrap().cells);
    let mended = ReadOptions::default().with_mends(mends.collect());
    let mended = read_with(&format!("{HEADER}\n{}\n", rows.join("\n")), &mended);
    assert!(mended.problems.is_empty());
    assert_eq!(mended.machines[0].batches()[1].charge.mass_kg(), 15.5);
    assert!(read_rows(&["1,600,21,390,12,24,4,19.8"]).problems.is_empty());
}

#[test]
fn batches_equal_in_every_number_are_doubted() {
    let later = ["1,,,,,,6,20.4", "2,,,,,,6,20.4", "3,,,,,,6,20.5"];
    let first = |name: &str| format!("{name}{}", &GOOD[1..]);
    let rows = [&first("1"), later[0], &first("2"), later[1], &first("3"), later[2]];
    let read = read_rows(&rows);
    let problem = only(&read);
    let expected = ProblemKind::EqualBatch { source: "kitchen.csv".into(), line: 2 };
    assert_eq!((&problem.kind, problem.severity), (&expected, Severity::Doubt));
    assert_eq!(problem.batch.as_deref(), Some("2"));
    assert_eq!(read.rows_used(), 6);
    // Where many doughs all but coincide, some coincide.
    let doughs = ["19.7", "19.8", "19.8", "19.9"];
    let rows: Vec<String> =
        (1..5).map(|i| first(&i.to_string()).replace("19.8", doughs[i - 1])).collect();
    let rows: Vec<&str> = rows.iter().map(|row| &**row).collect();
    assert!(read_rows(&rows).problems.is_empty());
    assert_eq!(read_rows(&rows[..3]).problems.len(), 1);
    // What is only to be forecast may well be equal.
    let text = format!("{HEADER}\n{}\n{}\n", first("1"), first("2"));
    assert!(read_with(&text, &ReadOptions::forecasting()).problems.is_empty());
}

#[test]
fn speeds_that_the_machine_has_not_are_named_with_their_column() {
    let options = ReadOptions::forecasting().with_speeds("spiral", ["low"]);
    let text = format!(
        "machine,{HEADER},minutes_turbo\nspiral,{GOOD},3\nspiral,2{},0\nother,3{},3\n",
        &GOOD[1..],
        &GOOD[1..]
    );
    let read = read_with(&text, &options);
    let ProblemKind::UnknownSpeed { speeds } = only_error(&read, Some("minutes_turbo")) else {
        panic!("{:?}", read.problems)
    };
    assert_eq!(speeds.len(), 1);
    assert_eq!(only(&read).place.unwrap().line, 2);
}

#[test]
fn hints_say_what_to_write() {
    for (column, cell, words) in [
        (6, "-4", "not negative"),
        (6, "36000", "600 minutes"),
        (1, "25000", "25000 g is 25 kg"),
        (1, "10 kg", "write 10:"),
        (2, "75", "23.9"),
    ] {
        let read = read_rows(&[&with(column, cell)]);
        assert_eq!(read.rows_set_aside(), 1);
        assert!(only(&read).hint().unwrap().contains(words), "{}", only(&read));
    }
    for (day, words) in
        [("14 03 2026", "write 2026-03-14:"), ("3 4 2026", "2026-04-03 or 2026-03-04")]
    {
        let read = read(&format!("{HEADER},date\n{GOOD},{day}\n"));
        assert!(only(&read).hint().unwrap().contains(words), "{}", only(&read));
    }
    for (grade, words) in [("85", "written 0.85"), ("5", "5 of 10 0.5")] {
        let read = read(&format!("{HEADER},development\n{GOOD},{grade}\n"));
        assert!(only(&read).hint().unwrap().contains(words), "{}", only(&read));
    }
}

#[test]
fn three_hundred_digits_are_cut() {
    let digits = "9".repeat(300);
    for column in [1, 2, 6, 7] {
        let read = read_rows(&[&with(column, &digits)]);
        let block = only(&read).to_string();
        assert!(block.contains("… (300 bytes)"), "{block}");
        assert!(block.lines().all(|line| line.len() < 200), "{block}");
    }
}

#[test]
fn a_point_before_three_digits_among_decimal_commas_may_part_thousands() {
    let rows = |flour: &str, salt: &str| {
        read(&format!(
            "batch;flour_kg;flour_c;water_kg;water_c;salt_kg;room_c;minutes_low;dough_c\n\
             1;{flour};21;6,5;12;{salt};24;4;19,8\n"
        ))
    };
    let torn = rows("10.250", "0,2");
    assert!(matches!(only(&torn).kind, ProblemKind::PointAmongCommas { .. }), "{}", only(&torn));
    assert_eq!(&*only(&torn).column.as_ref().unwrap().name, "flour_kg");
    assert!(only(&torn).hint().unwrap().contains("10,25"), "{}", only(&torn));
    assert_eq!(torn.rows_used(), 0);
    // None of these can be thousands.
    for (flour, salt) in [("10.25", "0,2"), ("10,250", "0,200"), ("10", "0.205")] {
        let read = rows(flour, salt);
        assert_eq!((read.rows_used(), read.problems.len()), (1, 0), "{:?}", read.problems);
    }
}
