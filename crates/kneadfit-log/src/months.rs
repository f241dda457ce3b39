//! Days with a written month: `3 May 2026`, `3. Mai 2026`, `May 3, 2026`, `3-mai-26`.

use jiff::civil::Date;

/// The names of the months in English, German, French, Italian and Spanish, without accents;
/// any three letters or more of their beginning will do.
const MONTHS: [&[&str]; 12] = [
    &["january", "januar", "jaenner", "janner", "janvier", "gennaio", "enero"],
    &["february", "februar", "feber", "fevrier", "febbraio", "febrero"],
    &["march", "marz", "maerz", "mars", "marzo"],
    &["april", "avril", "aprile", "abril"],
    &["may", "mai", "maggio", "mayo"],
    &["june", "juni", "juin", "giugno", "junio"],
    &["july", "juli", "juillet", "luglio", "julio"],
    &["august", "aout", "agosto"],
    &["september", "septembre", "settembre", "septiembre"],
    &["october", "oktober", "octobre", "ottobre", "octubre"],
    &["november", "novembre", "noviembre"],
    &["december", "dezember", "decembre", "dicembre", "diciembre"],
];

/// The days of the week in the same languages; two letters will do.
const WEEKDAYS: [&str; 35] = [
    "monday",
    "tuesday",
    "wednesday",
    "thursday",
    "friday",
    "saturday",
    "sunday",
    "montag",
    "dienstag",
    "mittwoch",
    "donnerstag",
    "freitag",
    "samstag",
    "sonntag",
    "lundi",
    "mardi",
    "mercredi",
    "jeudi",
    "vendredi",
    "samedi",
    "dimanche",
    "lunedi",
    "martedi",
    "mercoledi",
    "giovedi",
    "venerdi",
    "sabato",
    "domenica",
    "lunes",
    "martes",
    "miercoles",
    "jueves",
    "viernes",
    "sabado",
    "domingo",
];

/// Small words between the parts.
const BETWEEN: [&str; 6] = ["de", "del", "of", "the", "le", "el"];

/// In small letters without accents.
fn plain(word: &str) -> String {
    let letter = |c: char| match c {
        'á' | 'à' | 'â' | 'ä' => 'a',
        'é' | 'è' | 'ê' => 'e',
        'í' | 'ì' => 'i',
        'ó' | 'ò' => 'o',
        'ú' | 'û' | 'ù' | 'ü' => 'u',
        other => other,
    };
    word.to_lowercase().chars().map(letter).collect()
}

/// The month of a word, from 1; `None`: it is none, or could be two.
pub(crate) fn month_of(word: &str) -> Option<i8> {
    let plain = plain(word);
    if plain.chars().count() < 3 {
        return None;
    }
    let begun = |names: &[&str]| names.iter().any(|name| name.starts_with(&plain));
    let mut found = (1..).zip(MONTHS).filter(|(_, names)| begun(names));
    found.next().map(|(month, _)| month).filter(|_| found.next().is_none())
}

fn is_weekday(word: &str) -> bool {
    let plain = plain(word);
    plain.len() >= 2 && WEEKDAYS.iter().any(|name| name.starts_with(&plain))
}

/// The number of a day: `3`, `3rd`, `1er`, `1º`.
fn day_of(part: &str) -> Option<i8> {
    let digits = part.trim_end_matches(|c: char| !c.is_ascii_digit());
    let ending = &part[digits.len()..];
    let known =
        matches!(ending.to_lowercase().as_str(), "" | "st" | "nd" | "rd" | "th" | "er" | "º" | "°");
    (known && (1..=2).contains(&digits.len())).then(|| digits.parse().ok())?
}

/// The year; of two digits it is of this century.
fn year_of(part: &str) -> Option<i16> {
    let year: i16 = part.bytes().all(|b| b.is_ascii_digit()).then(|| part.parse().ok())??;
    match part.len() {
        2 => Some(2000 + year),
        4 => Some(year),
        _ => None,
    }
}

/// Reads a day with a written month and its year; `None`: it is none.
pub(crate) fn read(text: &str) -> Option<Date> {
    const LONGEST: usize = 48;
    if text.len() > LONGEST || !text.chars().any(char::is_alphabetic) {
        return None;
    }
    let apart = |c: char| crate::names::is_blank(c) || ",.-/".contains(c);
    let mut parts: Vec<&str> = text
        .split(apart)
        .filter(|part| !part.is_empty() && !BETWEEN.contains(&plain(part).as_str()))
        .collect();
    // A time of the day behind it is let be.
    if parts.len() > 3 && parts.last().is_some_and(|part| part.contains(':')) {
        parts.pop();
    }
    if parts.len() == 4 && is_weekday(parts[0]) {
        parts.remove(0);
    }
    let [first, second, third] = parts[..] else { return None };
    let (day, month, year) = if let Some(month) = month_of(second) {
        match (day_of(first), year_of(third)) {
            (Some(day), Some(year)) => (day, month, year),
            // The year first, of four digits.
            _ if first.len() == 4 => (day_of(third)?, month, year_of(first)?),
            _ => return None,
        }
    } else {
        (day_of(second)?, month_of(first)?, year_of(third)?)
    };
    Date::new(year, month, day).ok()
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn days_in_five_languages_are_read() {
        for text in [
            "3 May 2026",
            "3. Mai 2026",
            "3 mai 2026",
            "3 maggio 2026",
            "3 de mayo de 2026",
            "May 3, 2026",
            "May 3rd 2026",
            "3-May-26",
            "03-may-2026",
            "3/Mai/26",
            "3. Mai 26",
            "2026 May 3",
            "Sunday, 3 May 2026",
            "Sonntag, 3. Mai 2026",
            "dimanche 3 mai 2026",
            "Sunday, May 3, 2026",
            "3 May 2026 10:30",
        ] {
            assert_eq!(read(text), Some(date(2026, 5, 3)), "{text}");
        }
        for (text, month) in [
            ("1er févr. 2026", 2),
            ("1 märz 2026", 3),
            ("1. Jänner 2026", 1),
            ("1 août 2026", 8),
            ("1º ottobre 2026", 10),
            ("1 dic 2026", 12),
            ("1 Sept. 2026", 9),
            ("1 juil. 2026", 7),
            ("1 gennaio 2026", 1),
            ("1 enero 2026", 1),
        ] {
            assert_eq!(read(text), Some(date(2026, month, 1)), "{text}");
        }
    }

    #[test]
    fn what_is_no_day_or_two_is_none() {
        for text in [
            "3 May",
            "May 2026",
            "31 April 2026",
            "3 jui 2026",
            "3 Ma 2026",
            "3 Mayonnaise 2026",
            "3 May 026",
            "about 3 May 2026",
            "three May 2026",
            "3x May 2026",
            "2026-05-03",
            "",
        ] {
            assert_eq!(read(text), None, "{text}");
        }
    }
}
