//! What to write instead: the likeliest slip behind a problem.

use super::mends::on_other_scale;
use super::words::{figure, rounded};
use super::{Found, Problem, ProblemKind};
use super::{dress_text, text};
use crate::columns::MINUTES_PREFIX;
use crate::guess::is_wanted;
use crate::mend::Slip;
use crate::slips::{days_meant, number_meant};

pub(super) fn hint(problem: &Problem) -> Option<String> {
    use ProblemKind as K;
    if let Some(hint) = dress_text::hint(problem) {
        return hint;
    }
    let number = problem.found.as_ref().and_then(Found::number);
    let column = problem.column.as_ref().map_or("", |c| &c.meaning);
    match &problem.kind {
        K::MissingColumn { name } => Some(format!(
            "write {name} in the header, or give a list that says which column it is: \
                 `kneadfit columns` writes one"
        )),
        K::SpeedBlank => Some(
            "were the minutes left out, or written under another speed? Write 0 where a batch \
             had none"
                .into(),
        ),
        K::NoFlour => {
            Some("write the flour's mass; such a row teaches nothing of a dough".into())
        }
        K::LargeCharge { mend: Some(_), .. } | K::UnlikeOtherCharges { mend: Some(_), .. } => {
            let words = problem.mend_in_words();
            words.map(|words| format!("{words}; if that was meant, write it so"))
        }
        K::LargeCharge { .. } => Some("are its masses in another unit than the headers say, grams for kilograms?".into()),
        K::UnknownSpeed { .. } => Some(
            "write the minutes under one of the machine's speeds, or calibrate the machine at \
             this one"
                .into(),
        ),
        K::EqualBatch { .. } => Some(
            "is it a row copied on? Copies pass for proof, and make intervals too narrow".into(),
        ),
        K::ColumnTwice { .. } => Some("rename or delete one of the two".into()),
        K::UnknownColumn { near } => Some(is_it(near).unwrap_or_else(|| {
            match problem.column.as_ref().is_some_and(|column| is_wanted(&column.name)) {
                true => "it looks like a wanted value: a log has only what was read".into(),
                false if column.trim().eq_ignore_ascii_case("minutes") => {
                    "minutes stand under the speed's name, as minutes_low".into()
                }
                false => "remarks go in a column headed note".into(),
            }
        })),
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
            let whole = dress_text::thousands(problem, ',');
            Some(format!("if the comma is a decimal comma, write {}{whole}", figure(*value)))
        }
        K::NotANumber { with_point: None } => Some(
            match problem.found.as_ref().and_then(|found| number_meant(found.as_str(), column)) {
                Some(meant) => format!("write {meant}: figures alone, the unit is in the header"),
                None if text::blank_says_nothing(column) => {
                    "write the figure that was read; remarks go in a column headed note".into()
                }
                None => "write the figure that was read, or leave the cell blank where none was; remarks \
                         go in a column headed note"
                    .into(),
            },
        ),
        K::NoWaterToPlan => Some(
            match problem.found.as_ref().and_then(|found| number_meant(found.as_str(), column)) {
                Some(meant) => format!("write {meant}: figures alone, the unit is in the header"),
                None => "leave the cell blank to have it planned, or write how warm the water is"
                    .into(),
            },
        ),
        K::ShareAmongPercents => number.map(|share| {
            let per_cent = figure((share * 1e10).round() / 1e8);
            format!("if it is a part of 1, write {per_cent}")
        }),
        K::NotFinite if text::blank_says_nothing(column) => {
            Some("write the temperature that was read".into())
        }
        K::NotFinite => Some("leave the cell blank where nothing was logged".into()),
        K::OutOfRange { most, .. } if column == "development" => percent_hint(number, *most),
        K::OutOfRange { .. } if matches!(column, "ice_c" | "ice_f") => {
            let melting = text::limit(problem, 0.0);
            Some(format!("ice is at {melting} or below; blank means melting ice at {melting}"))
        }
        K::OutOfRange { least, .. } if number.is_some_and(|v| v < *least) && is_mass(column) => {
            Some("a mass is not negative; write 0 or leave the cell blank for none".into())
        }
        K::OutOfRange { most, .. } if number.is_some_and(|v| v > *most) && is_mass(column) => {
            grams_hint(number)
        }
        K::OutOfRange { least, most } if column.starts_with(MINUTES_PREFIX) => {
            minutes_hint(number, *least, *most)
        }
        K::OutOfRange { .. } | K::NotADoughTemperature { .. } if is_temperature(column) => {
            other_scale_hint(number, column)
        }
        K::NotADate => Some(date_hint(problem.found.as_ref())),
        K::Blank { .. } if matches!(column, "room_c" | "room_f") => Some(format!(
            "write the room's temperature in{}: salt, bowl and the loss of heat depend on it",
            text::unit_behind(problem)
        )),
        K::Blank { .. } if column.ends_with("_kj_per_kg_k") => {
            Some("write its specific heat, as 4.185 for water".into())
        }
        K::Blank { needed_by: Some("other_kg") } if problem.column.is_none() => {
            Some("it needs columns other_c, or other_f, and other_kj_per_kg_k".into())
        }
        K::Blank { needed_by: Some(mass) } if problem.column.is_none() => {
            let temperature = mass.trim_end_matches("_kg");
            Some(format!(
                "add a column {temperature}_c or {temperature}_f with the temperature as it went in"
            ))
        }
        K::Blank { needed_by: Some(_) } => {
            let unit = text::unit_behind(problem);
            Some(format!("write the temperature as it went in, in{unit}"))
        }
        K::Blank { needed_by: None } if column == "batch" => {
            Some("write a name or number; later readings of one batch share it".into())
        }
        K::EmptyBowl => Some(
            "ingredients may be left blank only in later rows of the same batch and machine".into(),
        ),
        K::Hydration { mend: Some(mend), .. } if mend.slip == Slip::Grams => grams_hint(number),
        K::Hydration { hydration, .. } => hydration_hint(*hydration),
        K::Salt { share, .. }
            if column == "salt_kg" && (0.005..=0.05).contains(&(share / 1000.0)) =>
        {
            Some("is the salt in grams? Masses are in kg".into())
        }
        K::ColderThanEverything { .. } if problem.mend().is_some() => {
            other_scale_hint(number, column)
        }
        K::ColderThanEverything { .. } => {
            Some("was ice left out of the log, or a warm ingredient logged for a cold one?".into())
        }
        K::TooWet { .. } | K::Contradicted { .. } | K::OtherScale { .. } => {
            problem.mend_in_words().map(|words| format!("{words}; if that was meant, write it so"))
        }
        K::Stuck { .. } => Some("is the thermometer stuck, or was the cell copied down?".into()),
        K::MadeADate { value } => Some(format!(
            "a spreadsheet makes a date of {}: write that, and give the column the format of \
             numbers",
            figure(*value)
        )),
        K::IceBeyondWater { .. } => {
            Some("write for the water the sum of water and ice".into())
        }
        K::WaterOfReadDough => Some(
            "leave dough_c and development blank in a dough that is still to be mixed: they are \
             what was read, not what is wanted"
                .into(),
        ),
        K::IceNotMelted { .. } => Some("is the ice in grams, or cold water logged as ice?".into()),
        K::LongMixing { most_min } => number
            .filter(|v| column.starts_with(MINUTES_PREFIX) && v / 60.0 <= *most_min)
            .map(|v| format!("in seconds it would be {} minutes", rounded(v / 60.0))),
        K::UnlikeOtherCharges { charge_kg, median_kg, .. } if charge_kg > median_kg => {
            Some("are its masses in another unit than the headers say, grams for kilograms?".into())
        }
        K::UnlikeOtherCharges { .. } => {
            Some("is a mass left out, or in another unit than its header says?".into())
        }
        K::MinutesDown { .. } => Some(
            "one of the two rows is mistyped, or this is another batch and needs a name of its own"
                .into(),
        ),
        K::Contradiction { .. } => Some(
            "all ingredients stand on the first row; another batch needs a name of its own".into(),
        ),
        K::OtherDay { .. } => Some("another day: another batch? Give it a name of its own".into()),
        K::SameMoment { .. } => Some("both are used, as two readings of one moment".into()),
        K::FirstRowSetAside { .. } => Some("mend the first row and this one counts again".into()),
        K::NothingRead => Some("a batch to forecast belongs in a log given to forecast".into()),
        K::MachineBlank { taken_as } => Some(format!("counted to {taken_as}")),
        K::RepeatedBatch { .. } => Some("is one file given twice, or a copy of the other?".into()),
        _ => None,
    }
}

/// Which of the log's names something may be, as a question; `None`: none is near.
pub(crate) fn is_it(near: &[String]) -> Option<String> {
    let with_unit = |name: &String| match super::text::unit_of(name) {
        "" => name.clone(),
        unit => format!("{name} (in{unit})"),
    };
    let names: Vec<String> = near.iter().map(with_unit).collect();
    let (last, others) = names.split_last()?;
    Some(match others {
        [] => format!("is it {last}?"),
        others => format!("is it {} or {last}?", others.join(", ")),
    })
}

fn is_mass(column: &str) -> bool {
    column.ends_with("_kg")
}

fn is_temperature(column: &str) -> bool {
    column.ends_with("_c") || column.ends_with("_f")
}

/// Only where the value, read on the other scale, is one that a kitchen has.
fn other_scale_hint(number: Option<f64>, column: &str) -> Option<String> {
    let written = number?;
    let (slip, value) = on_other_scale(written, column)?;
    let (theirs, ours) = if slip == Slip::Celsius { ("°C", "°F") } else { ("°F", "°C") };
    let written = figure(written);
    Some(format!(
        "{written} {theirs} is {value:.1} {ours}: write {value:.1} if it was read in {theirs}"
    ))
}

fn grams_hint(number: Option<f64>) -> Option<String> {
    let grams = number?;
    let kg = grams / 1000.0;
    (kg <= 1000.0).then(|| format!("{} g is {} kg: masses are in kg", figure(grams), figure(kg)))
}

fn percent_hint(number: Option<f64>, most: f64) -> Option<String> {
    let value = number?;
    let range = "0 is a shaggy mass, 1 a full thin window";
    let per_cent = figure((value * 1e10).round() / 1e12);
    let written = figure(value);
    Some(if value > 10.0 && value <= 100.0 {
        format!("{range}; {written} per cent is written {per_cent}")
    } else if value > most && value <= 10.0 {
        let [of_five, of_ten] =
            [5.0, 10.0].map(|whole| figure((value / whole * 1e6).round() / 1e6));
        let of_five =
            if value <= 5.0 { format!("{written} of 5 is written {of_five}, ") } else { "".into() };
        format!("{range}; {of_five}{written} of 10 {of_ten}, {written} per cent {per_cent}")
    } else {
        range.to_owned()
    })
}

/// Hours are mistyped or seconds logged; a minus is a slip.
fn minutes_hint(number: Option<f64>, least: f64, most: f64) -> Option<String> {
    let value = number?;
    if value < least {
        return Some("minutes are not negative; write 0 or leave the cell blank for none".into());
    }
    let minutes = value / 60.0;
    Some(if minutes <= most {
        format!("{} seconds are {} minutes: write minutes", figure(value), rounded(minutes))
    } else {
        "write the minutes at this speed up to the reading".into()
    })
}

fn date_hint(found: Option<&Found>) -> String {
    let days = found.map(|found| days_meant(found.as_str())).unwrap_or_default();
    match days[..] {
        [day] => format!("write {day}: year, month, day, parted by hyphens"),
        [one, other] => {
            format!("write {one} or {other}, whichever it was: year, month, day, parted by hyphens")
        }
        _ => "year, month, day, parted by hyphens, as 2026-03-14".into(),
    }
}

fn hydration_hint(hydration: f64) -> Option<String> {
    let likely = 0.4..=1.2;
    if likely.contains(&(1.0 / hydration)) {
        return Some("are flour and water swapped?".into());
    }
    let grams = likely.contains(&(hydration / 1000.0)) || likely.contains(&(hydration * 1000.0));
    Some(if grams {
        "is one of them in another unit than its header says, grams for kilograms?".into()
    } else {
        "check the masses of flour and water; milk and eggs go in other_kg".into()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hints_name_what_was_likely_meant() {
        assert_eq!(
            other_scale_hint(Some(75.0), "dough_c").unwrap(),
            "75 °F is 23.9 °C: write 23.9 if it was read in °F"
        );
        assert_eq!(other_scale_hint(Some(-6.0), "water_f"), None, "no kitchen is as cold as −6 °C");
        assert_eq!(
            other_scale_hint(Some(12.0), "water_f").unwrap(),
            "12 °C is 53.6 °F: write 53.6 if it was read in °C"
        );
        assert_eq!(other_scale_hint(Some(700.0), "dough_c"), None);
        assert!(percent_hint(Some(85.0), 1.0).unwrap().ends_with("85 per cent is written 0.85"));
        let five = percent_hint(Some(5.0), 1.0).unwrap();
        assert!(five.ends_with("5 of 5 is written 1, 5 of 10 0.5, 5 per cent 0.05"), "{five}");
        let eight = percent_hint(Some(8.0), 1.0).unwrap();
        assert!(eight.ends_with("; 8 of 10 0.8, 8 per cent 0.08"), "{eight}");
        assert!(minutes_hint(Some(-4.0), 0.0, 1e4).unwrap().contains("not negative"));
        assert!(minutes_hint(Some(36e3), 0.0, 1e4).unwrap().contains("600 minutes"));
        assert_eq!(grams_hint(Some(25e3)).unwrap(), "25000 g is 25 kg: masses are in kg");
        assert_eq!(grams_hint(Some(1e300)), None);
        assert!(hydration_hint(650.0).unwrap().ends_with("grams for kilograms?"));
        assert_eq!(
            hydration_hint(3.0).unwrap(),
            "check the masses of flour and water; milk and eggs go in other_kg"
        );
        assert_eq!(hydration_hint(1.0 / 0.65).unwrap(), "are flour and water swapped?");
    }
}
