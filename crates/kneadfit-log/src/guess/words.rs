//! What the words of a header say, in a few languages.

use super::Sureness;
use super::lexicon::*;
use crate::columns::Number;
use crate::names::{Meaning, is_blank};
use crate::unit::{Dimension, Unit};

/// What a header seems to be.
#[derive(Debug)]
pub(super) enum Says {
    /// A column of a log; of two that claim one, the stronger has it.
    Column { meaning: Meaning, sureness: Sureness, strength: u8 },
    /// Something that was wanted, and never read.
    Wanted,
    /// Something of a dough for which a log has no column.
    Other,
}

/// The words of a header, in small letters.
struct Words(Vec<String>);

impl Words {
    fn of(written: &str) -> Self {
        let parts = |c: char| is_blank(c) || "_-./,:;()[]#'’|=&+".contains(c);
        let words = written.split(parts).filter(|word| !word.is_empty());
        Self(words.map(str::to_lowercase).collect())
    }

    fn any(&self, says: impl Fn(&str) -> bool) -> bool {
        self.0.iter().any(|word| says(word))
    }

    /// Whether one of these stands there.
    fn has(&self, words: &[&str]) -> bool {
        self.any(|word| words.contains(&word))
    }

    /// Whether a word has one of these in it.
    fn within(&self, parts: &[&str]) -> bool {
        self.any(|word| parts.iter().any(|part| word.contains(part)))
    }

    /// Whether a word begins with one of these.
    fn begin(&self, beginnings: &[&str]) -> bool {
        beginnings.iter().any(|beginning| match beginning.split_once(' ') {
            Some((one, other)) => self.0.windows(2).any(|w| w[0] == one && w[1].starts_with(other)),
            None => self.any(|word| begins(word, beginning)),
        })
    }
}

/// What the words of a header say; `None`: nothing that is known.
pub(super) fn by_words(written: &str) -> Option<Says> {
    const LONGEST: usize = 160;
    if written.len() > LONGEST {
        return None;
    }
    let words = Words::of(written);
    let wanted = words.begin(&WANTED) || words.within(&WANTED_WITHIN) || words.has(&WANTED_WORDS);
    if wanted && !words.begin(&["note", "remark", "comment"]) {
        return Some(Says::Wanted);
    }
    let thing = THINGS.iter().find(|(_, names)| words.begin(names)).map(|(thing, _)| *thing);
    column(&words, thing).or_else(|| thing.map(|_| Says::Other))
}

/// The column of a log that is about a thing.
fn column(words: &Words, thing: Option<Thing>) -> Option<Says> {
    let counted = words.has(&NUMBERS);
    let timed = words.any(is_time);
    let fast = words.begin(&SPEEDS);
    let warm = words.has(&["c", "f", "t"])
        || words.any(|word| {
            !is_time(word) && !NUMBERS.contains(&word) && WARMTHS.iter().any(|w| word.contains(w))
        });
    let unit_of_mass = words.has(&MASS_UNITS);
    let mass = unit_of_mass || (words.within(&AMOUNTS) && !warm);
    let said = |meaning, sureness, strength| Some(Says::Column { meaning, sureness, strength });
    let turns = words.has(&TURNS);
    if (timed || fast) && !warm && !mass && !turns && thing.is_none_or(|t| t == Thing::Rest) {
        let (meaning, sureness) = minutes(words, thing)?;
        return said(meaning, sureness, if timed { 4 } else { 2 });
    }
    let kind = words.within(&KINDS);
    let (number, sureness, unit) = match thing {
        None if warm && words.begin(&ENDS) => {
            return said(Meaning::Number(Number::DoughC, warm_unit(words)), Sureness::Supposed, 1);
        }
        None if counted && !warm && !mass => return said(Meaning::Batch, Sureness::Supposed, 1),
        None => return None,
        // The number of a dough is its name.
        Some(Thing::Dough | Thing::Batch) if counted && !warm && !mass => {
            return said(Meaning::Batch, Sureness::Supposed, 4);
        }
        Some(Thing::Batch) if mass || warm => return None,
        Some(Thing::Batch) => return said(Meaning::Batch, Sureness::Supposed, 3),
        Some(Thing::Machine) if warm || timed => return None,
        Some(Thing::Machine) => return said(Meaning::Machine, Sureness::Likely, 3),
        Some(Thing::Date) => return said(Meaning::Date, Sureness::Likely, 3),
        Some(Thing::Note) => return said(Meaning::Note, Sureness::Likely, 3),
        Some(Thing::Rest) if warm || mass => return None,
        Some(Thing::Rest) => {
            let (meaning, _) = minutes(words, thing)?;
            return said(meaning, Sureness::Supposed, 2);
        }
        // What it is called, and not how much of it there is.
        Some(Thing::Flour) if (kind || counted) && !mass && !warm => {
            return said(Meaning::Flour, Sureness::Likely, 3);
        }
        Some(Thing::Dough | Thing::Bowl | Thing::Room) if mass || timed => return None,
        Some(Thing::Dough) if kind && !warm => return None,
        Some(Thing::Development) if words.within(&["%", "prozent", "percent"]) => {
            (Number::Development, Sureness::Likely, Unit::PerCent)
        }
        Some(Thing::Development) => (Number::Development, Sureness::Supposed, Unit::Own),
        Some(_) if timed => return None,
        Some(thing) => {
            let number = number_of(thing, warm && !unit_of_mass)?;
            let (unit, said) = match Dimension::of(number) {
                Dimension::Temperature => (warm_unit(words), words.has(&["c", "f", "°c", "°f"])),
                _ => (mass_unit(words), unit_of_mass),
            };
            (number, if said { Sureness::Likely } else { Sureness::Supposed }, unit)
        }
    };
    let mut strength = 3;
    strength += if sureness == Sureness::Likely { 4 } else { 0 };
    strength += if warm || mass { 2 } else { 0 };
    strength += if words.has(&READ) || words.begin(&ENDS) { 1 } else { 0 };
    strength -= if fast { 2 } else { 0 };
    said(Meaning::Number(number, unit), sureness, strength)
}

fn is_time(word: &str) -> bool {
    TIME_WORDS.contains(&word)
        || SECONDS.contains(&word)
        || TIMES.iter().any(|time| word.contains(time))
}

/// Whether a word begins with another. Short ones must be the whole word: `sel` is not in
/// `selbst`.
fn begins(word: &str, beginning: &str) -> bool {
    word == beginning || (beginning.chars().count() >= 4 && word.starts_with(beginning))
}

fn warm_unit(words: &Words) -> Unit {
    if words.has(&["f", "°f"]) { Unit::Fahrenheit } else { Unit::Own }
}

fn mass_unit(words: &Words) -> Unit {
    if words.has(&["g", "gr"]) {
        Unit::Grams
    } else if words.has(&["lb", "lbs"]) {
        Unit::Pounds
    } else if words.has(&["oz"]) {
        Unit::Ounces
    } else {
        Unit::Own
    }
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
fn minutes(words: &Words, thing: Option<Thing>) -> Option<(Meaning, Sureness)> {
    let unit = if words.has(&SECONDS) { Unit::Seconds } else { Unit::Own };
    if thing == Some(Thing::Rest) {
        return Some((Meaning::Minutes(kneadfit::charge::REST.to_owned(), unit), Sureness::Likely));
    }
    let of_speed = |word: &&str| !is_time(word) && !LITTLE.contains(word) && !READ.contains(word);
    let mut speed: Vec<&str> = words.0.iter().map(String::as_str).filter(of_speed).collect();
    if speed.is_empty() {
        // The time of kneading, in one word.
        let kneading = ["knet", "misch", "mix"];
        let named = |word: &&str| kneading.iter().any(|part| word.contains(part));
        speed.extend(words.0.iter().map(String::as_str).find(named));
    }
    let speed = speed.join("_");
    (!speed.is_empty()).then_some((Meaning::Minutes(speed, unit), Sureness::Supposed))
}
