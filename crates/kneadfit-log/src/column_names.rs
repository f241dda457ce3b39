//! Headers in the baker's own words: a file that says which column is which.

use std::collections::BTreeMap;

use serde::Deserialize;
use thiserror::Error;

use crate::names::{Meaning, is_blank, is_speed_name, meaning, nearest};
use crate::unit::Unit;

/// Which of the baker's columns are which of the log's.
///
/// It is read from TOML, one line a column: the log's name, and the header as it is in the
/// baker's table. The log's name says the unit (`flour_lb`); a `unit` beside the header says
/// it anew. Units are `c`, `f`, `kg`, `g`, `lb`, `oz`, `minutes`, `seconds`, `percent`.
///
/// # Examples
///
/// ```
/// use kneadfit_log::{ColumnNames, ReadOptions, read_log};
///
/// let names = ColumnNames::parse(
///     r#"
///     batch = "Charge"
///     flour_kg = "Mehl"
///     flour_c = { column = "Mehltemperatur", unit = "f" }
///     water_kg = "Wasser"
///     water_c = "Wassertemperatur"
///     room_c = "Backstube"
///     minutes_low = "Gang 1"
///     dough_c = "Teig"
///     "#,
/// )?;
/// let text = "Charge;Mehl;Mehltemperatur;Wasser;Wassertemperatur;Backstube;Gang 1;Teig\n\
///             1;10;69,8;6,5;12;24;4;19,8\n";
/// let options = ReadOptions::default().with_columns(names);
/// let read = read_log("april.csv", "spiral", text.as_bytes(), &options);
/// assert!(read.problems.is_empty());
/// let flour = &read.machines[0].log.batches[0].charge.ingredients[0];
/// assert!((flour.temperature_c - 21.0).abs() < 1e-9);
/// # Ok::<(), kneadfit_log::ColumnNamesError>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ColumnNames(Vec<Entry>);

#[derive(Clone, Debug, PartialEq)]
struct Entry {
    meaning: Meaning,
    theirs: String,
    /// `theirs` without capitals and the blanks around it.
    plain: String,
}

/// Why a list of columns cannot be used.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum ColumnNamesError {
    /// It is not TOML, or not of this form.
    #[error("not a list of columns: {0}")]
    Form(String),
    /// A name on the left that no column of a log has.
    #[error("{name:?} is no column of a log{}", hint(.nearest))]
    Unknown {
        /// The name.
        name: String,
        /// The name that it most looks like.
        nearest: Option<String>,
    },
    /// A unit that does not fit.
    #[error("{name} cannot be in {unit:?}")]
    Unit {
        /// The column.
        name: String,
        /// The unit.
        unit: String,
    },
    /// Two columns of a log that are to come from one of the table, or the other way round.
    #[error("{first} and {second} cannot both be {column:?}")]
    Twice {
        /// One of the two.
        first: String,
        /// The other.
        second: String,
        /// What both are said to be.
        column: String,
    },
}

fn hint(nearest: &Option<String>) -> String {
    nearest.as_ref().map(|name| format!("; is it {name}?")).unwrap_or_default()
}

#[derive(Deserialize)]
#[serde(untagged)]
enum Written {
    Header(String),
    InUnit(InUnit),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct InUnit {
    column: String,
    unit: Option<String>,
}

impl ColumnNames {
    /// Reads the list from TOML.
    ///
    /// # Errors
    ///
    /// The first thing that is wrong with it, as a [`ColumnNamesError`].
    pub fn parse(text: &str) -> Result<Self, ColumnNamesError> {
        let lines: BTreeMap<String, Written> = toml::from_str(text.trim_start_matches('\u{feff}'))
            .map_err(|error| ColumnNamesError::Form(error.to_string().trim_end().to_owned()))?;
        let mut entries: Vec<Entry> = Vec::with_capacity(lines.len());
        for (name, written) in lines {
            let (theirs, unit) = match written {
                Written::Header(column) => (column, None),
                Written::InUnit(InUnit { column, unit }) => (column, unit),
            };
            let known = meaning(&name)
                .filter(|m| !matches!(m, Meaning::Minutes(speed, _) if !is_speed_name(speed)));
            let Some(mut meaning) = known else {
                let nearest = nearest(&name);
                return Err(ColumnNamesError::Unknown { name, nearest });
            };
            if let Some(unit) = unit {
                let timed = matches!(meaning, Meaning::Minutes(..));
                let dimension = meaning.dimension();
                let read = Unit::named(&unit, dimension).filter(|_| timed || dimension.is_some());
                let Some(read) = read else { return Err(ColumnNamesError::Unit { name, unit }) };
                match &mut meaning {
                    Meaning::Number(_, unit) | Meaning::Minutes(_, unit) => *unit = read,
                    _ => {}
                }
            }
            let plain = plain(&theirs);
            if let Some(first) = entries.iter().find(|entry| entry.plain == plain) {
                let (first, second) = (first.meaning.name(), meaning.name());
                return Err(ColumnNamesError::Twice { first, second, column: theirs });
            }
            entries.push(Entry { meaning, theirs, plain });
        }
        Ok(Self(entries))
    }

    /// What one of the table's headers means; `None`: the list does not say.
    pub(crate) fn meaning(&self, written: &str) -> Option<&Meaning> {
        if self.0.is_empty() {
            return None;
        }
        let plain = plain(written);
        self.0.iter().find(|entry| entry.plain == plain).map(|entry| &entry.meaning)
    }

    /// Whether nothing is in it.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The listed headers that are not among these: the log's name and the header.
    pub(crate) fn absent<'a>(
        &self,
        headers: impl Iterator<Item = &'a str>,
    ) -> Vec<(String, String)> {
        if self.0.is_empty() {
            return Vec::new();
        }
        let headers: Vec<String> = headers.map(plain).collect();
        self.0
            .iter()
            .filter(|entry| !headers.contains(&entry.plain))
            .map(|entry| (entry.meaning.name(), entry.theirs.clone()))
            .collect()
    }
}

fn plain(written: &str) -> String {
    written.trim_matches(is_blank).to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_is_read_with_its_units() {
        let names = ColumnNames::parse(
            "flour_lb = 'Flour'\nwater_kg = { column = 'Water', unit = 'oz' }\n\
             seconds_low = 'One'\nminutes_high = { column = 'Two', unit = 's' }\n",
        )
        .unwrap();
        for (header, name) in [
            ("flour", "flour_lb"),
            (" WATER ", "water_oz"),
            ("One", "seconds_low"),
            ("Two", "seconds_high"),
        ] {
            assert_eq!(names.meaning(header).unwrap().name(), name);
        }
        assert_eq!(names.meaning("Salt"), None);
        let absent = names.absent(["Flour", "water", "one"].into_iter());
        assert_eq!(absent, [("seconds_high".to_owned(), "Two".to_owned())]);
    }

    #[test]
    fn faults_are_named() {
        for (text, said) in [
            ("flour_kg = ", "not a list of columns"),
            ("flour_kg = 3", "not a list of columns"),
            ("flouer_kg = 'x'", "is it flour_kg?"),
            ("minutes_ = 'x'", "is no column of a log"),
            ("flour_kg = { column = 'x', unit = 'f' }", "flour_kg cannot be in \"f\""),
            ("batch = { column = 'x', unit = 's' }", "batch cannot be in \"s\""),
            ("flour_kg = 'x'\nwater_kg = 'X '", "cannot both be"),
        ] {
            let error = ColumnNames::parse(text).unwrap_err().to_string();
            assert!(error.contains(said), "{text}: {error}");
        }
    }
}
