//! The words of a problem, made of its fields.

use std::fmt;

use super::dress_text::{self, line as at};
use super::hints::hint;
use super::words::{figure, listed, named, ordinal, plural, rounded};
use super::{Found, Problem, ProblemKind, Severity};
use crate::mend::{MendedCell, Slip};
use crate::unit::Unit;

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}: {}", whereabouts(self), self.severity.word())?;
        writeln!(f, "  found:    {}", found(self))?;
        writeln!(f, "  expected: {}", expected(self))?;
        if let Some(hint) = hint(self) {
            writeln!(f, "  hint:     {hint}")?;
        }
        write!(f, "  so:       {}", consequence(self))
    }
}

/// File, line, batch and column.
pub(super) fn whereabouts(problem: &Problem) -> String {
    let mut words = problem.source.to_string();
    if let Some(sheet) = &problem.sheet {
        words.push_str(&format!(", sheet {}", Found::new(sheet.as_bytes())));
    }
    match (problem.place, &problem.sheet) {
        (Some(place), None) => {
            words.push_str(&format!(", line {} (row {})", place.line, place.row));
        }
        (Some(place), Some(_)) => words.push_str(&format!(", row {}", place.line)),
        (None, _) => {}
    }
    if let Some(batch) = &problem.batch {
        words.push_str(&format!(", batch {}", Found::new(batch.as_bytes())));
    }
    if let Some(column) = &problem.column {
        let name = Found::new(column.name.as_bytes());
        let place = match problem.sheet {
            Some(_) => column.letters(),
            None => ordinal(column.number),
        };
        words.push_str(&format!(", column {} ({place})", named(name.as_str())));
    }
    words
}

/// What was found: the cell, or what the row or file amounts to.
pub(super) fn found(problem: &Problem) -> String {
    use ProblemKind as K;
    if let Some(found) = dress_text::found(problem) {
        return found;
    }
    let cell = problem.found.as_ref().map(|found| named(found.as_str()).to_owned());
    match &problem.kind {
        K::EmptyFile => "an empty file".into(),
        K::NoRows => "a header and nothing under it".into(),
        K::NoWorkbook { reason } => reason.clone(),
        K::Unreadable { reason } => format!("reading stopped: {reason}"),
        K::MissingColumn { name } => format!("no column {name}"),
        K::SpeedBlank => "a column of minutes with nothing in it".into(),
        K::NoFlour => format!(
            "{}{} for the flour, and no flour: its mass is 0 or blank",
            cell.unwrap_or_else(|| "a value".into()),
            unit_behind(problem)
        ),
        K::LargeCharge { charge_kg, .. } => format!("{} kg in all", rounded(*charge_kg)),
        K::EqualBatch { source, line } => {
            format!("every number equal to those of the batch in {source}, line {line}")
        }
        K::ColumnTwice { first } => {
            format!("a second column of this name; the first is the {}", ordinal(*first))
        }
        K::CellCount { cells, .. } => plural(*cells as u64, "cell"),
        K::UnclosedQuote { .. } => "a quote that is opened and never closed".into(),
        K::EmptyBowl => "no mass of anything".into(),
        K::NoWater => "flour, and nothing that wets it".into(),
        K::Hydration { hydration, .. } => {
            format!("{} kg of water a kg of flour", rounded(*hydration))
        }
        K::Salt { share, .. } => format!("{} kg of salt a kg of flour", rounded(*share)),
        K::OtherScale { read, mend } => {
            let one =
                |(cell, read): (&MendedCell, &f64)| format!("{} {}", cell.name, figure(*read));
            mend.cells.iter().zip(read).map(one).collect::<Vec<_>>().join(", ")
        }
        K::IceNotMelted { short_kj } => {
            format!("ice that takes {} kJ more than the batch can give it", rounded(*short_kj))
        }
        K::UnlikeOtherCharges { charge_kg, .. } => format!("{} kg in all", rounded(*charge_kg)),
        K::OtherDay { first, line } => {
            let day = cell.unwrap_or_default();
            format!("{day}, where {} has {first}", at(problem, *line))
        }
        K::RepeatedRow { line } => format!("the same as {}", at(problem, *line)),
        K::RepeatedBatch { source, line } => {
            format!("the same batch as {source}, {}", at(problem, *line))
        }
        K::FirstRowSetAside { line } => {
            let line = at(problem, *line);
            format!("a later reading of a batch whose first row, {line}, is set aside")
        }
        K::TooManyReadings { most } => format!("reading {} of one batch", most + 1),
        K::NothingRead => "neither dough_c nor development in any row of the batch".into(),
        K::Refused { error } => error.to_string(),
        K::TooWet { hydration, .. } => {
            format!("{} kg of water a kg of flour", rounded(*hydration))
        }
        K::Contradicted { read_c, .. } => {
            let cell = cell.unwrap_or_default();
            format!("{cell}, and a dough that was read at {}", limit(problem, *read_c))
        }
        K::Stuck { batches, days } => {
            let cell = cell.unwrap_or_default();
            let days = days.map(|d| format!(", over {}", plural(d.unsigned_abs().into(), "day")));
            format!("{cell} in {batches} batches, one after the other{}", days.unwrap_or_default())
        }
        _ => cell.unwrap_or_else(|| "a blank cell".into()),
    }
}

pub(super) fn expected(problem: &Problem) -> String {
    use ProblemKind as K;
    match &problem.kind {
        K::EmptyFile => "a header row, and one row a reading under it".into(),
        K::NoRows => "one row a reading".into(),
        K::NoWorkbook { .. } => "a workbook that can be opened, with a log in it".into(),
        K::Unreadable { .. } => "a file that can be read to its end".into(),
        K::MissingColumn { name } => format!("a column headed {name}: no row can do without"),
        K::SpeedBlank => "minutes in some row, or no such column".into(),
        K::NoFlour => "the flour's mass, or no temperature of it".into(),
        K::LargeCharge { most_kg, .. } => format!("some {most_kg} kg of dough at most"),
        K::UnknownSpeed { speeds } if speeds.is_empty() => {
            "no minutes of mixing: the profile's machine has no speed".into()
        }
        K::UnknownSpeed { speeds } => {
            let speeds: Vec<String> =
                speeds.iter().map(|s| Found::new(s.as_bytes()).to_string()).collect();
            format!("minutes at a speed of the profile's machine; it has {}", listed(&speeds))
        }
        K::EqualBatch { .. } => {
            "numbers as they were read, which differ from dough to dough".into()
        }
        K::ColumnTwice { .. } => "each column once".into(),
        K::UnknownColumn { .. } => "a column of the log's format".into(),
        K::SpeedName => {
            "minutes_ and the speed's name behind it, as minutes_low; rest is minutes_rest".into()
        }
        K::CellCount { columns, .. } => {
            format!("{}, as many as the header has", plural(*columns as u64, "cell"))
        }
        K::UnclosedQuote { .. } => "a second quote where the cell ends".into(),
        K::NotUtf8 => "text in UTF-8".into(),
        K::ShareAmongPercents => "per cents, as in the rest of the column".into(),
        K::NoWaterToPlan => "a number, or a blank cell to have it planned".into(),
        K::NotANumber { .. } | K::NotFinite | K::MadeADate { .. } => {
            let column = problem.column.as_ref().map_or("", |column| &column.meaning);
            let blank = if blank_says_nothing(column) { "" } else { ", or a blank cell" };
            format!("a number with a decimal point{blank}")
        }
        K::OutOfRange { least, most } => {
            format!("{} to {}{}", figure(*least), figure(*most), unit_behind(problem))
        }
        K::NotADoughTemperature { least_c, most_c } => {
            let (least, most) = (in_column(problem, *least_c), limit(problem, *most_c));
            format!("a temperature of {least} to {most}, as there is flour in the batch")
        }
        K::NotADate => "a day as 2026-03-14".into(),
        K::Blank { needed_by: Some(mass) } => {
            format!("a value, as the mass of {} is given", ingredient(mass))
        }
        K::Blank { needed_by: None } => "a value in every batch".into(),
        K::MassMissing { mass } => format!("the mass of {} too, 0 for none", ingredient(mass)),
        K::EmptyBowl => "the masses of the batch's ingredients on its first row".into(),
        K::NoWater => "water, ice, a preferment, fat or something in other_kg".into(),
        K::Hydration { least, most, .. } => format!("{least} to {most}"),
        K::Salt { most, .. } => format!("{most} at most"),
        K::ColderThanEverything { coldest_c } => format!(
            "no less than {}, the coldest of all that went in, the bowl and the room, as there is no ice",
            limit(problem, *coldest_c)
        ),
        K::OtherScale { mend, .. } => {
            let unit = if mend.slip == Slip::Celsius { "°F" } else { "°C" };
            format!("temperatures in {unit}, as their headers say")
        }
        K::IceNotMelted { .. } => "no more ice than flour, water and the rest can melt".into(),
        K::IceBeyondWater { water_kg } => {
            let water = limit(problem, *water_kg);
            format!("{water} at most, as a plan's water is all of the formula, its ice included")
        }
        K::WaterOfReadDough => {
            "the temperature of the water, as the dough has a reading: it is mixed".into()
        }
        K::LongMixing { most_min } => format!("some {} at most", limit(problem, *most_min)),
        K::UnlikeOtherCharges { median_kg, .. } => {
            format!("a charge like the machine's others, in the middle {} kg", rounded(*median_kg))
        }
        K::MinutesDown { before_min, line } => {
            let line = at(problem, *line);
            format!(
                "{} or more, the total on {line}: minutes are totals so far",
                in_column(problem, *before_min)
            )
        }
        K::Contradiction { first: Some(first), line } => {
            let line = at(problem, *line);
            format!("blank, or {} as on {line}, the batch's first row", named(first.as_str()))
        }
        K::Contradiction { first: None, line } => {
            format!("blank, as on {}, the batch's first row", at(problem, *line))
        }
        K::RepeatedRow { .. } | K::RepeatedBatch { .. } => "each reading once".into(),
        K::OtherDay { .. } => "one day for all rows of a batch".into(),
        K::SameMoment { line } => {
            let line = at(problem, *line);
            format!("more minutes than on {line}, or the same reading in one row")
        }
        K::FirstRowSetAside { .. } => "a first row that can be used".into(),
        K::TooManyReadings { most } => format!("at most {most} readings of one batch"),
        K::NothingRead => "a reading in one row at least".into(),
        K::Undated => "a date, to tell whether the batch lies in the span asked for".into(),
        K::MachineBlank { .. } => "a machine in every row, as other rows name theirs".into(),
        K::Refused { .. } => "a batch that the heat model can take".into(),
        K::TooWet { usual, .. } => {
            format!("some {} kg of water a kg of flour, as the machine's others", rounded(*usual))
        }
        K::Contradicted { expected_c: (low, high), .. } => {
            let [low, high] = [low, high].map(|bound| column_unit(problem).of_own(*bound));
            let unit = unit_behind(problem);
            format!("a dough of {low:.1} to {high:.1}{unit}, as the other batches foretell it")
        }
        K::Stuck { .. } => "readings that differ from day to day".into(),
        K::NamedColumnMissing { .. }
        | K::SameQuantity { .. }
        | K::UnitContradicted { .. }
        | K::TooLarge { .. }
        | K::NoSuchSheet { .. }
        | K::NoSheets { .. }
        | K::OtherSheets { .. }
        | K::DateOrderUnknown { .. }
        | K::DateOrderTorn { .. }
        | K::DecimalMarks { .. }
        | K::SharesAsPercent
        | K::PointAmongCommas { .. }
        | K::DayPart { .. }
        | K::HoursOfMixing { .. }
        | K::ShownAsPerCent
        | K::Uncalculated
        | K::FailedFormula
        | K::MergedReading
        | K::NotAStage { .. } => dress_text::expected(problem),
    }
}

pub(super) fn consequence(problem: &Problem) -> &'static str {
    use ProblemKind as K;
    if let Some(consequence) = dress_text::consequence(problem) {
        return consequence;
    }
    match (&problem.kind, problem.severity, problem.place) {
        (K::UnknownColumn { .. }, ..) => "the column is not read",
        (K::Unreadable { .. }, ..) => "only the rows before are read",
        (K::NothingRead, ..) => "the batch is set aside",
        (K::SpeedBlank, ..) => "it counts as no speed of any machine",
        (K::NoFlour, ..) => "the row is used, as a batch without flour",
        (K::Undated, ..) => "the row is left out",
        (_, Severity::Error, None) => "nothing of the file is used",
        (_, Severity::Error, Some(_)) => "the row is set aside",
        (_, Severity::Doubt, _) => "the row is used",
    }
}

/// Whether a blank cell in place of what was found would be at fault, too: the room's
/// temperature is needed, and those of what went in are beside their masses.
pub(super) fn blank_says_nothing(column: &str) -> bool {
    let stem = column.strip_suffix("_c").or_else(|| column.strip_suffix("_f"));
    matches!(stem, Some("room" | "flour" | "water" | "preferment" | "other"))
}

/// What a column of masses is the mass of.
fn ingredient(mass: &str) -> &str {
    match mass.trim_end_matches("_kg") {
        "other" => "what else went in",
        name => name,
    }
}

/// The unit of the problem's column.
fn column_unit(problem: &Problem) -> Unit {
    Unit::of_column(problem.column.as_ref().map_or("", |c| &c.meaning))
}

/// A value of the log's own unit in that of the problem's column.
pub(super) fn in_column(problem: &Problem, own: f64) -> String {
    match column_unit(problem) {
        Unit::Own => figure(own),
        unit => rounded(unit.of_own(own)),
    }
}

/// The same, four digits of it, with the unit.
pub(super) fn limit(problem: &Problem, own: f64) -> String {
    format!("{}{}", rounded(column_unit(problem).of_own(own)), unit_behind(problem))
}

pub(super) fn unit_behind(problem: &Problem) -> &'static str {
    unit_of(problem.column.as_ref().map_or("", |c| &c.meaning))
}

/// The unit of a column of this name, to stand behind a number.
pub(super) fn unit_of(column: &str) -> &'static str {
    match column {
        "other_kj_per_kg_k" => " kJ/(kg·K)",
        name if name.ends_with("_c") => " °C",
        name if name.ends_with("_kg") => " kg",
        name if name.starts_with(crate::columns::MINUTES_PREFIX) => " minutes",
        name if name.starts_with(crate::columns::SECONDS_PREFIX) => " seconds",
        name if name.ends_with("_f") => " °F",
        name if name.ends_with("_g") => " g",
        name if name.ends_with("_lb") => " lb",
        name if name.ends_with("_oz") => " oz",
        name if name.ends_with("_percent") => " %",
        _ => "",
    }
}
