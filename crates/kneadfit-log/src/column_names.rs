//! Headers in the baker's own words: a file that says which column is which.

use std::io::Read;

use crate::column_list::{self, ColumnNamesError, Line};
use crate::encoding::Encoding;
use crate::names::{Meaning, is_blank, is_speed_name, meaning};
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

impl ColumnNames {
    /// Reads the list from TOML.
    ///
    /// # Errors
    ///
    /// The first thing that is wrong with it, as a [`ColumnNamesError`].
    pub fn parse(text: &str) -> Result<Self, ColumnNamesError> {
        let mut entries: Vec<Entry> = Vec::new();
        // Where each was named, to say it of a header that is named twice.
        let mut places = Vec::new();
        for Line { name, theirs, unit } in column_list::lines(text)? {
            let known = meaning(&name.text)
                .filter(|m| !matches!(m, Meaning::Minutes(speed, _) if !is_speed_name(speed)));
            let Some(mut meaning) = known else { return Err(column_list::unknown(text, &name)) };
            if let Some(unit) = unit {
                let timed = matches!(meaning, Meaning::Minutes(..));
                let dimension = meaning.dimension();
                let read = Unit::named(&unit.text, dimension);
                let read = read.filter(|_| timed || dimension.is_some());
                let Some(read) = read else {
                    return Err(column_list::unit(text, &name, &unit, &meaning));
                };
                match &mut meaning {
                    Meaning::Number(_, unit) | Meaning::Minutes(_, unit) => *unit = read,
                    _ => {}
                }
            }
            let plain = plain(&theirs.text);
            if plain.is_empty() {
                return Err(column_list::no_header(text, &name, &theirs));
            }
            if let Some(first) = entries.iter().position(|entry| entry.plain == plain) {
                let first = (&*entries[first].meaning.name(), places[first]);
                return Err(column_list::twice(text, first, &theirs));
            }
            places.push(theirs.at);
            entries.push(Entry { meaning, theirs: theirs.text, plain });
        }
        Ok(Self(entries))
    }

    /// Reads the list from a file's bytes, in whatever encoding an editor or a shell gave it.
    ///
    /// # Errors
    ///
    /// The same as of [`parse`](Self::parse).
    pub fn read(bytes: &[u8]) -> Result<Self, ColumnNamesError> {
        let mut text = Vec::new();
        // Reading from memory does not fail.
        let _ = Encoding::of(bytes).decode(Box::new(bytes)).read_to_end(&mut text);
        Self::parse(&String::from_utf8_lossy(&text))
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
    fn faults_are_named_with_place_and_remedy() {
        for (text, said) in [
            (
                "flour_kg = ",
                "line 1, column 12: found nothing behind the =; expected the table's header in quotes; write flour_kg = \"Mehl\"",
            ),
            (
                "# mine\n\nflour_kg = 3",
                "line 3, column 12: found 3; expected the table's header in quotes; write flour_kg = \"3\"",
            ),
            (
                "flour_kg = Mehl kg # a guess",
                "line 1, column 12: found Mehl kg; expected the table's header in quotes; write flour_kg = \"Mehl kg\"",
            ),
            (
                "batch = \"Nr\"\nflour_kg = \"Mehl",
                "line 2, column 12: found a quote that is not closed",
            ),
            ("flour_kg = \"Mehl\" kg", "found kg behind the header; expected the end of the line"),
            ("flour_kg = \"Mehl\\kg\"", "found a backslash; expected"),
            (
                "flour_kg",
                "line 1, column 1: found flour_kg; expected a name, an = and the table's header",
            ),
            (
                "minutes_gang 1 = \"Gang\"",
                "column 1: found minutes_gang 1; expected a name in quotes, as it has a blank in it; write \"minutes_gang 1\" =",
            ),
            (
                "flour_kg = \"a\"\nflour_kg = \"b\"",
                "line 2, column 1: found a second line for flour_kg; expected each name once; the first is line 1",
            ),
            ("[columns]\nflour_kg = \"a\"", "line 1, column 1: found [columns]; expected"),
            (
                "flouer_kg = 'x'",
                "line 1, column 1: found flouer_kg; expected a column of a log; is it flour_kg (in kg) or flour_g (in g)?",
            ),
            ("minutes_ = 'x'", "found minutes_; expected a column of a log"),
            (
                "flour_kg = { column = 'x', unit = 'f' }",
                "column 35: found the unit f; expected a unit of flour_kg: kg, g, lb, oz",
            ),
            (
                "minutes_low = { column = 'x', unit = 'h' }",
                "expected a unit of minutes_low: minutes, seconds",
            ),
            (
                "batch = { column = 'x', unit = 's' }",
                "found the unit s; expected none, as batch has no unit",
            ),
            (
                "room_c = { column = 'x', unt = 'f' }",
                "column 26: found unt; expected column or unit",
            ),
            (
                "room_c = { unit = 'f' }",
                "column 10: found no column in the braces; expected { column = \"Raum\", unit = \"f\" }",
            ),
            (
                "room_c = { column = 1 }",
                "column 21: found 1; expected the table's header in quotes",
            ),
            ("room_c = { column = 'x' ", "column 10: found { column = 'x'; expected"),
            ("room_c = true", "found true; expected"),
            ("room_c = [1]", "found [1]; expected"),
            ("room_c = ' '", "found an empty header; expected"),
            (
                "flour_kg = 'x'\nwater_kg = 'X '",
                "line 2, column 12: found \"X \" a second time; expected each header once; flour_kg has it on line 1",
            ),
        ] {
            let error = ColumnNames::parse(text).unwrap_err().to_string();
            assert!(error.contains(said), "{text}:\n{error}\n{said}");
            for word in ["TOML", "string", "struct", "variant", "invalid type", "field"] {
                assert!(!error.contains(word), "{error}");
            }
        }
    }

    #[test]
    fn a_list_is_read_in_the_encodings_of_shells_and_editors() {
        let text = "flour_kg = \"Küche\"\n";
        let utf16: Vec<u8> = [0xFF, 0xFE]
            .into_iter()
            .chain(text.encode_utf16().flat_map(u16::to_le_bytes))
            .collect();
        let ansi = text.chars().map(|c| c as u8).collect();
        let marked = format!("\u{feff}{text}").into_bytes();
        for bytes in [text.as_bytes().to_vec(), utf16, ansi, marked] {
            let names = ColumnNames::read(&bytes).unwrap();
            assert_eq!(names.meaning("küche").unwrap().name(), "flour_kg");
        }
    }
}
