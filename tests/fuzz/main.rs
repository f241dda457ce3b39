//! A bounded run of what is fuzzed: the stored corpus, and mutations of it by a fixed seed.
//!
//! The corpus is what the fuzzer kept of its long runs, thinned to what covers the code,
//! beside seeds written by hand. See DEVELOPERS.md for a long run.

mod targets;

use std::fs;
use std::path::Path;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Mutated inputs a target.
const MUTATIONS: usize = 3_000;
/// Longer inputs are cut: a bounded run is no test of patience.
const LONGEST: usize = 60_000;

/// What a log or a profile may be made of, and what is made of none.
const WORDS: [&str; 30] = [
    "batch",
    "machine",
    "date",
    "flour_kg",
    "water_f",
    "dough_c",
    "minutes_",
    "seconds_high",
    ",",
    ";",
    "\t",
    "\r\n",
    "\"",
    "\u{feff}",
    "1e308",
    "-0",
    "NaN",
    "4:30",
    "0,5",
    "12/5/2026",
    "2026-03-14",
    "\u{a0}",
    "=1+1",
    "{",
    "}",
    "[",
    "null",
    "\"value\":",
    "-1",
    "99999999999999999999",
];

fn corpus(target: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus").join(target);
    let mut files: Vec<_> = fs::read_dir(&folder).unwrap().map(|f| f.unwrap().path()).collect();
    files.sort();
    assert!(!files.is_empty(), "no corpus in {}", folder.display());
    files.iter().map(|f| fs::read(f).unwrap()).collect()
}

fn mutated(rng: &mut ChaCha8Rng, corpus: &[Vec<u8>]) -> Vec<u8> {
    let mut bytes = corpus[rng.random_range(0..corpus.len())].clone();
    for _ in 0..rng.random_range(1..6) {
        let at = rng.random_range(0..=bytes.len());
        let end = (at + rng.random_range(0..40)).min(bytes.len());
        match rng.random_range(0..6) {
            0 if at < bytes.len() => bytes[at] = rng.random(),
            1 => drop(bytes.drain(at..end)),
            2 => {
                let copy = bytes[at..end].to_vec();
                drop(bytes.splice(at..at, copy));
            }
            3 => {
                let other = &corpus[rng.random_range(0..corpus.len())];
                let from = rng.random_range(0..=other.len());
                let to = (from + rng.random_range(0..200)).min(other.len());
                drop(bytes.splice(at..end, other[from..to].iter().copied()));
            }
            4 => bytes.truncate(at),
            _ => {
                let word = WORDS[rng.random_range(0..WORDS.len())];
                drop(bytes.splice(at..end, word.bytes()));
            }
        }
        bytes.truncate(LONGEST);
    }
    bytes
}

fn run(name: &str, target: fn(&[u8])) {
    let corpus = corpus(name);
    for bytes in &corpus {
        target(bytes);
    }
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    for _ in 0..MUTATIONS {
        let bytes = mutated(&mut rng, &corpus);
        let held = std::panic::catch_unwind(|| target(&bytes));
        assert!(held.is_ok(), "{name}: {}", bytes.escape_ascii());
    }
}

#[test]
fn any_bytes_are_read_as_a_log_or_refused() {
    run("log", targets::log);
}

#[test]
fn any_bytes_are_read_as_a_profile_or_refused() {
    run("profile", targets::profile);
}
