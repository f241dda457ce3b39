//! What is fuzzed: any bytes must be read to an answer that holds together.
//!
//! Shared by the fuzzer's own programs in `fuzz_targets` and by the bounded run of
//! `cargo test`.

use kneadfit::batch::Batch;
use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::forecast::Forecaster;
use kneadfit::planning::{Draft, Planner, Wanted};
use kneadfit::profile::Profile;
use kneadfit_log::{LogRead, ReadOptions, read_log, write_logs};

/// Bytes → log, for each thing that a log is read for.
///
/// # Panics
///
/// When the answer does not hold together: rows that are neither used, set aside nor left
/// out, nothing read without a word why, or a log that does not read back as written.
pub fn log(bytes: &[u8]) {
    for options in [ReadOptions::default(), ReadOptions::forecasting(), ReadOptions::planning()] {
        let read = read_log("fuzz.csv", "fuzz", bytes, &options);
        let parts = read.rows_used() + read.rows_set_aside() + read.rows_left_out();
        assert_eq!(read.rows_read(), parts);
        assert!(!read.is_empty() || !read.problems.is_empty(), "nothing read, and not a word why");
        if options == ReadOptions::default() {
            reads_back(&read);
        }
    }
}

fn reads_back(read: &LogRead) {
    let logs: Vec<_> = read.machines.iter().map(|m| m.log.clone()).collect();
    let mut written = Vec::new();
    // Some logs cannot be written: two batches of one name, out of two files.
    if logs.is_empty() || write_logs(&logs, &mut written).is_err() {
        return;
    }
    let again = read_log("written.csv", "fuzz", &written[..], &ReadOptions::default());
    let again: Vec<_> = again.machines.into_iter().map(|m| m.log).collect();
    let text = String::from_utf8_lossy(&written);
    assert_eq!(again.len(), logs.len(), "{text}");
    for log in &logs {
        let same = again.iter().find(|l| l.machine == log.machine);
        assert_eq!(same.map(|l| &l.batches), Some(&log.batches), "{text}");
    }
}

/// Bytes → profile, and what is forecast from it.
///
/// # Panics
///
/// When a profile that was taken does not read back as written, or a dough asked of it
/// panics.
pub fn profile(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let Ok(profile) = Profile::from_json(text) else { return };
    let json = profile.to_json();
    let again = Profile::from_json(&json).map(|p| p.to_json());
    assert_eq!(again.as_deref(), Ok(&*json));
    let Ok(forecaster) = Forecaster::new(&profile) else { return };
    let charge = Charge::new(24.0)
        .with(Material::Flour, 10.0, 21.0)
        .with(Material::Water, 6.5, 12.0)
        .with(Material::Salt, 0.2, 24.0);
    let phases: Vec<_> =
        profile.machine.speeds.iter().map(|s| Phase::mixing(s.as_str(), 4.0)).collect();
    let _ = forecaster.forecast(&Batch::new("1", charge.clone(), phases.clone()), 0.95);
    if let Ok(planner) = Planner::new(&profile) {
        let draft = phases.into_iter().fold(Draft::new("1", charge, 6.5), |draft, phase| {
            draft.mixing(phase.speed, phase.minutes)
        });
        let _ = planner.plan(&draft, &Wanted::dough_at(24.0));
    }
}
