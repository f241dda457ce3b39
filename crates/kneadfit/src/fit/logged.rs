//! Where in the log the readings that are fitted stand.

use super::linearisation::{kept_groups, kept_offsets};
use crate::batch::Batch;

/// The readings of one kind that a log has, batch by batch in its order.
///
/// # Shape
///
/// Batch `b` of those that are fitted holds readings `offsets[b]..offsets[b+1]`.
#[derive(Clone, Debug)]
pub(crate) struct Logged {
    /// For each batch that is fitted, its place in the log.
    pub in_log: Vec<u32>,
    /// Where the readings of each begin; one more than there are batches.
    pub offsets: Vec<u32>,
    /// Stage of each reading within its batch.
    pub stages: Vec<u32>,
    /// What was read: °C, or a grade.
    pub values: Vec<f64>,
}

impl Default for Logged {
    fn default() -> Self {
        Self { in_log: Vec::new(), offsets: vec![0], stages: Vec::new(), values: Vec::new() }
    }
}

impl Logged {
    /// Room for the readings of so many batches that were read once.
    pub fn with_room(batches: usize) -> Self {
        let mut logged = Self::default();
        let Self { in_log, offsets, stages, values } = &mut logged;
        [in_log, offsets, stages].into_iter().for_each(|column| column.reserve(batches));
        values.reserve(batches);
        logged
    }

    /// The dough temperatures of `batches`.
    pub(super) fn temperatures(batches: &[Batch]) -> Self {
        let mut logged = Self::with_room(batches.len());
        for (index, batch) in batches.iter().enumerate() {
            logged.push_temperatures(index as u32, batch);
        }
        logged
    }

    /// Takes in the dough temperatures of the batch at `in_log`; whether there is any.
    pub fn push_temperatures(&mut self, in_log: u32, batch: &Batch) -> bool {
        let read = batch.stages.iter().enumerate();
        self.push(in_log, read.filter_map(|(stage, s)| Some((stage as u32, s.reading.dough_c?))))
    }

    /// The readings of some pieces of a log that follow each other.
    pub fn joined(pieces: &[Self]) -> Self {
        // Where the readings of each piece begin.
        let begins = pieces.iter().scan(0, |end, piece| {
            let begin = *end;
            *end += piece.stages.len() as u32;
            Some(begin)
        });
        let batches: usize = pieces.iter().map(Self::batch_count).sum();
        let offsets = || {
            let ends = pieces.iter().zip(begins);
            let ends = ends.flat_map(|(p, begin)| p.offsets[1..].iter().map(move |o| begin + o));
            let mut offsets = Vec::with_capacity(batches + 1);
            offsets.push(0);
            offsets.extend(ends);
            offsets
        };
        let column = |of: fn(&Self) -> &[u32]| pieces.iter().map(of).collect::<Vec<_>>().concat();
        let values = || pieces.iter().map(|p| &p.values[..]).collect::<Vec<_>>().concat();
        let ((in_log, offsets), (stages, values)) = rayon::join(
            || (column(|p| &p.in_log), offsets()),
            || (column(|p| &p.stages), values()),
        );
        Self { in_log, offsets, stages, values }
    }

    /// Takes in the batch at `in_log` if it was read: stages and what was read at each; whether
    /// it was.
    pub(super) fn push(&mut self, in_log: u32, read: impl Iterator<Item = (u32, f64)>) -> bool {
        let before = self.stages.len();
        for (stage, value) in read {
            self.stages.push(stage);
            self.values.push(value);
        }
        let any = self.stages.len() > before;
        if any {
            self.in_log.push(in_log);
            self.offsets.push(self.stages.len() as u32);
        }
        any
    }

    /// How many batches were read.
    pub fn batch_count(&self) -> usize {
        self.in_log.len()
    }

    /// Stage and value of one reading.
    #[inline]
    pub(crate) fn read(&self, reading: usize) -> (u32, f64) {
        (self.stages[reading], self.values[reading])
    }

    /// How many readings each batch has.
    pub(super) fn counts(&self) -> impl Iterator<Item = usize> + '_ {
        self.offsets.windows(2).map(|w| (w[1] - w[0]) as usize)
    }

    /// Of some of the batches only.
    pub(super) fn only(&self, kept: &[usize]) -> Self {
        let kept = kept.iter().copied();
        Self {
            in_log: kept.clone().map(|i| self.in_log[i]).collect(),
            stages: kept_groups(&self.stages, &self.offsets, kept.clone()),
            values: kept_groups(&self.values, &self.offsets, kept.clone()),
            offsets: kept_offsets(&self.offsets, kept),
        }
    }
}
