//! The columns of an empty log: what each asks for, and within what.

use jiff::civil::Date;
use kneadfit::charge::REST;

use super::Extent;
use crate::columns::{MINUTES_PREFIX, Number};
use crate::example::EXAMPLE_BATCH;
use crate::plausible::{Range, minutes_range, range_of};

/// What stands in the example row.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Example {
    Blank,
    Text(&'static str),
    Number(f64),
    Day(Date),
}

/// What a column takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Takes {
    Text,
    Day,
    /// Numbers within the range that the reader takes.
    Numbers(Range),
}

/// One column.
#[derive(Clone, Debug)]
pub(super) struct BlankColumn {
    /// Its header.
    pub(super) name: String,
    /// What it is, in a word or two, for whoever fills it in.
    pub(super) title: String,
    /// Its unit; empty: none.
    pub(super) unit: &'static str,
    /// What to write.
    pub(super) help: String,
    pub(super) takes: Takes,
    pub(super) example: Example,
}

impl BlankColumn {
    fn text(name: &str, title: &str, help: &str, example: Example) -> Self {
        let (name, title, help) = (name.to_owned(), title.to_owned(), help.to_owned());
        Self { name, title, unit: "", help, takes: Takes::Text, example }
    }

    fn number(number: Number) -> Self {
        let (title, help) = words(number);
        let unit = match number {
            Number::PrefermentHydration => "water/flour",
            Number::OtherKjPerKgK => "kJ/(kg·K)",
            Number::Development => "0–1",
            _ if number.name().ends_with("_kg") => "kg",
            _ => "°C",
        };
        Self {
            name: number.name().to_owned(),
            title: title.to_owned(),
            unit,
            help: help.to_owned(),
            takes: Takes::Numbers(range_of(number)),
            example: example(number).map_or(Example::Blank, Example::Number),
        }
    }

    fn minutes(speed: &str, example: Example) -> Self {
        let rest = speed == REST;
        let help = match rest {
            true => {
                "Minutes of rest in the bowl, so far. They count between the speeds left and \
                 right of this column; a rest elsewhere takes a row of its own."
            }
            false => {
                "Minutes at this speed up to the reading. In a further row of the same batch: the \
                 total so far."
            }
        };
        Self {
            name: format!("{MINUTES_PREFIX}{speed}"),
            title: if rest { "rested".into() } else { format!("mixed, {speed}") },
            unit: "min",
            help: help.into(),
            takes: Takes::Numbers(minutes_range(rest)),
            example,
        }
    }
}

/// The columns in the order in which they are filled in.
pub(super) fn of(speeds: &[String], extent: Extent) -> Vec<BlankColumn> {
    let mut columns = vec![BlankColumn::text(
        "batch",
        "name",
        "A name or number of the dough. One row is one reading: a further row with the same name \
         is a later reading of the same dough.",
        Example::Text(EXAMPLE_BATCH),
    )];
    if extent == Extent::Full {
        columns.push(BlankColumn::text(
            "machine",
            "mixer",
            "The mixer. Left blank in every row: the one that the file is named after.",
            Example::Blank,
        ));
    }
    columns.push(BlankColumn {
        name: "date".into(),
        title: "day".into(),
        unit: "",
        help: "The day, as 2026-03-14.".into(),
        takes: Takes::Day,
        example: Example::Day(jiff::civil::date(2026, 3, 14)),
    });
    columns.push(BlankColumn::text(
        "flour",
        "kind of flour",
        "The flour's name, always spelt alike: each flour develops at its own pace, and its doughs \
         warm in their own way.",
        Example::Text("strong white"),
    ));
    let wanted = |number: &Number| extent == Extent::Full || is_usual(*number);
    let is_reading = |number: &Number| matches!(number, Number::DoughC | Number::Development);
    let (readings, inputs): (Vec<Number>, Vec<Number>) =
        Number::ALL.into_iter().filter(wanted).partition(is_reading);
    columns.extend(inputs.into_iter().map(BlankColumn::number));
    for (index, speed) in speeds.iter().enumerate() {
        // A few minutes to mix at the first speed, the rest of the work at the last.
        let last = index + 1 == speeds.len();
        let minutes = if last && index > 0 { 6.0 } else { 4.0 };
        columns.push(BlankColumn::minutes(speed, Example::Number(minutes)));
        if index == 0 {
            columns.push(BlankColumn::minutes(REST, Example::Blank));
        }
    }
    columns.extend(readings.into_iter().map(BlankColumn::number));
    columns.push(BlankColumn::text(
        "note",
        "remarks",
        "Anything: it is kept, and not read as a number.",
        Example::Text("an example: it may stay"),
    ));
    columns
}

/// Whether most doughs need it.
fn is_usual(number: Number) -> bool {
    use Number as N;
    matches!(
        number,
        N::FlourKg
            | N::FlourC
            | N::WaterKg
            | N::WaterC
            | N::IceKg
            | N::SaltKg
            | N::RoomC
            | N::BowlC
            | N::DoughC
            | N::Development
    )
}

/// What a number is, in a word or two, and what to write.
fn words(number: Number) -> (&'static str, &'static str) {
    use Number as N;
    match number {
        N::FlourKg => ("flour", "Flour that goes in, without that of a preferment."),
        N::FlourC => ("flour", "Temperature of the flour as it goes in."),
        N::WaterKg => ("water", "Water that goes in, without ice and without a preferment's."),
        N::WaterC => ("water", "Temperature of the water as it goes in."),
        N::IceKg => ("ice", "Ice that goes in; blank for none."),
        N::IceC => ("ice", "Temperature of the ice; blank for melting ice at 0 °C."),
        N::PrefermentKg => ("preferment", "Preferment that goes in, whole; blank for none."),
        N::PrefermentC => ("preferment", "Temperature of the preferment as it goes in."),
        N::PrefermentHydration => {
            ("preferment", "kg of water a kg of flour in the preferment; blank for 1.")
        }
        N::SaltKg => ("salt", "Salt, as warm as the room; blank for none."),
        N::SugarKg => ("sugar", "Sugar, as warm as the room; blank for none."),
        N::FatKg => ("fat", "Fat or oil, as warm as the room; blank for none."),
        N::OtherKg => ("all else", "Milk, eggs and all else that goes in; blank for none."),
        N::OtherC => ("all else", "Its temperature as it goes in."),
        N::OtherKjPerKgK => ("all else", "Its specific heat; milk has some 3.9."),
        N::RoomC => ("room", "Temperature of the room. Needed in every batch's first row."),
        N::BowlC => ("bowl", "Temperature of the bowl; blank where it is that of the room."),
        N::DoughC => (
            "dough",
            "Temperature of the dough in its middle. Stop the mixer and let the hook come to rest \
             before the probe goes in.",
        ),
        N::Development => (
            "developed",
            "From 0, a shaggy mass, to 1, a full thin window; blank where it was not judged.",
        ),
    }
}

/// A usual dough of a spiral mixer, invented.
fn example(number: Number) -> Option<f64> {
    use Number as N;
    Some(match number {
        N::FlourKg => 10.0,
        N::FlourC => 20.0,
        N::WaterKg => 6.5,
        N::WaterC => 12.0,
        N::SaltKg => 0.2,
        N::RoomC => 22.0,
        N::DoughC => 24.1,
        N::Development => 0.85,
        _ => return None,
    })
}
