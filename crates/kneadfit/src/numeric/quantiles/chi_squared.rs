//! The chi-squared distribution, by the incomplete gamma function.

use std::f64::consts::PI;

const TERM_LIMIT: usize = 100_000;

/// Probability that a chi-squared variable with `dof` degrees of freedom is below `x`.
///
/// NaN unless `dof` is positive and finite; 0 for `x` ≤ 0.
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::quantiles::chi_squared_cdf;
///
/// // Two degrees of freedom: 1 − e^(−x/2).
/// assert!((chi_squared_cdf(2.0, 2.0) - (1.0 - (-1.0_f64).exp())).abs() < 1e-15);
/// ```
pub fn chi_squared_cdf(x: f64, dof: f64) -> f64 {
    split(x, dof).0
}

/// Probability that a chi-squared variable with `dof` degrees of freedom is
/// above `x`: small ones keep their digits.
///
/// NaN unless `dof` is positive and finite; 1 for `x` ≤ 0.
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::quantiles::chi_squared_tail;
///
/// let tail = chi_squared_tail(100.0, 2.0);
/// assert!((tail / (-50.0_f64).exp() - 1.0).abs() < 1e-13);
/// ```
///
/// # References
///
/// Abramowitz & Stegun 6.5 (incomplete gamma function), from memory.
pub fn chi_squared_tail(x: f64, dof: f64) -> f64 {
    split(x, dof).1
}

/// (below, above)
fn split(x: f64, dof: f64) -> (f64, f64) {
    if x.is_nan() || !dof.is_finite() || dof <= 0.0 {
        return (f64::NAN, f64::NAN);
    }
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    if x.is_infinite() {
        return (1.0, 0.0);
    }
    let (a, x) = (0.5 * dof, 0.5 * x);
    if x < a + 1.0 {
        let (mut term, mut sum) = (1.0, 1.0);
        for k in 1..TERM_LIMIT {
            term *= x / (a + k as f64);
            sum += term;
            if term <= 0.25 * f64::EPSILON * sum {
                break;
            }
        }
        let below = poisson_weight(a, x) * sum;
        (below, 1.0 - below)
    } else {
        let above = poisson_weight(a, x) * a / upper_fraction(a, x);
        (1.0 - above, above)
    }
}

/// `x^a e^(−x) / Γ(a + 1)`, by the deviance `a D(x/a)` where a is large, so that
/// large logarithms do not cancel (Loader's form of the Poisson weight).
fn poisson_weight(a: f64, x: f64) -> f64 {
    if a < 16.0 {
        return libm::pow(x, a) * libm::exp(-x) / libm::tgamma(a + 1.0);
    }
    let excess = (x - a) / a;
    // Far below a the logarithm of the ratio itself is the sharper one.
    let deviance =
        if excess < -0.5 { a * (excess - libm::log(x / a)) } else { a * log_deviance(excess) };
    libm::exp(-deviance - stirling_rest(a)) / (2.0 * PI * a).sqrt()
}

/// `u − ln(1 + u)`, without cancellation around 0.
fn log_deviance(u: f64) -> f64 {
    if u.abs() > 0.1 {
        return u - libm::log1p(u);
    }
    // ln(1+u) = 2 artanh(v), v = u/(2+u); u − 2v = u v.
    let v = u / (2.0 + u);
    let square = v * v;
    let (mut power, mut sum) = (v * square, 0.0);
    for k in 1..20 {
        sum += power / (2 * k + 1) as f64;
        power *= square;
    }
    u * v - 2.0 * sum
}

/// `ln Γ(a + 1) − ln(√(2πa) (a/e)^a)` for a ≥ 16, by Stirling's series.
fn stirling_rest(a: f64) -> f64 {
    let square = 1.0 / (a * a);
    let series = 1.0 / 12.0
        - square
            * (1.0 / 360.0 - square * (1.0 / 1260.0 - square * (1.0 / 1680.0 - square / 1188.0)));
    series / a
}

/// `x^a e^(−x) / Γ(a, x)` as the continued fraction
/// `x + 1 − a − 1(1−a)/(x + 3 − a − …)`, by Lentz's method.
fn upper_fraction(a: f64, x: f64) -> f64 {
    let mut b = x + 1.0 - a;
    let (mut value, mut c, mut d) = (b, b, 0.0);
    for i in 1..TERM_LIMIT {
        let i = i as f64;
        let numerator = -i * (i - a);
        b += 2.0;
        d = 1.0 / (b + numerator * d);
        c = b + numerator / c;
        let change = c * d;
        value *= change;
        if (change - 1.0).abs() <= 0.5 * f64::EPSILON {
            break;
        }
    }
    value
}
