//! The lines of a list of columns, and what is wrong with them in words of a kitchen.

use std::fmt::Write;

use thiserror::Error;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::cell::Found;
use crate::guess::near_names;
use crate::names::Meaning;
use crate::problem::is_it;

/// Why a list of columns cannot be used: the first thing that is wrong with it.
///
/// # Examples
///
/// ```
/// let error = kneadfit_log::ColumnNames::parse("batch = \"Nr\"\nflour_kg = Mehl\n").unwrap_err();
/// assert_eq!((error.line, error.column), (2, 12));
/// assert_eq!(error.found, "Mehl");
/// assert_eq!(error.hint.as_deref(), Some("write flour_kg = \"Mehl\""));
/// ```
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[error("line {line}, column {column}: found {found}; expected {expected}{}", behind(.hint))]
#[non_exhaustive]
pub struct ColumnNamesError {
    /// Its line, from 1.
    pub line: usize,
    /// The letter of the line at which it begins, from 1.
    pub column: usize,
    /// What stands there.
    pub found: String,
    /// What would have been right.
    pub expected: String,
    /// What to write instead; `None`: nothing to add.
    pub hint: Option<String>,
}

fn behind(hint: &Option<String>) -> String {
    hint.as_ref().map(|hint| format!("; {hint}")).unwrap_or_default()
}

/// A text of the list, and the byte at which it begins.
pub(crate) struct At {
    pub(crate) text: String,
    pub(crate) at: usize,
}

/// One column of the list.
pub(crate) struct Line {
    pub(crate) name: At,
    pub(crate) theirs: At,
    pub(crate) unit: Option<At>,
}

const HEADER: &str = "the table's header in quotes";

/// A list's lines in their order.
pub(crate) fn lines(text: &str) -> Result<Vec<Line>, ColumnNamesError> {
    let text = text.trim_start_matches('\u{feff}');
    let table = DeTable::parse(text)
        .map_err(|error| not_a_line(text, error.span().map_or(0, |span| span.start)))?;
    let mut lines = Vec::new();
    for (name, value) in table.into_inner() {
        let name = At { at: name.span().start, text: name.into_inner().into_owned() };
        lines.push(line(text, name, value)?);
    }
    lines.sort_by_key(|line| line.name.at);
    Ok(lines)
}

fn line(text: &str, name: At, value: Spanned<DeValue<'_>>) -> Result<Line, ColumnNamesError> {
    let span = value.span();
    let value = match value.into_inner() {
        DeValue::String(header) => {
            let theirs = At { text: header.into_owned(), at: span.start };
            return Ok(Line { name, theirs, unit: None });
        }
        DeValue::Table(value) if text[span.clone()].starts_with('{') => value,
        // A section, of one line or many.
        DeValue::Table(_) => return Err(not_a_line(text, line_of(text, span.start).0)),
        _ => return Err(no_text(text, &name.text, span)),
    };
    let (mut theirs, mut unit) = (None, None);
    for (key, value) in value {
        let (key_at, value_at) = (key.span().start, value.span());
        let into = match &**key.get_ref() {
            "column" => &mut theirs,
            "unit" => &mut unit,
            other => {
                let expected = format!("column or unit, as {IN_UNIT}");
                return Err(fault(text, key_at, shown(other), expected, None));
            }
        };
        match value.into_inner() {
            DeValue::String(value) => {
                *into = Some(At { text: value.into_owned(), at: value_at.start });
            }
            _ => {
                let what = if key.get_ref() == "unit" { "the unit in quotes" } else { HEADER };
                let found = shown(&text[value_at.clone()]);
                return Err(fault(text, value_at.start, found, what.into(), None));
            }
        }
    }
    match theirs {
        Some(theirs) => Ok(Line { name, theirs, unit }),
        None => {
            let found = "no column in the braces".into();
            Err(fault(text, span.start, found, IN_UNIT.into(), None))
        }
    }
}

const IN_UNIT: &str = "{ column = \"Raum\", unit = \"f\" }";

/// A value that is neither a text nor in braces.
fn no_text(text: &str, name: &str, span: std::ops::Range<usize>) -> ColumnNamesError {
    let written = &text[span.clone()];
    let hint = quotable(written).then(|| format!("write {} = \"{written}\"", key(name)));
    fault(text, span.start, shown(written), HEADER.into(), hint)
}

/// What is wrong with a line that does not name a column and a header.
fn not_a_line(text: &str, at: usize) -> ColumnNamesError {
    let (start, line) = line_of(text, at);
    let indent = line.len() - line.trim_start().len();
    let fault_at = |at: usize, found: String, expected: &str, hint: Option<String>| {
        fault(text, start + at, found, expected.into(), hint)
    };
    let Some((name, value)) = line.split_once('=') else {
        let expected = "a name, an = and the table's header, as flour_kg = \"Mehl\"";
        return fault_at(indent, shown(line.trim()), expected, None);
    };
    let value_at = line.len() - value.trim_start().len();
    let (name, value) = (name.trim(), value.trim());
    let bare = |c: char| c.is_ascii_alphanumeric() || "_-".contains(c);
    if !name.starts_with(['"', '\'']) && !name.chars().all(bare) {
        let what = if name.contains(' ') { "a blank" } else { "more than letters and digits" };
        let expected = format!("a name in quotes, as it has {what} in it");
        let hint = format!("write \"{name}\" =");
        return fault_at(indent, shown(name), &expected, quotable(name).then_some(hint));
    }
    let named = |line: &&str| line.split_once('=').is_some_and(|(other, _)| other.trim() == name);
    if let Some(first) = text[..start].lines().position(|line| named(&line)) {
        let found = format!("a second line for {}", shown(name));
        let hint = format!("the first is line {}", first + 1);
        return fault_at(indent, found, "each name once", Some(hint));
    }
    match value.chars().next() {
        None | Some('#') => {
            let hint = format!("write {name} = \"Mehl\"");
            fault_at(value_at, "nothing behind the =".into(), HEADER, Some(hint))
        }
        Some(quote @ ('"' | '\'')) => match value[1..].find(quote) {
            None => {
                let expected = "a second quote where the header ends";
                fault_at(value_at, "a quote that is not closed".into(), expected, None)
            }
            Some(end) if quote == '"' && value[1..=end].contains('\\') => {
                let expected = "a header without one, or one in single quotes";
                fault_at(value_at, "a backslash".into(), expected, None)
            }
            Some(end) => {
                let rest = value[end + 2..].trim();
                let found = format!("{} behind the header", shown(rest));
                let expected = "the end of the line, or a remark behind #";
                fault_at(value_at, found, expected, None)
            }
        },
        Some('{') => fault_at(value_at, shown(value), &format!("{IN_UNIT} on one line"), None),
        Some(_) => {
            let header = value.split('#').next().unwrap_or_default().trim();
            let hint = format!("write {name} = \"{header}\"");
            fault_at(value_at, shown(header), HEADER, quotable(header).then_some(hint))
        }
    }
}

/// A name that no column of a log has.
pub(crate) fn unknown(text: &str, name: &At) -> ColumnNamesError {
    let hint = is_it(&near_names(&name.text));
    fault(text, name.at, shown(&name.text), "a column of a log".into(), hint)
}

/// A unit that does not fit its column.
pub(crate) fn unit(text: &str, name: &At, unit: &At, meaning: &Meaning) -> ColumnNamesError {
    let units = crate::unit::named_units(meaning);
    let expected = match units {
        [] => format!("none, as {} has no unit", shown(&name.text)),
        units => format!("a unit of {}: {}", shown(&name.text), units.join(", ")),
    };
    fault(text, unit.at, format!("the unit {}", shown(&unit.text)), expected, None)
}

/// A header of nothing.
pub(crate) fn no_header(text: &str, name: &At, theirs: &At) -> ColumnNamesError {
    let hint =
        format!("leave the line of {} away if the table has no such column", shown(&name.text));
    let found = "an empty header".into();
    fault(text, theirs.at, found, "the header as it is in the table".into(), Some(hint))
}

/// A header that two columns of a log are to be; `first`: the one, and where it names it.
pub(crate) fn twice(text: &str, first: (&str, usize), theirs: &At) -> ColumnNamesError {
    let found = format!("\"{}\" a second time", shown(&theirs.text));
    let hint = format!("{} has it on line {}", first.0, place(text, first.1).0);
    fault(text, theirs.at, found, "each header once".into(), Some(hint))
}

fn fault(
    text: &str,
    at: usize,
    found: String,
    expected: String,
    hint: Option<String>,
) -> ColumnNamesError {
    let (line, column) = place(text, at);
    ColumnNamesError { line, column, found, expected, hint }
}

/// The line and the letter of a byte, from 1.
fn place(text: &str, at: usize) -> (usize, usize) {
    let text = text.trim_start_matches('\u{feff}');
    let before = text.get(..at).unwrap_or(text);
    let column = before.rsplit('\n').next().unwrap_or_default().chars().count() + 1;
    (before.matches('\n').count() + 1, column)
}

/// Where the line of a byte begins, and the line; of the end of a text, its last with
/// something on it.
fn line_of(text: &str, at: usize) -> (usize, &str) {
    let mut at = (0..=at.min(text.len())).rfind(|at| text.is_char_boundary(*at)).unwrap_or(0);
    if text[at..].trim().is_empty() {
        at = text.trim_end().len();
    }
    let start = text[..at].rfind('\n').map_or(0, |newline| newline + 1);
    (start, text[start..].lines().next().unwrap_or_default())
}

/// A text of the list as a message shows it.
fn shown(text: &str) -> String {
    let found = Found::new(text.as_bytes());
    if found.as_str().is_empty() { "a blank".into() } else { found.as_str().to_owned() }
}

fn quotable(text: &str) -> bool {
    !text.contains(['"', '\\']) && !text.chars().any(char::is_control) && text.len() < 60
}

/// A name on the left of a line of TOML.
pub(crate) fn key(name: &str) -> String {
    let bare = name.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b'_' | b'-'));
    if bare { name.to_owned() } else { quoted(name) }
}

/// A text as a string of TOML on one line.
pub(crate) fn quoted(text: &str) -> String {
    let mut quoted = String::with_capacity(text.len() + 2);
    quoted.push('"');
    for letter in text.chars() {
        match letter {
            '"' | '\\' => quoted.extend(['\\', letter]),
            '\n' => quoted.push_str("\\n"),
            '\r' => quoted.push_str("\\r"),
            '\t' => quoted.push_str("\\t"),
            c if c.is_control() => {
                let _ = write!(quoted, "\\u{:04X}", u32::from(c));
            }
            c => quoted.push(c),
        }
    }
    quoted.push('"');
    quoted
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::ColumnNames;

    proptest! {
        #[test]
        fn any_list_is_read_or_its_first_fault_is_placed(
            text in "([a-z_ä= \"'{},#.\\[\\]\\\\\n\r\u{feff}]|column|unit|flour_kg|\"x\"){0,24}"
        ) {
            if let Err(error) = ColumnNames::parse(&text) {
                prop_assert!(error.line <= text.lines().count().max(1), "{}", error);
                prop_assert!(error.column >= 1 && !error.found.is_empty());
            }
        }
    }
}
