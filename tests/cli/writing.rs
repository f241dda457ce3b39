//! Files written whole or not at all, and names that stay apart.

use std::io::Read;
use std::process::Stdio;

use crate::support::{GOOD, Kitchen, demo, tool};

#[test]
fn a_folder_that_cannot_be_made() {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", GOOD);
    kitchen.write("file", "in the way");
    for out in ["file", "file/below"] {
        let run = kitchen.run(&["fit", "log.csv", "--out", out]).ended(2);
        let run = run.err_says(&["cannot make the folder", out, "; "]);
        assert!(!run.err.contains("os error"), "{}", run.err);
        assert_eq!(run.out, "");
    }
    assert_eq!(kitchen.read("file"), "in the way");
}

#[test]
fn one_file_that_cannot_be_written_keeps_all_three_back() {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", GOOD);
    std::fs::create_dir_all(kitchen.path("out/log.report.html")).unwrap();
    let run = kitchen.run(&["fit", "log.csv", "--out", "out"]).ended(2);
    run.err_says(&["no file of log was written", "log.report.html", "in the way"]);
    assert_eq!(kitchen.names("out"), ["log.report.html"]);
}

#[test]
fn machine_names_are_safe_and_stay_apart() {
    let kitchen = Kitchen::new();
    let names = ["Spiral 1", "Spiral/1", "spiral 1", "../up", "con", "Teigkneter für Brot", "a.b"];
    let long = "long ".repeat(60);
    let mut log =
        "machine,batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,dough_c\n".to_owned();
    for name in names.iter().copied().chain([long.trim()]) {
        log.push_str(&format!("{name},1,10,21,6.5,12,24,10,22.9\n"));
    }
    kitchen.write("log.csv", log);
    kitchen.run(&["fit", "log.csv", "--out", "out"]).ended(0);
    let files = kitchen.names("out");
    assert_eq!(files.len(), 3 * 8, "{files:?}");
    let mut folded: Vec<String> = files.iter().map(|name| name.to_lowercase()).collect();
    folded.sort();
    folded.dedup();
    assert_eq!(folded.len(), files.len(), "{files:?}");
    for expected in ["Spiral%2F1", "spiral 1", "%2E.%2Fup", "%63on", "Teigkneter für Brot", "a.b"]
    {
        assert!(files.contains(&format!("{expected}.profile.json")), "{expected} of {files:?}");
    }
    assert!(files.iter().all(|name| name.len() <= 100 + ".residuals.svg".len()));
    assert!(!kitchen.path("up.profile.json").exists());
}

#[test]
fn the_profile_of_another_machine_is_not_overwritten() {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", GOOD);
    kitchen.run(&["fit", "log.csv", "--out", "out"]).ended(0);
    // The same machine again: replaced.
    kitchen.run(&["fit", "log.csv", "--out", "out", "--level", "0.8"]).ended(0);
    let other = kitchen.read("out/log.profile.json").replace("\"id\": \"log\"", "\"id\": \"LOG\"");
    kitchen.write("out/log.profile.json", &other);
    let run = kitchen.run(&["fit", "log.csv", "--out", "out"]).ended(2);
    run.err_says(&["the profile of another machine, \"LOG\"", "another folder"]);
    assert_eq!(kitchen.read("out/log.profile.json"), other);
}

/// Whoever reads standard output may stop early, as `head` does.
#[test]
fn a_reader_that_goes_away_is_no_fault() {
    let kitchen = Kitchen::new();
    let bad = demo("kitchen-log-bad-rows.csv");
    for arguments in
        [&["check", &bad][..], &["schema"], &["man"], &["completions", "zsh"], &["--help"]]
    {
        let mut child =
            tool().args(arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let mut err = String::new();
        child.stderr.take().unwrap().read_to_string(&mut err).unwrap();
        assert!(child.wait().unwrap().code().is_some());
        assert!(!err.contains("panicked"), "{arguments:?}: {err}");
    }
    assert!(kitchen.names(".").is_empty());
}

/// A disk that is full, where the system has one to try it on.
#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_is_a_sentence() {
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let ran = tool().arg("schema").stdout(full).stderr(Stdio::piped()).output().unwrap();
    let err = String::from_utf8(ran.stderr).unwrap();
    assert_eq!(ran.status.code(), Some(2), "{err}");
    assert!(err.contains("cannot write the result: the disk is full; make room"), "{err}");
    assert!(!err.contains("os error"), "{err}");
}
