//! What a spreadsheet leaves in a cell beside its text, and which of it is no value.

use crate::cell::parse_number;
use crate::columns::{Column, Number};
use crate::problem::ProblemKind;
use crate::unit::Dimension;

/// What a cell of a sheet is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum CellKind {
    /// Text; and every cell of a log that is a text.
    #[default]
    Text,
    /// A number, with nothing to say how it is written.
    Number,
    /// The same, which its format shows as per cent: 0.85 as 85 %.
    PerCent,
    /// A number that its format shows as a day before anybody logged: 22.5 as 1900-01-22.
    EarlyDay,
    /// A formula of which the file has no value; its text is the formula.
    Uncalculated,
    /// A part of a merged cell below its first row; its text is that of the first.
    Covered,
}

impl CellKind {
    /// Whether it is a number, however its column's texts are written.
    pub(crate) fn is_number(self) -> bool {
        matches!(self, Self::Number | Self::PerCent)
    }

    /// Why such a cell holds no value for its column; `None`: it does.
    pub(crate) fn fault(self, cell: &[u8], column: Column) -> Option<ProblemKind> {
        match (self, column) {
            (_, Column::Unread) => None,
            (Self::Uncalculated, _) => Some(ProblemKind::Uncalculated),
            (Self::Covered, Column::Number(Number::DoughC | Number::Development)) => {
                Some(ProblemKind::MergedReading)
            }
            (Self::EarlyDay, Column::Number(_) | Column::Minutes(_)) => {
                let value = parse_number(cell).ok().flatten()?;
                Some(ProblemKind::MadeADate { value })
            }
            (Self::PerCent, Column::Minutes(_)) => Some(ProblemKind::ShownAsPerCent),
            (Self::PerCent, Column::Number(number))
                if Dimension::of(number) != Dimension::Share =>
            {
                Some(ProblemKind::ShownAsPerCent)
            }
            (Self::EarlyDay, Column::Date) => Some(ProblemKind::NotADate),
            _ => None,
        }
    }
}

/// What spreadsheets write for a formula that failed, in languages whose words have no mark
/// of their own behind them.
const FAILED: [&str; 5] = ["#N/A", "#NV", "#N/D", "#NA", "#GETTING_DATA"];

/// Whether a cell holds what a spreadsheet shows where a formula failed: `#DIV/0!`, `#NAME?`,
/// `Err:502`; or where a column was too narrow for its numbers: `###`.
pub(crate) fn is_failed_formula(text: &str) -> bool {
    const LONGEST: usize = 24;
    let text = text.trim();
    if text.len() > LONGEST {
        return false;
    }
    if let Some(code) = text.strip_prefix("Err:") {
        return code.len() == 3 && code.bytes().all(|b| b.is_ascii_digit());
    }
    let Some(word) = text.strip_prefix('#') else { return false };
    let word_of = |ending| {
        let word = word.strip_suffix(ending)?.trim_start_matches(['¡', '¿']);
        let letters = word.chars().all(|c| c.is_uppercase() || "/0_".contains(c));
        (letters && word.starts_with(char::is_uppercase)).then_some(())
    };
    is_too_narrow(text)
        || FAILED.contains(&text)
        || word_of('!').is_some()
        || word_of('?').is_some()
}

/// Whether it is what an export as shown makes of a number in a narrow column.
pub(crate) fn is_too_narrow(text: &str) -> bool {
    text.len() >= 3 && text.bytes().all(|b| b == b'#')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn failed_formulas_are_known_and_names_are_not() {
        for text in [
            "#DIV/0!",
            "#REF!",
            "#N/A",
            "#VALUE!",
            "#NAME?",
            "#NULL!",
            "#NUM!",
            "#WERT!",
            "#BEZUG!",
            "#NV",
            "#VALEUR!",
            "#¡VALOR!",
            "#¿NOMBRE?",
            " Err:502 ",
            "###",
        ] {
            assert!(is_failed_formula(text), "{text}");
        }
        for text in ["#12", "#", "##", "# DIV/0!", "#a!", "Err:5", "#Brioche!", "22.5", "", "#!"] {
            assert!(!is_failed_formula(text), "{text}");
        }
    }
}
