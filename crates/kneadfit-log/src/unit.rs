//! Units of a column, said by its header's ending, and what they are in the log's own.

use crate::columns::Number;
use crate::names::{self, Meaning};

/// One pound avoirdupois, kg: exact, by the international agreement of 1959.
const POUND_KG: f64 = 0.453_592_37;

/// One ounce, a sixteenth of a pound, kg.
const OUNCE_KG: f64 = POUND_KG / 16.0;

/// A unit in which a column may be logged.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Unit {
    /// The log's own: kg, °C, minutes, a share of 1, kJ/(kg·K), text.
    #[default]
    Own,
    Fahrenheit,
    Grams,
    Pounds,
    Ounces,
    Seconds,
    PerCent,
}

/// What a number is a number of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Dimension {
    Mass,
    Temperature,
    Share,
    Other,
}

impl Dimension {
    pub(crate) fn of(number: Number) -> Self {
        match number {
            Number::Development | Number::PrefermentHydration => Self::Share,
            Number::OtherKjPerKgK => Self::Other,
            _ if number.name().ends_with("_kg") => Self::Mass,
            _ => Self::Temperature,
        }
    }

    /// The endings of a header in this dimension, the log's own first, with what they mean.
    pub(crate) fn endings(self) -> &'static [(&'static str, Unit)] {
        match self {
            Self::Mass => &[
                ("_kg", Unit::Own),
                ("_g", Unit::Grams),
                ("_lb", Unit::Pounds),
                ("_oz", Unit::Ounces),
            ],
            Self::Temperature => &[("_c", Unit::Own), ("_f", Unit::Fahrenheit)],
            Self::Share => &[("", Unit::Own), ("_percent", Unit::PerCent)],
            Self::Other => &[("", Unit::Own)],
        }
    }
}

impl Unit {
    /// A value of this unit in the log's own. Temperatures are absolute: their zero moves.
    pub(crate) fn to_own(self, value: f64) -> f64 {
        match self {
            Self::Own => value,
            Self::Fahrenheit => kneadfit::units::celsius_from_fahrenheit(value),
            Self::Grams => value / 1000.0,
            Self::Pounds => value * POUND_KG,
            Self::Ounces => value * OUNCE_KG,
            Self::Seconds => value / 60.0,
            Self::PerCent => value / 100.0,
        }
    }

    /// The unit of a column that is so called in a canonical log; the log's own where it has
    /// no unit.
    pub(crate) fn of_column(meaning: &str) -> Self {
        match names::meaning(meaning) {
            Some(Meaning::Number(_, unit) | Meaning::Minutes(_, unit)) => unit,
            _ => Self::Own,
        }
    }

    /// A value of the log's own unit as it is written in this one, without the digits that
    /// the way there and back adds.
    pub(crate) fn written(self, own: f64) -> f64 {
        match self {
            Self::Own => own,
            _ => {
                let value = self.of_own(own);
                let rounded = (value * 1e6).round() / 1e6;
                if rounded.is_finite() { rounded } else { value }
            }
        }
    }

    /// The other way round, to say a limit in the column's unit.
    pub(crate) fn of_own(self, value: f64) -> f64 {
        match self {
            Self::Own => value,
            Self::Fahrenheit => value * 1.8 + 32.0,
            Self::Grams => value * 1000.0,
            Self::Pounds => value / POUND_KG,
            Self::Ounces => value / OUNCE_KG,
            Self::Seconds => value * 60.0,
            Self::PerCent => value * 100.0,
        }
    }

    /// A unit as a list of columns may write it, and whether it fits the dimension.
    pub(crate) fn named(text: &str, dimension: Option<Dimension>) -> Option<Self> {
        let plain = text.trim().trim_start_matches('°').to_lowercase();
        Some(match (plain.as_str(), dimension) {
            ("c", Some(Dimension::Temperature)) | ("kg", Some(Dimension::Mass)) => Self::Own,
            ("f", Some(Dimension::Temperature)) => Self::Fahrenheit,
            ("g", Some(Dimension::Mass)) => Self::Grams,
            ("lb" | "lbs", Some(Dimension::Mass)) => Self::Pounds,
            ("oz", Some(Dimension::Mass)) => Self::Ounces,
            ("min" | "minutes", None) => Self::Own,
            ("s" | "seconds", None) => Self::Seconds,
            ("%" | "percent", Some(Dimension::Share)) => Self::PerCent,
            _ => return None,
        })
    }
}

/// The units that a list of columns may write for a column; none where it has no unit.
pub(crate) fn named_units(meaning: &Meaning) -> &'static [&'static str] {
    match meaning {
        Meaning::Minutes(..) => &["minutes", "seconds"],
        Meaning::Number(number, _) => match Dimension::of(*number) {
            Dimension::Mass => &["kg", "g", "lb", "oz"],
            Dimension::Temperature => &["c", "f"],
            Dimension::Share => &["percent"],
            Dimension::Other => &[],
        },
        _ => &[],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_those_of_the_tables() {
        // NIST SP 811 (2008), appendix B: 1 lb = 0.453 592 37 kg and 1 oz = 28.349 523 g;
        // 212 °F is 100 °C and −40 is both.
        assert_eq!(Unit::Pounds.to_own(1.0), 0.453_592_37);
        assert!((Unit::Ounces.to_own(1.0) - 0.028_349_523).abs() < 1e-9);
        assert_eq!(Unit::Fahrenheit.to_own(212.0), 100.0);
        assert_eq!(Unit::Fahrenheit.to_own(-40.0), -40.0);
        assert_eq!(Unit::Seconds.to_own(270.0), 4.5);
    }

    #[test]
    fn a_column_says_its_unit_and_a_value_comes_back_as_it_was_written() {
        for (column, unit, written) in [
            ("dough_f", Unit::Fahrenheit, 71.7),
            ("flour_lb", Unit::Pounds, 22.1),
            ("seconds_low", Unit::Seconds, 275.0),
            ("minutes_low", Unit::Own, 4.3),
            ("note", Unit::Own, 1.1),
        ] {
            assert_eq!(Unit::of_column(column), unit, "{column}");
            assert_eq!(unit.written(unit.to_own(written)), written, "{column}");
        }
    }

    #[test]
    fn there_and_back_is_the_same() {
        for unit in [
            Unit::Own,
            Unit::Fahrenheit,
            Unit::Grams,
            Unit::Pounds,
            Unit::Ounces,
            Unit::Seconds,
            Unit::PerCent,
        ] {
            let back = unit.to_own(unit.of_own(21.5));
            assert!((back - 21.5).abs() < 1e-12, "{unit:?}: {back}");
        }
    }
}
