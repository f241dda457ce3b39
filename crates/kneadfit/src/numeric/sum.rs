//! Sums that keep their digits, and the vector kernels that the factorisations share.
//!
//! A plain running sum of a million squares loses some three digits and, being
//! a chain of dependent additions, waits for each of them. The kernels here add
//! in eight independent lanes: the error grows with an eighth of the length,
//! the compiler may use vector registers, and the order of additions, hence the
//! last bit, is the same on every machine.

/// How many partial sums a kernel keeps. Eight doubles are one cache line.
pub(crate) const LANES: usize = 8;

/// Below this length the halving of [`pairwise_sum`] stops paying.
const PAIRWISE_BASE: usize = 128;

/// Inner product of two slices, `Σ aᵢ bᵢ`, in eight lanes.
///
/// # Panics
///
/// When the lengths differ.
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::sum::dot;
///
/// assert_eq!(dot(&[1.0, 2.0, 3.0], &[4.0, 5.0, 6.0]), 32.0);
/// ```
#[inline]
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    assert_eq!(a.len(), b.len(), "an inner product needs two slices of one length");
    let (a_lanes, a_rest) = a.as_chunks();
    let (b_lanes, b_rest) = b.as_chunks();
    let rest: f64 = a_rest.iter().zip(b_rest).map(|(x, y)| x * y).sum();
    dot_of_lanes(a_lanes, b_lanes) + rest
}

/// [`dot`] of whole lanes.
#[inline]
pub(crate) fn dot_of_lanes(a: &[[f64; LANES]], b: &[[f64; LANES]]) -> f64 {
    let mut lanes = [0.0; LANES];
    for (x, y) in a.iter().zip(b) {
        for i in 0..LANES {
            lanes[i] += x[i] * y[i];
        }
    }
    fold_lanes(lanes)
}

/// Sum of squares, `Σ aᵢ²`, in eight lanes.
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::sum::sum_of_squares;
///
/// assert_eq!(sum_of_squares(&[3.0, 4.0]), 25.0);
/// ```
#[inline]
pub fn sum_of_squares(a: &[f64]) -> f64 {
    dot(a, a)
}

/// Euclidean norm `√(Σ aᵢ²)`, safe where the squares would overflow or vanish.
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::sum::norm;
///
/// assert_eq!(norm(&[3.0, 4.0]), 5.0);
/// assert_eq!(norm(&[3e-200, 4e-200]), 5e-200);
/// ```
#[inline]
pub fn norm(a: &[f64]) -> f64 {
    let squares = sum_of_squares(a);
    if (SMALLEST_SAFE_SQUARE..=LARGEST_SAFE_SQUARE).contains(&squares) {
        return squares.sqrt();
    }
    let largest = a.iter().fold(0.0_f64, |largest, x| largest.max(x.abs()));
    if largest == 0.0 || !squares.is_finite() && a.iter().any(|x| !x.is_finite()) {
        return squares;
    }
    let scaled: f64 = a.iter().map(|x| (x / largest) * (x / largest)).sum();
    largest * scaled.sqrt()
}

/// Squares between these two lose nothing to underflow and leave room for sums.
pub(crate) const SMALLEST_SAFE_SQUARE: f64 = 1e-280;
/// See [`SMALLEST_SAFE_SQUARE`].
pub(crate) const LARGEST_SAFE_SQUARE: f64 = 1e280;

/// Sum by halves: the rounding error grows with the logarithm of the length.
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::sum::pairwise_sum;
///
/// let tenths = vec![0.1; 1_000_000];
/// assert!((pairwise_sum(&tenths) - 100_000.0).abs() < 1e-9);
/// ```
pub fn pairwise_sum(terms: &[f64]) -> f64 {
    if terms.len() <= PAIRWISE_BASE {
        let (chunks, rest) = terms.as_chunks::<LANES>();
        let mut lanes = [0.0; LANES];
        for chunk in chunks {
            for i in 0..LANES {
                lanes[i] += chunk[i];
            }
        }
        return fold_lanes(lanes) + rest.iter().sum::<f64>();
    }
    let (left, right) = terms.split_at(terms.len() / 2);
    pairwise_sum(left) + pairwise_sum(right)
}

/// A running sum that also carries what rounding dropped (Neumaier's variant
/// of Kahan's sum), for terms that arrive one at a time.
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::sum::CompensatedSum;
///
/// let mut sum = CompensatedSum::default();
/// for term in [1e16, 1.0, -1e16] {
///     sum.add(term);
/// }
/// assert_eq!(sum.value(), 1.0);
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct CompensatedSum {
    sum: f64,
    dropped: f64,
}

impl CompensatedSum {
    /// Adds one term.
    #[inline]
    pub fn add(&mut self, term: f64) {
        let total = self.sum + term;
        self.dropped += if self.sum.abs() >= term.abs() {
            (self.sum - total) + term
        } else {
            (term - total) + self.sum
        };
        self.sum = total;
    }

    /// The sum so far.
    #[inline]
    pub fn value(&self) -> f64 {
        // Once the sum has overflowed, what was dropped is not a number.
        if self.sum.is_finite() { self.sum + self.dropped } else { self.sum }
    }
}

/// `y ← y − factor · x`, whole lanes.
#[inline]
pub(crate) fn subtract_scaled(y: &mut [[f64; LANES]], factor: f64, x: &[[f64; LANES]]) {
    for (y, x) in y.iter_mut().zip(x) {
        // Through a copy: otherwise the compiler asks at every call whether the two overlap.
        let mut lanes = *y;
        for i in 0..LANES {
            lanes[i] -= factor * x[i];
        }
        *y = lanes;
    }
}

#[inline]
fn fold_lanes(l: [f64; LANES]) -> f64 {
    ((l[0] + l[4]) + (l[2] + l[6])) + ((l[1] + l[5]) + (l[3] + l[7]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lanes_and_rest_are_all_added() {
        for length in 0..40 {
            let terms: Vec<f64> = (1..=length).map(f64::from).collect();
            let n = f64::from(length);
            assert_eq!(sum_of_squares(&terms), n * (n + 1.0) * (2.0 * n + 1.0) / 6.0);
            assert_eq!(pairwise_sum(&terms), n * (n + 1.0) / 2.0);
        }
    }

    #[test]
    fn a_norm_survives_squares_that_overflow_or_vanish() {
        assert_eq!(norm(&[]), 0.0);
        assert_eq!(norm(&[0.0, -0.0]), 0.0);
        assert!((norm(&[3e200, 4e200]) / 5e200 - 1.0).abs() < 1e-15);
        assert!(norm(&[f64::NAN, 1.0]).is_nan());
        assert_eq!(norm(&[f64::INFINITY, 1.0]), f64::INFINITY);
    }

    #[test]
    fn pairs_and_compensation_keep_digits_that_a_plain_sum_loses() {
        let terms: Vec<f64> = (1..=1_000_000).map(|i| 1.0 / f64::from(i)).collect();
        // Euler's constant and the asymptotic series of the harmonic numbers
        // (Abramowitz & Stegun 6.3.18, from memory): H_n = ln n + γ + 1/2n − 1/12n².
        let n: f64 = 1e6;
        let expected = n.ln() + 0.577_215_664_901_532_9 + 0.5 / n - 1.0 / (12.0 * n * n);
        let mut compensated = CompensatedSum::default();
        terms.iter().for_each(|&term| compensated.add(term));
        assert!((pairwise_sum(&terms) - expected).abs() < 5e-15);
        assert!((compensated.value() - expected).abs() < 5e-15);
    }
}
