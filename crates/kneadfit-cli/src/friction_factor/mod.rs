//! `kneadfit friction-factor`: the trade's number for the doughs of a log, row by row, and
//! how far it drifts.

mod table;

use std::collections::HashMap;

use kneadfit::machine_factor::{Change, FactorError, FactorTeller, MachineFactor};
use kneadfit_log::{LogRead, Outcome, ReadOptions, RowRef, harmless};
use serde::Serialize;

use crate::arguments::FrictionFactorArguments;
use crate::failure::Ended;
use crate::forecast::{DECIMALS_C, plain_number, profile, say_other_machines, say_refused};
use crate::plots::text::{number, shortened};
use crate::problems::counted;
use crate::terminal::{error, json_result, raw_result, result, warning};

/// Batches with ice, or unmixed, that are named; more are counted.
const MOST_NAMED: usize = 20;

pub fn run(arguments: &FrictionFactorArguments) -> anyhow::Result<Ended> {
    let profile = profile(&arguments.profile)?;
    let teller = FactorTeller::new(&profile)?;
    let machine = profile.machine.id.as_str();
    let paths = std::slice::from_ref(&arguments.log);
    let options = ReadOptions::forecasting();
    let read = arguments.reading.read_and_say(paths, options, Some(machine))?.read;
    let factors = Factors::tell(&teller, &read, machine, arguments.level);
    let rows: Vec<Row<'_>> = read.rows.iter().map(|row| factors.row(row)).collect();
    if arguments.json {
        let rows: Vec<Said<'_>> = rows.iter().map(Said::of).collect();
        json_result(&rows)?;
    } else if arguments.table {
        result(&table::table(&rows))?;
    } else {
        raw_result(&csv(&rows)?)?;
    }
    factors.say_what_the_rule_cannot_know();
    say_refused(&factors.refused);
    say_other_machines(&read, machine);
    if rows.iter().all(|row| row.told.is_none()) {
        error(&format!(
            "no row of {} has a friction factor as a batch of {}",
            arguments.log.display(),
            shortened(machine, 60)
        ));
        return Ok(Ended::BadInput);
    }
    let faultless = !read.has_errors() && factors.refused.is_empty();
    Ok(if faultless { Ended::Done } else { Ended::BadInput })
}

/// One row of the result.
struct Row<'a> {
    row: &'a RowRef,
    told: Option<&'a MachineFactor>,
}

/// What is told of each batch of the profile's machine.
#[derive(Default)]
struct Factors {
    by_batch: HashMap<(usize, usize), Vec<Option<MachineFactor>>>,
    /// Batches for which there is no factor, and why.
    refused: Vec<FactorError>,
    /// Words on batches with ice.
    iced: Vec<String>,
    /// Words on rows before which nothing was mixed.
    unmixed: Vec<String>,
}

impl Factors {
    fn tell(teller: &FactorTeller, read: &LogRead, machine: &str, level: f64) -> Self {
        let mut factors = Self::default();
        for (m, log) in read.machines.iter().enumerate() {
            if **log.machine() != *machine {
                continue;
            }
            for (b, batch) in log.batches().iter().enumerate() {
                let told = match teller.tell(batch, level) {
                    Ok(told) => told,
                    Err(refused) => {
                        factors.refused.push(refused);
                        continue;
                    }
                };
                factors.mind(&batch.id, &told);
                factors.by_batch.insert((m, b), told);
            }
        }
        factors
    }

    /// Notes what is to be said of a batch.
    fn mind(&mut self, batch: &str, told: &[Option<MachineFactor>]) {
        let batch = shortened(batch, 60);
        if let Some(factor) = told.iter().flatten().find(|factor| factor.ice_kg > 0.0) {
            self.iced.push(format!(
                "batch {batch}: the rule cannot know ice; the water counts at {} °C, to which \
                 water and ice are equal",
                number(factor.water_c, 1)
            ));
        }
        let unmixed = told.iter().filter(|told| told.is_none()).count();
        if unmixed > 0 {
            let rows = counted(unmixed, "row", "rows");
            self.unmixed.push(format!(
                "batch {batch}: no friction before the first minute of mixing; {rows} with blank \
                 cells"
            ));
        }
    }

    fn row<'a>(&'a self, row: &'a RowRef) -> Row<'a> {
        let told = match row.outcome {
            Outcome::Used { machine, batch, stage } => {
                self.by_batch.get(&(machine, batch)).and_then(|told| told.get(stage)?.as_ref())
            }
            _ => None,
        };
        Row { row, told }
    }

    fn say_what_the_rule_cannot_know(&self) {
        for (said, one, many) in [
            (&self.iced, "more batch with ice", "more batches with ice"),
            (&self.unmixed, "more batch with such rows", "more batches with such rows"),
        ] {
            said.iter().take(MOST_NAMED).for_each(|words| warning(words));
            if said.len() > MOST_NAMED {
                warning(&format!("and {}", counted(said.len() - MOST_NAMED, one, many)));
            }
        }
    }
}

/// A row for a program.
#[derive(Serialize)]
struct Said<'a> {
    batch: Option<&'a str>,
    machine: Option<&'a str>,
    #[serde(flatten)]
    factor: Option<SaidFactor>,
}

/// What is said of a row that has a factor; the keys are the columns.
#[derive(Serialize)]
struct SaidFactor {
    temperatures: String,
    n: u8,
    water_c: f64,
    dough_c: f64,
    friction_factor_k: f64,
    friction_factor_low_k: Option<f64>,
    friction_factor_high_k: Option<f64>,
    friction_factor_f: f64,
    rise_k: f64,
    rise_f: f64,
    drift_2_min_more_k: Option<f64>,
    drift_2_min_less_k: Option<f64>,
    drift_half_charge_k: Option<f64>,
    drift_room_8_warmer_k: Option<f64>,
    drift_room_8_colder_k: Option<f64>,
    support: String,
    drift_support: String,
}

impl<'a> Said<'a> {
    fn of(row: &Row<'a>) -> Self {
        Self {
            batch: row.row.batch.as_deref(),
            machine: row.row.machine.as_deref(),
            factor: row.told.map(SaidFactor::of),
        }
    }
}

impl SaidFactor {
    fn of(told: &MachineFactor) -> Self {
        let drift = |change| told.drift(change).map(|drift| drift.factor_k);
        let outside: Vec<&str> = told.forecast.outside.iter().map(|o| &*o.input).collect();
        let mut drifted: Vec<&str> = Vec::new();
        for input in told.drifts.iter().flat_map(|d| &d.outside) {
            if !drifted.contains(&&**input) {
                drifted.push(input);
            }
        }
        let support = |outside: Vec<&str>| match outside[..] {
            [] => "inside".to_owned(),
            _ => outside.join(";"),
        };
        Self {
            temperatures: told.counted().names().join(";"),
            n: told.counted().n(),
            water_c: told.water_c,
            dough_c: told.forecast.dough_c,
            friction_factor_k: told.factor.k(),
            friction_factor_low_k: told.factor_interval.map(|i| i.0.k()),
            friction_factor_high_k: told.factor_interval.map(|i| i.1.k()),
            friction_factor_f: told.factor.fahrenheit(),
            rise_k: told.rise().k(),
            rise_f: told.rise().fahrenheit(),
            drift_2_min_more_k: drift(Change::MoreMinutes),
            drift_2_min_less_k: drift(Change::FewerMinutes),
            drift_half_charge_k: drift(Change::HalfCharge),
            drift_room_8_warmer_k: drift(Change::WarmerRoom),
            drift_room_8_colder_k: drift(Change::ColderRoom),
            support: support(outside),
            drift_support: support(drifted),
        }
    }
}

const COLUMNS: [&str; 19] = [
    "batch",
    "machine",
    "temperatures",
    "n",
    "water_c",
    "dough_c",
    "friction_factor_k",
    "friction_factor_low_k",
    "friction_factor_high_k",
    "friction_factor_f",
    "rise_k",
    "rise_f",
    "drift_2_min_more_k",
    "drift_2_min_less_k",
    "drift_half_charge_k",
    "drift_room_8_warmer_k",
    "drift_room_8_colder_k",
    "support",
    "drift_support",
];

fn csv(rows: &[Row<'_>]) -> anyhow::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS)?;
    for row in rows {
        let Said { batch, machine, factor } = Said::of(row);
        let mut cells: Vec<String> =
            [batch, machine].map(|name| harmless(name.unwrap_or_default()).into_owned()).into();
        match factor {
            None => cells.resize(COLUMNS.len(), String::new()),
            Some(f) => {
                let numbers = [
                    Some(f.water_c),
                    Some(f.dough_c),
                    Some(f.friction_factor_k),
                    f.friction_factor_low_k,
                    f.friction_factor_high_k,
                    Some(f.friction_factor_f),
                    Some(f.rise_k),
                    Some(f.rise_f),
                    f.drift_2_min_more_k,
                    f.drift_2_min_less_k,
                    f.drift_half_charge_k,
                    f.drift_room_8_warmer_k,
                    f.drift_room_8_colder_k,
                ];
                cells.extend([f.temperatures, f.n.to_string()]);
                cells.extend(numbers.map(|value| {
                    value.map(|value| plain_number(value, DECIMALS_C)).unwrap_or_default()
                }));
                cells.extend([f.support, f.drift_support]);
            }
        }
        writer.write_record(&cells)?;
    }
    Ok(writer.into_inner()?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use kneadfit::machine_factor::{CHANGED_MINUTES, CHANGED_ROOM_K};

    /// The columns' names say by how much a dough is changed.
    #[test]
    fn columns_name_the_changes_that_are_made() {
        let minutes = format!("_{CHANGED_MINUTES}_min_");
        let room = format!("_room_{CHANGED_ROOM_K}_");
        assert_eq!(COLUMNS.iter().filter(|c| c.contains(&minutes)).count(), 2);
        assert_eq!(COLUMNS.iter().filter(|c| c.contains(&room)).count(), 2);
    }
}
