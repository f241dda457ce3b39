//! One dough from the command line, brought into the log's columns, so that it goes
//! through the same checks as a row of a file.

use std::sync::Arc;

use kneadfit::charge::REST;
use kneadfit_log::{LogRead, Problem, ReadOptions, Severity, read_log};

use super::arguments::{DoughArguments, known};
use crate::terminal::{error, warning};

/// How the dough is called, and where it comes from.
pub const NAME: &str = "dough";
const SOURCE: &str = "command line";

/// Which option a column of the log is.
const OPTIONS: [(&str, &str); 16] = [
    ("flour_kg", "--flour"),
    ("flour_c", "--flour"),
    ("water_kg", "--water"),
    ("water_c", "--water"),
    ("ice_kg", "--ice"),
    ("ice_c", "--ice"),
    ("salt_kg", "--salt"),
    ("sugar_kg", "--sugar"),
    ("fat_kg", "--fat"),
    ("preferment_kg", "--preferment"),
    ("preferment_c", "--preferment"),
    ("preferment_hydration", "--preferment-hydration"),
    ("room_c", "--room"),
    ("bowl_c", "--bowl"),
    ("flour", "--flour-name"),
    ("minutes_", "--minutes"),
];

/// Reads the dough as a log of one row.
pub fn read(dough: &DoughArguments, machine: &str, speeds: &[Arc<str>]) -> anyhow::Result<LogRead> {
    known("--minutes", &dough.minutes, speeds)?;
    let mut cells: Vec<(String, String)> = vec![("batch".into(), NAME.into())];
    let mut put = |column: &str, value: Option<f64>| {
        cells.extend(value.map(|value| (column.to_owned(), value.to_string())));
    };
    for (name, portion) in [
        ("flour", dough.flour),
        ("water", dough.water),
        ("ice", dough.ice),
        ("preferment", dough.preferment),
    ] {
        put(&format!("{name}_kg"), portion.map(|p| p.mass_kg));
        put(&format!("{name}_c"), portion.and_then(|p| p.temperature_c));
    }
    for (column, value) in [
        ("salt_kg", dough.salt),
        ("sugar_kg", dough.sugar),
        ("fat_kg", dough.fat),
        ("preferment_hydration", dough.preferment_hydration),
        ("room_c", dough.room),
        ("bowl_c", dough.bowl),
    ] {
        put(column, value);
    }
    cells.extend(dough.flour_name.clone().map(|name| ("flour".into(), name)));
    if !dough.minutes.is_empty() {
        let given = |speed: &str| dough.minutes.iter().find(|m| m.speed == speed);
        let cell = |speed: &str| {
            let minutes = given(speed).map(|m| m.minutes.to_string()).unwrap_or_default();
            (format!("minutes_{speed}"), minutes)
        };
        for (index, speed) in speeds.iter().enumerate() {
            cells.push(cell(speed));
            if index == 0 && given(REST).is_some() {
                cells.push(cell(REST));
            }
        }
    }
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(cells.iter().map(|(column, _)| column))?;
    writer.write_record(cells.iter().map(|(_, value)| value))?;
    let text = writer.into_inner()?;
    Ok(read_log(SOURCE, machine, &text[..], &ReadOptions::planning()))
}

/// Says what is wrong with the dough, by the options that brought it.
pub fn say(problems: &[Problem]) {
    for problem in problems {
        let column = problem.column.as_ref().map(|c| &*c.name);
        let option = column.and_then(option_of).unwrap_or("the dough");
        let words = problem.to_string();
        let found = words.lines().find_map(|line| line.trim().strip_prefix("found:"));
        let found = found.map(|found| format!("found {}, ", found.trim())).unwrap_or_default();
        let hint = problem.hint().map(|hint| format!("; {hint}")).unwrap_or_default();
        let text = format!("{option}: {found}expected {}{hint}", problem.expected());
        match problem.severity {
            Severity::Error => error(&text),
            Severity::Doubt => warning(&text),
        }
    }
}

/// The option that fills a column.
fn option_of(column: &str) -> Option<&'static str> {
    let fits = |name: &str| column == name || (name.ends_with('_') && column.starts_with(name));
    OPTIONS.iter().find(|(name, _)| fits(name)).map(|(_, option)| *option)
}
