//! Readings of coefficients in bakers' terms, and which of their intervals say something.

use kneadfit::calibration::{Part, Scatter};
use kneadfit::publish::Reading;

/// A reading and the interval that holds it at the report's level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Derived {
    /// The reading.
    pub value: f64,
    /// Its interval; `None`: not known.
    pub interval: Option<(f64, f64)>,
}

/// What values a reading can have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Above zero.
    Positive,
    /// Any.
    Any,
}

impl Derived {
    /// What the core reads, with its interval where that says something; `parts`: what the
    /// reading is of.
    pub fn of(reading: &Reading, parts: &[&Part], kind: Kind) -> Self {
        let plain = parts.iter().any(|part| matches!(part.scatter, Scatter::StudentT { .. }));
        let says = |&(low, high): &(f64, f64)| {
            let told = !plain || is_told(reading.value, (low, high), kind);
            low.is_finite() && high.is_finite() && told
        };
        Self { value: reading.value, interval: reading.interval.filter(says) }
    }

    /// The same in a unit of which one of these holds so many.
    pub fn times(self, factor: f64) -> Self {
        let interval = self.interval.map(|(a, b)| {
            let (a, b) = (a * factor, b * factor);
            (a.min(b), a.max(b))
        });
        Self { value: self.value * factor, interval }
    }
}

/// A positive number that may be so many times as large is not told at all.
const TELLS_NOTHING: f64 = 50.0;
/// An interval narrower than this, beside the number, is that of copies of one batch: they
/// leave no scatter to be told.
const NO_WIDTH: f64 = 1e-9;

/// Whether an interval of plain least squares says something. Without priors nothing keeps
/// a number that the log does not tell from running anywhere.
fn is_told(value: f64, (low, high): (f64, f64), kind: Kind) -> bool {
    let endless = kind == Kind::Positive && high > TELLS_NOTHING * low;
    !endless && high - low > NO_WIDTH * value.abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn intervals_that_say_nothing_are_known_as_such() {
        assert!(is_told(0.5, (0.4, 0.6), Kind::Positive));
        assert!(is_told(-20.0, (-93.0, 46.0), Kind::Any));
        assert!(!is_told(12.8, (12.8, 12.8), Kind::Positive));
        assert!(!is_told(0.3, (1e-4, 5711.0), Kind::Positive));
        assert!(!is_told(3.0, (3.0, 3.0), Kind::Any));
    }
}
