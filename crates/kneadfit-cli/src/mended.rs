//! What the fit would be if a suspected slip were mended: the baker decides, in the log.

use kneadfit::calibration::{Calibration, Options, calibrate};
use kneadfit_log::{LogRead, Mend, MendedCell, Problem, Severity, Slip, hunt};
use rayon::prelude::*;
use serde::Serialize;

use crate::plots::text::{number, shortened};
use crate::report::bakers::Bakers;
use crate::report::derived::Derived;

/// Rows of one machine whose slips are followed to a fit one by one; the others count in the
/// fit of all together.
const MOST_FOLLOWED: usize = 12;
/// Rounds in which a row's faults come to light, one behind the other.
const MOST_ROUNDS: usize = 4;
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
    slips: Vec<Slip>,
    cells: Vec<MendedCell>,
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

/// The slips of one row, which count only when all of them are mended.
struct RowOfSlips<'a> {
    problems: Vec<&'a Problem>,
    slips: Vec<Slip>,
    cells: Vec<MendedCell>,
}

impl RowOfSlips<'_> {
    fn words(&self) -> String {
        let words: Vec<String> = self.problems.iter().filter_map(|p| p.mend_in_words()).collect();
        words.join(", ")
    }
}

fn by_row(problems: &[Problem]) -> Vec<RowOfSlips<'_>> {
    let mut rows: Vec<RowOfSlips<'_>> = Vec::new();
    for problem in problems {
        let Some(Mend { slip, cells, .. }) = problem.mend() else { continue };
        let same = |row: &&mut RowOfSlips<'_>| {
            let first = row.problems[0];
            first.source == problem.source && first.place == problem.place
        };
        match rows.iter_mut().rev().take(MOST_FOLLOWED).find(same) {
            Some(row) => {
                row.problems.push(problem);
                row.slips.push(slip);
                row.cells.extend(cells);
            }
            None => rows.push(RowOfSlips { problems: vec![problem], slips: vec![slip], cells }),
        }
    }
    rows
}

/// Follows the slips among a machine's problems: row by row, then all together.
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
    let rows = by_row(problems);
    let fit = |cells: &[MendedCell]| {
        let mended = again(cells.to_vec())?;
        let log = mended.machines.iter().find(|m| **m.machine() == *calibration.machine)?;
        let after =
            calibrate(&log.log, &calibration.options).ok().filter(Calibration::converged)?;
        Some((mended, after))
    };
    let mut told: Vec<IfMended> = rows
        .iter()
        .take(MOST_FOLLOWED)
        .filter_map(|row| {
            let first = row.problems[0];
            let (mut slips, mut cells) = (row.slips.clone(), row.cells.clone());
            let mut words = vec![row.words()];
            // What is wrong with a row may show only once its cells can be read.
            for _ in 0..MOST_ROUNDS {
                let (mended, after) = fit(&cells)?;
                let of_row = mended.problems.iter().filter(|p| is_error_of(p, first));
                let left: Vec<&Problem> = of_row.collect();
                let mends: Vec<(&Problem, Mend)> =
                    left.iter().filter_map(|p| Some((*p, p.mend()?))).collect();
                if left.is_empty() || mends.is_empty() {
                    let after = left.is_empty().then_some(&after);
                    let said = (first.whereabouts(), words.join(", "));
                    return Some(followed(said, (slips, cells), calibration, after, level));
                }
                for (problem, mend) in mends {
                    words.extend(problem.mend_in_words());
                    slips.push(mend.slip);
                    cells.extend(mend.cells);
                }
            }
            None
        })
        .collect();
    if rows.len() > 1 {
        // What came to light of the rows that were followed counts too.
        let rest = rows.iter().skip(MOST_FOLLOWED);
        let cells: Vec<MendedCell> = (told.iter().flat_map(|t| t.cells.clone()))
            .chain(rest.clone().flat_map(|row| row.cells.clone()))
            .collect();
        if let Some((mended, after)) = fit(&cells) {
            let left = rows.iter().filter(|row| is_left(row.problems[0], &mended)).count();
            let slips = (told.iter().flat_map(|t| t.slips.clone()))
                .chain(rest.flat_map(|row| row.slips.clone()))
                .collect();
            let place = format!("all {} rows together", rows.len());
            let mut read = "each read as its hint has it".to_owned();
            if left > 0 {
                read.push_str(&format!(" ({left} of them would still be set aside)"));
            }
            told.push(followed((place, read), (slips, cells), calibration, Some(&after), level));
        }
    }
    told
}

/// Whether the row of a problem has an error yet.
fn is_left(of: &Problem, mended: &LogRead) -> bool {
    mended.problems.iter().any(|p| is_error_of(p, of))
}

/// Whether a problem is an error of the same row as another.
fn is_error_of(problem: &Problem, of: &Problem) -> bool {
    problem.severity == Severity::Error && problem.source == of.source && problem.place == of.place
}

/// `after`: the fit of the mended log; `None`: the row would still be set aside.
fn followed(
    (whereabouts, read): (String, String),
    (slips, cells): (Vec<Slip>, Vec<MendedCell>),
    now: &Calibration,
    after: Option<&Calibration>,
    level: f64,
) -> IfMended {
    let before = Bakers::new(now, level);
    let place = |speed: &str| after.and_then(|a| a.speeds.iter().position(|s| **s == *speed));
    let mended = after.map(|after| Bakers::new(after, level));
    let speeds: Vec<Speed> = now
        .speeds
        .iter()
        .enumerate()
        .map(|(i, speed)| {
            let then = mended.as_ref().zip(place(speed));
            Speed {
                speed: speed.to_string(),
                warming_c_per_min: Change::of(
                    Some(before.friction_c_per_min(i)),
                    then.map(|(bakers, j)| bakers.friction_c_per_min(j)),
                ),
                full_development_min: before.full_development_min(i).map(|now| {
                    Change::of(Some(now), then.and_then(|(b, j)| b.full_development_min(j)))
                }),
            }
        })
        .collect();
    let error = |c: &Calibration| c.heat.left_out.map(|e| e.rms);
    let forecast_error_k = Change { now: error(now), mended: after.and_then(error) };
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
    if after.is_none() {
        changes.push("the row would still be set aside for what else is wrong with it".into());
    } else if changes.is_empty() {
        changes.push("no number of the fit would change by 1\u{A0}%".into());
    }
    IfMended {
        whereabouts,
        words: format!("{read}; {}", changes.join(", ")),
        slips,
        cells,
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
