//! Whether what a profile says beside its coefficients agrees with them: intervals, bakers'
//! readings, and the ranges that were logged.

use super::bakers::Around;
use super::check::wrong;
use super::{CoefficientEntry, Profile, ProfileError};
use crate::charge::REST;

/// Numbers that are reckoned from each other differ by rounding alone.
const ROUNDING: f64 = 1e-9;

fn agree(a: f64, b: f64) -> bool {
    a == b || (a - b).abs() <= ROUNDING * a.abs().max(b.abs())
}

/// What is written twice must be written alike.
pub(super) fn check_machine(profile: &Profile) -> Result<(), ProfileError> {
    let (machine, model) = (&profile.machine, &profile.model);
    let used = model.reference.usual_charge_kg;
    if machine.usual_charge_kg != used {
        let found = format!("{}, while the model's is {used}", machine.usual_charge_kg);
        return Err(wrong("machine.usual_charge_kg", found, "the usual charge of the model"));
    }
    once("machine.speeds", &machine.speeds)?;
    once("model.flours", &model.flours)?;
    if let Some(given) = machine.bowl_given_kj_per_k
        && let Some(bowl) = profile.coefficients.iter().find(|c| c.name == "bowl")
        && bowl.value != given
    {
        let found = format!("{given}, while the coefficient bowl is {}", bowl.value);
        return Err(wrong("machine.bowl_given_kj_per_k", found, "the bowl that was fitted with"));
    }
    if model.reference_flour.is_none() && !model.flours.is_empty() {
        let expected = "the flour that the others are compared with";
        return Err(wrong("model.reference_flour", "none", expected));
    }
    let spread = model.unknown_flour_spread;
    if !(spread >= 0.0 && spread.is_finite()) {
        return Err(wrong("model.unknown_flour_spread", spread, "a spread of nought or more"));
    }
    Ok(())
}

fn once(key: &str, names: &[String]) -> Result<(), ProfileError> {
    let twice = names.iter().enumerate().find(|(i, name)| names[..*i].contains(name));
    twice.map_or(Ok(()), |(_, name)| Err(wrong(key, format!("{name} twice"), "each name once")))
}

/// Intervals and readings of each coefficient.
pub(super) fn check_readings(profile: &Profile) -> Result<(), ProfileError> {
    let value_of = |name: &str| profile.coefficients.iter().find(|c| c.name == name);
    let around = Around {
        model: &profile.model.reference,
        bowl_kj_per_k: value_of("bowl").map_or(0.0, |bowl| bowl.value),
    };
    let rate = |speed: &str| Some(value_of(&format!("development_{speed}"))?.value);
    for c in &profile.coefficients {
        let key = |part: String| format!("coefficients.{}.{part}", c.name);
        if !(0.0..=1.0).contains(&c.log_share) {
            return Err(wrong(key("log_share".into()), c.log_share, "a share from 0 to 1"));
        }
        if let Some(interval) = c.interval_95 {
            around_value(&key("interval_95".into()), c.value, interval)?;
        }
        let expected = around.readings(&c.name, c.value, rate);
        if c.readings.len() != expected.len() {
            let found = format!("a list of {}", c.readings.len());
            return Err(wrong(key("readings".into()), found, "every reading of the coefficient"));
        }
        for (i, (reading, &expected)) in c.readings.iter().zip(&expected).enumerate() {
            if !agree(reading.value, expected) && !as_once_written(c, &around, reading.value) {
                let found = format!("{}, while the coefficient says {expected}", reading.value);
                let expected = "the same as the coefficient, in bakers' terms";
                return Err(wrong(key(format!("readings.{i}.value")), found, expected));
            }
            if let Some(interval) = reading.interval_95 {
                around_value(&key(format!("readings.{i}.interval_95")), reading.value, interval)?;
            }
        }
    }
    Ok(())
}

/// Version 1 was first written with the drift that a gap would make if it stayed as wide.
fn as_once_written(c: &CoefficientEntry, around: &Around<'_>, value: f64) -> bool {
    c.name == "exchange" && agree(value, around.drift_of_a_held_gap_c(c.value))
}

fn around_value(key: &str, value: f64, [low, high]: [f64; 2]) -> Result<(), ProfileError> {
    let below = low <= value || agree(low, value);
    let above = value <= high || agree(value, high);
    if low <= high && below && above {
        return Ok(());
    }
    Err(wrong(key, format!("{low} to {high} around {value}"), "low, then high, around the value"))
}

/// Inputs that are never less than nought.
const FROM_NOUGHT: [&str; 4] = ["dough_kg", "hydration", "ice_share", "preferment_share"];

/// Ranges of what was logged.
pub(super) fn check_domain(profile: &Profile) -> Result<(), ProfileError> {
    let ranges = &profile.domain.ranges;
    for (i, range) in ranges.iter().enumerate() {
        let key = || format!("domain.ranges.{}", range.input);
        let (least, most) = (range.least, range.most);
        let found = || format!("{least} to {most}");
        if ranges[..i].iter().any(|other| other.input == range.input) {
            return Err(wrong(key(), "there twice", "each input once"));
        }
        if !(least <= most && least.is_finite() && most.is_finite()) {
            return Err(wrong(key(), found(), "the least that was logged, then the most"));
        }
        let minutes_at = range.input.strip_prefix("minutes_");
        if least < 0.0 && (minutes_at.is_some() || FROM_NOUGHT.contains(&&*range.input)) {
            return Err(wrong(key(), found(), "nought or more"));
        }
        if let Some(speed) = minutes_at
            && speed != REST
            && !profile.machine.speeds.iter().any(|s| s == speed)
        {
            return Err(wrong(key(), found(), "minutes at one of the machine's speeds"));
        }
    }
    Ok(())
}
