//! What a cell was most likely meant to hold, for the problems of which that can be told.

use kneadfit::units::celsius_from_fahrenheit;

use super::{Found, Problem, ProblemKind as K};
use crate::columns::{MINUTES_PREFIX, SECONDS_PREFIX};
use crate::mend::{Mend, MendedCell, Slip};
use crate::slips::number_meant;
use crate::typed_times::meant;

/// Temperatures that a cell in °F may turn out to be, °C.
const KITCHEN_C: (f64, f64) = (-5.0, 60.0);

pub(super) fn mend(problem: &Problem) -> Option<Mend> {
    if let K::TooWet { mend, .. } | K::Contradicted { mend, .. } = &problem.kind {
        return Some(mend.clone());
    }
    let (slip, value) = of_cell(problem)?;
    let column = problem.column.as_ref()?;
    let cell = MendedCell {
        source: problem.source.clone(),
        line: problem.place?.line,
        column: column.number,
        name: column.meaning.clone(),
        value,
    };
    Some(Mend { slip, cells: vec![cell] })
}

fn of_cell(problem: &Problem) -> Option<(Slip, f64)> {
    let name = &*problem.column.as_ref()?.meaning;
    let found = problem.found.as_ref()?;
    let number = found.number();
    match &problem.kind {
        K::OutOfRange { .. } | K::NotADoughTemperature { .. } if name.ends_with("_c") => {
            let celsius = (10.0 * celsius_from_fahrenheit(number?)).round() / 10.0;
            let kitchen = (KITCHEN_C.0..=KITCHEN_C.1).contains(&celsius);
            kitchen.then_some((Slip::Fahrenheit, celsius))
        }
        K::OutOfRange { most, .. } if name.ends_with("_kg") && number? > *most => {
            Some((Slip::Grams, number? / 1000.0))
        }
        K::Salt { share, .. } if (0.005..=0.05).contains(&(share / 1000.0)) => {
            Some((Slip::Grams, number? / 1000.0))
        }
        K::OutOfRange { most, .. } if name == "development" => {
            let value = number?;
            let per_cent = value > 10.0 && value <= 100.0 && value > *most;
            per_cent.then_some((Slip::PerCent, value / 100.0))
        }
        K::OutOfRange { most, .. } if name.starts_with(MINUTES_PREFIX) => {
            let minutes = number? / 60.0;
            (number? > *most && minutes <= *most).then_some((Slip::Seconds, minutes))
        }
        K::LongMixing { most_min } => {
            let minutes = number? / 60.0;
            (minutes <= *most_min).then_some((Slip::Seconds, minutes))
        }
        K::DayPart { minutes } => Some((Slip::DayPart, (minutes * 1000.0).round() / 1000.0)),
        K::HoursOfMixing { minutes } => {
            let in_seconds = name.starts_with(SECONDS_PREFIX);
            let meant = meant(*minutes);
            Some((Slip::HoursForMinutes, if in_seconds { meant * 60.0 } else { meant }))
        }
        K::MadeADate { value } => Some((Slip::MadeADate, *value)),
        K::NotANumber { with_point: Some(value) } => Some((Slip::Spelling, *value)),
        K::NotANumber { with_point: None } => {
            let meant = number_meant(Found::as_str(found), name)?.parse().ok()?;
            Some((Slip::Spelling, meant))
        }
        K::PointAmongCommas { as_decimal: Some(value) } => Some((Slip::Spelling, *value)),
        _ => None,
    }
}

/// What a mend reads into the cells, in words.
pub(super) fn words(mend: &Mend, problem: &Problem) -> String {
    let found = problem.found.as_ref().map_or("the cell", Found::as_str);
    let cell = mend.cells.first();
    let value = cell.map_or_else(String::new, |cell| super::words::figure(cell.value));
    match mend.slip {
        Slip::Fahrenheit => format!("{found} read as °F is {value} °C"),
        Slip::Grams => format!("{found} read as grams is {value} kg"),
        Slip::Seconds => format!("{found} read as seconds is {value} minutes"),
        Slip::PerCent => format!("{found} read as per cent is {value}"),
        Slip::DayPart => format!("{found} read as a part of a day is {value} minutes"),
        Slip::HoursForMinutes => {
            let unit = if cell.is_some_and(|c| c.name.starts_with(SECONDS_PREFIX)) {
                "seconds"
            } else {
                "minutes"
            };
            format!("{found} read as minutes and seconds is {value} {unit}")
        }
        Slip::MadeADate => format!("{found} is what a spreadsheet makes of {value}"),
        Slip::Spelling => format!("{found} read as {value}"),
        Slip::FlourAndWaterSwapped => {
            let kg: Vec<String> = mend
                .cells
                .iter()
                .map(|c| format!("{} {}", c.name, super::words::figure(c.value)))
                .collect();
            format!("flour and water in each other's place: {}", kg.join(", "))
        }
        Slip::FlourAndWaterTemperaturesSwapped | Slip::RoomAndDoughSwapped => {
            let what = match mend.slip {
                Slip::RoomAndDoughSwapped => "room and dough",
                _ => "the temperatures of flour and water",
            };
            let cells: Vec<String> = mend
                .cells
                .iter()
                .map(|c| format!("{} {}", c.name, super::words::figure(c.value)))
                .collect();
            format!("{what} in each other's place: {}", cells.join(", "))
        }
    }
}
