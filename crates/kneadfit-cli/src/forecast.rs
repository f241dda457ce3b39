//! `kneadfit forecast`: what a profile says of the doughs of a log, row by row.

use std::collections::HashMap;
use std::fmt::Display;
use std::fs;
use std::path::Path;

use anyhow::{Context, anyhow, bail};
use kneadfit::forecast::{Forecast, ForecastError, Forecaster};
use kneadfit::profile::Profile;
use kneadfit_log::{LogRead, Outcome, ReadOptions, RowRef, harmless};
use serde::Serialize;

use crate::arguments::ForecastArguments;
use crate::failure::Ended;
use crate::plots::text::shortened;
use crate::problems::counted;
use crate::startling::startling;
use crate::system::why;
use crate::terminal::{error, json_result, raw_result, warning};

/// Machines that are named in a message.
const MOST_MACHINES: usize = 5;
/// Faults of batches on standard error beyond this are counted.
const MOST_SHOWN: usize = 20;

pub fn run(arguments: &ForecastArguments) -> anyhow::Result<Ended> {
    let profile = profile(&arguments.profile)?;
    let forecaster = Forecaster::new(&profile)?;
    let machine = profile.machine.id.as_str();
    let paths = std::slice::from_ref(&arguments.log);
    let speeds = profile.machine.speeds.iter().map(String::as_str);
    let options = ReadOptions::forecasting().with_speeds(machine, speeds);
    let read = arguments.reading.read_and_say(paths, options, Some(machine))?.read;
    let mut forecasts = Forecasts::new(&forecaster, machine, arguments.level);
    let rows: Vec<Row<'_>> = read.rows.iter().map(|row| forecasts.row(&read, row)).collect();
    if arguments.json {
        json_result(&rows)?;
    } else {
        raw_result(&csv(&rows)?)?;
    }
    let done = rows.iter().filter(|row| row.forecast.is_some()).count();
    say_refused(&forecasts.refused);
    say_startling(&forecasts.startling);
    say_other_machines(&read, machine);
    if done == 0 {
        error(&format!(
            "no row of {} can be forecast as a batch of {}",
            arguments.log.display(),
            shortened(machine, 60)
        ));
        return Ok(Ended::BadInput);
    }
    let faultless = !read.has_errors() && forecasts.refused.is_empty();
    Ok(if faultless { Ended::Done } else { Ended::BadInput })
}

/// Reads a profile and has it prove itself.
pub fn profile(path: &Path) -> anyhow::Result<Profile> {
    let shown = path.display();
    let bytes = fs::read(path)
        .map_err(|error| anyhow!("cannot read the profile {shown}: {}", why(&error)))?;
    let Ok(text) = String::from_utf8(bytes) else {
        bail!("{shown} is not a profile: it is not text in UTF-8");
    };
    if text.trim().is_empty() {
        bail!("{shown} is not a profile: the file is empty; write it again with `fit`");
    }
    if serde_json::from_str::<serde::de::IgnoredAny>(&text).is_err()
        && !text.trim_start().starts_with(['{', '['])
    {
        bail!(
            "{shown} is not a profile: it is not JSON; the profile comes first, then the log, as \
             in `kneadfit forecast spiral.profile.json tomorrow.csv`"
        );
    }
    let unusable = || format!("{shown} cannot be used as a profile");
    let profile = Profile::from_json(&text).with_context(unusable)?;
    profile.run_self_test().with_context(unusable)?;
    Ok(profile)
}

/// One row of the result.
#[derive(Serialize)]
struct Row<'a> {
    batch: Option<&'a str>,
    machine: Option<&'a str>,
    #[serde(flatten)]
    forecast: Option<Said>,
}

/// What is said of a row that is forecast.
#[derive(Clone, Serialize)]
struct Said {
    dough_c: f64,
    dough_low_c: Option<f64>,
    dough_high_c: Option<f64>,
    development: Option<f64>,
    development_low: Option<f64>,
    development_high: Option<f64>,
    support: String,
}

impl Said {
    fn of(forecast: &Forecast) -> Self {
        let outside: Vec<&str> = forecast.outside.iter().map(|o| &*o.input).collect();
        Self {
            dough_c: forecast.dough_c,
            dough_low_c: forecast.dough_interval_c.map(|i| i.0),
            dough_high_c: forecast.dough_interval_c.map(|i| i.1),
            development: forecast.development,
            development_low: forecast.development_interval.map(|i| i.0),
            development_high: forecast.development_interval.map(|i| i.1),
            support: if outside.is_empty() { "inside".into() } else { outside.join(";") },
        }
    }
}

/// Forecasts of batches, each made once however many rows it has.
struct Forecasts<'a> {
    forecaster: &'a Forecaster,
    machine: &'a str,
    level: f64,
    by_batch: HashMap<(usize, usize), Vec<Said>>,
    /// Batches that the forecaster refuses, and why.
    refused: Vec<ForecastError>,
    /// Readings that are hard to believe.
    startling: Vec<String>,
}

impl<'a> Forecasts<'a> {
    fn new(forecaster: &'a Forecaster, machine: &'a str, level: f64) -> Self {
        Self {
            forecaster,
            machine,
            level,
            by_batch: HashMap::new(),
            refused: Vec::new(),
            startling: Vec::new(),
        }
    }

    fn row<'r>(&mut self, read: &LogRead, row: &'r RowRef) -> Row<'r> {
        let forecast = match row.outcome {
            Outcome::Used { machine, batch, stage }
                if **read.machines[machine].machine() == *self.machine =>
            {
                let stages = self.by_batch.entry((machine, batch)).or_insert_with(|| {
                    let batch = &read.machines[machine].batches()[batch];
                    match self.forecaster.forecast(batch, self.level) {
                        Ok(stages) => {
                            let found = startling(self.forecaster, batch).into_iter();
                            let of = |what| format!("batch {}: {what}", shortened(&batch.id, 60));
                            self.startling.extend(found.map(of));
                            stages.iter().map(Said::of).collect()
                        }
                        Err(refused) => {
                            self.refused.push(refused);
                            Vec::new()
                        }
                    }
                });
                stages.get(stage).cloned()
            }
            _ => None,
        };
        Row { batch: row.batch.as_deref(), machine: row.machine.as_deref(), forecast }
    }
}

/// Says which batches are refused, and why.
pub fn say_refused(refused: &[impl Display]) {
    for refused in refused.iter().take(MOST_SHOWN) {
        error(&format!("{refused}; its rows have blank cells"));
    }
    if refused.len() > MOST_SHOWN {
        let more = refused.len() - MOST_SHOWN;
        error(&format!("and {}", counted(more, "more such batch", "more such batches")));
    }
}

fn say_startling(startling: &[String]) {
    for what in startling.iter().take(MOST_SHOWN) {
        warning(what);
    }
    if startling.len() > MOST_SHOWN {
        let more = startling.len() - MOST_SHOWN;
        warning(&format!("and {}", counted(more, "more such reading", "more such readings")));
    }
}

/// A log of a whole kitchen may be forecast machine by machine: rows of the others are no
/// fault, but they are said.
pub fn say_other_machines(read: &LogRead, machine: &str) {
    let mut names: Vec<&str> = Vec::new();
    let mut rows = 0;
    for row in &read.rows {
        let Some(name) = row.machine.as_deref().filter(|name| *name != machine) else { continue };
        rows += 1;
        // One more than is shown, to know whether there are others.
        if names.len() <= MOST_MACHINES && !names.contains(&name) {
            names.push(name);
        }
    }
    if rows > 0 {
        let shown: Vec<String> =
            names.iter().take(MOST_MACHINES).map(|name| shortened(name, 60)).collect();
        let more = if names.len() > shown.len() { " and others" } else { "" };
        warning(&format!(
            "{} of {}{more}: blank cells, as the profile is of {}",
            counted(rows, "row is", "rows are"),
            shown.join(", "),
            shortened(machine, 60)
        ));
    }
}

/// Degrees of a hundredth, and grades of a thousandth, are finer than anything that is read.
pub const DECIMALS_C: usize = 2;
pub const DECIMALS_GRADE: usize = 3;

fn csv(rows: &[Row<'_>]) -> anyhow::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record([
        "batch",
        "machine",
        "dough_c",
        "dough_low_c",
        "dough_high_c",
        "development",
        "development_low",
        "development_high",
        "support",
    ])?;
    let number = |value: Option<f64>, decimals: usize| {
        value.map(|value| plain_number(value, decimals)).unwrap_or_default()
    };
    for row in rows {
        let said = row.forecast.as_ref();
        let c = |of: fn(&Said) -> Option<f64>| number(said.and_then(of), DECIMALS_C);
        let grade = |of: fn(&Said) -> Option<f64>| number(said.and_then(of), DECIMALS_GRADE);
        writer.write_record([
            &*harmless(row.batch.unwrap_or_default()),
            &*harmless(row.machine.unwrap_or_default()),
            &c(|s| Some(s.dough_c)),
            &c(|s| s.dough_low_c),
            &c(|s| s.dough_high_c),
            &grade(|s| s.development),
            &grade(|s| s.development_low),
            &grade(|s| s.development_high),
            said.map_or("", |s| &s.support),
        ])?;
    }
    Ok(writer.into_inner()?)
}

/// A number for a program: no sign before a zero.
pub fn plain_number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.chars().all(|c| c == '0' || c == '.') => zero.to_owned(),
        _ => text,
    }
}
