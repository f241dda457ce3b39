//! The flours of a log.

use std::sync::Arc;

use super::BatchLog;
use crate::charge::Charge;

impl BatchLog {
    /// The flour that the others are compared with, the one logged most often (of equals the
    /// first by name), and the others by name: the order of batches has no say. Flours that were
    /// not named are none, and so are those of batches without flour.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::batch::{Batch, BatchLog};
    /// use kneadfit::charge::{Charge, Material};
    ///
    /// let of = |flour: &str| {
    ///     let charge = Charge::new(22.0).of_flour(flour).with(Material::Flour, 10.0, 20.0);
    ///     Batch::new(flour, charge, Vec::new())
    /// };
    /// let batches = ["rye", "strong", "soft"].map(of);
    /// let more = Batch { id: "4".into(), ..of("strong") };
    /// let log = BatchLog::new("spiral", ["low"], batches.into_iter().chain([more]).collect())?;
    /// let (reference, others) = log.flours();
    /// assert_eq!(reference.as_deref(), Some("strong"));
    /// assert_eq!(others, ["rye".into(), "soft".into()]);
    /// # Ok::<(), kneadfit::batch::BatchError>(())
    /// ```
    pub fn flours(&self) -> (Option<Arc<str>>, Vec<Arc<str>>) {
        let mut flours = Flours::default();
        self.batches.iter().for_each(|batch| flours.add(&batch.charge));
        flours.reference_and_others()
    }
}

/// How often each flour was named in batches with flour.
#[derive(Clone, Debug, Default)]
pub(crate) struct Flours<'a> {
    counts: Vec<(&'a Arc<str>, usize)>,
}

impl<'a> Flours<'a> {
    pub fn add(&mut self, charge: &'a Charge) {
        if let Some(name) = charge.flour_name.as_ref().filter(|_| charge.flour_kg() > 0.0) {
            self.count(name, 1);
        }
    }

    /// With those of other batches.
    pub fn and(mut self, others: &Self) -> Self {
        others.counts.iter().for_each(|(name, count)| self.count(name, *count));
        self
    }

    fn count(&mut self, name: &'a Arc<str>, more: usize) {
        let same = |(n, _): &&mut (&Arc<str>, usize)| Arc::ptr_eq(n, name) || *n == name;
        match self.counts.iter_mut().find(same) {
            Some((_, count)) => *count += more,
            None => self.counts.push((name, more)),
        }
    }

    /// As [`BatchLog::flours`] has them.
    pub fn reference_and_others(mut self) -> (Option<Arc<str>>, Vec<Arc<str>>) {
        self.counts.sort_by_key(|(name, _)| *name);
        let most = self.counts.iter().map(|(_, count)| *count).max();
        let reference = self.counts.iter().position(|(_, count)| Some(*count) == most);
        let reference = reference.map(|at| self.counts.remove(at).0.clone());
        (reference, self.counts.into_iter().map(|(name, _)| name.clone()).collect())
    }
}
