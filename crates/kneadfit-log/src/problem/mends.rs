//! What a cell was most likely meant to hold, for the problems of which that can be told.

use kneadfit::units::{celsius_from_fahrenheit, fahrenheit_from_celsius};

use super::dress_text::thousands;
use super::{Found, Problem, ProblemKind as K};
use crate::columns::{MINUTES_PREFIX, SECONDS_PREFIX};
use crate::mend::{Mend, MendedCell, Slip};
use crate::names;
use crate::slips::number_meant;
use crate::typed_times::meant;
use crate::unit::{Dimension, Unit};

/// Temperatures that a cell of the other scale may turn out to be, °C.
const KITCHEN_C: (f64, f64) = (-5.0, 60.0);

pub(super) fn mend(problem: &Problem) -> Option<Mend> {
    if let K::TooWet { mend, .. } | K::Contradicted { mend, .. } | K::OtherScale { mend, .. } =
        &problem.kind
    {
        return Some(mend.clone());
    }
    if let K::Hydration { mend, .. }
    | K::LargeCharge { mend, .. }
    | K::UnlikeOtherCharges { mend, .. } = &problem.kind
    {
        return mend.clone();
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
        // What its mark is, only the baker can say.
        K::NotANumber { .. } | K::PointAmongCommas { .. }
            if [',', '.'].iter().any(|mark| !thousands(problem, *mark).is_empty()) =>
        {
            None
        }
        K::OutOfRange { .. } | K::NotADoughTemperature { .. } => match dimension(name) {
            Some(Dimension::Temperature) => on_other_scale(number?, name),
            _ => of_range(problem, name, number?),
        },
        // °F read as °C is never too cold.
        K::ColderThanEverything { coldest_c } => {
            let written = number?;
            let warm = |(slip, _): &(Slip, f64)| *slip == Slip::Celsius && written >= *coldest_c;
            on_other_scale(written, name).filter(warm)
        }
        K::Salt { share, .. }
            if name == "salt_kg" && (0.005..=0.05).contains(&(share / 1000.0)) =>
        {
            Some((Slip::Grams, number? / 1000.0))
        }
        K::LongMixing { most_min } => {
            let minutes = number? / 60.0;
            let seconds = name.starts_with(MINUTES_PREFIX) && minutes <= *most_min;
            seconds.then_some((Slip::Seconds, to_the_tick(minutes)))
        }
        K::DayPart { minutes } => {
            let minutes = (minutes * 1000.0).round() / 1000.0;
            Some((Slip::DayPart, Unit::of_column(name).written(minutes)))
        }
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

/// What a number beyond its range is in the unit in which it most likely was written.
fn of_range(problem: &Problem, name: &str, value: f64) -> Option<(Slip, f64)> {
    let K::OutOfRange { most, .. } = problem.kind else { return None };
    if value <= most {
        return None;
    }
    if name.ends_with("_kg") {
        return Some((Slip::Grams, value / 1000.0));
    }
    if name == "development" {
        return (value > 10.0 && value <= 100.0).then_some((Slip::PerCent, value / 100.0));
    }
    let minutes = value / 60.0;
    let seconds = name.starts_with(MINUTES_PREFIX) && minutes <= most;
    seconds.then_some((Slip::Seconds, to_the_tick(minutes)))
}

/// Minutes as finely as any clock tells them: a third of one is no number of many digits.
fn to_the_tick(minutes: f64) -> f64 {
    (minutes * 1e4).round() / 1e4
}

/// A temperature read on the other scale than its column's, where a kitchen has it: in the
/// column's unit, to a tenth, as a baker writes it.
pub(super) fn on_other_scale(written: f64, column: &str) -> Option<(Slip, f64)> {
    let (slip, celsius, value) = match Unit::of_column(column) {
        Unit::Fahrenheit => (Slip::Celsius, written, fahrenheit_from_celsius(written)),
        _ => {
            let celsius = celsius_from_fahrenheit(written);
            (Slip::Fahrenheit, celsius, celsius)
        }
    };
    let kitchen = (KITCHEN_C.0..=KITCHEN_C.1).contains(&celsius);
    kitchen.then(|| (slip, (10.0 * value).round() / 10.0))
}

fn dimension(name: &str) -> Option<Dimension> {
    names::meaning(name)?.dimension()
}

/// What a mend reads into the cells, in words.
pub(super) fn words(mend: &Mend, problem: &Problem) -> String {
    let found = problem.found.as_ref().map_or("the cell", Found::as_str);
    let cell = mend.cells.first();
    let value = cell.map_or_else(String::new, |cell| super::words::figure(cell.value));
    match mend.slip {
        Slip::Fahrenheit if mend.cells.len() > 1 => {
            format!("all temperatures read as °F: {}", values(mend))
        }
        Slip::Celsius if mend.cells.len() > 1 => {
            format!("all temperatures read as °C: {}", values(mend))
        }
        Slip::Fahrenheit => format!("{found} read as °F is {value} °C"),
        Slip::Celsius => format!("{found} read as °C is {value} °F"),
        Slip::Grams if mend.cells.len() > 1 => all_masses("grams", mend),
        Slip::Kilograms => all_masses("kilograms", mend),
        Slip::Pounds => all_masses("pounds", mend),
        Slip::Ounces => all_masses("ounces", mend),
        Slip::Grams => format!("{found} read as grams is {value} kg"),
        Slip::Seconds => format!("{found} read as seconds is {value} minutes"),
        Slip::PerCent => format!("{found} read as per cent is {value}"),
        Slip::DayPart => {
            let unit = super::text::unit_behind(problem);
            format!("{found} read as a part of a day is {value}{unit}")
        }
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
            format!("flour and water in each other's place: {}", values(mend))
        }
        Slip::FlourAndWaterTemperaturesSwapped | Slip::RoomAndDoughSwapped => {
            let what = match mend.slip {
                Slip::RoomAndDoughSwapped => "room and dough",
                _ => "the temperatures of flour and water",
            };
            format!("{what} in each other's place: {}", values(mend))
        }
    }
}

fn all_masses(unit: &str, mend: &Mend) -> String {
    format!("all masses read as {unit}: {}", values(mend))
}

/// What the cells of a mend would hold.
fn values(mend: &Mend) -> String {
    let cells: Vec<String> = mend
        .cells
        .iter()
        .map(|cell| format!("{} {}", cell.name, super::words::figure(cell.value)))
        .collect();
    cells.join(", ")
}
