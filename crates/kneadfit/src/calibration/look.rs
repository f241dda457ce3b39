//! What a calibration asks of a log before any fit, seen in one go: a great many batches are a
//! great deal of memory to walk through.

use std::sync::Arc;

use rayon::prelude::*;

use crate::batch::{Batch, BatchLog, Flours};
use crate::domain::Seen;
use crate::fit::{Logged, PIECE};

/// What was seen of a log, or of some batches of it that follow each other.
pub(super) struct Look<'a> {
    /// The largest dough, kg; `None` when there is no batch.
    pub largest_dough_kg: Option<f64>,
    /// The dough temperatures.
    pub logged: Logged,
    /// What the batches that have one were made of.
    pub seen: Seen<'a>,
    /// How often each flour was named.
    pub flours: Flours<'a>,
    /// Whether any dough was graded.
    pub graded: bool,
    /// First and last day.
    pub period: Option<(&'a Arc<str>, &'a Arc<str>)>,
}

impl<'a> Look<'a> {
    pub fn at(log: &'a BatchLog) -> Self {
        let piece = |(index, batches)| Self::at_piece(&log.speeds, index * PIECE, batches);
        if log.batches.len() <= PIECE {
            return piece((0, &log.batches[..]));
        }
        let mut pieces: Vec<Self> = log.batches.par_chunks(PIECE).enumerate().map(piece).collect();
        let each: Vec<Logged> = pieces.iter_mut().map(|p| std::mem::take(&mut p.logged)).collect();
        let (logged, whole) = rayon::join(
            || Logged::joined(&each),
            || pieces.into_iter().reduce(Self::and).unwrap_or_else(|| piece((0, &[]))),
        );
        Self { logged, ..whole }
    }

    /// Some batches that follow each other, `begin` others before them.
    fn at_piece(speeds: &'a [Arc<str>], begin: usize, batches: &'a [Batch]) -> Self {
        let mut look = Self {
            largest_dough_kg: None,
            logged: Logged::with_room(batches.len()),
            seen: Seen::nothing(speeds),
            flours: Flours::default(),
            graded: false,
            period: None,
        };
        for (index, batch) in batches.iter().enumerate() {
            let dough_kg = batch.charge.mass_kg();
            look.largest_dough_kg =
                Some(look.largest_dough_kg.map_or(dough_kg, |l| l.max(dough_kg)));
            if look.logged.push_temperatures((begin + index) as u32, batch) {
                look.seen.add(batch);
            }
            look.flours.add(&batch.charge);
            look.graded |= batch.stages.iter().any(|s| s.reading.development.is_some());
            let day = batch.date.as_ref().map(|day| (day, day));
            look.period = widened(look.period, day);
        }
        look
    }

    /// With what was seen of the batches that follow, but for their readings.
    fn and(self, next: Self) -> Self {
        let largest = self.largest_dough_kg.into_iter().chain(next.largest_dough_kg);
        Self {
            largest_dough_kg: largest.reduce(f64::max),
            logged: Logged::default(),
            seen: self.seen.and(&next.seen),
            flours: self.flours.and(&next.flours),
            graded: self.graded | next.graded,
            period: widened(self.period, next.period),
        }
    }
}

/// First and last day of both; ISO days sort as text.
fn widened<'a>(
    a: Option<(&'a Arc<str>, &'a Arc<str>)>,
    b: Option<(&'a Arc<str>, &'a Arc<str>)>,
) -> Option<(&'a Arc<str>, &'a Arc<str>)> {
    match (a, b) {
        (Some((first, last)), Some((from, to))) => Some((first.min(from), last.max(to))),
        (a, b) => a.or(b),
    }
}
