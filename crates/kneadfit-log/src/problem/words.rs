//! Numbers and names as a message shows them: never longer than a line.

/// The name, or that there is none.
pub(super) fn named(text: &str) -> &str {
    if text.is_empty() { "without a name" } else { text }
}

/// A number as it was written, unless that would be hundreds of digits.
pub(super) fn figure(value: f64) -> String {
    let plain = value == 0.0 || (1e-6..1e12).contains(&value.abs());
    if plain { format!("{value}") } else { format!("{value:e}") }
}

/// Names in a row, the first few of them.
pub(super) fn listed(names: &[String]) -> String {
    const MOST: usize = 12;
    let mut words = names.iter().take(MOST).cloned().collect::<Vec<_>>().join(", ");
    if names.len() > MOST {
        words.push_str(&format!(" … and {} more", names.len() - MOST));
    }
    words
}

/// Four digits: what a baker compares, not what the machine holds.
pub(super) fn rounded(value: f64) -> String {
    if value.abs() >= 1e12 {
        return figure(value);
    }
    let digits = if value.abs() >= 100.0 { 0 } else { 2 };
    let text = format!("{value:.digits$}");
    if digits == 0 { text } else { text.trim_end_matches('0').trim_end_matches('.').to_owned() }
}

pub(super) fn plural(count: u64, noun: &str) -> String {
    if count == 1 { format!("1 {noun}") } else { format!("{count} {noun}s") }
}

pub(super) fn ordinal(number: usize) -> String {
    let suffix = match (number % 10, number % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{number}{suffix}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ordinals_are_english() {
        let seen: Vec<_> = [1, 2, 3, 4, 11, 12, 13, 21, 111, 122].map(ordinal).into();
        assert_eq!(
            seen,
            ["1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "111th", "122nd"]
        );
    }

    #[test]
    fn no_number_fills_a_screen() {
        assert_eq!(figure(1e300), "1e300");
        assert_eq!(figure(75.2), "75.2");
        assert_eq!(figure(0.0), "0");
        assert_eq!(rounded(1e300), "1e300");
        let many: Vec<String> = (0..200).map(|i| format!("s{i}")).collect();
        assert!(listed(&many).ends_with("s11 … and 188 more"));
    }
}
