//! Cholesky factor of a small symmetric matrix.

/// The lower factor L of `matrix = L Lᵀ`, row-major; `None` when the matrix is not
/// positive definite.
///
/// # Shape
///
/// `matrix` is `n × n`, row-major; only its lower triangle is read. Above the diagonal
/// the factor is nought.
///
/// # Examples
///
/// ```
/// let lower = kneadfit::numeric::cholesky(&[4.0, 2.0, 2.0, 5.0], 2).unwrap();
/// assert_eq!(lower, [2.0, 0.0, 1.0, 2.0]);
/// ```
pub fn cholesky(matrix: &[f64], n: usize) -> Option<Vec<f64>> {
    let mut lower = Vec::new();
    cholesky_into(matrix, n, &mut lower).then_some(lower)
}

/// The same into a vector that is at hand; `false` when the matrix is not positive definite.
#[must_use]
pub(crate) fn cholesky_into(matrix: &[f64], n: usize, lower: &mut Vec<f64>) -> bool {
    lower.clear();
    lower.resize(n * n, 0.0);
    for i in 0..n {
        for j in 0..=i {
            let dot: f64 = (0..j).map(|k| lower[i * n + k] * lower[j * n + k]).sum();
            let rest = matrix[i * n + j] - dot;
            if i == j {
                if !(rest > 0.0 && rest.is_finite()) {
                    return false;
                }
                lower[i * n + i] = rest.sqrt();
            } else {
                lower[i * n + j] = rest / lower[j * n + j];
            }
        }
    }
    true
}

/// Replaces `values` by `(L Lᵀ)⁻¹ values`, `lower` an `n × n` factor of [`cholesky`].
///
/// # Examples
///
/// ```
/// let mut values = [2.0, 5.0];
/// kneadfit::numeric::solve_cholesky(&[2.0, 0.0, 1.0, 2.0], 2, &mut values);
/// assert_eq!(values, [0.0, 1.0]);
/// ```
pub fn solve_cholesky(lower: &[f64], n: usize, values: &mut [f64]) {
    for i in 0..n {
        let dot: f64 = (0..i).map(|j| lower[i * n + j] * values[j]).sum();
        values[i] = (values[i] - dot) / lower[i * n + i];
    }
    for i in (0..n).rev() {
        let dot: f64 = (i + 1..n).map(|j| lower[j * n + i] * values[j]).sum();
        values[i] = (values[i] - dot) / lower[i * n + i];
    }
}
