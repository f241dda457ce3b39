//! A check of an analytic Jacobian against finite differences.
//!
//! Central differences at a falling sequence of steps are extrapolated to step
//! zero (Richardson's deferred approach, tableau in the manner of Ridders),
//! which leaves ten or more digits of a smooth function: enough to tell a wrong
//! derivative from a right one in any entry that matters.

use nalgebra::DMatrix;

/// Rows of the extrapolation tableau; the last step is 2⁻⁸ of the first.
const LEVELS: usize = 9;

/// The first step, as a share of the coefficient's magnitude.
const FIRST_STEP: f64 = 0.05;

/// An entry below this share of its column's largest is compared with that
/// share instead of itself, because its differences carry the column's rounding.
const SMALL_ENTRY: f64 = 1e-3;

/// Where an analytic Jacobian and finite differences disagree most.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Disagreement {
    /// `|analytic − differences|` over the larger of the two magnitudes (or over
    /// a thousandth of the column's largest entry, where that is more).
    pub relative: f64,
    /// The residual, counted from 0.
    pub row: usize,
    /// The coefficient, counted from 0.
    pub column: usize,
    /// The analytic entry there.
    pub analytic: f64,
    /// The extrapolated differences there.
    pub differences: f64,
}

/// The largest relative disagreement between `jacobian` and finite differences
/// of `residuals` at the point `at`.
///
/// `residuals` writes its m values at the given coefficients into the slice.
///
/// # Shape
///
/// `jacobian` is m × n, `at` has n entries; zero rows or columns give a
/// disagreement of 0.
///
/// # Panics
///
/// When `at` has not n entries.
///
/// # Examples
///
/// ```
/// use kneadfit::numeric::differences::largest_disagreement;
/// use nalgebra::DMatrix;
///
/// // r = (a², a b) at a = 3, b = 5.
/// let residuals = |c: &[f64], out: &mut [f64]| {
///     out[0] = c[0] * c[0];
///     out[1] = c[0] * c[1];
/// };
/// let right = DMatrix::from_row_slice(2, 2, &[6.0, 0.0, 5.0, 3.0]);
/// assert!(largest_disagreement(residuals, &right, &[3.0, 5.0]).relative < 1e-9);
/// let wrong = DMatrix::from_row_slice(2, 2, &[6.0, 0.0, 5.0, 3.3]);
/// let found = largest_disagreement(residuals, &wrong, &[3.0, 5.0]);
/// assert_eq!((found.row, found.column), (1, 1));
/// assert!((found.relative - 0.3 / 3.3).abs() < 1e-9);
/// ```
pub fn largest_disagreement(
    mut residuals: impl FnMut(&[f64], &mut [f64]),
    jacobian: &DMatrix<f64>,
    at: &[f64],
) -> Disagreement {
    let (m, n) = jacobian.shape();
    assert_eq!(at.len(), n, "one coefficient a column");
    let mut worst =
        Disagreement { relative: 0.0, row: 0, column: 0, analytic: 0.0, differences: 0.0 };
    let mut point = at.to_vec();
    let (mut ahead, mut behind) = (vec![0.0; m], vec![0.0; m]);
    let mut levels = vec![vec![0.0; m]; LEVELS];
    for column in 0..n {
        let magnitude = if at[column] == 0.0 { 1.0 } else { at[column].abs() };
        let mut step = FIRST_STEP * magnitude;
        for level in &mut levels {
            point[column] = at[column] + step;
            residuals(&point, &mut ahead);
            // What the addition really gave, not what was asked for.
            let up = point[column] - at[column];
            point[column] = at[column] - step;
            residuals(&point, &mut behind);
            let span = up + (at[column] - point[column]);
            for row in 0..m {
                level[row] = (ahead[row] - behind[row]) / span;
            }
            step *= 0.5;
        }
        point[column] = at[column];
        let largest = jacobian.column(column).amax();
        for row in 0..m {
            let analytic = jacobian[(row, column)];
            let differences = extrapolated(&levels, row);
            let size = analytic.abs().max(differences.abs()).max(SMALL_ENTRY * largest);
            let error = (analytic - differences).abs();
            let relative = if error == 0.0 { 0.0 } else { error / size };
            // A NaN is the worst disagreement there is.
            if relative > worst.relative || relative.is_nan() {
                worst = Disagreement { relative, row, column, analytic, differences };
            }
            if relative.is_nan() {
                worst.relative = f64::INFINITY;
            }
        }
    }
    worst
}

/// The entry of the tableau whose neighbours agree best with it.
fn extrapolated(levels: &[Vec<f64>], row: usize) -> f64 {
    let mut previous = [0.0; LEVELS];
    let mut best = levels[0][row];
    let mut smallest_error = f64::INFINITY;
    for (i, level) in levels.iter().enumerate() {
        let mut current = [0.0; LEVELS];
        current[0] = level[row];
        let mut power = 4.0;
        for k in 1..=i {
            current[k] = current[k - 1] + (current[k - 1] - previous[k - 1]) / (power - 1.0);
            power *= 4.0;
            let error =
                (current[k] - current[k - 1]).abs().max((current[k] - previous[k - 1]).abs());
            if error < smallest_error {
                (smallest_error, best) = (error, current[k]);
            }
        }
        previous = current;
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_right_jacobian_agrees_to_ten_digits_at_zero_too() {
        let residuals = |c: &[f64], out: &mut [f64]| {
            out[0] = (c[0] * 2.0).exp();
            out[1] = c[1].sin() * c[0];
        };
        for (a, b) in [(0.0, 0.0), (0.7, -1.3), (3.0, 1e-3)] {
            let (a, b): (f64, f64) = (a, b);
            let entries = [2.0 * (2.0 * a).exp(), 0.0, b.sin(), a * b.cos()];
            let jacobian = DMatrix::from_row_slice(2, 2, &entries);
            let found = largest_disagreement(residuals, &jacobian, &[a, b]);
            assert!(found.relative < 1e-9, "{found:?}");
        }
    }

    #[test]
    fn a_jacobian_that_is_no_number_disagrees_without_bound() {
        let jacobian = DMatrix::from_element(1, 1, f64::NAN);
        let found = largest_disagreement(|c, out| out[0] = c[0], &jacobian, &[1.0]);
        assert_eq!((found.relative, found.row), (f64::INFINITY, 0));
    }
}
