//! A row of units under the header: `kg`, `°C`, `min`.

use std::sync::Arc;

use crate::cell::as_text;
use crate::column_names::ColumnNames;
use crate::columns::{Column, Header};
use crate::names::{self, Meaning, is_blank};
use crate::record::Record;
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
    said: Vec<Option<UnitCell>>,
}

/// A unit in such a row.
#[derive(Debug, PartialEq)]
pub(crate) struct UnitCell {
    /// What a header in this unit ends in.
    pub(crate) ending: &'static str,
    /// As it is written.
    written: String,
}

/// A column with its unit.
pub(crate) struct InUnit {
    /// Its header, with the unit behind it where the header alone says nothing of one.
    pub(crate) name: Arc<str>,
    pub(crate) meaning: Option<Meaning>,
    /// Whether the header says one unit, and the row of units another.
    pub(crate) contradicted: bool,
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
            said.push(
                unit.map(|ending| UnitCell { ending, written: text.trim_matches(is_blank).into() }),
            );
        }
        (said.iter().flatten().count() >= 2).then_some(Self { line: record.line, said })
    }

    /// The unit of a column.
    pub(crate) fn at(&self, index: usize) -> Option<&UnitCell> {
        self.said.get(index)?.as_ref()
    }
}

impl UnitCell {
    /// The column under this header, which means so much without its unit. A list of columns
    /// may name it with the unit behind it.
    pub(crate) fn under(
        &self,
        name: Arc<str>,
        meaning: Option<Meaning>,
        own_names: &ColumnNames,
    ) -> InUnit {
        let joined = || Arc::from(format!("{} {}", name.trim_matches(is_blank), self.written));
        let of = |name: Arc<str>, meaning| InUnit { name, meaning, contradicted: false };
        if name.trim_matches(is_blank).is_empty() {
            return of(name, meaning);
        }
        if let Some(listed) = own_names.meaning(&joined()) {
            return of(joined(), Some(listed.clone()));
        }
        let listed = own_names.meaning(&name).is_some();
        let (with_unit, contradicted) = match &meaning {
            None => return of(joined(), self.completing(&name)),
            // `flour` alone is a name of flour; in kilograms it is a mass.
            Some(Meaning::Flour) if !listed => match self.completing(&name) {
                Some(mass) => return of(joined(), Some(mass)),
                None => return of(name, meaning),
            },
            Some(Meaning::Number(number, own)) => {
                let dimension = Dimension::of(*number);
                match Unit::named(self.ending, Some(dimension)) {
                    // A share's header says no unit.
                    Some(unit) if dimension == Dimension::Share && *own == Unit::Own => {
                        (unit, false)
                    }
                    None if dimension == Dimension::Other => (*own, false),
                    unit => (*own, unit != Some(*own)),
                }
            }
            Some(Meaning::Minutes(_, own)) => (*own, Unit::named(self.ending, None) != Some(*own)),
            Some(_) => return of(name, meaning),
        };
        let meaning = meaning.map(|meaning| match meaning {
            Meaning::Number(number, _) => Meaning::Number(number, with_unit),
            other => other,
        });
        InUnit { name, meaning, contradicted }
    }

    /// What the header means with the unit for its ending.
    fn completing(&self, name: &str) -> Option<Meaning> {
        let plain = names::plain(name)?;
        names::meaning(&format!("{plain}_{}", self.ending))
            .filter(|meaning| matches!(meaning, Meaning::Number(..)))
    }
}
