//! Numbers as they are shown: no more digits than the doubt leaves meaningful.

use super::derived::Derived;
use crate::plots::text::{number, signed};

/// Decimals at which a reading is shown: two digits of its doubt, or three of itself
/// where the doubt is unknown.
pub fn decimals(derived: &Derived) -> usize {
    let (size, digits) = match derived.interval {
        Some((low, high)) if high > low => (0.5 * (high - low), 2),
        _ => (derived.value.abs(), 3),
    };
    if !(size > 0.0 && size.is_finite()) {
        return 2;
    }
    (digits - 1 - size.log10().floor() as i32).clamp(0, 3) as usize
}

/// The reading with its unit.
pub fn value(derived: &Derived, unit: &str) -> String {
    with_unit(number(derived.value, decimals(derived)), unit)
}

/// The interval, such as `0.35 to 0.50`.
pub fn interval(derived: &Derived) -> Option<String> {
    let (low, high) = derived.interval?;
    let decimals = decimals(derived);
    Some(format!("{}\u{A0}to\u{A0}{}", number(low, decimals), number(high, decimals)))
}

/// A change with its sign and unit.
pub fn change(derived: &Derived, unit: &str) -> String {
    with_unit(signed(derived.value, decimals(derived)), unit)
}

/// The interval of a change, with signs.
pub fn change_interval(derived: &Derived) -> Option<String> {
    let (low, high) = derived.interval?;
    let decimals = decimals(derived);
    Some(format!("{}\u{A0}to\u{A0}{}", signed(low, decimals), signed(high, decimals)))
}

fn with_unit(number: String, unit: &str) -> String {
    // A number and its unit stay on one line.
    if unit.is_empty() { number } else { format!("{number}\u{A0}{unit}") }
}

/// A level in per cent with all its digits, such as `95` or `99.99999999`.
pub fn percent(level: f64) -> String {
    // Past twelve decimals there is only rounding.
    let text = format!("{:.12}", 100.0 * level);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A dough's mass in kg, to a tenth where a tenth can be weighed.
pub fn mass_kg(kg: f64) -> String {
    number(kg, if kg.abs() < 100.0 { 1 } else { 0 })
}

/// `1 batch`, `2 batches`.
pub fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// Things in a row, such as `a, b and c`.
pub fn listed(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_follow_the_doubt() {
        let reading = |value, interval| Derived { value, interval };
        let wide = reading(14.271, Some((2.0, 40.0)));
        assert_eq!(value(&reading(0.51234, Some((0.41, 0.62))), "°C"), "0.51\u{A0}°C");
        assert_eq!(interval(&wide).unwrap(), "2\u{A0}to\u{A0}40");
        assert_eq!(value(&wide, "min"), "14\u{A0}min");
        assert_eq!(value(&reading(14.271, None), "min"), "14.3\u{A0}min");
        assert_eq!(change(&reading(-3.21, Some((-6.0, 0.4))), "%"), "−3.2\u{A0}%");
        assert_eq!(percent(0.95), "95");
        assert_eq!(percent(0.999_999_999_9), "99.99999999");
        assert_eq!(percent(0.001), "0.1");
        assert_eq!((&*mass_kg(16700.0), &*mass_kg(28.94)), ("16700", "28.9"));
        assert_eq!(listed(&["a".into(), "b".into(), "c".into()]), "a, b and c");
    }
}
