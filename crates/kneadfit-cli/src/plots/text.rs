//! Text in a picture: made harmless, shortened, and its width guessed.
//!
//! No font is at hand when a picture is made, so that widths are guesses on the wide side.

/// What the reader of logs lets through as a name may hold anything; a picture and a page
/// may not.
const REPLACEMENT: char = '\u{FFFD}';

/// A text as one line: line breaks and tabs are spaces, other control characters and those
/// that turn the direction of writing are replaced.
pub fn one_line(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\n' | '\r' | '\t' => ' ',
            '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{206F}' => {
                REPLACEMENT
            }
            '\u{FFFE}' | '\u{FFFF}' | '\u{FEFF}' => REPLACEMENT,
            c if c.is_control() => REPLACEMENT,
            c => c,
        })
        .collect()
}

/// The first `most` characters of a text on one line, with an ellipsis where it goes on.
///
/// Reads no further than it shows, as a cell may hold megabytes.
pub fn shortened(text: &str, most: usize) -> String {
    let head: String = text.chars().take(most).collect();
    let mut shown = one_line(&head);
    if head.len() < text.len() {
        shown.pop();
        shown.push('…');
    }
    shown
}

/// A guess of the width of a text of `size_px`.
pub fn width_px(text: &str, size_px: f64) -> f64 {
    size_px * text.chars().map(em).sum::<f64>()
}

fn em(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | 'I' | '.' | ',' | ':' | ';' | '\'' | '|' | ' ' => 0.32,
        'm' | 'w' | 'M' | 'W' | '@' | '%' => 0.92,
        'A'..='Z' => 0.72,
        c if c >= '\u{2E80}' => 1.05,
        _ => 0.6,
    }
}

/// The text as far as it fits into a width.
pub fn fitted(text: &str, size_px: f64, most_px: f64) -> String {
    let mut used = 0.0;
    let mut fit = 0;
    for c in text.chars() {
        used += size_px * em(c);
        if used > most_px {
            return shortened(text, fit.max(2));
        }
        fit += 1;
    }
    shortened(text, fit)
}

/// A number with some decimals and a proper minus; no minus before a zero.
pub fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.chars().all(|c| c == '0' || c == '.') => zero.to_owned(),
        Some(size) => format!("−{size}"),
        None => text,
    }
}

/// The same with a plus before a positive number.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    if value > 0.0 && text.chars().any(|c| c.is_ascii_digit() && c != '0') {
        format!("+{text}")
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hostile_text_becomes_one_harmless_line() {
        assert_eq!(one_line("a\nb\u{0}c\u{202E}d"), "a b\u{FFFD}c\u{FFFD}d");
        assert_eq!(shortened(&"x".repeat(10_000_000), 5), "xxxx…");
        assert_eq!(shortened("five!", 5), "five!");
    }

    #[test]
    fn text_is_cut_where_the_room_ends() {
        assert_eq!(fitted("short", 10.0, 500.0), "short");
        let cut = fitted("a name that goes on and on", 10.0, 60.0);
        assert!(cut.ends_with('…') && width_px(&cut, 10.0) <= 66.0, "{cut}");
    }

    #[test]
    fn numbers_have_a_proper_sign() {
        assert_eq!(number(-1.26, 1), "−1.3");
        assert_eq!(number(-0.04, 1), "0.0");
        assert_eq!(signed(0.26, 1), "+0.3");
        assert_eq!(signed(0.04, 1), "0.0");
    }
}
