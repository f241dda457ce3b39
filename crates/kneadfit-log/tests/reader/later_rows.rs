//! Later readings of a batch.

use kneadfit::charge::REST;
use kneadfit_log::{ProblemKind, Severity};

use crate::support::{GOOD, HEADER, only, only_error, read, read_rows};

#[test]
fn minutes_are_totals_and_stages_their_exact_differences() {
    let text = "batch,other_kg,other_c,other_kj_per_kg_k,room_c,minutes_low,minutes_rest,minutes_high,dough_c\n\
                1,5,20,3,20,0.1,,,20.5\n\
                1,,,,,0.3,,,21\n\
                1,,,,,0.3,10,2,23\n\
                1,,,,,,10.5,4.1,24\n";
    let read = read(text);
    assert!(read.problems.is_empty(), "{:?}", read.problems);
    let log = &read.machines[0].log;
    assert_eq!(log.speeds.iter().map(|s| &**s).collect::<Vec<_>>(), ["low", "high"]);
    let stages: Vec<Vec<(&str, f64)>> = log.batches[0]
        .stages
        .iter()
        .map(|stage| stage.phases.iter().map(|p| (&*p.speed, p.minutes)).collect())
        .collect();
    assert_eq!(
        stages,
        [
            vec![("low", 0.1)],
            vec![("low", 0.2)],
            vec![(REST, 10.0), ("high", 2.0)],
            vec![(REST, 0.5), ("high", 2.1)],
        ]
    );
    assert_eq!(read.machines[0].rows_of(0), [0, 1, 2, 3]);
}

#[test]
fn batches_may_be_logged_side_by_side() {
    let read = read_rows(&[GOOD, "2,10,21,6.5,12,24,3,19", "1,,,,,,8,22", "2,,,,,,9,23"]);
    assert!(read.problems.is_empty());
    let minutes: Vec<_> =
        read.machines[0].batches().iter().map(|batch| batch.minutes_at("low")).collect();
    assert_eq!(minutes, [8.0, 9.0]);
    assert_eq!(read.machines[0].rows_of(1), [1, 3]);
}

#[test]
fn minutes_that_go_down_set_the_row_aside() {
    let read = read_rows(&[GOOD, "1,,,,,,3.5,22", "1,,,,,,6,23"]);
    let expected = ProblemKind::MinutesDown { before_min: 4.0, line: 2 };
    assert_eq!(*only_error(&read, Some("minutes_low")), expected);
    let minutes: Vec<_> =
        read.machines[0].batches()[0].stages.iter().map(|s| s.phases[0].minutes).collect();
    assert_eq!(minutes, [4.0, 2.0]);
}

#[test]
fn ingredients_may_be_repeated_and_not_changed() {
    let same = GOOD.replace(",4,19.8", ",8,22");
    assert!(read_rows(&[GOOD, &same]).problems.is_empty());

    let other = same.replace(",10,21,", ",11,21,");
    let read = read_rows(&[GOOD, &other]);
    let ProblemKind::Contradiction { first: Some(first), line: 2 } =
        only_error(&read, Some("flour_kg"))
    else {
        panic!("{:?}", read.problems)
    };
    assert_eq!(first.as_str(), "10");

    // The room does change while a dough is mixed.
    let warmer = same.replace(",24,8", ",25,8");
    let read = read_rows(&[GOOD, &warmer]);
    assert_eq!(only(&read).severity, Severity::Doubt);
    assert_eq!((read.rows_used(), read.machines[0].batches()[0].charge.room_c), (2, 24.0));
}

#[test]
fn what_the_first_row_leaves_blank_cannot_come_later() {
    let header = "batch,flour_kg,flour_c,water_kg,water_c,salt_kg,flour,room_c,minutes_low,dough_c";
    let first = "1,10,21,6.5,12,,,24,4,20";
    let salted = read(&format!("{header}\n{first}\n1,,,,,0.2,,,8,22\n"));
    let expected = ProblemKind::Contradiction { first: None, line: 2 };
    assert_eq!(*only_error(&salted, Some("salt_kg")), expected);
    let named = read(&format!("{header}\n{first}\n1,,,,,,rye,,8,22\n"));
    assert_eq!(*only_error(&named, Some("flour")), expected);
    let none = read(&format!("{header}\n{first}\n1,,,,,0,,,8,22\n"));
    assert!(none.problems.is_empty());
}

#[test]
fn a_bad_first_row_takes_its_later_rows_along() {
    let read = read_rows(&["1,ten,21,6.5,12,24,4,19.8", "1,,,,,,8,22", "2,10,21,6.5,12,24,3,19"]);
    assert_eq!(read.problems.len(), 2);
    assert_eq!(read.problems[1].kind, ProblemKind::FirstRowSetAside { line: 2 });
    assert_eq!((read.rows_used(), read.rows_set_aside()), (1, 2));
}

#[test]
fn a_repeated_row_is_not_evidence_twice() {
    let read = read_rows(&[GOOD, GOOD]);
    assert_eq!(*only_error(&read, None), ProblemKind::RepeatedRow { line: 2 });
    let other = read_rows(&[GOOD, &GOOD.replace("19.8", "20.1")]);
    assert_eq!(only(&other).kind, ProblemKind::SameMoment { line: 2 });
    assert_eq!(other.rows_used(), 2);
}

#[test]
fn a_later_dough_is_held_against_what_went_in() {
    let read = read_rows(&[GOOD, "1,,,,,,8,75", "1,,,,,,9,2"]);
    assert!(matches!(read.problems[0].kind, ProblemKind::NotADoughTemperature { .. }));
    assert!(matches!(read.problems[1].kind, ProblemKind::ColderThanEverything { .. }));
    assert_eq!(read.rows_used(), 1);
}

#[test]
fn a_body_that_cools_is_read_on() {
    let mut text =
        "batch,other_kg,other_c,other_kj_per_kg_k,room_c,minutes_bore,minutes_rest,dough_c\n\
                    1,51,16,0.42,16,30,,55\n"
            .to_owned();
    for minute in 1..=40 {
        let dough = 16.0 + 39.0 * (-f64::from(minute) / 60.0).exp();
        text += &format!("1,,,,,30,{minute},{dough:.1}\n");
    }
    let read = read(&text);
    assert!(read.problems.is_empty(), "{:?}", read.problems);
    let batch = &read.machines[0].batches()[0];
    assert_eq!((batch.stages.len(), batch.minutes_at(REST)), (41, 40.0));
}

/// A probe that logs by the second, or a log whose batches all have one name.
#[test]
fn too_many_readings_of_one_batch_are_set_aside() {
    let mut text =
        String::from("batch,other_kg,other_c,other_kj_per_kg_k,room_c,minutes_rest,dough_c\n");
    text.push_str("1,5,60,3,20,0,60\n");
    for minute in 1..400 {
        text.push_str(&format!("1,,,,,{minute},{}\n", 60.0 - 0.05 * f64::from(minute)));
    }
    let read = kneadfit_log::read_log(
        "probe.csv",
        "pot",
        text.as_bytes(),
        &kneadfit_log::ReadOptions::default(),
    );
    assert_eq!(read.rows_used(), 240);
    assert_eq!(read.rows_set_aside(), 160);
    let said = read.problems[0].to_string();
    assert!(said.contains("at most 240 readings"), "{said}");
}

#[test]
fn a_later_row_of_another_day_is_no_reading_of_the_batch() {
    let with_day =
        |day: &str| read(&format!("date,{HEADER}\n2026-03-14,{GOOD}\n{day},1,,,,,,8,21\n"));
    for day in ["", "2026-03-14"] {
        let same = with_day(day);
        assert!(same.problems.is_empty(), "{:?}", same.problems);
        assert_eq!(same.rows_used(), 2);
    }
    for (day, used) in [("2026-03-15", 2), ("2026-03-16", 1), ("2026-03-13", 1)] {
        let other = with_day(day);
        let problem = only(&other);
        assert!(matches!(problem.kind, ProblemKind::OtherDay { line: 2, .. }), "{problem}");
        assert!(problem.hint().unwrap().contains("a name of its own"), "{problem}");
        assert!(problem.to_string().contains("has 2026-03-14"), "{problem}");
        assert_eq!(other.rows_used(), used, "{day}");
    }
}
