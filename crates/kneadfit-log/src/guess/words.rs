//! What the words of a header say, in a few languages.

use super::Sureness;
use crate::columns::Number;
use crate::names::{Meaning, is_blank};
use crate::unit::{Dimension, Unit};

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
/// Parts of words for a kind or its name.
const KINDS: [&str; 8] = ["sort", "type", "kind", "name", "tipo", "nom", "art", "variety"];
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

/// What the words of a header say.
pub(super) fn by_words(written: &str) -> Option<(Meaning, Sureness)> {
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
        // What it is called, and not how much of it there is.
        Thing::Flour if !mass && !warm && within(&KINDS) => {
            return Some((Meaning::Flour, Sureness::Likely));
        }
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
