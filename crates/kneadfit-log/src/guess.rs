//! What a table's columns most likely are: best guesses, for the baker to confirm.

use std::io::Read;

use serde::Serialize;

use crate::column_names::ColumnNames;
use crate::columns::Number;
use crate::names::{self, Meaning, is_blank, nearest};
use crate::options::ReadOptions;
use crate::problem::ProblemKind;
use crate::source::Source;
use crate::unit::{Dimension, Unit};

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

/// Guesses what the columns of a log are, whatever its headers are called.
///
/// No two columns get the same name: the surer, then the first, keeps it. Options say the
/// sheet, and which columns are known already.
///
/// # Errors
///
/// The bytes cannot be read as a table, as a [`ProblemKind`].
///
/// # Examples
///
/// ```
/// use kneadfit_log::{ReadOptions, Sureness, guess_columns};
///
/// let text = "Nr.;Datum;Mehl kg;Wassertemperatur °C;Raumtemp.;Minuten langsam;Wetter\n";
/// let guesses = guess_columns(text.as_bytes(), &ReadOptions::default()).unwrap();
/// let names: Vec<_> = guesses.iter().map(|guess| guess.name.as_deref().unwrap_or("?")).collect();
/// assert_eq!(names, ["batch", "date", "flour_kg", "water_c", "room_c", "minutes_langsam", "?"]);
/// assert_eq!(guesses[2].sureness, Sureness::Likely);
/// assert_eq!(guesses[4].sureness, Sureness::Supposed);
/// ```
pub fn guess_columns(
    input: impl Read,
    options: &ReadOptions,
) -> Result<Vec<ColumnGuess>, ProblemKind> {
    let unreadable = |error: std::io::Error| ProblemKind::Unreadable { reason: error.to_string() };
    let mut source = Source::open(input, options)?;
    let (header, _) = source.header(options).map_err(unreadable)?.ok_or(ProblemKind::EmptyFile)?;
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
    Ok(guesses)
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
    let known = own_names.meaning(written).cloned().or_else(|| names::meaning(written));
    let (name, sureness) = match known {
        Some(meaning) => (Some(meaning.name()), Sureness::Known),
        None => match by_words(written) {
            Some((meaning, sureness)) => (Some(meaning.name()), sureness),
            None => match nearest(written) {
                Some(name) => (Some(name), Sureness::Likely),
                None => (None, Sureness::None),
            },
        },
    };
    ColumnGuess { number, header: written.to_owned(), name, sureness }
}

/// Beginnings of words for a thing, in English, German, French, Italian and Spanish.
const THINGS: [(Thing, &[&str]); 16] = [
    (
        Thing::Preferment,
        &[
            "preferment",
            "vorteig",
            "sauerteig",
            "sourdough",
            "levain",
            "poolish",
            "biga",
            "lievito",
            "masa madre",
            "starter",
        ],
    ),
    (Thing::Flour, &["flour", "mehl", "farine", "farina", "harina"]),
    (Thing::Water, &["water", "wasser", "schütt", "eau", "acqua", "agua"]),
    (Thing::Ice, &["ice", "eis", "glace", "ghiaccio", "hielo"]),
    (Thing::Salt, &["salt", "salz", "sel", "sale", "sal"]),
    (Thing::Sugar, &["sugar", "zucker", "sucre", "zucchero", "azúcar", "azucar"]),
    (
        Thing::Fat,
        &[
            "fat",
            "butter",
            "oil",
            "fett",
            "öl",
            "beurre",
            "huile",
            "burro",
            "olio",
            "mantequilla",
            "aceite",
        ],
    ),
    (
        Thing::Room,
        &[
            "room",
            "bakery",
            "air",
            "raum",
            "backstube",
            "luft",
            "salle",
            "fournil",
            "ambiente",
            "sala",
        ],
    ),
    (Thing::Bowl, &["bowl", "kessel", "schüssel", "bottich", "cuve", "vasca", "cuenco"]),
    (Thing::Dough, &["dough", "teig", "pâte", "pate", "impasto", "masa"]),
    (
        Thing::Development,
        &[
            "development",
            "window",
            "entwicklung",
            "fenster",
            "développement",
            "sviluppo",
            "desarrollo",
        ],
    ),
    (
        Thing::Batch,
        &["batch", "charge", "ansatz", "nr", "no", "number", "fournée", "lotto", "lote"],
    ),
    (
        Thing::Machine,
        &[
            "machine",
            "mixer",
            "maschine",
            "kneter",
            "pétrin",
            "impastatrice",
            "amasadora",
            "máquina",
        ],
    ),
    (Thing::Date, &["date", "day", "datum", "tag", "jour", "data", "fecha"]),
    (Thing::Note, &["note", "remark", "comment", "notiz", "bemerkung", "remarque", "nota"]),
    (Thing::Rest, &["rest", "ruhe", "pause", "repos", "riposo", "reposo"]),
];

/// Parts of words for a time, and words.
const TIMES: [&str; 4] = ["zeit", "durée", "tiempo", "minut"];
const TIME_WORDS: [&str; 10] =
    ["min", "mins", "sec", "secs", "second", "seconds", "sek", "temps", "tempo", "time"];
const WARMTHS: [&str; 5] = ["temp", "°", "warm", "grad", "t°"];

#[derive(Clone, Copy, Debug, PartialEq)]
enum Thing {
    Preferment,
    Flour,
    Water,
    Ice,
    Salt,
    Sugar,
    Fat,
    Room,
    Bowl,
    Dough,
    Development,
    Batch,
    Machine,
    Date,
    Note,
    Rest,
}

/// The words of a header, in small letters.
fn words(written: &str) -> Vec<String> {
    let parts = |c: char| is_blank(c) || "_-./,:;()[]#".contains(c);
    written.split(parts).filter(|word| !word.is_empty()).map(str::to_lowercase).collect()
}

fn by_words(written: &str) -> Option<(Meaning, Sureness)> {
    const LONGEST: usize = 160;
    if written.len() > LONGEST {
        return None;
    }
    let words = words(written);
    let says =
        |beginnings: &[&str]| beginnings.iter().any(|b| words.iter().any(|word| begins(word, b)));
    let has = |letters: &[&str]| letters.iter().any(|l| words.iter().any(|word| word == l));
    let within = |parts: &[&str]| parts.iter().any(|p| words.iter().any(|word| word.contains(p)));
    let thing = THINGS.iter().find(|(_, names)| says(names)).map(|(thing, _)| *thing);
    let timed = words.iter().any(|word| is_time(word));
    let warm = words.iter().any(|word| !is_time(word) && WARMTHS.iter().any(|w| word.contains(w)))
        || has(&["c", "f", "t"]);
    let mass = has(&["kg", "g", "gr", "lb", "lbs", "oz"]);
    if timed && !warm && !mass && thing.is_none_or(|thing| thing == Thing::Rest) {
        return minutes(&words, thing);
    }
    let thing = thing?;
    let warm_unit = if has(&["f", "°f"]) { Unit::Fahrenheit } else { Unit::Own };
    let (number, sureness, unit) = match thing {
        Thing::Batch => return Some((Meaning::Batch, Sureness::Supposed)),
        Thing::Machine => return Some((Meaning::Machine, Sureness::Likely)),
        Thing::Date => return Some((Meaning::Date, Sureness::Likely)),
        Thing::Note => return Some((Meaning::Note, Sureness::Likely)),
        Thing::Rest => return None,
        Thing::Development if within(&["%", "prozent", "percent"]) => {
            (Number::Development, Sureness::Likely, Unit::PerCent)
        }
        Thing::Development => (Number::Development, Sureness::Supposed, Unit::Own),
        _ => {
            let number = number_of(thing, warm && !mass)?;
            let said = match Dimension::of(number) {
                Dimension::Temperature => has(&["c", "f", "°c", "°f"]),
                _ => mass,
            };
            let unit = match Dimension::of(number) {
                Dimension::Temperature => warm_unit,
                _ if has(&["g", "gr"]) => Unit::Grams,
                _ if has(&["lb", "lbs"]) => Unit::Pounds,
                _ if has(&["oz"]) => Unit::Ounces,
                _ => Unit::Own,
            };
            (number, if said { Sureness::Likely } else { Sureness::Supposed }, unit)
        }
    };
    Some((Meaning::Number(number, unit), sureness))
}

fn is_time(word: &str) -> bool {
    TIME_WORDS.contains(&word) || TIMES.iter().any(|time| word.contains(time))
}

/// Whether a word begins with another. Short ones must be the whole word: `sel` is not in
/// `selbst`.
fn begins(word: &str, beginning: &str) -> bool {
    word == beginning || (beginning.chars().count() >= 4 && word.starts_with(beginning))
}

fn number_of(thing: Thing, warm: bool) -> Option<Number> {
    Some(match (thing, warm) {
        (Thing::Preferment, false) => Number::PrefermentKg,
        (Thing::Preferment, true) => Number::PrefermentC,
        (Thing::Flour, false) => Number::FlourKg,
        (Thing::Flour, true) => Number::FlourC,
        (Thing::Water, false) => Number::WaterKg,
        (Thing::Water, true) => Number::WaterC,
        (Thing::Ice, false) => Number::IceKg,
        (Thing::Ice, true) => Number::IceC,
        (Thing::Salt, false) => Number::SaltKg,
        (Thing::Sugar, false) => Number::SugarKg,
        (Thing::Fat, false) => Number::FatKg,
        (Thing::Room, _) => Number::RoomC,
        (Thing::Bowl, _) => Number::BowlC,
        (Thing::Dough, _) => Number::DoughC,
        _ => return None,
    })
}

/// Minutes at the speed that the other words name.
fn minutes(words: &[String], thing: Option<Thing>) -> Option<(Meaning, Sureness)> {
    let in_seconds = words.iter().any(|word| word.starts_with("sec") || word.starts_with("sek"));
    let unit = if in_seconds { Unit::Seconds } else { Unit::Own };
    if thing == Some(Thing::Rest) {
        return Some((Meaning::Minutes(kneadfit::charge::REST.to_owned(), unit), Sureness::Likely));
    }
    let speed: Vec<&str> = words.iter().filter(|word| !is_time(word)).map(String::as_str).collect();
    let speed = speed.join("_");
    (!speed.is_empty()).then_some((Meaning::Minutes(speed, unit), Sureness::Supposed))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn guesses(text: &str) -> Vec<String> {
        let guesses = guess_columns(text.as_bytes(), &ReadOptions::default()).unwrap();
        guesses.into_iter().map(|guess| guess.name.unwrap_or_else(|| "?".into())).collect()
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
    fn nothing_is_guessed_from_nothing() {
        assert_eq!(guesses("Selbstkosten,weather,x\n"), ["?", "?", "?"]);
        assert!(guess_columns(&b""[..], &ReadOptions::default()).is_err());
    }
}
