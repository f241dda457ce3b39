//! How often intervals hold what they say they hold.

use std::fmt;

/// Counts of true values inside intervals.
#[derive(Clone, Copy, Debug, Default)]
pub struct Coverage {
    inside: usize,
    of: usize,
}

impl Coverage {
    /// Counts one interval.
    pub fn count(&mut self, low: f64, value: f64, high: f64) {
        self.inside += usize::from(low <= value && value <= high);
        self.of += 1;
    }

    /// Counts those of another.
    pub fn add(&mut self, other: Self) {
        self.inside += other.inside;
        self.of += other.of;
    }

    /// Share inside.
    pub fn share(&self) -> f64 {
        self.inside as f64 / self.of as f64
    }

    /// Fails when the share is not within the bounds.
    #[track_caller]
    pub fn assert_within(&self, what: &str, least: f64, most: f64) {
        assert!(
            (least..=most).contains(&self.share()),
            "{what}: {self} inside, expected {least} to {most}"
        );
    }
}

impl fmt::Display for Coverage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.4} of {}", self.share(), self.of)
    }
}
