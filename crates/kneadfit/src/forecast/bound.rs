//! Bounds where the model bends: the highest and the lowest reading within reach.

use super::innovations::dot;

/// How far off a bound is, and the variance of a reading beside the coefficients'.
#[derive(Clone, Copy, Debug)]
pub(super) struct Width {
    /// Standard deviations on this side.
    pub z: f64,
    /// Variance of a reading beside the coefficients'.
    pub variance: f64,
}

/// The value of f at one place, its gradient, and what Σ makes of that.
#[derive(Clone, Debug)]
pub(super) struct Point {
    pub value: f64,
    pub gradient: Vec<f64>,
    /// Σ g.
    pub spread: Vec<f64>,
    /// gᵀ Σ g.
    pub known: f64,
}

impl Point {
    /// `at(δ, gradient)` gives f(θ + δ) and fills its gradient.
    pub fn new(
        delta: &[f64],
        covariance: &[f64],
        at: &mut impl FnMut(&[f64], &mut [f64]) -> f64,
    ) -> Self {
        let mut point = Self {
            value: f64::NAN,
            gradient: vec![0.0; delta.len()],
            spread: vec![0.0; delta.len()],
            known: f64::NAN,
        };
        point.move_to(delta, covariance, at);
        point
    }

    fn move_to(
        &mut self,
        delta: &[f64],
        covariance: &[f64],
        at: &mut impl FnMut(&[f64], &mut [f64]) -> f64,
    ) {
        self.value = at(delta, &mut self.gradient);
        self.known = spread_of(covariance, &self.gradient, &mut self.spread);
    }
}

/// Values of f that a search for a bound may ask for.
const MOST_VALUES: usize = 400;
/// A bound is found when nothing within reach promises more than this, relative to the
/// bound or, where that is less, to one degree.
const SETTLED: f64 = 1e-12;
/// The share of the promised gain that a step must bring.
const ENOUGH: f64 = 0.1;
/// What rounding may hide of a gain, as `SETTLED`.
const ROUNDING: f64 = 1e-13;

/// The bound `sign · z` standard deviations off; `None` where the search does not settle.
/// `start` is f at θ. The module `forecast` has the steps in formulae.
pub(super) fn bound(
    sign: f64,
    width: Width,
    covariance: &[f64],
    start: &Point,
    mut at: impl FnMut(&[f64], &mut [f64]) -> f64,
) -> Option<f64> {
    let z = width.z;
    let s = width.variance.sqrt();
    let mut here = start.clone();
    let mut there = start.clone();
    let mut delta = vec![0.0; start.gradient.len()];
    let mut next = delta.clone();
    // Along the reading's own doubt, and how far a step stays behind the gradient.
    let (mut own, mut stay) = (z, 0.0);
    let mut values = 1;
    loop {
        let reached = sign * here.value + s * own;
        let size = reached.abs().max(1.0);
        let steep = (here.known + width.variance).sqrt();
        let along = sign * dot(&here.gradient, &delta) + s * own;
        let promised = z * steep - along;
        if !(reached.is_finite() && promised.is_finite()) {
            return None;
        }
        if promised <= SETTLED * size {
            return Some(sign * (reached + promised));
        }
        loop {
            if values == MOST_VALUES {
                return None;
            }
            let scale = z / (steep * steep + 2.0 * stay * along + stay * stay * z * z).sqrt();
            for ((next, delta), spread) in next.iter_mut().zip(&delta).zip(&here.spread) {
                *next = scale * (sign * spread + stay * delta);
            }
            let next_own = scale * (s + stay * own);
            there.move_to(&next, covariance, &mut at);
            values += 1;
            let gain = scale * (steep * steep + stay * along) - along;
            let gained = sign * there.value + s * next_own - reached;
            if there.known.is_finite() && gained >= ENOUGH * gain.max(0.0) - ROUNDING * size {
                // The bend along this step says how far the next one should go.
                let length = 2.0 * (z * z - scale * (along + stay * z * z));
                let bend: f64 = (next.iter().zip(&delta))
                    .zip(there.gradient.iter().zip(&here.gradient))
                    .map(|((to, from), (after, before))| (to - from) * (after - before))
                    .sum();
                let most = -0.5 * (there.known + width.variance).sqrt() / z;
                let wanted = -sign * bend / length;
                stay = if wanted.is_finite() { wanted.max(most) } else { 0.0 };
                own = next_own;
                break;
            }
            stay = (2.0 * stay).max(steep / z);
        }
        std::mem::swap(&mut here, &mut there);
        std::mem::swap(&mut delta, &mut next);
    }
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

    /// Of a function of one coefficient: its bounds `z` deviations off.
    fn bounds(z: f64, variance: f64, sd: f64, f: impl Fn(f64) -> (f64, f64)) -> [Option<f64>; 2] {
        let mut at = |delta: &[f64], gradient: &mut [f64]| {
            let (value, slope) = f(delta[0]);
            gradient[0] = slope;
            value
        };
        let covariance = [sd * sd];
        let start = Point::new(&[0.0], &covariance, &mut at);
        [-1.0, 1.0].map(|sign| bound(sign, Width { z, variance }, &covariance, &start, &mut at))
    }

    /// Of f = e^θ with nothing but θ in doubt, the bound is e^(θ ± z sd) exactly.
    #[test]
    fn a_bound_follows_the_bend_of_the_model() {
        let found = bounds(1.96, 0.0, 0.5, |d| ((1.0 + d).exp(), (1.0 + d).exp()));
        for (sign, found) in [(-1.0, found[0]), (1.0, found[1])] {
            let exact = (1.0 + sign * 1.96 * 0.5_f64).exp();
            assert!((found.unwrap() - exact).abs() < 1e-11 * exact, "{found:?} {exact}");
        }
    }

    /// Bent so much against its slope that a step to where the tangent points would
    /// overshoot ever farther. The outside value is a search over all of the circle.
    #[test]
    fn a_bound_settles_where_the_model_bends_back() {
        let f = |d: f64| (d - 2.0 * d * d, 1.0 - 4.0 * d);
        for z in [0.5, 2.0, 4.0, 40.0] {
            let found = bounds(z, 0.25, 1.0, f)[1].unwrap();
            let around = (0..2_000_000).map(|i| {
                let angle = f64::from(i) * std::f64::consts::PI / 1e6;
                f(z * angle.sin()).0 + 0.5 * z * angle.cos()
            });
            let most = around.fold(f64::NEG_INFINITY, f64::max);
            assert!((found - most).abs() < 1e-6 * most.abs().max(1.0), "{z}: {found} {most}");
        }
    }

    /// A bound is never nearer than the reading's own doubt alone would put it, and a wall
    /// of numbers that are none stops nothing.
    #[test]
    fn a_bound_stays_within_what_can_be_computed() {
        let wall = |d: f64| if d < 1.0 { (d, 1.0) } else { (f64::NAN, f64::NAN) };
        let [low, high] = bounds(3.0, 1e-4, 1.0, wall);
        assert!((low.unwrap() + 3.0 * 1.0001_f64.sqrt()).abs() < 1e-12);
        // No steps lead past the wall: it has no highest point before it.
        assert_eq!(high, None);
    }

    /// Nothing in doubt: nothing to search.
    #[test]
    fn no_doubt_no_width() {
        let found = bounds(2.0, 0.0, 0.0, |d| (21.0 + d, 1.0));
        assert_eq!(found, [Some(21.0), Some(21.0)]);
    }
}
