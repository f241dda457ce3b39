//! A thermometer that shows the same for weeks.

use std::ops::Range;

use jiff::civil::Date;

use super::Finder;
use crate::problem::{Problem, ProblemKind};
use crate::unit::Unit;

/// So many batches in a row with the same number, over so many days, may be more than chance:
/// doughs and rooms vary by more than a thermometer's last digit. Common practice, no source.
const BATCHES: usize = 8;
const DAYS: i32 = 20;
/// The same of a log without dates.
const UNDATED_BATCHES: usize = 20;
/// A run that comes by chance once in so many such logs is none.
const ONCE_IN: f64 = 1000.0;
/// What is read of every batch. Flour and water may come from one refrigerator all year.
const READ: [&str; 2] = ["room_c", "dough_c"];

/// A number in several batches, one after the other.
struct Run {
    first: usize,
    count: usize,
}

impl Finder<'_> {
    pub(super) fn stuck(&self) -> Vec<Problem> {
        READ.iter().flat_map(|name| self.stuck_at(name)).collect()
    }

    fn stuck_at(&self, name: &str) -> Vec<Problem> {
        let batches = self.machine.batches();
        let values: Vec<Option<f64>> = batches
            .iter()
            .map(|batch| match name {
                "room_c" => Some(batch.charge.room_c),
                _ => batch.stages.last().and_then(|s| s.reading.dough_c),
            })
            .collect();
        let day = |index: usize| batches[index].date.as_deref()?.parse::<Date>().ok();
        let mut doubts = Vec::new();
        let step = self.step(name, &values);
        for Run { first, count } in runs(&values) {
            let Some(found) = values[first] else { continue };
            let last = first + count - 1;
            let days = day(first).zip(day(last)).map(|(from, to)| (to - from).get_days());
            let long = match days {
                Some(days) => count >= BATCHES && days >= DAYS,
                None => count >= UNDATED_BATCHES,
            };
            if !long || is_chance(&values, first..last + 1, step) {
                continue;
            }
            let row = match name {
                "room_c" => self.machine.rows_of(first)[0],
                _ => *self.machine.rows_of(first).last().unwrap_or(&0),
            };
            let kind = ProblemKind::Stuck { batches: count, days };
            doubts.push(self.doubt(row, name, found, kind));
        }
        doubts
    }

    /// The step in which a column is written, K.
    fn step(&self, name: &str, values: &[Option<f64>]) -> f64 {
        let unit = self.unit(self.machine.rows_of(0)[0], name).unwrap_or_default();
        let in_steps = |step: f64| {
            values.iter().flatten().all(|own| {
                let steps = unit.written(*own) / step;
                (steps - steps.round()).abs() < 1e-6
            })
        };
        let step = [1.0, 0.5, 0.2].into_iter().find(|step| in_steps(*step)).unwrap_or(0.1);
        if unit == Unit::Fahrenheit { step / 1.8 } else { step }
    }
}

/// Whether such a run comes about in a kitchen whose readings differ as those outside of it do.
fn is_chance(values: &[Option<f64>], run: Range<usize>, step_k: f64) -> bool {
    let outside: Vec<f64> =
        values[..run.start].iter().chain(&values[run.end..]).flatten().copied().collect();
    // A room that is held within a step may show the same for as long as it is.
    let scatter = deviation(&outside);
    if scatter.is_some_and(|deviation_k| deviation_k < step_k) {
        return true;
    }
    let is_outside = |index: &usize| !(run.contains(index) && run.contains(&(index + 1)));
    let pairs: Vec<(f64, f64)> = (0..values.len().saturating_sub(1))
        .filter(is_outside)
        .filter_map(|index| Some((values[index]?, values[index + 1]?)))
        .collect();
    let repeats = |pairs: &[(f64, f64)], likely: f64| {
        let same = pairs.iter().filter(|(before, after)| before == after).count();
        // Few pairs tell little.
        (same as f64 + 4.0 * likely) / (pairs.len() as f64 + 4.0)
    };
    // Readings that scatter by 1 K repeat the one before in 28 % for each degree of a step:
    // 1/(2√π).
    let of_any = repeats(&pairs, 0.28 * step_k);
    let of_it: Vec<_> =
        pairs.iter().filter(|pair| Some(pair.0) == values[run.start]).copied().collect();
    let repeat = of_any.max(repeats(&of_it, of_any));
    let runs = values.len() as f64 * (1.0 - repeat);
    runs * repeat.powf(run.len() as f64 - 1.0) > 1.0 / ONCE_IN
}

/// The standard deviation; `None` of fewer than two.
fn deviation(values: &[f64]) -> Option<f64> {
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    (count > 1.0).then(|| (squares / (count - 1.0)).sqrt())
}

/// The runs of equal values, from the first; what is not read ends one.
fn runs(values: &[Option<f64>]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (index, value) in values.iter().enumerate() {
        match runs.last_mut() {
            Some(run) if value.is_some() && *value == values[run.first] => run.count += 1,
            _ => runs.push(Run { first: index, count: 1 }),
        }
    }
    runs
}
