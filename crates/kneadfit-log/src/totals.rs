//! Rows of totals: under a table, or under the part of a month.

use crate::cell::as_text;
use crate::columns::{Column, Header};
use crate::dressed::{DecimalMark, read_number};
use crate::look::EachRow;
use crate::names::is_blank;
use crate::record::Record;

/// Words that head a row of totals, in the languages of most bakers who might read this.
const TOTALS: [&str; 36] = [
    "total",
    "totals",
    "sum",
    "sums",
    "average",
    "averages",
    "mean",
    "means",
    "subtotal",
    "summe",
    "summen",
    "gesamt",
    "insgesamt",
    "mittel",
    "mittelwert",
    "durchschnitt",
    "somme",
    "moyenne",
    "totale",
    "totali",
    "somma",
    "media",
    "medie",
    "suma",
    "promedio",
    "totaal",
    "gemiddelde",
    "genomsnitt",
    "gesamtsumme",
    "zwischensumme",
    "schnitt",
    "totaux",
    "min",
    "max",
    "minimum",
    "maximum",
];

/// Whether a cell is a word for a total, as `Total:` or `Σ`.
pub(crate) fn is_total(text: &str) -> bool {
    // Most cells are numbers, and most names have one in them.
    if text.len() > 24 || text.bytes().any(|byte| byte.is_ascii_digit()) {
        return false;
    }
    let plain = text.trim_matches(|c: char| is_blank(c) || matches!(c, ':' | '.' | '=' | 'Ø'));
    plain == "Σ" || TOTALS.iter().any(|word| plain.eq_ignore_ascii_case(word))
}

/// Words that say so as the first or the last of several; the others may be part of a name.
const ALWAYS_TOTALS: [&str; 16] = [
    "total",
    "totals",
    "totaux",
    "totale",
    "totaal",
    "subtotal",
    "summe",
    "summen",
    "gesamtsumme",
    "zwischensumme",
    "somme",
    "somma",
    "average",
    "durchschnitt",
    "moyenne",
    "mittelwert",
];

/// Whether the cell of a batch is no name but heads totals, as `Summe Mai` or `Ø`.
pub(crate) fn heads_totals(batch: &str) -> bool {
    if batch.len() > 40 || batch.as_bytes().first().is_none_or(u8::is_ascii_digit) {
        return false;
    }
    // Most names are one word with a number in it, which no word for a total has.
    let bytes = batch.as_bytes();
    if bytes.iter().all(u8::is_ascii_alphanumeric) && bytes.iter().any(u8::is_ascii_digit) {
        return false;
    }
    if is_total(batch) {
        return true;
    }
    let mut words = batch
        .split(|c: char| is_blank(c) || c.is_whitespace() || matches!(c, ':' | '.' | '='))
        .filter(|word| !word.is_empty());
    let first = words.next();
    let says = |word: &str| {
        matches!(word, "Ø" | "ø" | "Σ")
            || ALWAYS_TOTALS.iter().any(|total| word.eq_ignore_ascii_case(total))
    };
    first.is_some_and(says) || words.next_back().is_some_and(says)
}

/// Of the rows without a batch, those that hold totals: a word says so, or every number is
/// the sum or the mean of the column above it, one at least a sum.
pub(crate) fn total_rows(
    header: &Header,
    each: &mut EachRow<'_>,
    suspects: &[u64],
    marks: &[DecimalMark],
) -> Vec<u64> {
    let mut totals = Vec::new();
    if suspects.is_empty() {
        return totals;
    }
    let mut sums = vec![(0.0_f64, 0_usize); header.columns.len()];
    let number = |record: &Record<'_>, index: usize| {
        let is_number = record.kind(index).is_number();
        let mark = if is_number { DecimalMark::Point } else { marks[index] };
        read_number(record.cell(index), mark)
    };
    each(&mut |record| {
        if suspects.binary_search(&record.line).is_ok() {
            let batch = header.batch.filter(|index| *index < record.len());
            let batch = batch.and_then(|index| as_text(record.cell(index)));
            let word = batch.is_some_and(|batch| heads_totals(batch.trim_matches(is_blank)))
                || record.cells().any(|cell| as_text(cell).is_some_and(is_total));
            if word || only_sums(record, header, &sums, number) {
                totals.push(record.line);
            }
            return;
        }
        for (index, column) in header.columns.iter().enumerate() {
            if matches!(column, Column::Number(_) | Column::Minutes(_))
                && let Ok(Some(value)) = number(record, index)
            {
                sums[index].0 += value;
                sums[index].1 += 1;
            }
        }
    });
    totals
}

fn only_sums(
    record: &Record<'_>,
    header: &Header,
    sums: &[(f64, usize)],
    number: impl Fn(&Record<'_>, usize) -> Result<Option<f64>, crate::cell::NotANumber>,
) -> bool {
    /// Sums are rounded to what is shown.
    const ROUNDED: f64 = 0.005;
    let mut any_sum = false;
    for (index, cell) in record.cells().enumerate() {
        let counted =
            matches!(header.columns.get(index), Some(Column::Number(_) | Column::Minutes(_)));
        if cell.trim_ascii().is_empty() {
            continue;
        }
        let Some((sum, count)) = sums.get(index).filter(|(_, count)| counted && *count > 1) else {
            return false;
        };
        let Ok(Some(value)) = number(record, index) else { return false };
        let near = |wanted: f64| (value - wanted).abs() <= ROUNDED * wanted.abs().max(1.0);
        let is_sum = near(*sum);
        if !is_sum && !near(*sum / *count as f64) {
            return false;
        }
        any_sum |= is_sum;
    }
    any_sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What lets a name with a digit pass without a look at its words.
    #[test]
    fn no_word_for_a_total_has_a_digit() {
        let words = TOTALS.iter().chain(&ALWAYS_TOTALS);
        assert!(words.flat_map(|word| word.bytes()).all(|byte| !byte.is_ascii_digit()));
        for name in ["B12", "total3", "7"] {
            assert!(!heads_totals(name), "{name}");
        }
        for totals in ["Total", "Total 2026", "Summe Mai", "May total", "Ø 3", "total:3"] {
            assert!(heads_totals(totals), "{totals}");
        }
    }
}
