//! The standard normal distribution.

use std::f64::consts::{FRAC_1_SQRT_2, PI};

use super::{NEWTON_LIMIT, NEWTON_TOLERANCE};

/// What [`FRAC_1_SQRT_2`] lacks of 1/√2.
const FRAC_1_SQRT_2_REST: f64 = -4.833_646_656_726_457e-17;

/// Density of the standard normal distribution at `x`,
///
/// ```text
/// φ(x) = e^(−x²/2) / √(2π)
/// ```
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::quantiles::normal_density;
///
/// assert!((normal_density(0.0) - 0.398_942_280_401_432_7).abs() < 1e-16);
/// ```
pub fn normal_density(x: f64) -> f64 {
    libm::exp(-0.5 * x * x) / (2.0 * PI).sqrt()
}

/// Probability that a standard normal variable is below `x`,
///
/// ```text
/// Φ(x) = ½ erfc(−x/√2)
/// ```
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::quantiles::normal_cdf;
///
/// assert_eq!(normal_cdf(0.0), 0.5);
/// assert!((normal_cdf(1.96) - 0.975).abs() < 3e-6);
/// ```
pub fn normal_cdf(x: f64) -> f64 {
    let z = -x * FRAC_1_SQRT_2;
    let plain = 0.5 * libm::erfc(z);
    if !(1.0..40.0).contains(&z) {
        return plain;
    }
    // In the tail erfc magnifies the rounding of x/√2 by 2z²: put it right to first order.
    let rest = libm::fma(-x, FRAC_1_SQRT_2, -z) - x * FRAC_1_SQRT_2_REST;
    plain - rest * libm::exp(-z * z) / PI.sqrt()
}

/// The `x` below which a standard normal variable lies with `probability`.
///
/// −∞ at 0, ∞ at 1, NaN outside.
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::quantiles::normal_quantile;
///
/// assert!((normal_quantile(0.975) - 1.959_963_984_540_054).abs() < 1e-15);
/// ```
pub fn normal_quantile(probability: f64) -> f64 {
    if !(0.0..=1.0).contains(&probability) {
        return f64::NAN;
    }
    // Exact: a difference of two numbers within a factor of two.
    let from_middle = probability - 0.5;
    if from_middle.abs() < 0.25 {
        return middle(from_middle);
    }
    if from_middle > 0.0 { -lower_tail(1.0 - probability) } else { lower_tail(probability) }
}

/// Solves `½ erf(x/√2) = p`, which keeps its digits around p = 0.
fn middle(p: f64) -> f64 {
    let mut x = p * (2.0 * PI).sqrt();
    for _ in 0..NEWTON_LIMIT {
        let step = (0.5 * libm::erf(x * FRAC_1_SQRT_2) - p) / normal_density(x);
        x -= step;
        if step.abs() <= NEWTON_TOLERANCE * x.abs() {
            break;
        }
    }
    x
}

/// Solves `ln Φ(x) = ln p` for p ≤ ¼. The logarithm of Φ is concave, so Newton's
/// method converges from everywhere.
fn lower_tail(p: f64) -> f64 {
    if p == 0.0 {
        return f64::NEG_INFINITY;
    }
    // The leading terms of the asymptotic tail.
    let square = -2.0 * libm::log(p);
    let mut x = -(square - libm::log(2.0 * PI * square.max(1.0))).max(0.25).sqrt();
    for _ in 0..NEWTON_LIMIT {
        let cdf = normal_cdf(x);
        let step = libm::log(cdf / p) * cdf / normal_density(x);
        x -= step;
        if step.abs() <= NEWTON_TOLERANCE * x.abs() {
            break;
        }
    }
    x
}
