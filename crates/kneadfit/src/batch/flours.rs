//! The flours of a log.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::BatchLog;

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
        let mut counts: BTreeMap<&Arc<str>, usize> = BTreeMap::new();
        for charge in self.batches.iter().map(|b| &b.charge).filter(|c| c.flour_name.is_some()) {
            if let Some(name) = charge.flour_name.as_ref().filter(|_| charge.flour_kg() > 0.0) {
                *counts.entry(name).or_default() += 1;
            }
        }
        let most = counts.values().copied().max();
        let reference =
            counts.iter().find(|(_, count)| Some(**count) == most).map(|(name, _)| *name);
        let others = counts.keys().filter(|name| Some(**name) != reference);
        (reference.cloned(), others.map(|name| (*name).clone()).collect())
    }
}
