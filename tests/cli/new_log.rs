//! `kneadfit new-log`: empty logs to fill in.

use crate::support::Kitchen;

#[test]
fn a_new_log_is_filled_in_and_fitted_with_its_example_left_there() {
    let kitchen = Kitchen::new();
    let run = kitchen.run(&["new-log", "spiral.csv", "--speeds", "low,high"]).ended(0);
    assert_eq!((&*run.out, &*run.err), ("", "wrote spiral.csv\n"));
    let mut log = kitchen.read("spiral.csv");
    log += "1,2026-05-02,,10,21,6.5,8,,0.2,24,,8,,2,21.1,0.6,\n\
            2,2026-05-03,,10,20,6.2,12,,0.2,22,,4,,6,24.9,0.9,\n";
    kitchen.write("spiral.csv", log);
    let run = kitchen.run(&["fit", "spiral.csv", "--out", "out"]).ended(0);
    assert_eq!(run.err, "spiral.csv: line 2 is an example and no batch\n");
    assert!(run.out.contains("2 batches"), "{}", run.out);
}

#[test]
fn a_workbook_is_read_as_empty_and_the_same_twice() {
    let kitchen = Kitchen::new();
    std::fs::create_dir(kitchen.path("new folder")).unwrap();
    for name in ["a.xlsx", "new folder/b.XLSX"] {
        kitchen.run(&["new-log", name, "--speeds", "hand", "--full"]).ended(0);
        let said = ["sheet log; rows 1, 2 above the header are not read", "row 4 is an example"];
        kitchen.run(&["check", name]).ended(2).out_says(&said).out_says(&["nothing under it"]);
    }
    let bytes = |name: &str| std::fs::read(kitchen.path(name)).unwrap();
    assert_eq!(bytes("a.xlsx"), bytes("new folder/b.XLSX"));
    let run = kitchen.run(&["columns", "a.xlsx"]).ended(0);
    run.err_says(&["26 columns: 26 with the log's own names"]);
}

#[test]
fn a_log_that_is_there_is_never_overwritten() {
    let kitchen = Kitchen::new();
    kitchen.write("spiral.xlsx", "a year of batches");
    let run = kitchen.run(&["new-log", "spiral.xlsx", "--speeds", "low"]).ended(2);
    run.err_says(&["spiral.xlsx is there already, and is not overwritten"]);
    assert_eq!(kitchen.read("spiral.xlsx"), "a year of batches");
    assert_eq!(kitchen.names("."), ["spiral.xlsx"]);
}

#[test]
fn what_cannot_be_is_said() {
    let kitchen = Kitchen::new();
    for (arguments, words) in [
        (&["log.ods", "--speeds", "low"][..], "a workbook, .xlsx, or a text, .csv"),
        (&["spirals/2026/log.csv", "--speeds", "low"], "there is no folder spirals/2026"),
        (&["log", "--speeds", "low"], "a workbook, .xlsx, or a text, .csv"),
        (&["log.csv"], "--speeds"),
        (&["log.csv", "--speeds", "low,low"], "\"low\" has a column of its own already"),
        (&["log.csv", "--speeds", "rest"], "\"rest\" has a column of its own already"),
        (&["log.csv", "--speeds", "low,,high"], "\"\" cannot head a column of minutes"),
    ] {
        let run = kitchen.run(&[&["new-log"], arguments].concat()).ended(2);
        run.err_says(&[words]);
    }
    assert!(kitchen.names(".").is_empty());
}
