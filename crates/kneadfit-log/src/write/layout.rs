//! Which columns a written log has, and in which order.

use std::sync::Arc;

use kneadfit::batch::BatchLog;
use kneadfit::charge::{Charge, REST};

use super::error::WriteError;
use crate::columns::{MINUTES_PREFIX, Number};
use crate::formula::said_of;
use crate::names::is_speed_name;

/// Which columns the file has.
pub(super) struct Layout {
    pub(super) date: bool,
    pub(super) flour: bool,
    /// Those before the minutes, then those after.
    pub(super) inputs: Vec<Number>,
    pub(super) speeds: Vec<Arc<str>>,
    pub(super) readings: Vec<Number>,
    pub(super) note: bool,
}

impl Layout {
    pub(super) fn of(logs: &[&BatchLog], speeds: Vec<Arc<str>>, note: bool) -> Self {
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
            note,
        }
    }

    pub(super) fn header(&self) -> impl Iterator<Item = String> {
        let texts =
            [("batch", true), ("machine", true), ("date", self.date), ("flour", self.flour)];
        texts
            .into_iter()
            .filter(|&(_, there)| there)
            .map(|(name, _)| name.to_owned())
            .chain(self.inputs.iter().map(|number| number.name().to_owned()))
            .chain(self.speeds.iter().map(|speed| format!("{MINUTES_PREFIX}{speed}")))
            .chain(self.readings.iter().map(|number| number.name().to_owned()))
            .chain(self.note.then(|| "note".to_owned()))
    }
}

/// What stands in a column for a charge; `None`: a blank cell.
pub(super) fn written(charge: &Charge, number: Number) -> Option<f64> {
    let value = said_of(charge, number).flatten()?;
    // A mass of zero is no ingredient, and what belongs to it says nothing.
    (value != 0.0 || !number.name().ends_with("_kg")).then_some(value)
}

/// One order of columns in which every machine's speeds keep theirs, rest where
/// the fewest stages need a second row.
pub(super) fn merged_speeds(logs: &[&BatchLog]) -> Result<Vec<Arc<str>>, WriteError> {
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
