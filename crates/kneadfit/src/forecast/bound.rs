//! Quantiles of a mixture, and bounds where the model bends.

use crate::numeric::normal_quantile;
use crate::numeric::quantiles::{normal_cdf, normal_density};
use crate::profile::{Spread, SpreadNode};

/// The two-sided factor of an interval and the variance that it multiplies beside the
/// coefficients' own.
#[derive(Clone, Copy, Debug)]
pub(super) struct Width {
    /// Standard deviations on either side.
    pub z: f64,
    /// Variance of a reading beside the coefficients'.
    pub variance: f64,
}

/// How wide an interval of `level` is when the coefficients add `known` and the inputs
/// `inputs` to the variance; `None` when the scatter is unknown.
pub(super) fn width(spread: &Spread, level: f64, known: f64, inputs: f64) -> Option<Width> {
    match spread {
        Spread::Mixture { nodes } => {
            let typical: f64 = nodes.iter().map(|n| n.weight * n.sd * n.sd).sum();
            let x = mixture_quantile(nodes, known + inputs, 0.5 * (1.0 + level));
            Some(Width { z: x / (known + inputs + typical).sqrt(), variance: inputs + typical })
        }
        Spread::StudentT { sd, dof } => {
            let sd = (*sd)?;
            let z = crate::numeric::quantiles::student_t_for_level(level, *dof as f64);
            Some(Width { z, variance: sd * sd })
        }
    }
}

/// x with `Σ w Φ(x / √(v + sd²)) = p`, for p of one half or more.
pub(super) fn mixture_quantile(nodes: &[SpreadNode], variance: f64, p: f64) -> f64 {
    let z = normal_quantile(p);
    let sd = |n: &SpreadNode| (variance + n.sd * n.sd).sqrt();
    let used = || nodes.iter().filter(|n| n.weight > 0.0);
    // The mixture's quantile lies between its narrowest and its widest part's.
    let mut low = used().map(sd).fold(f64::INFINITY, f64::min) * z;
    let mut high = used().map(sd).fold(0.0, f64::max) * z;
    let mut x = 0.5 * (low + high);
    for _ in 0..100 {
        let (mut below, mut density) = (0.0, 0.0);
        for node in used() {
            let sd = sd(node);
            below += node.weight * normal_cdf(x / sd);
            density += node.weight * normal_density(x / sd) / sd;
        }
        if below < p {
            low = low.max(x);
        } else {
            high = high.min(x);
        }
        let newton = x - (below - p) / density;
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        let done = (next - x).abs() <= 1e-14 * x.abs();
        x = next;
        if done {
            break;
        }
    }
    x
}

/// Steps after which δ goes half-way only.
const WHOLE_STEPS: usize = 8;
const MOST_STEPS: usize = 60;
const STAYS: f64 = 1e-12;

/// The bound `sign · z` standard deviations off, where the model bends:
/// `at(δ, gradient)` gives f(θ + δ) and fills its gradient.
pub(super) fn bound(
    sign: f64,
    width: Width,
    covariance: &[f64],
    mut at: impl FnMut(&[f64], &mut [f64]) -> f64,
) -> f64 {
    let p = (covariance.len() as f64).sqrt() as usize;
    let mut delta = vec![0.0; p];
    let mut gradient = vec![0.0; p];
    let mut spread = vec![0.0; p];
    let mut bound = f64::NAN;
    for step in 0..MOST_STEPS {
        let value = at(&delta, &mut gradient);
        let known = spread_of(covariance, &gradient, &mut spread);
        let sd = (known + width.variance).sqrt();
        let along: f64 = gradient.iter().zip(&delta).map(|(g, d)| g * d).sum();
        let next = value - along + sign * width.z * sd;
        let stays = (next - bound).abs() <= STAYS * next.abs().max(1.0);
        bound = next;
        if stays || !bound.is_finite() {
            break;
        }
        let share = if step < WHOLE_STEPS { 1.0 } else { 0.5 };
        for (delta, spread) in delta.iter_mut().zip(&spread) {
            *delta += share * (sign * width.z * spread / sd - *delta);
        }
    }
    bound
}

/// `Σ g` into `spread`; returns `gᵀ Σ g`.
pub(super) fn spread_of(covariance: &[f64], gradient: &[f64], spread: &mut [f64]) -> f64 {
    let p = gradient.len();
    for (to, row) in spread.iter_mut().zip(covariance.chunks_exact(p.max(1))) {
        *to = row.iter().zip(gradient).map(|(c, g)| c * g).sum();
    }
    gradient.iter().zip(&*spread).map(|(g, s)| g * s).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Outside value: the normal quantile, from printed tables (1.959964).
    #[test]
    fn a_mixture_of_one_is_normal() {
        let nodes = [SpreadNode { sd: 0.6, weight: 1.0 }];
        let x = mixture_quantile(&nodes, 0.64, 0.975);
        assert!((x - 1.959_963_984_540_054).abs() < 1e-12, "{x}");
    }

    #[test]
    fn a_mixture_holds_its_probability() {
        let nodes = [
            SpreadNode { sd: 0.1, weight: 0.5 },
            SpreadNode { sd: 0.7, weight: 0.3 },
            SpreadNode { sd: 2.0, weight: 0.2 },
        ];
        for p in [0.6, 0.9, 0.975, 0.9999] {
            let x = mixture_quantile(&nodes, 0.09, p);
            let held: f64 =
                nodes.iter().map(|n| n.weight * normal_cdf(x / (0.09 + n.sd * n.sd).sqrt())).sum();
            assert!((held - p).abs() < 1e-13, "{p} {held}");
        }
    }

    /// Of f = e^θ with nothing but θ in doubt, the bound is e^(θ ± z sd) exactly.
    #[test]
    fn a_bound_follows_the_bend_of_the_model() {
        let width = Width { z: 1.96, variance: 1e-18 };
        for sign in [-1.0, 1.0] {
            let found = bound(sign, width, &[0.25], |delta, gradient| {
                gradient[0] = (1.0 + delta[0]).exp();
                gradient[0]
            });
            let exact = (1.0 + sign * 1.96 * 0.5_f64).exp();
            assert!((found - exact).abs() < 1e-8 * exact, "{found} {exact}");
        }
    }
}
