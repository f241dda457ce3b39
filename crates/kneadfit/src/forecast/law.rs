//! How a reading is spread about its forecast, on the tangent, and its quantiles.

use crate::numeric::normal_quantile;
use crate::numeric::quantiles::{normal_cdf, normal_density, student_t_cdf, student_t_quantile};
use crate::profile::{Spread, SpreadNode};

/// A normal part of a [`Law`]; the weights of all sum to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// Its share.
    pub weight: f64,
    /// Its mean, from the forecast that knows of no reading.
    pub mean: f64,
    /// Its variance.
    pub variance: f64,
}

/// The distribution of a reading less the forecast at θ, without the bend of the model.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Law {
    /// Normal, of unknown scatter.
    Mixture(Vec<Part>),
    /// Student's t.
    StudentT {
        /// Its mean, from the forecast that knows of no reading.
        mean: f64,
        /// What t is multiplied by.
        sd: f64,
        /// Degrees of freedom.
        dof: f64,
    },
}

/// The probability beyond either end of a two-sided interval: a tail, because of levels
/// near 1 one half of `1 + level` has no digits left.
pub(super) fn tail(level: f64) -> f64 {
    0.5 * (1.0 - level)
}

impl Law {
    /// A mixture about nought: a share of the scatter on top of `variance`.
    pub(super) fn about_zero(nodes: &[SpreadNode], share: f64, variance: f64) -> Self {
        let part = |n: &SpreadNode| {
            let scatter = share * n.sd;
            Part { weight: n.weight, mean: 0.0, variance: variance + scatter * scatter }
        };
        Self::Mixture(nodes.iter().map(part).collect())
    }

    /// Its mean.
    pub fn mean(&self) -> f64 {
        match self {
            Self::Mixture(parts) => parts.iter().map(|p| p.weight * p.mean).sum(),
            Self::StudentT { mean, .. } => *mean,
        }
    }

    /// The probability of less than `x`.
    pub fn below(&self, x: f64) -> f64 {
        match self {
            Self::Mixture(parts) => {
                let below = |p: &Part| p.weight * normal_cdf((x - p.mean) / p.variance.sqrt());
                parts.iter().filter(|p| p.weight > 0.0).map(below).sum()
            }
            Self::StudentT { mean, sd, dof } => student_t_cdf((x - mean) / sd, *dof),
        }
    }

    /// How far beyond the mean, upwards (`sign` 1) or downwards (−1), the reading lies with
    /// a probability of `tail`.
    pub(super) fn reach(&self, sign: f64, tail: f64) -> f64 {
        match self {
            Self::Mixture(parts) => mixture_quantile(parts, sign, tail) - sign * self.mean(),
            Self::StudentT { sd, dof, .. } => -student_t_quantile(tail, *dof) * sd,
        }
    }
}

/// After a Newton step that is shorter than this share of where it leads, rounding is all that is
/// off.
const SHORT: f64 = 1e-9;
/// What rounding makes of a number.
const ROUNDING: f64 = 1e-14;

/// x with `Σ w Φ((sign · mean − x) / sd) = tail`.
fn mixture_quantile(parts: &[Part], sign: f64, tail: f64) -> f64 {
    let z = -normal_quantile(tail);
    let used = || parts.iter().filter(|p| p.weight > 0.0);
    // The mixture's quantile lies between those of its parts.
    let ends = || used().map(|p| sign * p.mean + z * p.variance.sqrt());
    let mut low = ends().fold(f64::INFINITY, f64::min);
    let mut high = ends().fold(f64::NEG_INFINITY, f64::max);
    let mut x = 0.5 * (low + high);
    for _ in 0..100 {
        let (mut above, mut density) = (0.0, 0.0);
        for part in used() {
            let sd = part.variance.sqrt();
            let off = (x - sign * part.mean) / sd;
            above += part.weight * normal_cdf(-off);
            density += part.weight * normal_density(off) / sd;
        }
        if above > tail {
            low = low.max(x);
        } else {
            high = high.min(x);
        }
        let newton = x + (above - tail) / density;
        let inside = newton > low && newton < high;
        let next = if inside { newton } else { 0.5 * (low + high) };
        // Newton's error is squared by each step; to wait until rounding lets it rest may take
        // for ever.
        let reach = if inside { SHORT } else { ROUNDING };
        let done = (next - x).abs() <= reach * x.abs();
        x = next;
        if done {
            break;
        }
    }
    x
}

/// The mean of the squared scatter.
pub(super) fn mean_square(spread: &Spread) -> f64 {
    match spread {
        Spread::Mixture { nodes } => nodes.iter().map(|n| n.weight * n.sd * n.sd).sum(),
        Spread::StudentT { sd, .. } => sd.map_or(0.0, |sd| sd * sd),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Outside value: the normal quantile, from printed tables (1.959964).
    #[test]
    fn a_mixture_of_one_is_normal() {
        let law = Law::about_zero(&[SpreadNode { sd: 0.6, weight: 1.0 }], 1.0, 0.64);
        let x = law.reach(1.0, 0.025);
        assert!((x - 1.959_963_984_540_054).abs() < 1e-12, "{x}");
    }

    #[test]
    fn a_mixture_holds_its_probability() {
        let part = |weight, mean, sd: f64| Part { weight, mean, variance: sd * sd };
        let laws = [
            Law::Mixture(vec![part(0.5, 0.0, 0.3), part(0.3, 0.0, 0.7), part(0.2, 0.0, 2.0)]),
            Law::Mixture(vec![part(0.5, -1.0, 0.3), part(0.3, 0.5, 0.7), part(0.2, 2.0, 2.0)]),
            Law::StudentT { mean: 0.4, sd: 0.7, dof: 5.0 },
        ];
        for law in laws {
            for tail in [0.4, 0.1, 0.025, 1e-4, 1e-15] {
                let low = law.mean() - law.reach(-1.0, tail);
                assert!((law.below(low) / tail - 1.0).abs() < 1e-11, "{law:?} {tail}");
                let high = law.mean() + law.reach(1.0, tail);
                let off = law.below(high) - (1.0 - tail);
                assert!(off.abs() < 1e-12, "{law:?} {tail} {off:e}");
            }
        }
    }
}
