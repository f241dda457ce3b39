//! A log to canonical CSV: what the reader reads back as it was.

use std::collections::HashSet;
use std::io::Write;
use std::sync::Arc;

use kneadfit::batch::{Batch, BatchLog, Reading};
use kneadfit::charge::{Charge, Material, REST};
use thiserror::Error;

use crate::columns::{MINUTES_PREFIX, Number};
use crate::decimal::Decimal;
use crate::formula::said_of;
use crate::names::is_speed_name;
use crate::row::is_date;

/// Why a log cannot be written so that it reads back.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum WriteError {
    /// The output refused.
    #[error("cannot write the log")]
    Output(#[from] csv::Error),
    /// A name or day that the reader would not take, or not take as it is.
    #[error("{column} of batch {batch:?} cannot be {text:?} in a log")]
    Text {
        /// The batch.
        batch: Arc<str>,
        /// The column.
        column: &'static str,
        /// What would have to be written.
        text: Arc<str>,
    },
    /// A speed without a readable name.
    #[error("machine {machine:?} has a speed {speed:?}, which cannot head a column")]
    SpeedName {
        /// The machine.
        machine: Arc<str>,
        /// The speed.
        speed: Arc<str>,
    },
    /// Two machines use the same speeds in different orders; columns have one.
    #[error("machine {machine:?} uses {speed:?} in another order than a machine before")]
    SpeedOrder {
        /// The machine.
        machine: Arc<str>,
        /// The speed.
        speed: Arc<str>,
    },
    /// A phase at a speed that the log does not list.
    #[error("batch {batch:?}: {speed:?} is not a speed of its machine")]
    UnknownSpeed {
        /// The batch.
        batch: Arc<str>,
        /// The speed.
        speed: Arc<str>,
    },
    /// Two batches of one machine under one name would read as one.
    #[error("machine {machine:?} has two batches {batch:?}")]
    BatchTwice {
        /// The machine.
        machine: Arc<str>,
        /// The batch.
        batch: Arc<str>,
    },
    /// A log has one column a material.
    #[error("batch {batch:?} has two ingredients that would stand in {column}")]
    IngredientTwice {
        /// The batch.
        batch: Arc<str>,
        /// The column.
        column: &'static str,
    },
    /// Salt, sugar and fat have no column for a temperature: they are at the room's.
    #[error("batch {batch:?}: {column} is at {temperature_c} °C, and a log cannot say so")]
    NotAtRoomTemperature {
        /// The batch.
        batch: Arc<str>,
        /// The column of its mass.
        column: &'static str,
        /// Its temperature, °C.
        temperature_c: f64,
    },
    /// A batch without a stage has no row.
    #[error("batch {batch:?} has no stage, and so no row")]
    NoStage {
        /// The batch.
        batch: Arc<str>,
    },
}

/// Writes the logs of one or several machines as one canonical CSV file.
///
/// One row a stage, in the order of the batches; numbers in the shortest form
/// that reads back to the same bits; a column only where some batch needs it.
/// Read again, a log is as it was, where its batches are as the reader makes
/// them: ingredients in the order of the columns and none of zero mass, phases in
/// the order of the speeds and none of zero minutes. A stage whose phases go back
/// to an earlier speed is written as several rows, the last with its reading.
///
/// # Errors
///
/// The first thing that a log cannot say, as a [`WriteError`], before a byte is
/// written; or the output's own failure.
///
/// # Examples
///
/// ```
/// use kneadfit::batch::{Batch, BatchLog};
/// use kneadfit::charge::{Charge, Material, Phase};
///
/// let charge = Charge::new(24.0).with(Material::Flour, 10.0, 21.0).with(Material::Water, 6.5, 12.0);
/// let batch = Batch::new("1", charge, vec![Phase::mixing("low", 4.0)]).read_dough(19.8);
/// let log = BatchLog::new("spiral", ["low"], vec![batch])?;
///
/// let mut text = Vec::new();
/// kneadfit_log::write_logs(&[log], &mut text)?;
/// assert_eq!(
///     String::from_utf8(text)?,
///     "batch,machine,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,dough_c\n\
///      1,spiral,10,21,6.5,12,24,4,19.8\n"
/// );
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn write_logs(logs: &[BatchLog], output: impl Write) -> Result<(), WriteError> {
    let speeds = merged_speeds(logs)?;
    for log in logs {
        let mut names = HashSet::new();
        for batch in &log.batches {
            if !names.insert(&batch.id) {
                let (machine, batch) = (log.machine.clone(), batch.id.clone());
                return Err(WriteError::BatchTwice { machine, batch });
            }
            check(log, batch)?;
        }
    }
    let layout = Layout::of(logs, speeds);
    let mut writer = csv::Writer::from_writer(output);
    writer.write_record(layout.header())?;
    for log in logs {
        for batch in &log.batches {
            write_batch(log, batch, &layout, &mut writer)?;
        }
    }
    writer.flush().map_err(csv::Error::from)?;
    Ok(())
}

/// Which columns the file has.
struct Layout {
    date: bool,
    flour: bool,
    /// Those before the minutes, then those after.
    inputs: Vec<Number>,
    speeds: Vec<Arc<str>>,
    readings: Vec<Number>,
}

impl Layout {
    fn of(logs: &[BatchLog], speeds: Vec<Arc<str>>) -> Self {
        let batches = || logs.iter().flat_map(|log| &log.batches);
        let readings = || batches().flat_map(|batch| &batch.stages).map(|stage| stage.reading);
        let needed = |number: Number| match number {
            Number::DoughC => true,
            Number::Development => readings().any(|reading| reading.development.is_some()),
            _ => batches().any(|batch| written(&batch.charge, number).is_some()),
        };
        let (readings, inputs) = Number::ALL
            .into_iter()
            .filter(|&number| number == Number::RoomC || needed(number))
            .partition(|number| matches!(number, Number::DoughC | Number::Development));
        Self {
            date: batches().any(|batch| batch.date.is_some()),
            flour: batches().any(|batch| batch.charge.flour_name.is_some()),
            inputs,
            speeds,
            readings,
        }
    }

    fn header(&self) -> impl Iterator<Item = String> {
        let texts =
            [("batch", true), ("machine", true), ("date", self.date), ("flour", self.flour)];
        texts
            .into_iter()
            .filter(|&(_, there)| there)
            .map(|(name, _)| name.to_owned())
            .chain(self.inputs.iter().map(|number| number.name().to_owned()))
            .chain(self.speeds.iter().map(|speed| format!("{MINUTES_PREFIX}{speed}")))
            .chain(self.readings.iter().map(|number| number.name().to_owned()))
    }
}

/// What stands in a column for a charge; `None`: a blank cell.
fn written(charge: &Charge, number: Number) -> Option<f64> {
    let value = said_of(charge, number).flatten()?;
    // A mass of zero is no ingredient, and what belongs to it says nothing.
    (value != 0.0 || !number.name().ends_with("_kg")).then_some(value)
}

/// One order of columns in which every machine's speeds keep theirs, rest where
/// the fewest stages need a second row.
fn merged_speeds(logs: &[BatchLog]) -> Result<Vec<Arc<str>>, WriteError> {
    let mut order: Vec<Arc<str>> = Vec::new();
    for log in logs {
        let mut next = 0;
        for speed in &log.speeds {
            let (machine, speed) = (log.machine.clone(), speed.clone());
            if !is_speed_name(&speed) || &*speed == REST {
                return Err(WriteError::SpeedName { machine, speed });
            }
            match order.iter().position(|known| *known == speed) {
                Some(known) if known < next => {
                    return Err(WriteError::SpeedOrder { machine, speed });
                }
                Some(known) => next = known + 1,
                None => {
                    order.insert(next, speed);
                    next += 1;
                }
            }
        }
    }
    let stages = || logs.iter().flat_map(|log| &log.batches).flat_map(|batch| &batch.stages);
    if !stages().any(|stage| stage.phases.iter().any(|phase| phase.is_rest())) {
        return Ok(order);
    }
    // What a rest column before the speed of index k costs: the neighbours of a
    // rest that stand on its wrong side.
    let mut costs = vec![0_usize; order.len() + 1];
    let index = |speed: &str| order.iter().position(|known| **known == *speed);
    for stage in stages() {
        for pair in stage.phases.windows(2) {
            let (first, second) = (&pair[0], &pair[1]);
            let (rest_first, other) = match (first.is_rest(), second.is_rest()) {
                (true, false) => (true, index(&second.speed)),
                (false, true) => (false, index(&first.speed)),
                _ => continue,
            };
            let Some(other) = other else { continue };
            for (place, cost) in costs.iter_mut().enumerate() {
                *cost += usize::from(rest_first == (place > other));
            }
        }
    }
    let best = (0..costs.len()).rev().min_by_key(|&place| costs[place]).unwrap_or(0);
    order.insert(best, REST.into());
    Ok(order)
}

/// Refuses what a log cannot say of a batch.
fn check(log: &BatchLog, batch: &Batch) -> Result<(), WriteError> {
    let texts = [
        ("batch", Some(&batch.id)),
        ("machine", Some(&log.machine)),
        ("date", batch.date.as_ref()),
        ("flour", batch.charge.flour_name.as_ref()),
    ];
    for (column, text) in texts {
        let Some(text) = text else { continue };
        let plain = !text.is_empty() && text.trim() == &**text;
        if !plain || (column == "date" && !is_date(text)) {
            return Err(WriteError::Text { batch: batch.id.clone(), column, text: text.clone() });
        }
    }
    let mut seen = Vec::new();
    for ingredient in batch.charge.ingredients.iter().filter(|i| i.mass_kg != 0.0) {
        let column = mass_column(&ingredient.material);
        let batch_id = || batch.id.clone();
        if seen.contains(&column) {
            return Err(WriteError::IngredientTwice { batch: batch_id(), column });
        }
        seen.push(column);
        let without_column = matches!(column, "salt_kg" | "sugar_kg" | "fat_kg");
        let temperature_c = ingredient.temperature_c;
        if without_column && temperature_c != batch.charge.room_c {
            let batch = batch_id();
            return Err(WriteError::NotAtRoomTemperature { batch, column, temperature_c });
        }
    }
    if batch.stages.is_empty() {
        return Err(WriteError::NoStage { batch: batch.id.clone() });
    }
    match batch.phases().find(|phase| !phase.is_rest() && !log.speeds.contains(&phase.speed)) {
        Some(phase) => {
            let (batch, speed) = (batch.id.clone(), phase.speed.clone());
            Err(WriteError::UnknownSpeed { batch, speed })
        }
        None => Ok(()),
    }
}

fn mass_column(material: &Material) -> &'static str {
    match material {
        Material::Flour => "flour_kg",
        Material::Water => "water_kg",
        Material::Ice => "ice_kg",
        Material::Preferment { .. } => "preferment_kg",
        Material::Salt => "salt_kg",
        Material::Sugar => "sugar_kg",
        Material::Fat => "fat_kg",
        _ => "other_kg",
    }
}

/// Minutes so far at one speed, in decimals as long as they can be.
#[derive(Clone, Copy)]
enum Total {
    Exact(Decimal),
    Rounded(f64),
}

impl Total {
    const ZERO: Self = Self::Exact(Decimal::ZERO);

    fn add(&mut self, minutes: f64) {
        let exact = match *self {
            Total::Exact(before) => Decimal::of(minutes).and_then(|more| before.plus(more)),
            Total::Rounded(_) => None,
        };
        *self = exact.map_or(Total::Rounded(self.to_f64() + minutes), Total::Exact);
    }

    fn to_f64(self) -> f64 {
        match self {
            Total::Exact(decimal) => decimal.to_f64(),
            Total::Rounded(value) => value,
        }
    }

    fn text(self) -> String {
        match self {
            Total::Exact(decimal) => decimal.to_string(),
            Total::Rounded(value) => value.to_string(),
        }
    }
}

fn write_batch<W: Write>(
    log: &BatchLog,
    batch: &Batch,
    layout: &Layout,
    writer: &mut csv::Writer<W>,
) -> Result<(), WriteError> {
    // A blank cell: the speed is not the machine's, or there was no rest.
    let mut totals: Vec<Option<Total>> = layout
        .speeds
        .iter()
        .map(|speed| log.speeds.contains(speed).then_some(Total::ZERO))
        .collect();
    let mut first = true;
    let mut row = |totals: &[Option<Total>], reading: Reading| -> Result<(), WriteError> {
        let head = first.then_some(batch);
        first = false;
        write_row(log, batch, head, totals, reading, layout, writer)
    };
    for stage in &batch.stages {
        let mut latest = None;
        for phase in &stage.phases {
            let Some(index) = layout.speeds.iter().position(|speed| *speed == phase.speed) else {
                let (batch, speed) = (batch.id.clone(), phase.speed.clone());
                return Err(WriteError::UnknownSpeed { batch, speed });
            };
            if latest.is_some_and(|latest| index <= latest) {
                row(&totals, Reading::default())?;
            }
            latest = Some(index);
            totals[index].get_or_insert(Total::ZERO).add(phase.minutes);
        }
        row(&totals, stage.reading)?;
    }
    Ok(())
}

fn write_row<W: Write>(
    log: &BatchLog,
    batch: &Batch,
    head: Option<&Batch>,
    totals: &[Option<Total>],
    reading: Reading,
    layout: &Layout,
    writer: &mut csv::Writer<W>,
) -> Result<(), WriteError> {
    let number = |value: Option<f64>| value.map(|v| v.to_string()).unwrap_or_default();
    writer.write_field(&*batch.id)?;
    writer.write_field(&*log.machine)?;
    if layout.date {
        writer.write_field(head.and_then(|b| b.date.as_deref()).unwrap_or_default())?;
    }
    if layout.flour {
        let name = head.and_then(|b| b.charge.flour_name.as_deref());
        writer.write_field(name.unwrap_or_default())?;
    }
    for &input in &layout.inputs {
        writer.write_field(number(head.and_then(|b| written(&b.charge, input))))?;
    }
    for total in totals {
        writer.write_field(total.map(Total::text).unwrap_or_default())?;
    }
    for reading_column in &layout.readings {
        writer.write_field(number(match reading_column {
            Number::DoughC => reading.dough_c,
            _ => reading.development,
        }))?;
    }
    writer.write_record(None::<&[u8]>)?;
    Ok(())
}
