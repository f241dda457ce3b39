//! Values on the command line: which are taken, and what to write for those that are not.
//!
//! A finite number can still be absurd, and a fit with it would end in something that looks
//! like a result. The limits are wide: they are far from any kitchen.

use jiff::civil::Date;

pub fn day(text: &str) -> Result<Date, String> {
    // Other spellings of a day than the log's would be one more thing to explain.
    let written = text.len() == 10 && text.as_bytes()[4] == b'-';
    text.parse().ok().filter(|_| written).ok_or_else(|| "expected a day as 2026-03-14".into())
}

pub fn number(text: &str) -> Result<f64, String> {
    let value: f64 = text.parse().map_err(|_| match text.contains(',') {
        true => "expected a number with a decimal point, not a comma".to_owned(),
        false => "expected a number".to_owned(),
    })?;
    if value.is_finite() { Ok(value) } else { Err("expected a finite number".into()) }
}

fn within(text: &str, least: f64, most: f64, unit: &str) -> Result<f64, String> {
    let value = number(text)?;
    if (least..=most).contains(&value) {
        return Ok(value);
    }
    Err(format!("expected {least} to {most}{unit}"))
}

/// A dough, from a handful to the largest mixers many times over.
pub fn usual_charge_kg(text: &str) -> Result<f64, String> {
    within(text, 0.01, 5000.0, " kg of dough")
}

/// As much as two tons of steel; 0: no bowl.
pub fn bowl_kj_per_k(text: &str) -> Result<f64, String> {
    within(text, 0.0, 1000.0, " kJ/K: kg of steel × 0.5")
}

pub fn temperature_k(text: &str) -> Result<f64, String> {
    within(text, 0.0, 20.0, " K")
}

/// No thermometer is without error, and a fit to one would be a fit to its last digit.
pub fn dough_k(text: &str) -> Result<f64, String> {
    within(text, 0.01, 20.0, " K")
}

pub fn minutes_min(text: &str) -> Result<f64, String> {
    within(text, 0.0, 30.0, " minutes")
}

pub fn scale_relative(text: &str) -> Result<f64, String> {
    // Half a per cent and less may be meant as it stands.
    let hint = number(text).map(|value| per_cent(value, 1.0, (0.0, 0.5))).unwrap_or_default();
    within(text, 0.0, 0.5, " of the mass").map_err(|said| said + &hint)
}

/// A hint for a part of 1 that looks as if it were given in per cent, which is likely from
/// `from` on; nothing where that part would be refused as well.
pub fn per_cent(value: f64, from: f64, (least, most): (f64, f64)) -> String {
    // 99.9 / 100 has rounding in its last digit.
    let part = (value * 1e10).round() / 1e12;
    if value >= from && value > most && (least..=most).contains(&part) {
        return format!("; {value} per cent is written {part}");
    }
    String::new()
}

/// Confidence of intervals: beyond these, no log of a kitchen says anything.
pub fn level(text: &str) -> Result<f64, String> {
    let (least, most) = (0.001, 0.999_999_999_9);
    let value = number(text)?;
    if (least..=most).contains(&value) {
        return Ok(value);
    }
    // A level of 1 per cent is meant by nobody.
    let hint = per_cent(value, 2.0, (least, most));
    Err(format!("expected {least} to {most}{hint}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_refused_with_what_to_write() {
        assert!(level("95").unwrap_err().contains("written 0.95"));
        assert!(level("95").unwrap_err().starts_with("expected 0.001 to 0.9999999999;"));
        assert!(level("99.9").unwrap_err().ends_with("99.9 per cent is written 0.999"));
        for no_per_cent in ["1", "1.5", "100", "1000", "-1", "0"] {
            assert!(!level(no_per_cent).unwrap_err().contains("per cent"), "{no_per_cent}");
        }
        assert!(level("1").is_err() && level("0").is_err() && level("nan").is_err());
        assert_eq!(level("0.9999999999"), Ok(0.999_999_999_9));
        assert!(level("0.99999999999").is_err() && level("1e-300").is_err());
        assert!(dough_k("0,5").unwrap_err().contains("comma"));
        assert!(dough_k("0").is_err() && temperature_k("0") == Ok(0.0));
        assert!(day("14.03.2026").is_err() && day("2026-02-30").is_err());
        assert_eq!(day("2026-03-14"), Ok(jiff::civil::date(2026, 3, 14)));
    }

    #[test]
    fn absurd_numbers_are_refused_with_the_range() {
        assert!(usual_charge_kg("1e300").unwrap_err().contains("0.01 to 5000 kg"));
        assert!(usual_charge_kg("1e-300").is_err() && usual_charge_kg("-1").is_err());
        assert!(bowl_kj_per_k("1e9").unwrap_err().contains("0 to 1000 kJ/K"));
        assert_eq!(bowl_kj_per_k("0"), Ok(0.0));
        assert!(scale_relative("5").unwrap_err().ends_with("5 per cent is written 0.05"));
        assert!(!scale_relative("0.6").unwrap_err().contains("per cent"));
        assert!(!scale_relative("60").unwrap_err().contains("per cent"));
        assert!(minutes_min("31").is_err() && temperature_k("1e9").is_err());
    }
}
