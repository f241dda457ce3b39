//! What a table's columns most likely are: best guesses, for the baker to confirm.

mod list;
mod words;

use std::io::Read;
use std::sync::Arc;

use serde::Serialize;

use crate::cell::as_text;
use crate::column_names::ColumnNames;
use crate::columns::HeaderFault;
use crate::names::{self, Meaning, is_speed_name, nearest};
use crate::options::ReadOptions;
use crate::problem::{Problem, ProblemKind, Severity};
use crate::source::Source;
use words::by_words;

/// How sure a guess is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Sureness {
    /// The header is the log's own name: no guess at all.
    Known,
    /// The header nearly spells the name, or says the thing and its unit in words.
    Likely,
    /// The header says the thing; unit or speed is supposed.
    Supposed,
    /// Nothing in the header says what it is.
    None,
}

/// The best guess for one column.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct ColumnGuess {
    /// Number of the column from the left; the first is 1.
    pub number: usize,
    /// Its header, as written.
    pub header: String,
    /// The log's name for it, in its unit; `None`: no guess.
    pub name: Option<String>,
    /// How sure that is.
    pub sureness: Sureness,
}

/// The best guesses for a whole table.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct ColumnGuesses {
    /// The file's name, as the caller gave it.
    pub source: Arc<str>,
    /// The sheet of a workbook; `None`: the file is a text.
    pub sheet: Option<Arc<str>>,
    /// One a column, from the left.
    pub columns: Vec<ColumnGuess>,
}

/// Guesses what the columns of a log are, whatever its headers are called.
///
/// No two columns get the same name: the surer, then the first, keeps it. Options say the
/// sheet, and which columns are known already.
///
/// # Errors
///
/// The bytes cannot be read as a table, as a [`Problem`] of the file.
///
/// # Examples
///
/// ```
/// use kneadfit_log::{ReadOptions, Sureness, guess_columns};
///
/// let text = "Nr.;Datum;Mehl kg;Wassertemperatur °C;Raumtemp.;Minuten langsam;Wetter\n";
/// let guesses = guess_columns("mai.csv", text.as_bytes(), &ReadOptions::default())?.columns;
/// let names: Vec<_> = guesses.iter().map(|guess| guess.name.as_deref().unwrap_or("?")).collect();
/// assert_eq!(names, ["batch", "date", "flour_kg", "water_c", "room_c", "minutes_langsam", "?"]);
/// assert_eq!(guesses[2].sureness, Sureness::Likely);
/// assert_eq!(guesses[4].sureness, Sureness::Supposed);
/// # Ok::<(), Box<kneadfit_log::Problem>>(())
/// ```
pub fn guess_columns(
    source: &str,
    input: impl Read,
    options: &ReadOptions,
) -> Result<ColumnGuesses, Box<Problem>> {
    let name: Arc<str> = source.into();
    let cannot = |sheet: Option<Arc<str>>, kind| {
        let (source, severity) = (name.clone(), Severity::Error);
        let (place, batch, column, found) = (None, None, None, None);
        Box::new(Problem { severity, source, sheet, place, batch, column, found, kind })
    };
    let mut table = Source::open(input, options).map_err(|kind| cannot(None, kind))?;
    let sheet = table.sheet();
    let header = table.header(options).map_err(|error| {
        cannot(sheet.clone(), ProblemKind::Unreadable { reason: error.to_string() })
    })?;
    let (header, faults) = header.ok_or_else(|| cannot(sheet.clone(), ProblemKind::EmptyFile))?;
    let too_large = |fault: &HeaderFault| matches!(fault.kind, ProblemKind::TooLarge { .. });
    if let Some(fault) = faults.into_iter().find(too_large) {
        return Err(cannot(sheet, fault.kind));
    }
    let mut guesses: Vec<ColumnGuess> = header
        .names
        .iter()
        .enumerate()
        .map(|(index, written)| of_header(index + 1, written, &options.columns))
        .collect();
    for index in 0..guesses.len() {
        let keeps = |other: usize, guesses: &[ColumnGuess]| {
            (guesses[other].sureness as u8, other) < (guesses[index].sureness as u8, index)
        };
        let taken = (0..guesses.len()).any(|other| {
            guesses[index].name.is_some()
                && quantity(&guesses[other]) == quantity(&guesses[index])
                && keeps(other, &guesses)
        });
        if taken {
            guesses[index].sureness = Sureness::None;
            guesses[index].name = None;
        }
    }
    Ok(ColumnGuesses { source: name.clone(), sheet, columns: guesses })
}

/// How many of a row's cells say what a column of a log could be.
pub(crate) fn telling<'a>(cells: impl Iterator<Item = &'a [u8]>) -> usize {
    let none = ColumnNames::default();
    let says = |text: &str| of_header(1, text, &none).name.is_some();
    cells.filter_map(as_text).filter(|text| says(text)).count()
}

/// What a guess says the column is, whatever its unit.
fn quantity(guess: &ColumnGuess) -> Option<String> {
    let meaning = names::meaning(guess.name.as_deref()?)?;
    Some(match meaning {
        Meaning::Number(number, _) => number.name().to_owned(),
        Meaning::Minutes(speed, _) => format!("minutes_{speed}"),
        other => other.name(),
    })
}

fn of_header(number: usize, written: &str, own_names: &ColumnNames) -> ColumnGuess {
    let speed = |m: &Meaning| !matches!(m, Meaning::Minutes(speed, _) if !is_speed_name(speed));
    let known = own_names.meaning(written).cloned().or_else(|| names::meaning(written));
    let (name, sureness) = match known {
        Some(meaning) => (Some(meaning).filter(speed).map(|m| m.name()), Sureness::Known),
        None => match by_words(written) {
            Some((meaning, sureness)) if speed(&meaning) => (Some(meaning.name()), sureness),
            _ => match nearest(written) {
                Some(name) => (Some(name), Sureness::Likely),
                None => (None, Sureness::None),
            },
        },
    };
    ColumnGuess { number, header: written.to_owned(), name, sureness }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn guesses(text: &str) -> Vec<String> {
        let guesses = guess_columns("k.csv", text.as_bytes(), &ReadOptions::default()).unwrap();
        guesses.columns.into_iter().map(|guess| guess.name.unwrap_or_else(|| "?".into())).collect()
    }

    #[test]
    fn headers_of_several_countries() {
        assert_eq!(
            guesses(
                "Batch no,Flour (lb),Flour temp F,Water (oz),Water temp,Dough temp °F,Time low speed\n"
            ),
            ["batch", "flour_lb", "flour_f", "water_oz", "water_c", "dough_f", "minutes_low_speed"]
        );
        assert_eq!(
            guesses("Fournée;Farine (kg);Eau (g);Température pâte;Fournil;Repos min;Météo\n"),
            ["batch", "flour_kg", "water_g", "dough_c", "room_c", "minutes_rest", "?"]
        );
        assert_eq!(
            guesses("Lotto|Farina kg|Acqua °C|Sale g|Ambiente|Sviluppo %|flour_kg\n"),
            ["batch", "?", "water_c", "salt_g", "room_c", "development_percent", "flour_kg"]
        );
    }

    #[test]
    fn a_kind_of_flour_is_no_mass_of_it() {
        assert_eq!(
            guesses("Nr;Mehlsorte;Mehl kg;Mehl °C\nFlour type\n"),
            ["batch", "flour", "flour_kg", "flour_c"]
        );
        assert_eq!(
            guesses("batch,type of flour,farina tipo,Flour type (g)\n")[1..],
            ["flour", "?", "flour_g"]
        );
    }

    #[test]
    fn a_header_in_other_words_is_found_under_a_title() {
        assert_eq!(
            guesses("Knetprotokoll Mai\n\nNr;Mehl kg;Backstube;Teig\n1;9,5;22;24\n"),
            ["batch", "flour_kg", "room_c", "dough_c"]
        );
    }

    #[test]
    fn nothing_is_guessed_from_nothing() {
        assert_eq!(guesses("Selbstkosten,weather,x\n"), ["?", "?", "?"]);
        assert!(guess_columns("k.csv", &b""[..], &ReadOptions::default()).is_err());
    }
}
