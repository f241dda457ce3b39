//! Quantities in words.

use kneadfit::domain::Outside;
use kneadfit::planning::Verdict;

use crate::plots::text::{number, shortened};

/// A verdict as files and tables call it.
pub fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Ok => "ok",
        Verdict::WithIce => "with-ice",
        Verdict::OutsideLog => "outside-log",
        // A verdict that this tool does not know yet is none to rely on.
        _ => "not-reachable",
    }
}

/// A number without zeros at its end.
pub fn trimmed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// A mass as a scale shows it: grams below a kilogram.
pub fn weight(mass_kg: f64) -> String {
    if mass_kg < 0.9995 {
        format!("{} g", trimmed(1000.0 * mass_kg, 1))
    } else {
        format!("{} kg", trimmed(mass_kg, 3))
    }
}

/// Minutes as a clock shows them.
pub fn clock(minutes: f64) -> String {
    let seconds = (60.0 * minutes).round().max(0.0);
    format!("{}:{:02}", (seconds / 60.0).floor(), seconds % 60.0)
}

/// An input outside of what was logged, and what was.
pub fn outside(outside: &Outside) -> String {
    let Some(value) = outside.value else {
        return "this flour was never logged".into();
    };
    let (what, unit, times, decimals) = match &*outside.input {
        "flour_c" => ("flour at", "°C", 1.0, 1),
        "water_c" => ("water at", "°C", 1.0, 1),
        "preferment_c" => ("a preferment at", "°C", 1.0, 1),
        "other_c" => ("other ingredients at", "°C", 1.0, 1),
        "room_c" => ("a room of", "°C", 1.0, 1),
        "bowl_c" => ("a bowl at", "°C", 1.0, 1),
        "dough_kg" => ("a dough of", "kg", 1.0, 2),
        "hydration" => ("a hydration of", "%", 100.0, 1),
        "ice_share" => ("ice for a share of the water of", "%", 100.0, 1),
        "preferment_share" => ("a preferment in the dough of", "%", 100.0, 1),
        _ => ("", "min", 1.0, 2),
    };
    let shown = |value: f64| format!("{} {unit}", trimmed(times * value, decimals));
    let input = match outside.input.strip_prefix("minutes_") {
        Some(speed) => format!("{} at {}", shown(value), shortened(speed, 40)),
        None => format!("{what} {}", shown(value)),
    };
    match outside.nearest {
        Some(nearest) if value > nearest => {
            format!("{input}, logged only up to {}", shown(nearest))
        }
        Some(nearest) => format!("{input}, logged only from {} on", shown(nearest)),
        None => format!("{input}, never logged"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_read_as_on_scale_and_clock() {
        assert_eq!(
            (weight(6.088), weight(0.2), weight(0.0125)),
            ("6.088 kg".into(), "200 g".into(), "12.5 g".into())
        );
        assert_eq!((weight(10.0), weight(0.9999)), ("10 kg".into(), "1 kg".into()));
        assert_eq!(
            (clock(7.3), clock(0.999), clock(0.0)),
            ("7:18".into(), "1:00".into(), "0:00".into())
        );
        assert_eq!(trimmed(7.300_000_000_000_001, 3), "7.3");
    }

    #[test]
    fn what_was_logged_is_said_beside_what_lies_outside() {
        let of =
            |input: &str, value, nearest| outside(&Outside { input: input.into(), value, nearest });
        assert_eq!(
            of("room_c", Some(31.0), Some(28.0)),
            "a room of 31 °C, logged only up to 28 °C"
        );
        assert_eq!(
            of("minutes_low", Some(1.0), Some(2.5)),
            "1 min at low, logged only from 2.5 min on"
        );
        assert_eq!(
            of("hydration", Some(0.825), Some(0.72)),
            "a hydration of 82.5 %, logged only up to 72 %"
        );
        assert_eq!(of("bowl_c", Some(4.0), None), "a bowl at 4 °C, never logged");
        assert_eq!(of("flour", None, None), "this flour was never logged");
    }
}
