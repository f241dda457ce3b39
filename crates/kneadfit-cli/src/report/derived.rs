//! Readings derived from fitted coefficients, with their doubt carried along.
//!
//! A reading is a function of coefficients. Its variance is `g' Σ g` with the gradient
//! `g` on the scale that was fitted; a positive reading has its interval on the
//! logarithm, so that it stays positive.

use kneadfit::calibration::{Part, Scatter};
use kneadfit::numeric::normal_quantile;
use kneadfit::numeric::quantiles::student_t_for_level;

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

/// Half the width of an interval in standard deviations; `None` where no reading is left
/// over to tell the scatter.
pub fn width_in_sds(part: &Part, level: f64) -> Option<f64> {
    match &part.scatter {
        Scatter::Mixture(_) => Some(normal_quantile(0.5 + 0.5 * level)),
        Scatter::StudentT { dof: 0, .. } | Scatter::StudentT { sd: None, .. } => None,
        Scatter::StudentT { dof, .. } => Some(student_t_for_level(level, *dof as f64)),
    }
}

/// Step of the differences, in standard errors: within it a reading is straight to many
/// digits, and rounding is far below it.
const STEP: f64 = 1e-3;

/// A reading of one or several parts: `of` takes the natural coefficients of each part in
/// their fixed order. Parts are taken as independent of each other.
pub fn derived(
    parts: &[&Part],
    level: f64,
    kind: Kind,
    of: impl Fn(&[Vec<f64>]) -> f64,
) -> Derived {
    let natural: Vec<Vec<f64>> = parts.iter().map(|p| p.values()).collect();
    let value = of(&natural);
    let mut variance = Some(0.0);
    let mut sds: Option<f64> = Some(0.0);
    for (index, part) in parts.iter().enumerate() {
        variance = variance.zip(variance_of(part, index, &natural, &of)).map(|(a, b)| a + b);
        sds = sds.zip(width_in_sds(part, level)).map(|(a, b)| a.max(b));
    }
    let interval = variance.zip(sds).and_then(|(variance, sds)| {
        let half = sds * variance.sqrt();
        let (low, high) = match kind {
            Kind::Any => (value - half, value + half),
            Kind::Positive => (value * (-half / value).exp(), value * (half / value).exp()),
        };
        let plain = parts.iter().any(|part| matches!(part.scatter, Scatter::StudentT { .. }));
        let told = !plain || is_told(value, (low, high), kind);
        (low.is_finite() && high.is_finite() && told).then_some((low, high))
    });
    Derived { value, interval }
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

/// The variance that one part's doubt gives a reading; `None`: not known.
fn variance_of(
    part: &Part,
    index: usize,
    natural: &[Vec<f64>],
    of: impl Fn(&[Vec<f64>]) -> f64,
) -> Option<f64> {
    let n = part.free.len();
    let covariance = part.covariance.as_ref().filter(|c| c.len() == n * n);
    let mut moved = natural.to_vec();
    let mut gradient = vec![0.0; n];
    for (place, &free) in part.free.iter().enumerate() {
        let scale = part.estimates[free].scale;
        let step = match covariance {
            Some(c) if c[place * n + place] > 0.0 => STEP * c[place * n + place].sqrt(),
            Some(_) => continue,
            None => STEP,
        };
        let mut at = |fitted: f64| {
            moved[index][free] = scale.natural(fitted);
            of(&moved)
        };
        let fitted = part.fitted[free];
        gradient[place] = (at(fitted + step) - at(fitted - step)) / (2.0 * step);
        moved[index][free] = natural[index][free];
    }
    match covariance {
        Some(c) => {
            let rows = c.chunks_exact(n.max(1)).zip(&gradient);
            let sum: f64 = rows
                .map(|(row, g)| g * row.iter().zip(&gradient).map(|(a, b)| a * b).sum::<f64>())
                .sum();
            Some(sum.max(0.0))
        }
        // What does not depend on anything fitted has no doubt from it.
        None => gradient.iter().all(|g| *g == 0.0).then_some(0.0),
    }
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
