//! Student's t distribution for any positive number of degrees of freedom,
//! whole or not.
//!
//! Around the middle the integral from 0 to t is a series of positive terms,
//! in the tail a continued fraction; both multiply the density, which is
//! computed without differences of large logarithms.

use std::f64::consts::PI;

use super::normal::{normal_cdf, normal_density, normal_quantile};
use super::{NEWTON_LIMIT, NEWTON_TOLERANCE};

/// Terms after which series and fraction have long converged.
const TERM_LIMIT: usize = 100_000;

/// Density of Student's t with `dof` degrees of freedom at `t`,
///
/// ```text
/// f(t) = Γ((ν+1)/2) / (Γ(ν/2) √(νπ)) · (1 + t²/ν)^(−(ν+1)/2)
/// ```
///
/// NaN unless `dof` > 0.
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::quantiles::student_t_density;
///
/// // One degree of freedom is Cauchy's: 1 / (π (1 + t²)).
/// assert!((student_t_density(1.0, 1.0) - 0.5 / std::f64::consts::PI).abs() < 1e-16);
/// ```
pub fn student_t_density(t: f64, dof: f64) -> f64 {
    if t.is_nan() || dof.is_nan() || dof <= 0.0 {
        return f64::NAN;
    }
    if dof.is_infinite() {
        return normal_density(t);
    }
    // ln(1 + t²/ν), by way of t/√ν where the square would overflow.
    let ratio = t.abs() / dof.sqrt();
    let log = if ratio < 1e100 { libm::log1p(ratio * ratio) } else { 2.0 * libm::log(ratio) };
    density_at_zero(dof) * libm::exp(-0.5 * (dof + 1.0) * log)
}

/// Probability that a Student t variable with `dof` degrees of freedom is below `t`.
///
/// NaN unless `dof` > 0. Infinite `dof` is the normal distribution.
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::quantiles::student_t_cdf;
///
/// assert_eq!(student_t_cdf(0.0, 3.5), 0.5);
/// // Cauchy: ½ + atan(1)/π.
/// assert!((student_t_cdf(1.0, 1.0) - 0.75).abs() < 1e-15);
/// ```
///
/// # References
///
/// Abramowitz & Stegun 26.5 and 26.7 (incomplete beta function and Student's
/// distribution), from memory.
pub fn student_t_cdf(t: f64, dof: f64) -> f64 {
    if t.is_nan() || dof.is_nan() || dof <= 0.0 {
        return f64::NAN;
    }
    if t < 0.0 {
        return upper_tail(-t, dof);
    }
    if is_middle(t, dof) { 0.5 + from_zero(t, dof) } else { 1.0 - upper_tail(t, dof) }
}

/// The `t` below which a Student t variable with `dof` degrees of freedom lies
/// with `probability`.
///
/// −∞ at 0, ∞ at 1, NaN outside or unless `dof` > 0. Very few degrees of
/// freedom put far quantiles beyond the largest double: they are infinite.
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::quantiles::student_t_quantile;
///
/// // Cauchy: tan(π (p − ½)).
/// assert!((student_t_quantile(0.75, 1.0) - 1.0).abs() < 1e-14);
/// assert!((student_t_quantile(0.975, 10.0) - 2.228_138_851_986_274).abs() < 1e-12);
/// ```
pub fn student_t_quantile(probability: f64, dof: f64) -> f64 {
    if !(0.0..=1.0).contains(&probability) || dof.is_nan() || dof <= 0.0 {
        return f64::NAN;
    }
    if dof.is_infinite() {
        return normal_quantile(probability);
    }
    let from_middle = probability - 0.5;
    if from_middle.abs() < 0.25 {
        return quantile_near_zero(from_middle.abs(), dof).copysign(from_middle);
    }
    if from_middle > 0.0 {
        quantile_of_tail(1.0 - probability, dof)
    } else {
        -quantile_of_tail(probability, dof)
    }
}

/// The factor t of a two-sided interval `± t · standard error` that holds with
/// probability `level`.
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::quantiles::student_t_for_level;
///
/// assert!((student_t_for_level(0.95, 4.0) - 2.776_445_105_197_793).abs() < 1e-12);
/// ```
pub fn student_t_for_level(level: f64, dof: f64) -> f64 {
    student_t_quantile(0.5 + 0.5 * level, dof)
}

/// Where the series converges quickly and the fraction does not: about |t| < √3.
fn is_middle(t: f64, dof: f64) -> bool {
    let square = t * t;
    square * (dof + 2.0) < 3.0 * dof
}

/// Probability between 0 and `t` ≥ 0: with x = t²/(ν + t²),
/// `f(t) · t · Σ_k Π_{i<k} ((ν+1)/2 + i) / (3/2 + i) · x`.
fn from_zero(t: f64, dof: f64) -> f64 {
    let x = t * t / (dof + t * t);
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 0..TERM_LIMIT {
        let k = k as f64;
        term *= (0.5 * (dof + 1.0) + k) / (1.5 + k) * x;
        sum += term;
        if term <= 0.25 * f64::EPSILON * sum {
            break;
        }
    }
    student_t_density(t, dof) * t * sum
}

/// Probability above `t` ≥ 0.
fn upper_tail(t: f64, dof: f64) -> f64 {
    if dof.is_infinite() {
        return normal_cdf(-t);
    }
    if t.is_infinite() {
        return 0.0;
    }
    if is_middle(t, dof) {
        return 0.5 - from_zero(t, dof);
    }
    // With x = ν/(ν + t²) this is ½ I_x(ν/2, ½); its prefactor
    // x^a (1−x)^(−½) / (2 a B(a, ½)) is f(t) (1/t + t/ν).
    let root = dof.sqrt();
    student_t_density(t, dof) * (1.0 / t + t / dof) / tail_fraction(0.5 * dof, (root / t).powi(2))
}

/// The continued fraction `1 + e₂/(1 + e₃/(1 + …))` of I_x(a, ½), with
/// `odds = x/(1 − x)`, by Lentz's method (A&S 26.5.9, from memory).
///
/// All its terms are positive, so no digit is lost however many degrees of
/// freedom there are; then it is that of the normal tail.
fn tail_fraction(a: f64, odds: f64) -> f64 {
    let (mut value, mut c, mut d) = (1.0_f64, 1.0_f64, 0.0_f64);
    for i in 2..TERM_LIMIT {
        let m = (i / 2) as f64;
        let coefficient = if i % 2 == 0 {
            (a + m - 1.0) / (a + 2.0 * m - 2.0) * ((m - 0.5) / (a + 2.0 * m - 1.0)) * odds
        } else {
            m / (a + 2.0 * m - 1.0) * ((a + m - 0.5) / (a + 2.0 * m)) * odds
        };
        d = 1.0 / (1.0 + coefficient * d);
        c = 1.0 + coefficient / c;
        let change = c * d;
        value *= change;
        if (change - 1.0).abs() <= 0.5 * f64::EPSILON {
            break;
        }
    }
    value
}

/// `Γ((ν+1)/2) / (Γ(ν/2) √(νπ))`.
fn density_at_zero(dof: f64) -> f64 {
    gamma_ratio_of_half(0.5 * dof) / (dof * PI).sqrt()
}

/// `Γ(a + ½)/Γ(a)`: the asymptotic series in 1/a, reached by the recurrence
/// `ratio(a) = ratio(a + 1) · a/(a + ½)`.
fn gamma_ratio_of_half(a: f64) -> f64 {
    let (mut a, mut product) = (a, 1.0);
    while a < 32.0 {
        product *= a / (a + 0.5);
        a += 1.0;
    }
    // Coefficients re-derived by series expansion in rational arithmetic,
    // see tests/reference/quantile_values.py.
    const SERIES: [f64; 8] = [
        1.0,
        -1.0 / 8.0,
        1.0 / 128.0,
        5.0 / 1024.0,
        -21.0 / 32_768.0,
        -399.0 / 262_144.0,
        869.0 / 4_194_304.0,
        39_325.0 / 33_554_432.0,
    ];
    let inverse = 1.0 / a;
    product * a.sqrt() * SERIES.iter().rev().fold(0.0, |sum, c| sum * inverse + c)
}

/// Solves `from_zero(t) = p` for 0 ≤ p ≤ ¼: the integral is concave, Newton's
/// method from 0 climbs to the root.
fn quantile_near_zero(p: f64, dof: f64) -> f64 {
    let mut t = p / density_at_zero(dof);
    for _ in 0..NEWTON_LIMIT {
        let below = if is_middle(t, dof) { from_zero(t, dof) } else { 0.5 - upper_tail(t, dof) };
        let step = (below - p) / student_t_density(t, dof);
        t -= step;
        if step.abs() <= NEWTON_TOLERANCE * t.abs() {
            break;
        }
    }
    t
}

/// Solves `ln upper_tail(t) = ln p` in ln t for p ≤ ¼. Concave and falling, so
/// Newton's method converges from everywhere.
fn quantile_of_tail(p: f64, dof: f64) -> f64 {
    if p == 0.0 {
        return f64::INFINITY;
    }
    let mut log_t = libm::log(-normal_quantile(p));
    let mut t = libm::exp(log_t);
    for _ in 0..NEWTON_LIMIT {
        let tail = upper_tail(t, dof);
        let step = libm::log(tail / p) * tail / (t * student_t_density(t, dof));
        // A first step from the normal start can be long where dof is small.
        log_t += step.clamp(-50.0, 50.0);
        let next = if step.abs() < 0.5 { t + t * libm::expm1(step) } else { libm::exp(log_t) };
        if !next.is_finite() || next > 1e300 {
            return f64::INFINITY;
        }
        t = next;
        log_t = libm::log(t);
        if step.abs() <= NEWTON_TOLERANCE {
            break;
        }
    }
    t
}
