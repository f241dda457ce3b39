//! Texts that a spreadsheet would take for a formula: how they stand in a CSV, and back.

use std::borrow::Cow;

/// What a spreadsheet takes for the beginning of a formula, and blanks that it passes over on
/// the way to one. The wide signs are those of East Asian keyboards.
fn begins_formula(letter: char) -> bool {
    matches!(letter, '=' | '+' | '-' | '@' | '\t' | '\r' | '\n' | '＝' | '＋' | '－' | '＠')
}

/// Whether a text begins a formula once apostrophes and blanks before it are passed over.
fn is_formula(text: &str) -> bool {
    text.trim_start_matches(['\'', ' ']).starts_with(begins_formula)
}

/// A text as a cell that no spreadsheet takes for a formula: with an apostrophe before it,
/// where it begins like one. The reader takes that apostrophe away again.
///
/// # Examples
///
/// ```
/// use kneadfit_log::harmless;
///
/// assert_eq!(harmless("=1+1"), "'=1+1");
/// assert_eq!(harmless("'=1+1"), "''=1+1");
/// assert_eq!(harmless("4-strand"), "4-strand");
/// assert_eq!(harmless("'round"), "'round");
/// ```
pub fn harmless(text: &str) -> Cow<'_, str> {
    if is_formula(text) { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}

/// The text that [`harmless`] made a cell of.
pub(crate) fn original(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(text) if is_formula(text) => text,
        _ => cell,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn every_text_comes_back_and_none_begins_a_formula(text in "['=+@a \t\r\n－-]{0,5}") {
            let cell = harmless(&text);
            prop_assert_eq!(original(&cell), &*text);
            prop_assert!(!cell.starts_with(begins_formula), "{cell:?}");
        }
    }
}
