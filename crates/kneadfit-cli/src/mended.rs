//! What the fit would be if a suspected slip were mended: the baker decides, in the log.

use kneadfit::calibration::{Calibration, Options, calibrate};
use kneadfit_log::{LogRead, Mend, MendedCell, Problem, hunt};
use rayon::prelude::*;
use serde::Serialize;

use crate::plots::text::{number, shortened};
use crate::report::bakers::Bakers;
use crate::report::derived::Derived;

/// Slips of one machine that are followed to a fit; the others keep their hint.
const MOST_FOLLOWED: usize = 12;
/// Longer logs are not read again for each slip.
const MOST_ROWS: usize = 50_000;
/// Changes of less than this share are none.
const WORTH: f64 = 0.01;

/// Reads the logs again as if some cells held other numbers; `None`: they cannot be.
pub type Again<'a> = dyn Fn(Vec<MendedCell>) -> Option<LogRead> + Sync + 'a;

/// One slip followed to its fit.
#[derive(Debug, Serialize)]
pub struct IfMended {
    /// Where it is.
    pub whereabouts: String,
    /// What would be read, and what of the fit would change.
    pub words: String,
    mend: Mend,
    /// Each speed, before and after, °C/min.
    speeds: Vec<Speed>,
    forecast_error_k: Change,
}

#[derive(Debug, Serialize)]
struct Speed {
    speed: String,
    warming_c_per_min: Change,
    full_development_min: Option<Change>,
}

#[derive(Clone, Copy, Debug, Serialize)]
struct Change {
    now: Option<f64>,
    mended: Option<f64>,
}

/// Doubts that only a machine's fit shows; none of a log too long to be hunted through.
fn doubts(read: &LogRead, machine: usize, options: &Options) -> Vec<Problem> {
    let log = &read.machines[machine].log;
    let short = log.batches.len() <= kneadfit_log::MOST_BATCHES;
    let calibration = short.then(|| calibrate(log, options).ok()).flatten();
    hunt(read, machine, calibration.filter(Calibration::converged).as_ref())
}

/// Adds them to the problems, machine by machine.
pub fn add_doubts(read: &mut LogRead) {
    let found: Vec<Vec<Problem>> = (0..read.machines.len())
        .into_par_iter()
        .map(|machine| doubts(read, machine, &Options::default()))
        .collect();
    read.problems.extend(found.into_iter().flatten());
}

/// Follows the slips among a machine's problems.
pub fn if_mended(
    problems: &[Problem],
    read: &LogRead,
    calibration: &Calibration,
    level: f64,
    again: &Again<'_>,
) -> Vec<IfMended> {
    if read.rows_read() > MOST_ROWS {
        return Vec::new();
    }
    let slips = problems.iter().filter_map(|problem| Some((problem, problem.mend()?)));
    slips
        .take(MOST_FOLLOWED)
        .filter_map(|(problem, mend)| {
            let mended = again(mend.cells.clone())?;
            let log = mended.machines.iter().find(|m| **m.machine() == *calibration.machine)?;
            let after = calibrate(&log.log, &calibration.options).ok()?;
            after.converged().then(|| followed(problem, mend, calibration, &after, level))
        })
        .collect()
}

fn followed(
    problem: &Problem,
    mend: Mend,
    now: &Calibration,
    after: &Calibration,
    level: f64,
) -> IfMended {
    let (before, mended) = (Bakers::new(now, level), Bakers::new(after, level));
    let place = |speed: &str| after.speeds.iter().position(|s| **s == *speed);
    let speeds: Vec<Speed> = now
        .speeds
        .iter()
        .enumerate()
        .map(|(i, speed)| {
            let j = place(speed);
            let minutes = |bakers: &Bakers<'_>, i| bakers.full_development_min(i);
            Speed {
                speed: speed.to_string(),
                warming_c_per_min: Change::of(
                    Some(before.friction_c_per_min(i)),
                    j.map(|j| mended.friction_c_per_min(j)),
                ),
                full_development_min: minutes(&before, i)
                    .map(|now| Change::of(Some(now), j.and_then(|j| minutes(&mended, j)))),
            }
        })
        .collect();
    let error = |c: &Calibration| c.heat.left_out.map(|e| e.rms);
    let forecast_error_k = Change { now: error(now), mended: error(after) };
    let mut changes = Vec::new();
    for speed in &speeds {
        let name = shortened(&speed.speed, 40);
        let words = speed.warming_c_per_min.words(2, "°C/min");
        changes.extend(words.map(|w| format!("{name} speed would go {w}")));
        let words = speed.full_development_min.and_then(|c| c.words(1, "min"));
        changes.extend(words.map(|w| format!("full development at {name} {w}")));
    }
    let words = forecast_error_k.words(1, "°C");
    changes.extend(words.map(|w| format!("the forecast error {w}")));
    if changes.is_empty() {
        changes.push("no number of the fit would change by 1 %".into());
    }
    let read = problem.mend_in_words().unwrap_or_default();
    IfMended {
        whereabouts: problem.whereabouts(),
        words: format!("{read}; {}", changes.join(", ")),
        mend,
        speeds,
        forecast_error_k,
    }
}

impl Change {
    fn of(now: Option<Derived>, mended: Option<Derived>) -> Self {
        Self { now: now.map(|d| d.value), mended: mended.map(|d| d.value) }
    }

    /// From what to what, where it is worth a word.
    fn words(self, decimals: usize, unit: &str) -> Option<String> {
        let (now, mended) = (self.now?, self.mended?);
        let (from, to) = (number(now, decimals), number(mended, decimals));
        let changed = (mended - now).abs() > WORTH * now.abs() && from != to;
        changed.then(|| format!("from {from} to {to} {unit}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changes_that_do_not_show_are_none() {
        let words =
            |now, mended| Change { now: Some(now), mended: Some(mended) }.words(2, "°C/min");
        assert_eq!(words(0.611, 0.484).as_deref(), Some("from 0.61 to 0.48 °C/min"));
        assert_eq!(words(0.611, 0.613), None);
        assert_eq!(words(0.001, 0.002), None);
        assert_eq!(Change { now: Some(1.0), mended: None }.words(2, ""), None);
    }
}
