//! `kneadfit check`.

use crate::support::{GOOD, Kitchen, OTHER_ROW, ROW, demo, log_of};

#[test]
fn a_good_log_is_summed_up_on_standard_output() {
    let kitchen = Kitchen::new();
    let run = kitchen.run(&["check", &demo("kitchen-log.csv")]).ended(0);
    assert_eq!(run.err, "");
    for words in ["spiral: 26 batches", "planetary: 16 batches", "hands: 11 batches", "0 errors"] {
        assert!(run.out.contains(words), "{words}:\n{}", run.out);
    }
}

#[test]
fn a_doubt_is_said_and_the_row_is_usable() {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", log_of(&[ROW, OTHER_ROW, "3,10,21,6.5,8,24,300,40"]));
    kitchen.run(&["check", "log.csv"]).ended(0).out_says(&[
        "doubt",
        "minutes_low",
        "300",
        "1 doubt",
    ]);
}

#[test]
fn json_holds_problems_and_summaries() {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", log_of(&[ROW, "2,10,21,6.5,cold,24,10,23"]));
    let run = kitchen.run(&["check", "log.csv", "--json"]).ended(2);
    let json = run.json();
    assert_eq!(json["rows"], 2);
    assert_eq!(json["rows_usable"], 1);
    assert_eq!(json["problems"][0]["column"], "water_c");
    assert_eq!(json["problems"][0]["line"], 3);
    assert_eq!(json["machines"][0]["machine"], "log");
}

#[test]
fn standard_input_is_a_log() {
    let kitchen = Kitchen::new();
    let run = kitchen.run_with(&["check", "-"], &[], GOOD.as_bytes()).ended(0);
    assert!(run.out.contains("stdin: 5 batches"), "{}", run.out);
    kitchen.run(&["check", "-", "-"]).ended(2).err_says(&["only once"]);
}

#[test]
fn colours_only_where_they_are_wanted() {
    let kitchen = Kitchen::new();
    let log = demo("kitchen-log-bad-rows.csv");
    let plain = kitchen.run(&["check", &log]);
    assert!(!plain.out.contains('\u{1b}'));
    let forced = kitchen.run_with(&["check", &log], &[("CLICOLOR_FORCE", "1")], b"");
    assert!(forced.out.contains('\u{1b}'));
    let wishes = [("CLICOLOR_FORCE", "1"), ("NO_COLOR", "1")];
    // Who says no is heard before who says always.
    let refused = kitchen.run_with(&["check", &log], &wishes[1..], b"");
    assert!(!refused.out.contains('\u{1b}'));
}
