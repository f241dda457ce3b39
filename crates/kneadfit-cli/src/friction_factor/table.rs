//! The table of `friction-factor`: one dough a block, and what the numbers mean.

use std::fmt::Write;

use kneadfit::machine_factor::{CHANGED_MINUTES, CHANGED_ROOM_K, Change, MachineFactor};
use kneadfit::units::fahrenheit_from_kelvin_difference;

use super::Row;
use crate::plots::text::{number, shortened, signed};
use crate::terminal::{BOLD, FAINT, styled};

/// What is said once, after all doughs.
const MEANING: &str = "\
Friction factor: water = n × wanted − the other temperatures − factor. It is subtracted once.
Rise: water = n × (wanted − rise) − the other temperatures. The factor is n times the rise;
look which of the two a table means before a number is taken from it.
A drift is how far the factor moves when one thing changes. With the factor as it was, the
dough comes out by the second number warmer (+) or colder (−) than the rule promises, which
is the drift divided by n. The profile counts all of these changes; the rule cannot.
";

/// Inputs outside of what was logged that are named.
const MOST_OUTSIDE: usize = 5;

/// The doughs that have a factor; nothing where there are none.
pub fn table(rows: &[Row<'_>]) -> String {
    let mut text = String::new();
    let mut before = None;
    let mut reading = 1;
    for row in rows {
        let batch = row.row.batch.as_deref();
        reading = if batch.is_some() && batch == before { reading + 1 } else { 1 };
        before = batch;
        if let Some(told) = row.told {
            block(&mut text, batch.unwrap_or_default(), reading, told);
        }
    }
    if !text.is_empty() {
        text.push_str(MEANING);
    }
    text
}

fn block(text: &mut String, batch: &str, reading: usize, told: &MachineFactor) {
    let (counted, n) = (told.counted(), told.counted().n());
    let name = styled(BOLD, &shortened(batch, 60));
    let reading = if reading > 1 { format!(", reading {reading}") } else { String::new() };
    let names = counted.names().join(", ");
    let _ = writeln!(text, "{name}{reading}  {names} count: n = {n}");
    if told.ice_kg > 0.0 {
        line(text, "water, equal to the water and the ice", &degrees(told.water_c), "");
    }
    let interval =
        |low: f64, high: f64| styled(FAINT, &format!("{} to {}", number(low, 1), number(high, 1)));
    let dough = told.forecast.dough_interval_c.map(|(a, b)| interval(a, b)).unwrap_or_default();
    line(text, "dough, by the profile", &degrees(told.forecast.dough_c), &dough);
    let both = |k: f64| format!("{} = {:>5} °F", degrees(k), number(in_f(k), 1));
    let factor = told.factor_interval.map(|(a, b)| interval(a.k(), b.k())).unwrap_or_default();
    line(text, "friction factor, subtracted once", &both(told.factor.k()), &factor);
    line(text, "rise, subtracted from the wanted dough", &both(told.rise().k()), "");
    for drift in &told.drifts {
        let moved = format!(
            "{:>5} °C = {:>5} °F",
            signed(drift.factor_k, 1),
            signed(in_f(drift.factor_k), 1)
        );
        let dough = format!("the dough {} °C", signed(drift.factor_k / f64::from(n), 1));
        let what = format!("  drift: {}", in_words(drift.change, &shortened(&told.last_speed, 20)));
        line(text, &what, &moved, &dough);
    }
    if !told.forecast.outside.is_empty() {
        let inputs: Vec<&str> =
            told.forecast.outside.iter().take(MOST_OUTSIDE).map(|o| &*o.input).collect();
        let more = if told.forecast.outside.len() > inputs.len() { ", …" } else { "" };
        let inputs = shortened(&inputs.join(", "), 80);
        let _ = writeln!(text, "  outside of what was logged: {inputs}{more}");
    }
    text.push('\n');
}

fn line(text: &mut String, what: &str, reads: &str, further: &str) {
    let line = format!("  {what:<40} {reads:<20}  {further}");
    let _ = writeln!(text, "{}", line.trim_end());
}

fn degrees(c: f64) -> String {
    format!("{:>5} °C", number(c, 1))
}

fn in_f(difference_k: f64) -> f64 {
    fahrenheit_from_kelvin_difference(difference_k)
}

fn in_words(change: Change, speed: &str) -> String {
    match change {
        Change::MoreMinutes => format!("{CHANGED_MINUTES} min more at {speed}"),
        Change::FewerMinutes => format!("{CHANGED_MINUTES} min less at {speed}"),
        Change::HalfCharge => "half the charge".into(),
        Change::WarmerRoom => format!("room {CHANGED_ROOM_K} °C warmer"),
        Change::ColderRoom => format!("room {CHANGED_ROOM_K} °C colder"),
    }
}
