//! Files as a whole: bytes, headers, several sources.

use std::io::{self, Read};

use kneadfit_log::{LogReader, ProblemKind, ReadOptions, Severity, limits, read_log};

use crate::support::{GOOD, HEADER, assert_accounted, only, read, read_rows};

#[test]
fn empty_files_say_so() {
    for text in ["", "\n\n", "\u{feff}", " , ,\n"] {
        let read = read(text);
        assert!(read.is_empty() && read.has_errors());
        assert_eq!(only(&read).kind, ProblemKind::EmptyFile, "{text:?}");
    }
}

#[test]
fn a_header_alone_says_so() {
    for text in [HEADER.to_owned(), format!("{HEADER}\r\n\r\n,,,,,,,\r\n")] {
        let read = read(&text);
        assert!(read.is_empty());
        assert_eq!(only(&read).kind, ProblemKind::NoRows);
        assert!(only(&read).to_string().contains("one row a reading"));
    }
}

#[test]
fn marks_line_ends_and_blank_lines_change_nothing() {
    let plain = read(&format!("{HEADER}\n{GOOD}\n2,10,21,6.5,12,24,5,20.3\n"));
    assert!(plain.problems.is_empty());
    let row = "2,10,21,6.5,12,24,5,20.3";
    for text in [
        format!("\u{feff}{HEADER}\n{GOOD}\n{row}\n"),
        format!("{HEADER}\r\n{GOOD}\r\n{row}"),
        format!("{HEADER}\n\n{GOOD}\n , ,,,,,,\n{row}\n\n\n"),
        format!("{HEADER}\n{}\n{row}", GOOD.replace(',', " , ").replace("1 ", "1")),
    ] {
        let read = read(&text);
        assert!(read.problems.is_empty(), "{:?}", read.problems);
        assert_eq!(read.machines[0].log, plain.machines[0].log, "{text:?}");
    }
}

#[test]
fn lines_are_those_of_the_file_after_quoted_newlines_and_blank_lines() {
    let text = format!(
        "{HEADER},note\r\n\r\n{GOOD},\"hot day,\r\nnew flour\"\r\n2,x,21,6.5,12,24,5,20,\r\n"
    );
    let read = read(&text);
    assert_eq!((read.rows[0].line, read.rows[0].row), (3, 1));
    let place = only(&read).place.unwrap();
    assert_eq!((place.line, place.row), (5, 2));
}

#[test]
fn a_missing_required_column_is_named() {
    for (text, name) in [("flour_kg,room_c\n1,2\n", "batch"), ("batch,flour_kg\n1,2\n", "room_c")] {
        let read = read(text);
        assert!(read.is_empty() && read.rows.is_empty());
        let ProblemKind::MissingColumn { name: missing } = only(&read).kind else {
            panic!("{:?}", read.problems)
        };
        assert_eq!(missing, name);
    }
}

#[test]
fn a_speed_without_a_minute_in_the_file_is_doubted() {
    let rest = "2,10,21,6.5,12,24,5,20.3";
    let text = format!("{HEADER},minutes_high,minutes_rest\n{GOOD},,\n{rest},,\n");
    let read = read(&text);
    let problem = only(&read);
    assert_eq!((&problem.kind, problem.severity), (&ProblemKind::SpeedBlank, Severity::Doubt));
    assert_eq!(&*problem.column.as_ref().unwrap().name, "minutes_high");
    assert_eq!(read.machines[0].log.speeds.len(), 1);
    // A nought is a speed that was never used, and a day's plan need not use every speed.
    assert!(crate::support::read(&text.replacen(",,\n", ",0,\n", 1)).problems.is_empty());
    let forecasting = read_log("k.csv", "s", text.as_bytes(), &ReadOptions::forecasting());
    assert!(forecasting.problems.is_empty());
}

#[test]
fn an_unknown_column_is_reported_once_and_not_read() {
    let read = read(&format!("{HEADER},Flour C\n{GOOD},99\n2,10,21,6.5,12,24,5,20.3,98\n"));
    let problem = only(&read);
    assert_eq!(problem.severity, Severity::Doubt);
    assert_eq!(problem.place, None);
    assert_eq!(problem.hint().unwrap(), "is it flour_c (in °C)?");
    assert_eq!(read.rows_used(), 2);
}

#[test]
fn a_column_twice_stops_the_file() {
    for column in ["flour_kg", "minutes_low", "batch", "note,note"] {
        let read = read(&format!("{HEADER},{column}\n{GOOD},1\n"));
        assert!(read.is_empty() && read.rows.is_empty(), "{column}");
        assert!(
            matches!(read.problems[0].kind, ProblemKind::ColumnTwice { .. }),
            "{:?}",
            read.problems
        );
        assert_eq!(read.problems[0].consequence(), "nothing of the file is used");
    }
}

#[test]
fn ragged_rows_are_set_aside_and_others_go_on() {
    let read = read_rows(&[
        "1,10,21,6.5,12,24,4",
        GOOD.replace('1', "2").as_str(),
        "3,10,21,6,5,12,24,4,20",
    ]);
    let counts: Vec<_> = read
        .problems
        .iter()
        .map(|problem| match problem.kind {
            ProblemKind::CellCount { cells, columns, .. } => (cells, columns),
            _ => panic!("{problem}"),
        })
        .collect();
    assert_eq!(counts, [(7, 8), (9, 8)]);
    assert_eq!(read.rows_used(), 1);
    assert_eq!(read.rows[0].batch.as_deref(), Some("1"));
}

#[test]
fn a_quote_never_closed_does_not_swallow_the_file_in_silence() {
    // The note is the last column: the cells are as many as they should be.
    let text = format!(
        "{HEADER},note\n{GOOD},\n2{},\"hot day\n3{},\n4{},\n",
        &GOOD[1..],
        &GOOD[1..],
        &GOOD[1..]
    );
    let read = read(&text);
    assert_eq!(only(&read).kind, ProblemKind::UnclosedQuote { lines: 3 });
    assert_eq!(only(&read).place.unwrap().line, 3);
    assert_eq!(read.rows_used(), 1);
}

#[test]
fn ten_megabytes_in_one_cell_are_shown_cut() {
    for cell in ["7".repeat(10_000_000), "\"".to_owned() + &"x\n".repeat(5_000_000) + "\""] {
        let read =
            read_rows(&[&format!("1,{cell},21,6.5,12,24,4,20"), &GOOD.replacen('1', "2", 1)]);
        let found = only(&read).found.as_ref().unwrap();
        assert!(found.as_str().ends_with("… (10000000 bytes)"), "{found}");
        assert_eq!(read.rows_used(), 1);
    }
    let header = "x".repeat(10_000_000);
    let read = read(&format!("{HEADER},{header}\n{GOOD},\n"));
    assert_eq!(read.rows_used(), 1);
    assert!(only(&read).to_string().len() < 1000);
}

#[test]
fn two_hundred_speeds_keep_their_order() {
    let speeds: Vec<String> = (0..200).map(|k| format!("s{k}")).collect();
    let header: Vec<String> = speeds.iter().map(|speed| format!("minutes_{speed}")).collect();
    let minutes: Vec<String> = (0..200).map(|k| (k % 3).to_string()).collect();
    let text = format!(
        "batch,other_kg,other_c,other_kj_per_kg_k,room_c,dough_c,{}\n1,5,20,3,20,30,{}\n",
        header.join(","),
        minutes.join(",")
    );
    let read = read(&text);
    assert!(read.problems.is_empty());
    let log = &read.machines[0].log;
    assert!(log.speeds.iter().map(|s| &**s).eq(speeds.iter().map(|s| &**s)));
    let phases = &log.batches[0].stages[0].phases;
    assert_eq!(phases.len(), 133);
    assert_eq!((&*phases[1].speed, phases[1].minutes), ("s2", 2.0));
}

#[test]
fn speeds_are_those_that_a_machine_logs() {
    let text = "batch,machine,other_kg,other_c,other_kj_per_kg_k,room_c,minutes_hand,minutes_low,minutes_high,dough_c\n\
                1,table,1,20,3,20,10,,,23\n\
                1,spiral,9,20,3,20,,4,0,22\n";
    let read = read(text);
    let speeds =
        |k: usize| -> Vec<&str> { read.machines[k].log.speeds.iter().map(|s| &**s).collect() };
    assert_eq!(speeds(0), ["hand"]);
    assert_eq!(speeds(1), ["low", "high"], "a zero is logged, a blank is not");
}

#[test]
fn machines_come_in_order_of_appearance_and_blank_ones_are_the_files() {
    let header = "machine,batch,other_kg,other_c,other_kj_per_kg_k,room_c,dough_c";
    let read = read(&format!(
        "{header}\nb,1,5,20,3,20,20\na,1,5,20,3,20,20\nb,2,5,20,3,20,21\n,3,5,20,3,20,20\n"
    ));
    let names: Vec<_> = read.machines.iter().map(|machine| &**machine.machine()).collect();
    assert_eq!(names, ["b", "a", "spiral"]);
    let problem = only(&read);
    assert_eq!(problem.severity, Severity::Doubt);
    assert_eq!(problem.kind, ProblemKind::MachineBlank { taken_as: "spiral".into() });
    assert_eq!(problem.place.unwrap().line, 5);
}

#[test]
fn a_file_given_twice_does_not_count_twice() {
    let mut reader = LogReader::new(ReadOptions::default());
    let text = format!("{HEADER}\n{GOOD}\n2{}\n", &GOOD[1..]);
    reader.read("may.csv", "spiral", text.as_bytes());
    reader.read("may (1).csv", "spiral", text.as_bytes());
    // The same names for other batches: each file may count from one.
    reader.read("june.csv", "spiral", text.replace("19.8", "19.9").as_bytes());
    let read = reader.finish();
    assert_accounted(&read);
    assert_eq!((read.rows_used(), read.rows_set_aside()), (4, 2));
    let kind = ProblemKind::RepeatedBatch { source: "may.csv".into(), line: 3 };
    assert_eq!(read.problems[1].kind, kind);
    assert_eq!(&*read.problems[1].source, "may (1).csv");
}

#[test]
fn a_file_that_breaks_off_keeps_its_rows_and_says_so() {
    struct Broken<'a>(&'a [u8]);
    impl Read for Broken<'_> {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            if self.0.is_empty() {
                return Err(io::Error::other("the stick was pulled"));
            }
            self.0.read(into)
        }
    }
    let text = format!("{HEADER}\n{GOOD}\n2,10,");
    let read = read_log("kitchen.csv", "spiral", Broken(text.as_bytes()), &ReadOptions::default());
    assert_accounted(&read);
    assert_eq!(read.rows_used(), 1);
    let reason = "the stick was pulled".to_owned();
    assert_eq!(only(&read).kind, ProblemKind::Unreadable { reason });
}

#[test]
fn text_that_is_not_utf_8_is_an_error_where_it_is_read_and_no_matter_in_a_note() {
    // With letters of UTF-8 in it, it is no text in Windows-1252.
    let mut bytes = format!("{HEADER},note\n{GOOD},\u{e9}\u{e8}").into_bytes();
    bytes.extend(b"caf\xe9\nB\xe4r");
    bytes.extend(format!("{},\n", &GOOD[1..]).bytes());
    let read = read_log("kitchen.csv", "spiral", &*bytes, &ReadOptions::default());
    assert_accounted(&read);
    assert_eq!(only(&read).kind, ProblemKind::NotUtf8);
    assert_eq!(read.rows_used(), 1);
}

#[test]
fn a_text_of_more_columns_than_any_log_is_refused_once() {
    let wide = |more: usize| {
        let header: String = (0..more).map(|column| format!(",c{column}")).collect();
        format!("{HEADER}{header}\n{GOOD}{}\n", ",".repeat(more))
    };
    let most = limits::SHEET_COLUMNS - HEADER.split(',').count();
    assert_eq!(read(&wide(most)).rows_used(), 1);
    for more in [most + 1, 1_000_000] {
        let read = read(&wide(more));
        assert!(read.is_empty());
        assert!(matches!(only(&read).kind, ProblemKind::TooLarge { most: 1024, .. }));
        assert!(only(&read).hint().unwrap().contains("delete the columns"), "{}", only(&read));
        assert_eq!(only(&read).consequence(), "nothing of the file is used");
    }
}
