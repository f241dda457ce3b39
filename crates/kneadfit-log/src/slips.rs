//! What a baker most likely meant by a cell that is not written as a log asks.

use jiff::civil::Date;

use crate::dates::{self, Written};

/// Numbers as words, as far as a kitchen's go.
const WORDS: [&str; 21] = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
    "twenty",
];

/// The number, as it is to be written, in a cell such as `ten` or `10 kg`; `None`: no guess.
pub(crate) fn number_meant(cell: &str) -> Option<String> {
    let cell = cell.trim();
    let lower = cell.to_lowercase();
    if let Some(value) = WORDS.iter().position(|word| *word == lower) {
        return Some(value.to_string());
    }
    let digits = cell.trim_end_matches(|c: char| !c.is_ascii_digit()).trim_end();
    let unit = cell[digits.len()..].trim();
    let is_unit = !unit.is_empty()
        && unit.chars().count() <= 4
        && unit.chars().all(|c| c.is_alphabetic() || "°%'".contains(c));
    let plain = digits.parse::<f64>().is_ok_and(f64::is_finite) && digits.len() <= 15;
    (is_unit && plain).then(|| digits.to_owned())
}

/// The days that a text such as `14 03 2026` may mean, the day before the month first.
pub(crate) fn days_meant(text: &str) -> Vec<Date> {
    let parts: Vec<&str> = text.trim().split(['/', '.', '-', ' ']).map(str::trim).collect();
    match dates::read(&parts.join("-")) {
        Some(Written::Day(day)) => vec![day],
        Some(Written::Either(one, other)) => vec![one, other],
        None => Vec::new(),
    }
}

/// How the names of months begin, in the languages of the kitchens that are likeliest.
const MONTHS: [&[&str]; 12] = [
    &["jan", "jän", "ene", "gen"],
    &["feb", "fév", "fev"],
    &["mar", "mär"],
    &["apr", "avr", "abr"],
    &["may", "mai", "mag"],
    &["jun", "juin", "giu"],
    &["jul", "juil", "lug"],
    &["aug", "aoû", "aou", "ago"],
    &["sep", "set"],
    &["oct", "okt", "ott", "out"],
    &["nov"],
    &["dec", "dez", "déc", "dic"],
];

/// The number of which a spreadsheet made a date: 22.5 of 22 May. `None`: the text is none.
pub(crate) fn number_made_a_date(text: &str) -> Option<f64> {
    let day_and_month = |day: i8, month: i8| format!("{day}.{month}").parse().ok();
    if let Some(day) = days_meant(text).first() {
        return day_and_month(day.day(), day.month());
    }
    let lower = text.trim().to_lowercase();
    let parts = || lower.split(['-', '.', ' ', '/', ',']).filter(|part| !part.is_empty());
    let month = parts().find_map(|part| {
        let begins = |names: &&[&str]| names.iter().any(|name| part.starts_with(name));
        MONTHS.iter().position(begins).map(|m| m as i8 + 1)
    })?;
    let day = parts().find_map(|part| part.parse::<i8>().ok()).filter(|d| (1..=31).contains(d))?;
    (parts().count() <= 3).then(|| day_and_month(day, month)).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_that_became_a_date_is_read_back() {
        for (text, number) in [
            ("2026-05-22", Some(22.5)),
            ("22.05.2026", Some(22.5)),
            ("22-May", Some(22.5)),
            ("22. Mai", Some(22.5)),
            ("May-22", Some(22.5)),
            ("24-Oct-26", Some(24.1)),
            ("6 août", Some(6.8)),
            ("cold", None),
            ("mixed 3 times by May", None),
            ("45 May", None),
            ("10:30", None),
        ] {
            assert_eq!(number_made_a_date(text), number, "{text}");
        }
    }

    #[test]
    fn words_and_units_are_numbers_that_were_meant() {
        for (cell, meant) in [
            ("ten", Some("10")),
            (" Twelve ", Some("12")),
            ("10 kg", Some("10")),
            ("21.5°C", Some("21.5")),
            ("65%", Some("65")),
            ("cold", None),
            ("1.2.3", None),
            ("10 to 12", None),
            ("10 kilograms", None),
            ("", None),
        ] {
            assert_eq!(number_meant(cell).as_deref(), meant, "{cell}");
        }
    }

    #[test]
    fn days_of_other_spellings() {
        let days = |text| days_meant(text).iter().map(Date::to_string).collect::<Vec<_>>();
        assert_eq!(days("14/03/2026"), ["2026-03-14"]);
        assert_eq!(days("03/14/2026"), ["2026-03-14"]);
        assert_eq!(days("3.4.26"), ["2026-04-03", "2026-03-04"]);
        assert_eq!(days("5/5/2026"), ["2026-05-05"]);
        assert_eq!(days("2026/3/14"), ["2026-03-14"]);
        for text in
            ["2026-02-30", "31/02/2026", "today", "14/03", "1/2/3/4", "99999/1/1", "é/1/2026"]
        {
            assert!(days_meant(text).is_empty(), "{text}");
        }
    }
}
