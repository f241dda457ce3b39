//! What of a log's dress cannot be decided, or contradicts itself, and how it is said.

use kneadfit_log::{
    ColumnNames, LogRead, ProblemKind, ReadOptions, Severity, StageScale, read_log,
};

use crate::support::{assert_accounted, only, only_error, read_with};

const HEADER: &str = "batch;date;flour_kg;flour_c;water_kg;water_c;room_c;minutes_low;dough_c";

fn read(rows: &[&str]) -> LogRead {
    let text = format!("{HEADER}\n{}\n", rows.join("\n"));
    let read = read_log("kitchen.csv", "spiral", text.as_bytes(), &ReadOptions::default());
    assert_accounted(&read);
    read
}

#[test]
fn dates_that_no_row_decides_are_left_out_and_said() {
    let read = read(&[
        "1;03/04/2026;10;21;6,5;12;24;4;19,8",
        "2;05/05/2026;10;21;6,5;12;24;4;19,9",
        "3;07/04/2026;10;21;6,5;12;24;4;19,7",
    ]);
    let problem = only(&read);
    assert_eq!(problem.kind, ProblemKind::DateOrderUnknown { count: 2, line: 2 });
    assert_eq!(problem.severity, Severity::Doubt);
    assert_eq!(problem.hint().unwrap(), "write dates as 2026-03-14");
    let dates: Vec<_> =
        read.machines[0].log.batches.iter().map(|batch| batch.date.as_deref()).collect();
    assert_eq!(
        dates,
        [None, Some("2026-05-05"), None],
        "a day that is the same either way is kept"
    );
    assert_eq!(read.rows_used(), 3);
}

#[test]
fn dates_of_both_orders_are_said_with_their_lines() {
    let read = read(&[
        "1;13/04/2026;10;21;6,5;12;24;4;19,8",
        "2;04/14/2026;10;21;6,5;12;24;4;19,9",
        "3;07/04/2026;10;21;6,5;12;24;4;19,7",
    ]);
    let kind = ProblemKind::DateOrderTorn { day_first_line: 2, month_first_line: 3, left_out: 1 };
    assert_eq!(only(&read).kind, kind);
    assert_eq!(read.machines[0].log.batches[2].date, None);
    assert_eq!(read.machines[0].log.batches[1].date.as_deref(), Some("2026-04-14"));
}

#[test]
fn a_column_of_both_decimal_marks_is_said_and_the_fewer_set_aside() {
    let read = read(&[
        "1;;10;21;6,5;12;24;4;19,8",
        "2;;10;21;6.5;12;24;4;19,9",
        "3;;10;21;6,25;12;24;4;19,7",
    ]);
    let kind = ProblemKind::DecimalMarks { most: ',', most_line: 2, other_line: 3, others: 1 };
    assert_eq!(read.problems[0].kind, kind);
    assert_eq!(read.problems[0].severity, Severity::Doubt);
    assert_eq!(read.problems[1].kind, ProblemKind::PointAmongCommas { as_decimal: Some(6.5) });
    assert_eq!(read.problems[1].hint().unwrap(), "if the point is a decimal point, write 6,5");
    assert_eq!((read.rows_used(), read.rows_set_aside()), (2, 1));
}

#[test]
fn a_comma_among_the_points_of_a_canonical_log_is_the_error_that_it_was() {
    let text = "batch,flour_kg,flour_c,water_kg,water_c,room_c,dough_c\n\
                1,10,21,6.5,12,24,19.8\n2,10,21,\"6,5\",12,24,19.7\n3,10,21,6.25,12,24,19.6\n";
    let read = read_with(text, &ReadOptions::default());
    let kind = only_error(&read, Some("water_kg"));
    assert_eq!(*kind, ProblemKind::NotANumber { with_point: Some(6.5) });
}

#[test]
fn one_quantity_in_two_units_stops_the_file() {
    let text = "batch,flour_kg,flour_g,room_c\n1,10,10000,22\n";
    let read = read_with(text, &ReadOptions::default());
    assert!(read.is_empty() && read.rows.is_empty());
    assert!(only(&read).to_string().contains("the same quantity as the 2nd column, flour_kg"));
}

#[test]
fn limits_and_hints_are_in_the_columns_unit() {
    let text = "batch,other_kg,other_c,other_kj_per_kg_k,room_f,dough_f\n1,5,20,3,70,900\n";
    let read = read_with(text, &ReadOptions::default());
    let ProblemKind::OutOfRange { least, most } = *only_error(&read, Some("dough_f")) else {
        panic!("{:?}", read.problems)
    };
    let (least_c, most_c) = kneadfit::batch::limits::TEMPERATURE_C;
    assert_eq!((least, most), (least_c * 1.8 + 32.0, most_c * 1.8 + 32.0));
    assert!(only(&read).expected().ends_with(" °F"));
}

#[test]
fn columns_of_the_list_that_are_not_there_are_said() {
    let names = ColumnNames::parse("water_kg = 'Wasser'\nbatch = 'Nr'").unwrap();
    let text = "Nr,other_kg,other_c,other_kj_per_kg_k,room_c,dough_c\n1,5,20,3,20,20\n";
    let read = read_with(text, &ReadOptions::default().with_columns(names));
    let problem = only(&read);
    assert!(
        matches!(&problem.kind, ProblemKind::NamedColumnMissing { ours, .. } if ours == "water_kg")
    );
    assert!(problem.to_string().contains("no column headed \"Wasser\""), "{problem}");
    assert_eq!(read.rows_used(), 1);
}

#[test]
fn a_word_that_is_no_stage_is_told_the_stages() {
    let stages: StageScale = "short,intense".parse().unwrap();
    let text = "batch,other_kg,other_c,other_kj_per_kg_k,room_c,dough_c,development\n\
                1,5,20,3,20,20,short\n2,5,20,3,20,20,perfect\n3,5,20,3,20,20,0.7\n";
    let read = read_with(text, &ReadOptions::default().with_stages(stages));
    let stages = vec!["short".to_owned(), "intense".to_owned()];
    assert_eq!(*only_error(&read, Some("development")), ProblemKind::NotAStage { stages });
    let grade = |batch: usize| read.machines[0].log.batches[batch].stages[0].reading.development;
    assert_eq!((grade(0), grade(1)), (Some(0.5), Some(0.7)));
}

#[test]
fn per_cents_that_are_all_parts_of_one_are_read_so_and_said() {
    let text = "batch,other_kg,other_c,other_kj_per_kg_k,room_c,dough_c,development_percent\n\
                1,5,20,3,20,20,0.85\n2,5,20,3,20,21,1\n";
    let read = read_with(text, &ReadOptions::default());
    assert_eq!(only(&read).kind, ProblemKind::SharesAsPercent);
    let first = &read.machines[0].log.batches[0].stages[0];
    assert_eq!(first.reading.development, Some(0.85));
}

#[test]
fn a_part_of_one_among_per_cents_is_neither() {
    let text = "batch,other_kg,other_c,other_kj_per_kg_k,room_c,dough_c,development_percent\n\
                1,5,20,3,20,20,85\n2,5,20,3,20,21,0.85\n3,5,20,3,20,22,0\n4,5,20,3,20,22,0.5%\n";
    let read = read_with(text, &ReadOptions::default());
    assert_eq!(*only_error(&read, Some("development_percent")), ProblemKind::ShareAmongPercents);
    assert_eq!(only(&read).hint().unwrap(), "if it is a part of 1, write 85");
    assert_eq!(read.rows_used(), 3);
}

#[test]
fn bare_minutes_are_told_that_a_speed_has_a_name() {
    let text =
        "batch,other_kg,other_c,other_kj_per_kg_k,room_c,dough_c,minutes\n1,5,20,3,20,20,4\n";
    let read = read_with(text, &ReadOptions::default());
    let hint = only(&read).hint().unwrap();
    assert_eq!(hint, "minutes stand under the speed's name, as minutes_low");
}

/// In whole grams nothing tells whether `12,500` is twelve kilograms and a half or as many
/// grams.
#[test]
fn a_mark_before_three_digits_of_grams_is_not_taken_for_a_decimal_one() {
    let header = "batch;flour_g;flour_c;water_g;water_c;room_c;minutes_low;dough_c";
    for (mark, hint) in [
        (",", "if the comma is a decimal comma, write 12.5; if it parts the thousands, 12500"),
        (".", "if the point is a decimal point, write 12,5; if it parts the thousands, 12500"),
    ] {
        let text = format!("{header}\n1;12{mark}500;21;8{mark}250;12;24;4;20\n");
        let read = read_with(&text, &ReadOptions::default());
        assert_eq!((read.rows_used(), read.problems.len()), (0, 2), "{:?}", read.problems);
        assert_eq!(read.problems[0].hint().unwrap(), hint);
        assert_eq!(read.problems[0].mend(), None);
    }
    // In kilograms nobody has thousands, and a column that is surely decimal tells of itself.
    let kilograms = header.replace("_g", "_kg");
    for text in [
        format!("{kilograms}\n1;12,500;21;8,250;12;24;4;20\n"),
        format!("{header}\n1;12000,5;21;8250;12;24;4;20\n"),
    ] {
        let read = read_with(&text, &ReadOptions::default());
        assert!(read.problems.is_empty(), "{:?}", read.problems);
    }
}

#[test]
fn a_sheet_of_a_text_is_said() {
    let options = ReadOptions::default().from_sheet("Log");
    let read = read_with("batch,room_c\n1,22\n", &options);
    assert_eq!(only(&read).kind, ProblemKind::NoSheets { wanted: "Log".into() });
    assert!(read.is_empty());
}

#[test]
fn a_bare_number_among_dates_is_told_as_a_spreadsheets_day() {
    let read = read(&["1;46095;10;21;6,5;12;24;4;19,8"]);
    assert_eq!(*only_error(&read, Some("date")), ProblemKind::NotADate);
    assert!(only(&read).hint().unwrap().contains("2026-03-14"));
}

/// What is said of a log in °F, lb, g and seconds is said in its own units throughout.
#[test]
fn every_limit_is_in_the_columns_unit() {
    let header = "batch,flour_lb,flour_f,water_g,water_f,salt_oz,room_f,seconds_low,dough_f";
    let good = "0,22,70,6500,54,7,75,240,68";
    let of = |rows: &[&str]| {
        let text = format!("{header}\n{good}\n{}\n", rows.join("\n"));
        let read = read_with(&text, &ReadOptions::default());
        only(&read).clone()
    };
    let says = |row: &str, expected: &str, hint: &str| {
        let problem = of(&[row]);
        assert!(problem.expected().contains(expected), "{row}: {problem}");
        assert!(problem.hint().unwrap_or_default().contains(hint), "{row}: {problem}");
        assert!(!problem.to_string().contains("°C,"), "{row}: {problem}");
        problem
    };
    let flour = says("1,22,150,6500,54,7,75,240,68", "a temperature of -22 to 122 °F", "");
    assert_eq!(flour.found_in_words(), "150");
    let water = says("1,22,70,6500,12,7,75,240,68", "30.2 to 140 °F", "write 53.6 if it was read");
    assert_eq!(water.mend_in_words().unwrap(), "12 read as °C is 53.6 °F");
    assert_eq!(water.mend().unwrap().cells[0].value, 53.6);
    // 24 is a dough in °C, and colder than everything in °F.
    let dough = says("1,22,70,6500,54,7,75,240,24", "no less than ", "24 °C is 75.2 °F");
    assert!(dough.expected().contains(" °F, the coldest"), "{dough}");
    says("1,22,70,6500,54,7,75,9000,68", "some 7200 seconds at most", "");
    says("1,22,70,6500,54,7,,240,68", "a value", "the room's temperature in °F");
    says("1,22,,6500,54,7,75,240,68", "the mass of flour", "as it went in, in °F");
    says("1,50000,70,6500,54,7,75,240,68", "0 to 44092.4", "");
    let later = |row: &str| of(&["1,22,70,6500,54,7,75,240,69", row]);
    assert!(later("1,,,,,,,200,68").expected().starts_with("240 or more"));
    assert!(later("1,23,,,,,,300,69").expected().starts_with("blank, or 22 as on line 3"));
    // Salt in ounces is not in grams.
    assert_eq!(of(&["1,22,70,6500,54,200,75,240,68"]).mend(), None);
}

/// A log in °F is hunted through as its twin in °C is.
#[test]
fn swapped_masses_and_stuck_thermometers_are_said_in_the_columns_unit() {
    let mut text =
        "batch,date,flour_lb,flour_f,water_lb,water_f,room_f,seconds_low,dough_f\n".to_owned();
    for day in 0..24 {
        let (flour, water) = if day == 3 { ("14.4", "22.1") } else { ("22.1", "14.4") };
        let dough = 70.3 + f64::from(day * 7 % 11) / 10.0;
        let date = jiff::civil::date(2026, 3, 1).checked_add(jiff::Span::new().days(day)).unwrap();
        text += &format!("{day},{date},{flour},70,{water},54,71.7,240,{dough:.1}\n");
    }
    let read = read_with(&text, &ReadOptions::default());
    let doubts = kneadfit_log::hunt(&read, 0, None);
    assert_eq!(doubts.len(), 2, "{doubts:#?}");
    assert_eq!(&*doubts[0].column.as_ref().unwrap().name, "flour_lb");
    assert_eq!(doubts[0].found_in_words().split(' ').next(), Some("1.53"));
    let mend = doubts[0].mend().unwrap();
    assert_eq!((mend.cells[0].value, mend.cells[1].value), (22.1, 14.4));
    assert!(doubts[1].found_in_words().starts_with("71.7 in 24 batches"), "{}", doubts[1]);
    assert_eq!(&*doubts[1].column.as_ref().unwrap().name, "room_f");
}
