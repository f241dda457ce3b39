//! What a header's cell means: the names of the log, in any of their units.

use crate::columns::{MINUTES_PREFIX, Number, SECONDS_PREFIX, TEXT_COLUMNS};
use crate::unit::{Dimension, Unit};
use kneadfit::charge::AT_REST;

/// What a column holds, as its header says.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Meaning {
    Batch,
    Machine,
    Date,
    Flour,
    Note,
    Number(Number, Unit),
    /// Total minutes, or seconds, at a speed. The name may be one that no speed can have.
    Minutes(String, Unit),
}

impl Meaning {
    /// The dimension that a unit must fit; `None`: it is a time, or has no unit.
    pub(crate) fn dimension(&self) -> Option<Dimension> {
        match self {
            Self::Number(number, _) => Some(Dimension::of(*number)),
            _ => None,
        }
    }

    /// Its name in a canonical log, in the unit of the column.
    pub(crate) fn name(&self) -> String {
        match self {
            Self::Batch => "batch".into(),
            Self::Machine => "machine".into(),
            Self::Date => "date".into(),
            Self::Flour => "flour".into(),
            Self::Note => "note".into(),
            Self::Number(number, unit) => {
                let (stem, endings) = stem(*number);
                let ending = endings.iter().find(|(_, known)| known == unit).map_or("", |e| e.0);
                format!("{stem}{ending}")
            }
            Self::Minutes(speed, Unit::Seconds) => format!("{SECONDS_PREFIX}{speed}"),
            Self::Minutes(speed, _) => format!("{MINUTES_PREFIX}{speed}"),
        }
    }
}

/// A number's name without its unit, and the endings that units give it.
fn stem(number: Number) -> (&'static str, &'static [(&'static str, Unit)]) {
    let endings = Dimension::of(number).endings();
    (number.name().strip_suffix(endings[0].0).unwrap_or(number.name()), endings)
}

/// What a name means to the letter.
fn exactly(name: &str) -> Option<Meaning> {
    match name {
        "batch" => return Some(Meaning::Batch),
        "machine" => return Some(Meaning::Machine),
        "date" => return Some(Meaning::Date),
        "flour" => return Some(Meaning::Flour),
        "note" => return Some(Meaning::Note),
        _ => {}
    }
    for number in Number::ALL {
        let (stem, endings) = stem(number);
        if let Some(ending) = name.strip_prefix(stem)
            && let Some((_, unit)) = endings.iter().find(|(known, _)| *known == ending)
        {
            return Some(Meaning::Number(number, *unit));
        }
    }
    let minutes = name.strip_prefix(MINUTES_PREFIX).map(|speed| (speed, Unit::Own));
    let (speed, unit) =
        minutes.or_else(|| name.strip_prefix(SECONDS_PREFIX).map(|s| (s, Unit::Seconds)))?;
    Some(Meaning::Minutes(speed.to_owned(), unit))
}

/// What a header means. Capitals and the blanks around it do not matter, but the name of a
/// speed behind `minutes_` in small letters is taken as it stands.
pub(crate) fn meaning(written: &str) -> Option<Meaning> {
    if let Some(meaning) = exactly(written) {
        return Some(meaning);
    }
    if written.len() > LONGEST_BYTES {
        return None;
    }
    let trimmed = written.trim_matches(is_blank);
    exactly(trimmed).or_else(|| exactly(&trimmed.to_lowercase()))
}

/// Blanks of every width, and the mark that some programs leave at a beginning.
pub(crate) fn is_blank(letter: char) -> bool {
    letter.is_whitespace() || letter == '\u{feff}'
}

/// A header may be a whole swallowed file: distance costs its length squared.
const LONGEST: usize = 40;
const LONGEST_BYTES: usize = 4 * LONGEST;

/// Whether a speed can be so named: something to read, without blanks around it
/// or control characters in it, and not what a profile calls rest.
pub(crate) fn is_speed_name(name: &str) -> bool {
    !name.is_empty()
        && name != AT_REST
        && name.trim() == name
        && !name.chars().any(char::is_control)
}

/// A header as it would be written here; `None`: too long to be one.
pub(crate) fn plain(written: &str) -> Option<String> {
    let short = written.chars().take(LONGEST + 1).count() <= LONGEST;
    short.then(|| written.trim_matches(is_blank).to_lowercase().replace([' ', '-', '.', '/'], "_"))
}

/// The known columns whose names a header nearly spells, the nearest first.
pub(crate) fn near(written: &str) -> Vec<String> {
    let Some(plain) = plain(written) else { return Vec::new() };
    if let Some(known) = exactly(&plain) {
        let speed = matches!(&known, Meaning::Minutes(speed, _) if !is_speed_name(speed));
        return if speed { Vec::new() } else { vec![known.name()] };
    }
    let letters = plain.chars().count();
    let most = |name: &String| 1 + name.len() / 5;
    // So many more or fewer letters are so many slips at least.
    let near = known_names().filter(|name| name.len().abs_diff(letters) <= most(name));
    let mut near: Vec<(usize, String)> = near
        .map(|name| (strsim::damerau_levenshtein(&plain, &name), name))
        .filter(|(distance, name)| *distance <= most(name))
        .collect();
    near.sort();
    near.into_iter().map(|(_, name)| name).collect()
}

/// Every name that is no speed's, in every unit.
pub(crate) fn known_names() -> impl Iterator<Item = String> {
    let numbers = Number::ALL.into_iter().flat_map(|number| {
        let (stem, endings) = stem(number);
        endings.iter().map(move |(ending, _)| format!("{stem}{ending}"))
    });
    TEXT_COLUMNS.into_iter().map(str::to_owned).chain(numbers)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_means_itself() {
        for name in known_names().chain(["minutes_low".into(), "seconds_2".into()]) {
            assert_eq!(meaning(&name).unwrap().name(), name);
            assert_eq!(meaning(&format!(" {} ", name.to_uppercase())).unwrap().name(), name);
        }
    }

    #[test]
    fn a_speed_keeps_its_capitals_behind_a_small_prefix() {
        let speed = |name: &str| match meaning(name) {
            Some(Meaning::Minutes(speed, Unit::Own)) => speed,
            other => panic!("{name}: {other:?}"),
        };
        assert_eq!(speed("minutes_Low"), "Low");
        assert_eq!(speed("Minutes_Low"), "low");
        assert_eq!(speed("minutes_"), "");
    }

    #[test]
    fn near_names_are_found_and_far_ones_are_not() {
        for (written, expected) in [
            ("flour kg", Some("flour_kg")),
            ("Flour-LB", Some("flour_lb")),
            ("watr_c", Some("water_c")),
            ("devlopment", Some("development")),
            ("Minutes Low", Some("minutes_low")),
            ("colour of the sky", None),
            ("", None),
        ] {
            assert_eq!(near(written).first().map(String::as_str), expected, "{written}");
        }
    }
}
