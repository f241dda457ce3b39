//! Bytes → profile.
#![no_main]

#[path = "../targets.rs"]
#[expect(dead_code, reason = "the other target is not of this program")]
mod targets;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| targets::profile(bytes));
