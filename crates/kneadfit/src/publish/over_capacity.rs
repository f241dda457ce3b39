//! The doubt of what a coefficient does to a dough: the coefficient over the heat capacity
//! that dough and bowl have together, where the bowl is in doubt as well.
//!
//! The bowl may be known to a factor of two or worse, and what a logarithm of the sum of
//! dough and bowl does over so wide a range is no straight line. So the bowl is gone through
//! node by node, and at each the coefficient has the normal doubt that is left once the
//! bowl is known.

use crate::calibration::Part;
use crate::numeric::quantiles::normal_cdf;
use crate::prior::Scale;

/// How far the bowl is gone through to each side, in its standard errors.
const REACH: f64 = 4.0;
/// Nodes are no farther apart than this, and no nearer.
const STEP: (f64, f64) = (1.0 / 32.0, 0.5);

/// What divides a coefficient, and the fit that both come from.
#[derive(Clone, Copy, Debug)]
pub(super) struct OverCapacity<'a> {
    /// The fit of the heat coefficients.
    pub part: &'a Part,
    /// Heat capacity of the dough, kJ/K.
    pub dough_kj_per_k: f64,
    /// What the intervals are to hold, such as 0.95.
    pub level: f64,
}

impl OverCapacity<'_> {
    /// The interval of coefficient over capacity; `further` is the standard error of
    /// the logarithm of what divides it in turn, known apart from both. `None` where the
    /// doubt of the coefficient is unknown.
    pub fn interval(&self, name: &str, further: f64) -> Option<(f64, f64)> {
        let part = self.part;
        let covariance = part.covariance.as_ref()?;
        let p = part.free.len();
        let place = |name| part.free.iter().position(|&i| &*part.estimates[i].name == name);
        let k = place(name)?;
        let (e, bowl) = (part.estimate(name)?, part.estimate("bowl")?);
        let spread = covariance[k * p + k].sqrt();
        let (bowl_spread, slope) = match place("bowl") {
            Some(b) if covariance[b * p + b] > 0.0 => {
                let bowl_spread = covariance[b * p + b].sqrt();
                (bowl_spread, covariance[k * p + b] / bowl_spread)
            }
            _ => (0.0, 0.0),
        };
        let left = (spread * spread - slope * slope).max(0.0);
        let logarithm = e.scale == Scale::Logarithm;
        // What divides further is a factor: of the coefficient itself where its scale is
        // no logarithm.
        let further = if logarithm { further } else { further * e.value };
        let left = left.sqrt().hypot(further);
        if !(left > 0.0 && bowl_spread.is_finite()) {
            return None;
        }
        // From one node to the next the coefficient must not leave the doubt that is left of
        // it, or the sum would be one of steps.
        let steep = slope.abs() + bowl_spread * if logarithm { 1.0 } else { e.value.abs() };
        let count = (REACH / (left / steep).clamp(STEP.0, STEP.1)).ceil();
        let nodes: Vec<Node> = (-(count as i32)..=count as i32)
            .map(|i| {
                let z = REACH * f64::from(i) / count;
                let capacity = self.dough_kj_per_k + bowl.value * (bowl_spread * z).exp();
                Node { weight: (-0.5 * z * z).exp(), capacity, shift: slope * z }
            })
            .collect();
        let all: f64 = nodes.iter().map(|n| n.weight).sum();
        let below = |of_capacity: f64| -> f64 {
            let standardized = |n: &Node| {
                let coefficient = of_capacity * n.capacity;
                let off =
                    if logarithm { (coefficient / e.value).ln() } else { coefficient - e.value };
                (off - n.shift) / left
            };
            nodes.iter().map(|n| n.weight * normal_cdf(standardized(n))).sum::<f64>() / all
        };
        // Few readings: as far out as a t goes that is stretched to a normal.
        let tail = normal_cdf(-part.width_in_sds(self.level)?);
        let value = e.value / (self.dough_kj_per_k + bowl.value);
        let at = |u: f64| {
            if logarithm { value * u.exp() } else { value + u * left / self.dough_kj_per_k }
        };
        Some((at(crossing(|u| below(at(u)) - tail)?), at(crossing(|u| below(at(u)) - 1.0 + tail)?)))
    }
}

struct Node {
    weight: f64,
    capacity: f64,
    /// By how much the coefficient is shifted once the bowl is known to be there.
    shift: f64,
}

/// Where a rising function crosses zero; `None` where it does not within what numbers hold.
fn crossing(rising: impl Fn(f64) -> f64) -> Option<f64> {
    let mut reach = 1.0;
    while !(rising(-reach) < 0.0 && rising(reach) > 0.0) {
        reach *= 2.0;
        if reach > 1e3 {
            return None;
        }
    }
    let (mut low, mut high) = (-reach, reach);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if rising(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}
