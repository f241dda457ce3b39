//! What a baker most likely meant by a cell that is not written as a log asks.

use jiff::civil::Date;

use crate::dates::{self, Written};
use crate::months::month_of;
use crate::names::{self, Meaning};
use crate::problem::ProblemKind;
use crate::sheet_cell::is_failed_formula;
use crate::unit::{Dimension, Unit};

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

/// The number, as it is to be written in a column of this meaning, in a cell such as `ten`,
/// `10 kg` or `200 g`; `None`: no guess.
pub(crate) fn number_meant(cell: &str, column: &str) -> Option<String> {
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
    if !is_unit || digits.len() > 15 {
        return None;
    }
    let value: f64 = digits.parse().ok().filter(|v: &f64| v.is_finite())?;
    let converted = in_column(value, &unit.to_lowercase(), column)?;
    Some(if converted == value { digits.to_owned() } else { converted.to_string() })
}

/// A number with a unit behind it in the unit of its column; `None`: not known, or not of it.
fn in_column(value: f64, written: &str, column: &str) -> Option<f64> {
    let (dimension, unit) = match names::meaning(column)? {
        Meaning::Number(number, unit) => (Some(Dimension::of(number)), unit),
        Meaning::Minutes(_, unit) => (None, unit),
        _ => return None,
    };
    let plain = match (written, dimension) {
        ("°" | "grad", Some(Dimension::Temperature)) => return Some(value),
        ("m" | "'", None) => "min",
        ("sec" | "sek", None) => "s",
        ("h" | "std", None) => return Some(unit.written(value * 60.0)),
        (written, _) => written,
    };
    let written = Unit::named(plain, dimension)?;
    if written == unit {
        return Some(value);
    }
    // As finely as it is weighed or read.
    let digits = match (dimension, unit) {
        (Some(Dimension::Temperature), _) => 1,
        (Some(Dimension::Mass), Unit::Grams) => 2,
        (Some(Dimension::Share), Unit::Own) => 6,
        _ => 5,
    };
    let ten = 10_f64.powi(digits);
    Some((unit.of_own(written.to_own(value)) * ten).round() / ten)
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

/// The number of which a spreadsheet made a date: 22.5 of 22 May. `None`: the text is none.
pub(crate) fn number_made_a_date(text: &str) -> Option<f64> {
    // `4.30.00` is a time; no spreadsheet that is open today makes a day of the year 2000.
    if text.trim().ends_with(".00") {
        return None;
    }
    let day_and_month = |day: i8, month: i8| format!("{day}.{month}").parse().ok();
    if let Some(day) = days_meant(text).first() {
        return day_and_month(day.day(), day.month());
    }
    let lower = text.trim().to_lowercase();
    let parts = || lower.split(['-', '.', ' ', '/', ',']).filter(|part| !part.is_empty());
    let month = parts().find_map(month_of)?;
    let day = parts().find_map(|part| part.parse::<i8>().ok()).filter(|d| (1..=31).contains(d))?;
    (parts().count() <= 3).then(|| day_and_month(day, month)).flatten()
}

/// What stands where a number, a stage or a day cannot be read, where that has a name of its own.
pub(crate) fn named(kind: &ProblemKind, found: &str) -> Option<ProblemKind> {
    use ProblemKind as K;
    match kind {
        K::NotANumber { .. } | K::NotAStage { .. } if is_failed_formula(found) => {
            Some(K::FailedFormula)
        }
        K::NotANumber { with_point: None } => {
            number_made_a_date(found).map(|value| K::MadeADate { value })
        }
        _ => None,
    }
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
            ("4.30.00", None),
        ] {
            assert_eq!(number_made_a_date(text), number, "{text}");
        }
    }

    #[test]
    fn words_and_units_are_numbers_that_were_meant() {
        for (cell, column, meant) in [
            ("ten", "flour_kg", Some("10")),
            (" Twelve ", "water_c", Some("12")),
            ("10 kg", "flour_kg", Some("10")),
            ("200 g", "salt_kg", Some("0.2")),
            ("10 lb", "flour_kg", Some("4.53592")),
            ("10 kg", "flour_g", Some("10000")),
            ("500 g", "water_lb", Some("1.10231")),
            ("22 lb", "flour_lb", Some("22")),
            ("21.5 °C", "dough_f", Some("70.7")),
            ("72 °", "dough_f", Some("72")),
            ("4 min", "seconds_low", Some("240")),
            ("85 %", "development_percent", Some("85")),
            ("21.5°C", "dough_c", Some("21.5")),
            ("75 °F", "dough_c", Some("23.9")),
            ("65%", "preferment_hydration", Some("0.65")),
            ("85 %", "development", Some("0.85")),
            ("4 min", "minutes_low", Some("4")),
            ("90 s", "minutes_low", Some("1.5")),
            ("10 kg", "dough_c", None),
            ("4 °C", "minutes_low", None),
            ("cold", "water_c", None),
            ("1.2.3", "water_c", None),
            ("10 to 12", "water_c", None),
            ("10 kilograms", "flour_kg", None),
            ("", "water_c", None),
        ] {
            assert_eq!(number_meant(cell, column).as_deref(), meant, "{cell}");
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
