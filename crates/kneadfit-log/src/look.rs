//! A look at all rows together: what one cell alone does not tell. Which decimal mark a column
//! has, whether the day or the month comes first, which rows hold totals.

use crate::cell::as_text;
use crate::columns::{Column, Header, HeaderFault};
use crate::dates::{DateOrder, Orders, Seen};
use crate::dressed::{DecimalMark, mark_of, read_share};
use crate::example::is_example_row;
use crate::names::is_blank;
use crate::problem::ProblemKind;
use crate::record::Record;
use crate::sheet_cell::CellKind;
use crate::totals::{heads_totals, is_total, total_rows};
use crate::typed_times::find_typed_times;
use crate::unit::Unit;

/// Hands every row of the file to a function, as far as they are looked at.
pub(crate) type EachRow<'a> = dyn FnMut(&mut dyn FnMut(&Record<'_>)) + 'a;

/// What was seen of a column's numbers.
#[derive(Clone, Default)]
struct Numbers {
    points: Seen,
    commas: Seen,
    /// Whether a comma has other than three digits behind it, and so parts no thousands.
    surely_decimal: bool,
    /// The same of a point: other than three digits behind it, or a nought before it.
    surely_pointed: bool,
    /// Whether its points may part thousands, as other columns have decimal commas.
    among_commas: bool,
    above_one: bool,
    any: bool,
}

/// What a look at the rows told, besides how to read them.
pub(crate) struct Told {
    pub(crate) faults: Vec<HeaderFault>,
    /// Columns with a decimal comma.
    pub(crate) commas: Vec<usize>,
}

/// Looks at the rows and dresses the header accordingly. `gone_on`: rows were read already
/// without a look, as canonical ones; a decimal point that was seen then holds.
pub(crate) fn look(header: &mut Header, each: &mut EachRow<'_>, gone_on: bool) -> Told {
    let mut numbers = vec![Numbers::default(); header.columns.len()];
    let mut dates = Orders::default();
    let mut suspects = Vec::new();
    // An example is as its program writes it, whatever the baker's numbers look like.
    let batch = header.batch;
    let mut real = |take: &mut dyn FnMut(&Record<'_>)| {
        each(&mut |record| {
            if !is_example_row(record, batch) {
                take(record);
            }
        });
    };
    let each: &mut EachRow<'_> = &mut real;
    each(&mut |record| {
        if record.len() == header.columns.len() {
            let batch = header.batch.map_or(&b""[..], |index| record.cell(index));
            let batch = as_text(batch).unwrap_or("?").trim_matches(is_blank);
            if batch.is_empty() || heads_totals(batch) {
                suspects.push(record.line);
            }
        } else if record.cells().any(|cell| as_text(cell).is_some_and(is_total)) {
            suspects.push(record.line);
        }
        for (index, (cell, column)) in record.cells().zip(&header.columns).enumerate() {
            let seen = &mut numbers[index];
            match column {
                Column::Date => dates.add(as_text(cell).unwrap_or(""), record.line),
                Column::Number(_) | Column::Minutes(_) if record.kind(index) == CellKind::Text => {
                    match mark_of(cell) {
                        Some(DecimalMark::Point) => {
                            seen.points.add(record.line);
                            seen.surely_pointed |= !may_part_thousands(cell);
                        }
                        Some(DecimalMark::Comma) => {
                            seen.commas.add(record.line);
                            seen.surely_decimal |= !three_behind_comma(cell);
                        }
                        None => {}
                    }
                }
                _ => {}
            }
        }
    });
    // Where another column has decimal commas, `1.250` may be a thousand and more.
    if !gone_on && numbers.iter().any(|seen| seen.surely_decimal) {
        for seen in numbers.iter_mut().filter(|seen| seen.commas.count == 0) {
            seen.among_commas = seen.points.count > 0 && !seen.surely_pointed;
        }
    }
    // Nor does anything tell in whole grams, ounces or seconds, where both are likely.
    if !gone_on && !numbers.iter().any(|seen| seen.surely_decimal || seen.surely_pointed) {
        let small = |unit| matches!(unit, Unit::Grams | Unit::Ounces | Unit::Seconds);
        let dresses = numbers.iter_mut().zip(&header.dress);
        for (seen, _) in dresses.filter(|(_, dress)| small(dress.unit)) {
            seen.commas = Seen::default();
            seen.among_commas = seen.points.count > 0;
        }
    }
    // Where another column has points, `1,250` may be a thousand and more.
    if numbers.iter().any(|seen| seen.points.count > 0 && !seen.among_commas) {
        for seen in numbers.iter_mut().filter(|seen| !seen.surely_decimal) {
            seen.commas = Seen::default();
        }
    }
    let marks: Vec<DecimalMark> = numbers.iter().map(|seen| mark(seen, gone_on)).collect();
    header.totals = total_rows(header, each, &suspects, &marks);
    find_typed_times(header, each);
    let mut told = Told { faults: Vec::new(), commas: Vec::new() };
    for (index, seen) in numbers.iter().enumerate() {
        let mark = mark(seen, gone_on);
        header.dress[index].mark = mark;
        if mark == DecimalMark::Comma && !seen.among_commas {
            told.commas.push(index);
        }
        // Among canonical rows each cell is an error of its own, as it always was.
        let torn = seen.points.count > 0 && seen.commas.count > 0;
        if torn && !gone_on {
            let (most, fewer, sign) = match mark {
                DecimalMark::Point => (seen.points, seen.commas, '.'),
                DecimalMark::Comma => (seen.commas, seen.points, ','),
            };
            let kind = ProblemKind::DecimalMarks {
                most: sign,
                most_line: most.line,
                other_line: fewer.line,
                others: fewer.count,
            };
            told.faults.push(HeaderFault { column: Some(index), kind, fatal: false });
        }
    }
    find_shares(header, each, &mut numbers, &mut told);
    header.date_order = dates.order();
    told.faults.extend(date_fault(&dates).map(|kind| HeaderFault {
        column: header.date,
        kind,
        fatal: false,
    }));
    header.dressed = true;
    header.looked = true;
    told
}

fn three_behind_comma(cell: &[u8]) -> bool {
    let behind = cell.iter().rposition(|byte| *byte == b',').map(|at| &cell[at + 1..]);
    behind.is_some_and(|behind| behind.trim_ascii_end().len() == 3)
}

/// Whether a number with one point may be thousands: `10.250`, not `0.250`.
fn may_part_thousands(cell: &[u8]) -> bool {
    let Some(at) = cell.iter().position(|byte| *byte == b'.') else { return false };
    let digits = |part: &[u8]| part.iter().filter(|byte| byte.is_ascii_digit()).count();
    let before = cell[..at].iter().find(|byte| byte.is_ascii_digit());
    digits(&cell[at..]) == 3
        && before.is_some_and(|first| *first != b'0')
        && digits(&cell[..at]) <= 3
}

fn mark(seen: &Numbers, gone_on: bool) -> DecimalMark {
    if seen.among_commas {
        return DecimalMark::Comma;
    }
    let point = match gone_on {
        true => seen.points.count > 0,
        false => seen.points.count >= seen.commas.count,
    };
    if seen.commas.count == 0 || point { DecimalMark::Point } else { DecimalMark::Comma }
}

fn date_fault(dates: &Orders) -> Option<ProblemKind> {
    let left_out = dates.either.count;
    match (dates.day_first.count, dates.month_first.count) {
        (0, 0) if left_out > 0 => {
            Some(ProblemKind::DateOrderUnknown { count: left_out, line: dates.either.line })
        }
        (1.., 1..) => Some(ProblemKind::DateOrderTorn {
            day_first_line: dates.day_first.line,
            month_first_line: dates.month_first.line,
            left_out,
        }),
        _ => None,
    }
}

/// Finds the columns of per cents in which everything is a part of 1: a format of the
/// spreadsheet shows 0.85 as 85 %.
fn find_shares(
    header: &mut Header,
    each: &mut EachRow<'_>,
    numbers: &mut [Numbers],
    told: &mut Told,
) {
    let in_percent = |header: &Header, index: usize| header.dress[index].unit == Unit::PerCent;
    if !(0..header.columns.len()).any(|index| in_percent(header, index)) {
        return;
    }
    each(&mut |record| {
        if header.totals.contains(&record.line) {
            return;
        }
        for (index, cell) in record.cells().enumerate().take(header.columns.len()) {
            if in_percent(header, index)
                && record.kind(index) != CellKind::PerCent
                && let Ok(Some((value, signed))) = read_share(cell, header.dress[index].mark)
                && !signed
            {
                numbers[index].any |= value > 0.0;
                numbers[index].above_one |= value > 1.0;
            }
        }
    });
    for (index, seen) in numbers.iter().enumerate() {
        if in_percent(header, index) && seen.any && !seen.above_one {
            header.dress[index].shares = true;
            let kind = ProblemKind::SharesAsPercent;
            told.faults.push(HeaderFault { column: Some(index), kind, fatal: false });
        }
    }
}

/// The order of a header's dates as a word.
pub(crate) fn order_in_words(order: DateOrder) -> &'static str {
    match order {
        DateOrder::DayFirst => "the day first",
        DateOrder::MonthFirst => "the month first",
    }
}
