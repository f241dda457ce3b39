//! The readings of a fit as plots need them: which are special, which are drawn.

use std::collections::HashSet;
use std::sync::Arc;

use kneadfit::batch::{Batch, limits};
use kneadfit::calibration::Part;

use super::marks::Mark;
use super::text::shortened;

/// One reading of one batch.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The baker's name for the batch.
    pub batch: Arc<str>,
    /// The batch's place in the log, from 0.
    pub in_log: usize,
    /// Which stage of it.
    pub stage: usize,
    /// What was read.
    pub observed: f64,
    /// What the fit says.
    pub fitted: f64,
    /// predicted − observed.
    pub residual: f64,
    /// The same in its own standard deviations.
    pub standardised: f64,
    /// What the other batches say, and the standard deviation of that less `observed`.
    pub left_out: Option<(f64, f64)>,
    /// How it is drawn.
    pub mark: Mark,
}

/// What a dough can be read at; a forecast outside of that says nothing.
const LEAST_C: f64 = limits::TEMPERATURE_C.0;
const MOST_C: f64 = limits::TEMPERATURE_C.1;

/// All readings of one part of a fit.
#[derive(Clone, Debug)]
pub struct Readings {
    /// In the order of the log.
    pub all: Vec<Reading>,
    /// Those that carry their batch's name: batch and stage.
    pub labelled: HashSet<(usize, usize)>,
    /// Batches with much influence, the most influential first.
    pub influential: Vec<Arc<str>>,
    /// Batches of which something looks mistyped, in the order of the log.
    pub mistyped: Vec<Arc<str>>,
    /// Root mean square of the standard deviations that the readings are expected to
    /// have; `None`: unknown.
    pub usual_noise: Option<f64>,
}

/// A batch has much influence when its Cook's distance is beyond this over the number of
/// batches: the customary 4/n.
pub const INFLUENCE_TIMES_BATCHES: f64 = 4.0;
/// At most so many batches are marked for their influence; the foremost tell the story.
pub const MOST_INFLUENTIAL: usize = 6;
/// At most so many batches that look mistyped carry their name.
const MOST_MISTYPED_NAMED: usize = 6;
/// Where readings are thinned, at most so many marked ones are drawn: they are few among
/// many and are to look so.
const MOST_MARKED: usize = 60;

impl Readings {
    /// The readings of a part of a fit; `batches` are those of the log.
    pub fn of(part: &Part, batches: &[Batch]) -> Self {
        let threshold = INFLUENCE_TIMES_BATCHES / part.batches.len().max(1) as f64;
        let mut order: Vec<usize> = (0..part.batches.len())
            .filter(|&i| part.batches[i].influence > threshold && !part.batches[i].looks_mistyped())
            .collect();
        order.sort_by(|&a, &b| {
            part.batches[b].influence.total_cmp(&part.batches[a].influence).then(a.cmp(&b))
        });
        order.truncate(MOST_INFLUENTIAL);
        let influential: HashSet<usize> = order.iter().copied().collect();

        let mut readings = Self {
            all: Vec::with_capacity(part.readings),
            labelled: HashSet::new(),
            influential: order.iter().map(|&i| part.batches[i].id.clone()).collect(),
            mistyped: Vec::new(),
            usual_noise: None,
        };
        for (index, batch) in part.batches.iter().enumerate() {
            let whole = batch.weight < kneadfit::diagnostics::LOOKS_MISTYPED;
            let mark = |weight: f64| {
                if whole || weight < kneadfit::diagnostics::LOOKS_MISTYPED {
                    Mark::Mistyped
                } else if influential.contains(&index) {
                    Mark::Influential
                } else {
                    Mark::Ordinary
                }
            };
            if batch.in_log >= batches.len() {
                continue;
            }
            let first = readings.all.len();
            readings.all.extend(batch.readings.iter().map(|r| {
                Reading {
                    batch: batch.id.clone(),
                    in_log: batch.in_log,
                    stage: r.stage,
                    observed: r.observed,
                    fitted: r.fitted,
                    residual: r.residual,
                    standardised: r.standardised,
                    // A batch that alone tells a coefficient is forecast as anything by the
                    // others where nothing else was assumed.
                    left_out: r
                        .left_out
                        .zip(r.left_out_sd)
                        .filter(|(c, s)| *c >= LEAST_C && *c <= MOST_C && s.is_finite()),
                    mark: mark(r.weight),
                }
            }));
            // One label a batch: at the reading furthest off.
            let special = readings.all[first..].iter().filter(|r| r.mark != Mark::Ordinary);
            let furthest = special.max_by(|a, b| {
                a.mark.cmp(&b.mark).then(a.residual.abs().total_cmp(&b.residual.abs()))
            });
            if let Some(furthest) = furthest {
                let key = (furthest.in_log, furthest.stage);
                if furthest.mark == Mark::Mistyped {
                    readings.mistyped.push(batch.id.clone());
                    if readings.mistyped.len() > MOST_MISTYPED_NAMED {
                        continue;
                    }
                }
                readings.labelled.insert(key);
            }
        }
        readings.usual_noise = usual_noise(&readings.all);
        readings
    }

    /// At most `most` readings: the marked ones first, the others evenly through the log.
    pub fn thinned(&self, most: usize) -> Shown<'_> {
        let marked = self.all.iter().filter(|r| r.mark != Mark::Ordinary).count();
        let kept_marks = evenly(marked, if self.all.len() > most { MOST_MARKED } else { most });
        let kept_dots = evenly(self.all.len() - marked, most.saturating_sub(kept_marks.len()));
        let pick = |wanted: bool, kept: &HashSet<usize>| -> Vec<&Reading> {
            self.all
                .iter()
                .filter(|r| (r.mark != Mark::Ordinary) == wanted)
                .enumerate()
                .filter(|(i, r)| kept.contains(i) || self.labelled.contains(&(r.in_log, r.stage)))
                .map(|(_, r)| r)
                .collect()
        };
        // The marked ones are drawn last, over the others.
        let mut readings = pick(false, &kept_dots);
        readings.extend(pick(true, &kept_marks));
        Shown { left_away: self.all.len() - readings.len(), readings }
    }

    /// Which batches are marked, as a sentence; `None`: no batch.
    pub fn remark(&self, what: &str) -> Option<String> {
        let list = |names: &[Arc<str>], most: usize| {
            let shown: Vec<String> = names.iter().take(most).map(|n| shortened(n, 24)).collect();
            let more = names.len().saturating_sub(most);
            let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
            shown.join(", ") + &rest
        };
        let mut sentence = String::new();
        if !self.influential.is_empty() {
            sentence +=
                &format!("Much influence on the fit of {what}: {}. ", list(&self.influential, 6));
        }
        if !self.mistyped.is_empty() {
            sentence += &format!(
                "Looking mistyped among {what}: {}.",
                list(&self.mistyped, MOST_MISTYPED_NAMED)
            );
        }
        (!sentence.is_empty()).then(|| sentence.trim_end().to_owned())
    }
}

/// The readings that are drawn.
#[derive(Clone, Debug)]
pub struct Shown<'a> {
    /// In drawing order.
    pub readings: Vec<&'a Reading>,
    /// How many are not drawn.
    pub left_away: usize,
}

/// `most` of the indices below `count`, evenly spread; all when there are no more.
fn evenly(count: usize, most: usize) -> HashSet<usize> {
    if count <= most {
        return (0..count).collect();
    }
    (0..most).map(|i| i * count / most).collect()
}

fn usual_noise(all: &[Reading]) -> Option<f64> {
    let own: Vec<f64> = all
        .iter()
        .map(|r| r.residual / r.standardised)
        .filter(|sd| sd.is_finite() && *sd > 0.0)
        .collect();
    let mean = own.iter().map(|sd| sd * sd).sum::<f64>() / own.len() as f64;
    (!own.is_empty()).then(|| mean.sqrt())
}
