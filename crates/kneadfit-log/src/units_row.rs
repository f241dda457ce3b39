//! A row of units under the header: `kg`, `°C`, `min`.

use crate::cell::as_text;
use crate::columns::{Column, Header, Number};
use crate::names::{self, Meaning, is_blank};
use crate::records::Record;
use crate::unit::{Dimension, Unit};

/// Units as they are written, and the ending that a header would have for each.
const WORDS: [(&str, &[&str]); 11] = [
    ("kg", &["kg", "kilo", "kilos"]),
    ("g", &["g", "gr", "gramm", "grams", "grammes"]),
    ("lb", &["lb", "lbs", "pounds"]),
    ("oz", &["oz", "ounces"]),
    ("c", &["°c", "c", "℃", "celsius", "grad"]),
    ("f", &["°f", "f", "℉", "fahrenheit"]),
    ("minutes", &["min", "mins", "minutes", "minuten", "minuti", "minutos", "mn", "'"]),
    ("seconds", &["s", "sec", "secs", "seconds", "sek", "sekunden", "secondes", "''"]),
    ("percent", &["%", "percent", "prozent"]),
    // What no column of a log is in.
    ("litres", &["l", "litre", "litres", "liter", "litri", "litros"]),
    ("hours", &["h", "std", "hours"]),
];

/// A row of units: one a column; `None`: the column has none.
#[derive(Debug, PartialEq)]
pub(crate) struct Units {
    pub(crate) line: u64,
    said: Vec<Option<&'static str>>,
}

/// What a column is, with what its unit says.
pub(crate) enum InUnit {
    As(Option<Meaning>),
    /// The header says one unit, the row of units another.
    Contradicted,
}

/// The unit of a cell such as `[kg]`.
fn unit(text: &str) -> Option<&'static str> {
    const LONGEST: usize = 16;
    let around = |c: char| is_blank(c) || "[]().".contains(c);
    let plain = text.trim_matches(around);
    if plain.is_empty() || plain.len() > LONGEST {
        return None;
    }
    let plain = plain.to_lowercase();
    let word = |(_, words): &&(&str, &[&str])| words.contains(&plain.as_str());
    WORDS.iter().find(word).map(|(ending, _)| *ending)
}

/// Whether a cell says nothing: blank, a dash, or the scale of a grade.
fn says_nothing(text: &str) -> bool {
    !text.chars().any(char::is_alphanumeric)
        || matches!(text.trim_matches(is_blank), "0-1" | "0–1" | "0 – 1" | "0 - 1" | "0..1")
}

impl Units {
    /// The units of the row under a header, where it is such a row: two units at least, every
    /// number's cell a unit or without a word, and no figure in any other.
    pub(crate) fn of(record: &Record<'_>, header: &Header) -> Option<Self> {
        if record.unclosed || record.len() > header.columns.len() {
            return None;
        }
        let mut said = Vec::with_capacity(record.len());
        for (cell, column) in record.cells().zip(&header.columns) {
            let text = as_text(cell)?;
            let unit = unit(text);
            let counted = matches!(column, Column::Number(_) | Column::Minutes(_));
            let figure = text.bytes().any(|b| b.is_ascii_digit()) && !says_nothing(text);
            if figure || (counted && unit.is_none() && !says_nothing(text)) {
                return None;
            }
            said.push(unit);
        }
        (said.iter().flatten().count() >= 2).then_some(Self { line: record.line, said })
    }

    /// The unit of a column.
    pub(crate) fn at(&self, index: usize) -> Option<&'static str> {
        self.said.get(index).copied().flatten()
    }
}

/// A column under this header, which means so much without its unit.
pub(crate) fn in_unit(meaning: Option<Meaning>, name: &str, ending: &str) -> InUnit {
    match meaning {
        // `flour` alone is a name of flour; in kilograms it is a mass.
        None | Some(Meaning::Flour) => {
            let plain = names::plain(name).unwrap_or_default();
            match names::meaning(&format!("{plain}_{ending}")) {
                Some(with_unit @ Meaning::Number(..)) => InUnit::As(Some(with_unit)),
                _ => InUnit::As(meaning),
            }
        }
        Some(Meaning::Number(number, own)) => {
            let dimension = Dimension::of(number);
            match Unit::named(ending, Some(dimension)) {
                Some(unit) if unit == own => InUnit::As(Some(Meaning::Number(number, own))),
                // A share's header says no unit.
                Some(unit) if dimension == Dimension::Share && own == Unit::Own => {
                    InUnit::As(Some(Meaning::Number(number, unit)))
                }
                None if number == Number::OtherKjPerKgK => {
                    InUnit::As(Some(Meaning::Number(number, own)))
                }
                _ => InUnit::Contradicted,
            }
        }
        Some(Meaning::Minutes(speed, own)) => match Unit::named(ending, None) {
            Some(unit) if unit == own => InUnit::As(Some(Meaning::Minutes(speed, own))),
            _ => InUnit::Contradicted,
        },
        other => InUnit::As(other),
    }
}
