//! The words of problems with how a log is written: its sheet, its columns, its numbers.

use super::words::{figure, ordinal, plural, rounded};
use super::{Found, Problem, ProblemKind as K};
use crate::columns::SECONDS_PREFIX;
use crate::dates;
use crate::limits::COLUMNS_OF_A_TEXT;
use crate::sheet::{BARE, LOCKED};
use crate::sheet_cell::is_too_narrow;
use crate::typed_times::meant;

/// Where in the file: an editor counts lines, a spreadsheet rows.
pub(super) fn line(problem: &Problem, line: u64) -> String {
    format!("{} {line}", if problem.sheet.is_some() { "row" } else { "line" })
}

/// What was found; `None`: not a problem of this kind.
pub(super) fn found(problem: &Problem) -> Option<String> {
    Some(match &problem.kind {
        K::NamedColumnMissing { theirs, .. } => format!("no column headed {theirs:?}"),
        K::SameQuantity { first, other } => {
            format!("the same quantity as the {} column, {other}", ordinal(*first))
        }
        K::UnitContradicted { unit, line: at } => {
            format!(
                "{}, and {} as its unit on {}",
                cell(problem),
                unit_in_words(unit),
                line(problem, *at)
            )
        }
        K::TooLarge { what, .. } => format!("more {what} than any log has"),
        K::NoSuchSheet { wanted, .. } => format!("no sheet {wanted:?}"),
        K::NoSheets { .. } => "a text, which has no sheets".into(),
        K::OtherSheets { others } => format!("more sheets that look like a log: {}", list(others)),
        K::DateOrderUnknown { count, line: first } => format!(
            "{} that can be read with the day or the month first, from {} on",
            plural(*count as u64, "date"),
            line(problem, *first)
        ),
        K::DateOrderTorn { day_first_line, month_first_line, .. } => format!(
            "the day first on {}, the month first on {}",
            line(problem, *day_first_line),
            line(problem, *month_first_line)
        ),
        K::DecimalMarks { most, most_line, other_line, others } => format!(
            "{} on {} and {} on {}, {} in all",
            mark(*most),
            line(problem, *most_line),
            mark(other(*most)),
            line(problem, *other_line),
            plural(*others as u64, "cell"),
        ),
        K::SharesAsPercent => "no number above 1".into(),
        K::Uncalculated => format!("{}, a formula without a stored value", cell(problem)),
        K::HoursOfMixing { minutes } => {
            format!("{}, which is {}", cell(problem), plural(*minutes as u64, "minute"))
        }
        K::MadeADate { value }
            if problem.found.as_ref().and_then(super::Found::number).is_some() =>
        {
            format!("{} with the format of a date", figure(*value))
        }
        K::ShownAsPerCent => {
            let shown = problem.found.as_ref().and_then(super::Found::number).unwrap_or(f64::NAN);
            format!("{} with the format of per cent, {} %", cell(problem), rounded(shown * 100.0))
        }
        K::MergedReading => format!("{} in a cell merged with those above it", cell(problem)),
        _ => return None,
    })
}

/// What was expected.
pub(super) fn expected(problem: &Problem) -> String {
    match &problem.kind {
        K::NamedColumnMissing { ours, .. } => {
            format!("the column that the list of columns calls {ours}")
        }
        K::SameQuantity { .. } => "each quantity once, in one unit".into(),
        K::UnitContradicted { .. } => "a header and a row of units that say the same".into(),
        K::TooLarge { what, most } => format!("at most {most} {what}"),
        K::NoSuchSheet { sheets, .. } => format!("one of {}", list(sheets)),
        K::NoSheets { wanted } => format!("a workbook with a sheet {wanted:?}"),
        K::OtherSheets { .. } => "one sheet with a log's header".into(),
        K::DateOrderUnknown { .. } | K::DateOrderTorn { .. } => {
            "dates of which one at least shows what comes first, and none the other".into()
        }
        K::DecimalMarks { .. } => "one decimal mark in a column".into(),
        K::SharesAsPercent => "per cents, 100 a full thin window".into(),
        K::PointAmongCommas { .. } => {
            "a number with a decimal comma, as the log has elsewhere, or a blank cell".into()
        }
        K::DayPart { .. } => "a time, as 4:30, or minutes".into(),
        K::HoursOfMixing { .. } => "a time that dough is mixed for, as 4.5 or 0:04:30".into(),
        K::ShownAsPerCent => "a number in the unit of the column, which is no share".into(),
        K::Uncalculated => "the value that the formula comes to, stored in the file".into(),
        K::FailedFormula => "a value, or a blank cell".into(),
        K::MergedReading => "each reading in a row of its own".into(),
        K::NotAStage { stages } => format!("a number from 0 to 1, or one of {}", list(stages)),
        _ => "what the README says of the log".into(),
    }
}

/// The hint; the outer `None`: not a problem of this kind.
pub(super) fn hint(problem: &Problem) -> Option<Option<String>> {
    Some(match &problem.kind {
        K::NamedColumnMissing { .. } => Some("mend the list, or the header in the table".into()),
        K::SameQuantity { .. } => Some("delete one of the two, or head it as a note".into()),
        K::UnitContradicted { .. } => Some(
            "mend the one that is wrong; a header may end in the column's unit, as flour_kg or \
             flour_g"
                .into(),
        ),
        K::NoWorkbook { reason } => Some(match reason.as_str() {
            LOCKED => "save it without the password".into(),
            BARE => "save the workbook with the log in it, and give that".into(),
            _ => "open it in the spreadsheet and save it anew, or copy it once more".into(),
        }),
        K::TooLarge { what, .. } if *what == COLUMNS_OF_A_TEXT => {
            Some("delete the columns that are not of the log".into())
        }
        K::TooLarge { .. } => Some("save the sheet with the log in it as CSV".into()),
        K::NoSheets { .. } => Some("leave the sheet's name away".into()),
        K::OtherSheets { others } => Some(format!(
            "name the sheet that you mean, as --sheet {}; to have the batches of all, put their \
             rows into one",
            list(&others[..others.len().min(1)])
        )),
        K::DateOrderUnknown { .. } | K::DateOrderTorn { .. } => {
            Some("write dates as 2026-03-14".into())
        }
        K::SharesAsPercent => Some("head the column development if 1 is a full window".into()),
        K::PointAmongCommas { as_decimal: Some(value) } => {
            let value = value.to_string().replace('.', ",");
            let whole = thousands(problem, '.');
            Some(format!("if the point is a decimal point, write {value}{whole}"))
        }
        K::DayPart { minutes } => {
            let time = super::text::in_column(problem, (minutes * 1000.0).round() / 1000.0);
            let unit = super::text::unit_behind(problem);
            Some(format!(
                "as a part of a day it is {time}{unit}: write that, or give the cell the format of a time"
            ))
        }
        K::HoursOfMixing { minutes } => {
            let meant = meant(*minutes);
            let seconds = (meant * 60.0).round();
            let clock = format!("{}:{:02}", (seconds / 60.0).floor(), seconds % 60.0);
            Some(format!(
                "was {clock} typed, for minutes and seconds? A spreadsheet takes that for hours \
                 and minutes: write {} or 0:{clock:0>5}",
                rounded(meant)
            ))
        }
        K::ShownAsPerCent => Some(
            "is it a part of the flour? Write what was weighed or read, and give the cell the \
             format of numbers"
                .into(),
        ),
        K::Uncalculated => Some(
            "open the file in a spreadsheet program, let it calculate, and save it: formulas are \
             not evaluated here"
                .into(),
        ),
        K::FailedFormula if is_too_narrow(&cell(problem)) => Some(
            "the column was too narrow to show its number: widen it, and export it anew".into(),
        ),
        K::FailedFormula => Some(
            "a formula failed there: mend it in the spreadsheet, write the figure in its place, \
             or leave the cell blank where there was none"
                .into(),
        ),
        K::MergedReading => Some(
            "undo the merging, and write the reading in the row of the minutes after which it was \
             taken"
                .into(),
        ),
        K::NotADate => {
            let serial = problem.found.as_ref().and_then(super::Found::number)?;
            let day = dates::of_serial(serial)?;
            Some(format!("counted as a spreadsheet counts days it is {day}: format it as a date"))
        }
        K::NoSuchSheet { .. }
        | K::DecimalMarks { .. }
        | K::PointAmongCommas { .. }
        | K::NotAStage { .. } => None,
        _ => return None,
    })
}

/// What became of it; `None`: not a problem of this kind.
pub(super) fn consequence(problem: &Problem) -> Option<&'static str> {
    Some(match &problem.kind {
        K::NamedColumnMissing { .. } => "the others are read",
        K::OtherSheets { .. } => "only the first of all these is read",
        K::DateOrderUnknown { .. } => "the rows are used without their dates",
        K::DateOrderTorn { .. } => "dates that could be either are left out",
        K::DecimalMarks { .. } => "the rows with the other mark are set aside",
        K::SharesAsPercent => "they are read as parts of 1",
        _ => return None,
    })
}

/// The cell as it was found.
fn cell(problem: &Problem) -> String {
    problem.found.as_ref().map(ToString::to_string).unwrap_or_default()
}

/// A unit by the ending that a header has for it.
fn unit_in_words(ending: &str) -> &str {
    match ending {
        "c" => "°C",
        "f" => "°F",
        "percent" => "%",
        other => other,
    }
}

fn mark(mark: char) -> &'static str {
    if mark == ',' { "a decimal comma" } else { "a decimal point" }
}

fn other(mark: char) -> char {
    if mark == ',' { '.' } else { ',' }
}

/// Names one after the other, a few of them.
fn list(names: &[String]) -> String {
    const MOST: usize = 8;
    let shown: Vec<String> = names
        .iter()
        .take(MOST)
        .map(|name| super::Found::new(name.as_bytes()).as_str().to_owned())
        .collect();
    let more = if names.len() > MOST { ", …" } else { "" };
    format!("{}{more}", shown.join(", "))
}

/// What to write if the mark of a number parts its thousands, to put behind what to write if
/// it does not; nothing where it cannot, or where nobody has thousands of the column's unit.
pub(super) fn thousands(problem: &Problem, mark: char) -> String {
    let column = problem.column.as_ref().map_or("", |column| &column.meaning);
    let small = column.ends_with("_g") || column.ends_with("_oz");
    let found = problem.found.as_ref().map_or("", Found::as_str).trim();
    let digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    match found.split_once(mark) {
        Some((whole, rest))
            if (small || column.starts_with(SECONDS_PREFIX))
                && rest.len() == 3
                && (1..=3).contains(&whole.len())
                && !whole.starts_with('0')
                && digits(whole)
                && digits(rest) =>
        {
            format!("; if it parts the thousands, {whole}{rest}")
        }
        _ => String::new(),
    }
}
