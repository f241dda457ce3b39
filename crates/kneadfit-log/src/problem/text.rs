//! The words of a problem, made of its fields.

use std::fmt;

use kneadfit::units::celsius_from_fahrenheit;

use super::{Found, Problem, ProblemKind, Severity};

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.source)?;
        if let Some(place) = self.place {
            write!(f, ", line {} (row {})", place.line, place.row)?;
        }
        if let Some(batch) = &self.batch {
            write!(f, ", batch {}", Found::new(batch.as_bytes()))?;
        }
        if let Some(column) = &self.column {
            let name = Found::new(column.name.as_bytes());
            write!(f, ", column {} ({})", named(name.as_str()), ordinal(column.number))?;
        }
        let severity = match self.severity {
            Severity::Error => "error",
            Severity::Doubt => "doubt",
        };
        writeln!(f, ": {severity}")?;
        writeln!(f, "  found:    {}", found(self))?;
        writeln!(f, "  expected: {}", expected(self))?;
        if let Some(hint) = hint(self) {
            writeln!(f, "  hint:     {hint}")?;
        }
        write!(f, "  so:       {}", consequence(self))
    }
}

/// What was found: the cell, or what the row or file amounts to.
fn found(problem: &Problem) -> String {
    use ProblemKind as K;
    let cell = problem.found.as_ref().map(|found| named(found.as_str()).to_owned());
    match &problem.kind {
        K::EmptyFile => "an empty file".into(),
        K::NoRows => "a header and nothing under it".into(),
        K::Unreadable { reason } => format!("reading stopped: {reason}"),
        K::MissingColumn { name, .. } => format!("no column {name}"),
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
        K::IceNotMelted { short_kj } => {
            format!("ice that takes {} kJ more than the batch can give it", rounded(*short_kj))
        }
        K::UnlikeOtherCharges { charge_kg, .. } => format!("{} kg in all", rounded(*charge_kg)),
        K::RepeatedRow { line } => format!("the same as line {line}"),
        K::RepeatedBatch { source, line } => format!("the same batch as {source}, line {line}"),
        K::FirstRowSetAside { line } => {
            format!("a later reading of a batch whose first row, line {line}, is set aside")
        }
        K::TooManyReadings { most } => format!("reading {} of one batch", most + 1),
        K::NothingRead => "neither dough_c nor development in any row of the batch".into(),
        K::Refused { error } => error.to_string(),
        _ => cell.unwrap_or_else(|| "a blank cell".into()),
    }
}

pub(super) fn expected(problem: &Problem) -> String {
    use ProblemKind as K;
    match &problem.kind {
        K::EmptyFile => "a header row, and one row a reading under it".into(),
        K::NoRows => "one row a reading".into(),
        K::Unreadable { .. } => "a file that can be read to its end".into(),
        K::MissingColumn { name, .. } => format!("a column headed {name}: no row can do without"),
        K::ColumnTwice { .. } => "each column once".into(),
        K::UnknownColumn { .. } => "a column of the log's format".into(),
        K::SpeedName => "minutes_ and the speed's name behind it, as minutes_low".into(),
        K::CellCount { columns, .. } => {
            format!("{}, as many as the header has", plural(*columns as u64, "cell"))
        }
        K::UnclosedQuote { .. } => "a second quote where the cell ends".into(),
        K::NotUtf8 => "text in UTF-8".into(),
        K::NotANumber { .. } | K::NotFinite => {
            "a number with a decimal point, or a blank cell".into()
        }
        K::OutOfRange { least, most } => {
            format!("{least} to {most}{}", unit_behind(problem))
        }
        K::NotADoughTemperature { least_c, most_c } => {
            format!("a temperature of {least_c} to {most_c} °C, as there is flour in the batch")
        }
        K::NotADate => "a day as 2026-03-14".into(),
        K::Blank { needed_by: Some(column) } => format!("a value, as {column} is given"),
        K::Blank { needed_by: None } => "a value in every batch".into(),
        K::MassMissing { mass } => format!("a mass in {mass} too, 0 for none"),
        K::EmptyBowl => "the batch's ingredients on its first row, in kg".into(),
        K::NoWater => "water, ice, a preferment, fat or something in other_kg".into(),
        K::Hydration { least, most, .. } => format!("{least} to {most}"),
        K::Salt { most, .. } => format!("{most} at most"),
        K::ColderThanEverything { coldest_c } => format!(
            "no less than {} °C, the coldest of all that went in, the bowl and the room, as there is no ice",
            rounded(*coldest_c)
        ),
        K::IceNotMelted { .. } => "no more ice than flour, water and the rest can melt".into(),
        K::IceBeyondWater { water_kg } => {
            format!(
                "{water_kg} kg at most, as water_kg is the whole formula water, its ice included"
            )
        }
        K::WaterOfReadDough => {
            "the temperature of the water, as the dough has a reading: it is mixed".into()
        }
        K::LongMixing { most_min } => format!("some {most_min} minutes at most"),
        K::UnlikeOtherCharges { median_kg, .. } => {
            format!("a charge like the machine's others, in the middle {} kg", rounded(*median_kg))
        }
        K::MinutesDown { before_min, line } => {
            format!("{before_min} or more, the total on line {line}: minutes are totals so far")
        }
        K::Contradiction { first: Some(first), line } => {
            format!("blank, or {} as on line {line}, the batch's first row", named(first.as_str()))
        }
        K::Contradiction { first: None, line } => {
            format!("blank, as on line {line}, the batch's first row")
        }
        K::RepeatedRow { .. } | K::RepeatedBatch { .. } => "each reading once".into(),
        K::SameMoment { line } => {
            format!("more minutes than on line {line}, or the same reading in one row")
        }
        K::FirstRowSetAside { .. } => "a first row that can be used".into(),
        K::TooManyReadings { most } => format!("at most {most} readings of one batch"),
        K::NothingRead => "a reading in one row at least".into(),
        K::Undated => "a date, to tell whether the batch lies in the span asked for".into(),
        K::MachineBlank { .. } => "a machine in every row, as other rows name theirs".into(),
        K::Refused { .. } => "a batch that the heat model can take".into(),
    }
}

pub(super) fn hint(problem: &Problem) -> Option<String> {
    use ProblemKind as K;
    let number = problem.found.as_ref().and_then(Found::number);
    let column = problem.column.as_ref().map_or("", |c| &c.name);
    match &problem.kind {
        K::MissingColumn { separator: Some(separator), .. } => Some(format!(
            "the header looks parted by {separator:?}: save the sheet as CSV with commas and decimal points"
        )),
        K::MissingColumn { name, separator: None } => Some(format!(
            "the first row of the file must be the header; write {name} in it as here, in lower case"
        )),
        K::ColumnTwice { .. } => Some("rename or delete one of the two".into()),
        K::UnknownColumn { nearest: Some(nearest) } => Some(format!("is it {nearest}?")),
        K::UnknownColumn { nearest: None } => Some("remarks go in a column headed note".into()),
        K::CellCount { lines, .. } if *lines > 1 => {
            Some(format!("the row spans {lines} lines: a quote may be opened and not closed"))
        }
        K::CellCount { cells, columns, .. } if cells > columns => Some(
            "a comma within a text needs quotes around the text; a decimal comma must be a point"
                .into(),
        ),
        K::UnclosedQuote { lines } if *lines > 1 => {
            Some(format!("it has swallowed the rest of the file, {lines} lines"))
        }
        K::TooManyReadings { .. } => Some(
            "give each batch a name of its own; of a probe's readings keep one every 15 s".into(),
        ),
        K::NotUtf8 => Some("save the file with the encoding UTF-8".into()),
        K::NotANumber { with_point: Some(value) } => {
            Some(format!("if the comma is a decimal comma, write {value}"))
        }
        K::NotANumber { with_point: None } => {
            Some("units belong in the header, remarks in a column headed note".into())
        }
        K::NotFinite => Some("leave the cell blank where nothing was logged".into()),
        K::OutOfRange { most, .. } if column == "development" => percent_hint(number, *most),
        K::OutOfRange { .. } if column == "ice_c" => {
            Some("ice is at 0 °C or below; blank means melting ice at 0 °C".into())
        }
        K::OutOfRange { least, .. } if number.is_some_and(|v| v < *least) && is_mass(column) => {
            Some("a mass is not negative; write 0 or leave the cell blank for none".into())
        }
        K::OutOfRange { most, .. } if number.is_some_and(|v| v > *most) && is_mass(column) => {
            grams_hint(number)
        }
        K::OutOfRange { .. } | K::NotADoughTemperature { .. } if column.ends_with("_c") => {
            fahrenheit_hint(number)
        }
        K::NotADate => Some("year, month, day, parted by hyphens".into()),
        K::Blank { .. } if column == "room_c" => Some(
            "write the room's temperature in °C: salt, bowl and the loss of heat depend on it"
                .into(),
        ),
        K::Blank { .. } if column.ends_with("_kj_per_kg_k") => {
            Some("write its specific heat, as 4.185 for water".into())
        }
        K::Blank { needed_by: Some(_) } => {
            Some("write the temperature as it went in, in °C".into())
        }
        K::Blank { needed_by: None } if column == "batch" => {
            Some("write a name or number; later readings of one batch share it".into())
        }
        K::EmptyBowl => Some(
            "ingredients may be left blank only in later rows of the same batch and machine".into(),
        ),
        K::Hydration { hydration, .. } => hydration_hint(*hydration),
        K::Salt { share, .. } if (0.005..=0.05).contains(&(share / 1000.0)) => {
            Some("is the salt in grams? Masses are in kg".into())
        }
        K::ColderThanEverything { .. } => {
            Some("was ice left out of the log, or a warm ingredient logged for a cold one?".into())
        }
        K::IceNotMelted { .. } => Some("is the ice in grams, or cold water logged as ice?".into()),
        K::IceBeyondWater { .. } => Some("write into water_kg the sum of water and ice".into()),
        K::WaterOfReadDough => Some(
            "leave dough_c and development blank in a dough that is still to be mixed: they are \
             what was read, not what is wanted"
                .into(),
        ),
        K::LongMixing { most_min } => number
            .filter(|v| v / 60.0 <= *most_min)
            .map(|v| format!("in seconds it would be {} minutes", rounded(v / 60.0))),
        K::UnlikeOtherCharges { charge_kg, median_kg } if charge_kg > median_kg => {
            Some("are the masses in grams? They are to be in kg".into())
        }
        K::MinutesDown { .. } => Some(
            "one of the two rows is mistyped, or this is another batch and needs a name of its own"
                .into(),
        ),
        K::Contradiction { .. } => Some(
            "all ingredients stand on the first row; another batch needs a name of its own".into(),
        ),
        K::SameMoment { .. } => Some("both are used, as two readings of one moment".into()),
        K::FirstRowSetAside { .. } => Some("mend the first row and this one counts again".into()),
        K::NothingRead => Some("a batch to forecast belongs in a log given to forecast".into()),
        K::MachineBlank { taken_as } => Some(format!("counted to {taken_as}")),
        K::RepeatedBatch { .. } => Some("is one file given twice, or a copy of the other?".into()),
        _ => None,
    }
}

pub(super) fn consequence(problem: &Problem) -> &'static str {
    use ProblemKind as K;
    match (&problem.kind, problem.severity, problem.place) {
        (K::UnknownColumn { .. }, ..) => "the column is not read",
        (K::Unreadable { .. }, ..) => "only the rows before are read",
        (K::NothingRead, ..) => "the batch is set aside",
        (K::Undated, ..) => "the row is left out",
        (_, Severity::Error, None) => "nothing of the file is used",
        (_, Severity::Error, Some(_)) => "the row is set aside",
        (_, Severity::Doubt, _) => "the row is used",
    }
}

fn named(text: &str) -> &str {
    if text.is_empty() { "without a name" } else { text }
}

fn is_mass(column: &str) -> bool {
    column.ends_with("_kg")
}

fn unit_behind(problem: &Problem) -> &'static str {
    match problem.column.as_ref().map_or("", |c| &c.name) {
        "other_kj_per_kg_k" => " kJ/(kg·K)",
        name if name.ends_with("_c") => " °C",
        name if is_mass(name) => " kg",
        name if name.starts_with(crate::columns::MINUTES_PREFIX) => " minutes",
        _ => "",
    }
}

/// Only where the value, read in °F, is one that a kitchen has.
fn fahrenheit_hint(number: Option<f64>) -> Option<String> {
    let fahrenheit = number?;
    let celsius = celsius_from_fahrenheit(fahrenheit);
    (-5.0..=60.0).contains(&celsius).then(|| {
        format!("{fahrenheit} °F is {celsius:.1} °C: write {celsius:.1} if it was read in °F")
    })
}

fn grams_hint(number: Option<f64>) -> Option<String> {
    let grams = number?;
    Some(format!("{grams} g is {} kg", grams / 1000.0))
}

fn percent_hint(number: Option<f64>, most: f64) -> Option<String> {
    let value = number?;
    let range = "0 is a shaggy mass, 1 a full thin window";
    Some(if value > most && value <= 100.0 {
        format!("{range}; {value} per cent is written {}", value / 100.0)
    } else {
        range.to_owned()
    })
}

fn hydration_hint(hydration: f64) -> Option<String> {
    let likely = 0.4..=1.2;
    if likely.contains(&(1.0 / hydration)) {
        return Some("are flour and water swapped?".into());
    }
    let grams = likely.contains(&(hydration / 1000.0)) || likely.contains(&(hydration * 1000.0));
    Some(if grams {
        "is one of them in grams? Masses are in kg".into()
    } else {
        "check the masses of flour and water, in kg; milk and eggs go in other_kg".into()
    })
}

/// Four digits: what a baker compares, not what the machine holds.
fn rounded(value: f64) -> String {
    let digits = if value.abs() >= 100.0 { 0 } else { 2 };
    let text = format!("{value:.digits$}");
    if digits == 0 { text } else { text.trim_end_matches('0').trim_end_matches('.').to_owned() }
}

fn plural(count: u64, noun: &str) -> String {
    if count == 1 { format!("1 {noun}") } else { format!("{count} {noun}s") }
}

fn ordinal(number: usize) -> String {
    let suffix = match (number % 10, number % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{number}{suffix}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ordinals_are_english() {
        let seen: Vec<_> = [1, 2, 3, 4, 11, 12, 13, 21, 111, 122].map(ordinal).into();
        assert_eq!(
            seen,
            ["1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "111th", "122nd"]
        );
    }

    #[test]
    fn hints_name_what_was_likely_meant() {
        assert_eq!(
            fahrenheit_hint(Some(75.0)).unwrap(),
            "75 °F is 23.9 °C: write 23.9 if it was read in °F"
        );
        assert_eq!(fahrenheit_hint(Some(700.0)), None);
        assert!(percent_hint(Some(85.0), 1.0).unwrap().ends_with("85 per cent is written 0.85"));
        assert_eq!(hydration_hint(650.0).unwrap(), "is one of them in grams? Masses are in kg");
        assert_eq!(
            hydration_hint(3.0).unwrap(),
            "check the masses of flour and water, in kg; milk and eggs go in other_kg"
        );
        assert_eq!(hydration_hint(1.0 / 0.65).unwrap(), "are flour and water swapped?");
    }
}
