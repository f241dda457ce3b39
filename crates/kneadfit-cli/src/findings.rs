//! What a fit found beside its numbers, for the table and the report alike.

use kneadfit::batch::BatchLog;
use kneadfit::calibration::{Calibration, Part};
use kneadfit::diagnostics::LOOKS_MISTYPED;
use kneadfit::inference::{Estimate, Status};
use kneadfit_log::Summary;

use crate::plots::text::{number, shortened};
use crate::report::derived::Derived;
use crate::report::shown::counted;

/// More of what is not known than this is left to the report's section on it.
const MOST_ADVISED: usize = 3;

/// Something that is not known, and the batch that would tell.
pub struct Advice {
    pub words: String,
    pub remedy: String,
}

/// What is not known: the first of it, and how much there is in all.
pub struct Advised {
    pub first: Vec<Advice>,
    pub all: usize,
}

impl Advised {
    /// How much is not said here.
    pub fn more(&self) -> usize {
        self.all - self.first.len()
    }
}

/// What is not known, the least known first: with priors what the fit leaves open, without
/// them what is seen in the log itself. One batch may tell several things: each batch is
/// advised once.
pub fn advice(calibration: &Calibration, log: &BatchLog) -> Advised {
    let all: Vec<Advice> = if calibration.options.with_prior {
        let open = parts(calibration).flat_map(|part| &part.left_open);
        open.map(|u| Advice { words: u.words.clone(), remedy: u.remedy.clone() }).collect()
    } else {
        let gaps = Summary::of(log).gaps.into_iter();
        gaps.filter_map(|gap| Some(Advice { words: gap.to_string(), remedy: gap.remedy()? }))
            .collect()
    };
    let count = all.len();
    let mut first: Vec<Advice> = Vec::new();
    for advice in all {
        if first.len() < MOST_ADVISED && first.iter().all(|a| a.remedy != advice.remedy) {
            first.push(advice);
        }
    }
    Advised { first, all: count }
}

/// How many readings the others do not say enough to forecast, where some are forecast.
pub fn not_forecast(part: &Part) -> Option<String> {
    part.left_out?;
    let readings = part.batches.iter().flat_map(|batch| &batch.readings);
    let count = readings.filter(|r| r.left_out.is_none()).count();
    let words = "cannot be forecast from the others";
    (count > 0).then(|| format!("{} {words}", counted(count, "reading", "readings")))
}

/// Readings that look mistyped, and count for little.
pub fn mistyped(part: &Part, decimals: usize, unit: &str) -> Vec<String> {
    let mut found = Vec::new();
    for batch in part.looks_mistyped() {
        let whole = batch.weight < LOOKS_MISTYPED;
        for reading in batch.readings.iter().filter(|r| whole || r.weight < LOOKS_MISTYPED) {
            let day = batch.date.as_ref().map(|day| format!(" of {day}")).unwrap_or_default();
            found.push(format!(
                "batch {}{day} looks mistyped and counts for little: read {}{unit}, forecast {}{unit}",
                shortened(&batch.id, 40),
                number(reading.observed, decimals),
                number(reading.left_out.unwrap_or(reading.fitted), decimals)
            ));
        }
    }
    found
}

/// Whether any batch had flour in it, in a preferment too.
pub fn with_flour(calibration: &Calibration) -> bool {
    calibration.domain.ranges.iter().any(|range| range.input == "hydration")
}

/// Of which flour the machine's numbers are, where one was named.
pub fn of_reference_flour(calibration: &Calibration) -> String {
    let of = |flour| format!(", of the flour logged most often ({})", shortened(flour, 60));
    calibration.reference_flour.as_deref().map(of).unwrap_or_default()
}

/// Heat, then development where there is any.
pub fn parts(calibration: &Calibration) -> impl Iterator<Item = &Part> {
    std::iter::once(&calibration.heat).chain(&calibration.development)
}

/// Whether the log, without priors, leaves a number to run where it likes.
pub fn untold(estimate: &Estimate, reading: Derived) -> bool {
    estimate.prior.is_none()
        && match estimate.status {
            Status::AtBound => true,
            Status::Fitted => estimate.standard_error.is_some() && reading.interval.is_none(),
            Status::Fixed | Status::FromPrior => false,
        }
}
