//! What a folded triangle knows of its least-squares problem.

use nalgebra::{DMatrix, DVector};

use super::sum;

/// The triangular factor of rows `[J | r]`: `R`, `Qᵀr` and the remainder ρ.
///
/// | quantity | symbol | from |
/// |---|---|---|
/// | gradient of the cost | `Jᵀr = RᵀQᵀr` | [`gradient`](Self::gradient) |
/// | Gauss–Newton step | `−R⁻¹Qᵀr` | [`gauss_newton_step`](Self::gauss_newton_step) |
/// | sum of squares now | `‖Qᵀr‖² + ρ²` | [`residual_norm`](Self::residual_norm) |
/// | sum of squares after the step, were the problem linear | `ρ²` | [`remainder`](Self::remainder) |
/// | leverage of a row j | `‖R⁻ᵀj‖²` | [`leverage`](Self::leverage) |
///
/// # Shape
///
/// `R` is n × n and upper triangular; the signs of its diagonal are not fixed.
#[derive(Debug, Clone, PartialEq)]
pub struct Factor {
    /// Row by row, n + 1 numbers each; below the diagonal zero.
    entries: Vec<f64>,
    coefficient_count: usize,
    row_count: usize,
}

impl Factor {
    /// The factor of no rows at all.
    pub fn zeros(coefficient_count: usize) -> Self {
        let width = coefficient_count + 1;
        Self { entries: vec![0.0; width * width], coefficient_count, row_count: 0 }
    }

    /// The number n of coefficients.
    pub fn coefficient_count(&self) -> usize {
        self.coefficient_count
    }

    /// The number of rows that were folded in.
    pub fn row_count(&self) -> usize {
        self.row_count
    }

    /// Row i of `[R | Qᵀr]` for i < n, and `[0 … 0 | ρ]` for i = n; n + 1 numbers.
    #[inline]
    pub fn row(&self, i: usize) -> &[f64] {
        let width = self.coefficient_count + 1;
        &self.entries[i * width..][..width]
    }

    /// Entry i of `Qᵀr`, in the units of the residuals.
    #[inline]
    pub fn rotated_residual(&self, i: usize) -> f64 {
        self.row(i)[self.coefficient_count]
    }

    /// `R` as a matrix, n × n, zeros below the diagonal.
    pub fn r(&self) -> DMatrix<f64> {
        let n = self.coefficient_count;
        DMatrix::from_fn(n, n, |i, j| self.row(i)[j])
    }

    /// `Qᵀr`, n entries.
    pub fn rotated_residuals(&self) -> DVector<f64> {
        DVector::from_fn(self.coefficient_count, |i, _| self.rotated_residual(i))
    }

    /// ρ, the norm of the residuals that no linear step removes.
    #[inline]
    pub fn remainder(&self) -> f64 {
        self.entries[self.entries.len() - 1]
    }

    /// `‖Qᵀr‖`, the norm of the residuals that the linear step removes.
    #[inline]
    pub fn reducible_norm(&self) -> f64 {
        let n = self.coefficient_count;
        norm_of((0..n).map(|i| self.rotated_residual(i)))
    }

    /// `‖r‖`, the norm of all residuals.
    #[inline]
    pub fn residual_norm(&self) -> f64 {
        norm_of([self.reducible_norm(), self.remainder()].into_iter())
    }

    /// `‖J e_j‖`, the norm of Jacobian column `j`.
    #[inline]
    pub fn column_norm(&self, j: usize) -> f64 {
        norm_of((0..=j).map(|i| self.row(i)[j]))
    }

    /// Whether no row brought an infinity or a NaN.
    pub fn is_finite(&self) -> bool {
        self.entries.iter().all(|entry| entry.is_finite())
    }

    /// The gradient of the cost ½‖r‖², `Jᵀr = RᵀQᵀr`, written into `out` (n entries).
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::numeric::Triangle;
    ///
    /// let mut triangle = Triangle::new(1);
    /// triangle.push_row(&[2.0], 3.0);
    /// triangle.push_row(&[1.0], 4.0);
    /// let mut gradient = [0.0];
    /// triangle.factor().gradient(&mut gradient);
    /// assert!((gradient[0] - 10.0).abs() < 1e-14); // 2·3 + 1·4
    /// ```
    pub fn gradient(&self, out: &mut [f64]) {
        out.fill(0.0);
        for i in 0..self.coefficient_count {
            let (row, rotated) = (self.row(i), self.rotated_residual(i));
            for (out, entry) in out[i..].iter_mut().zip(&row[i..self.coefficient_count]) {
                *out += entry * rotated;
            }
        }
    }

    /// The undamped step `−R⁻¹Qᵀr`, written into `out` (n entries).
    ///
    /// False when a diagonal entry is zero or the step is not finite; `out` is
    /// then without meaning.
    pub fn gauss_newton_step(&self, out: &mut [f64]) -> bool {
        let n = self.coefficient_count;
        for i in (0..n).rev() {
            let row = self.row(i);
            let known: f64 = (i + 1..n).map(|j| row[j] * out[j]).sum();
            out[i] = -(row[n] + known) / row[i];
        }
        out.iter().all(|entry| entry.is_finite())
    }

    /// Overwrites `row` by `R⁻ᵀ row`.
    ///
    /// False when a diagonal entry is zero or the result is not finite.
    pub fn solve_transposed(&self, row: &mut [f64]) -> bool {
        let n = self.coefficient_count;
        for i in 0..n {
            let solved = row[i] / self.row(i)[i];
            row[i] = solved;
            for (entry, factor) in row[i + 1..].iter_mut().zip(&self.row(i)[i + 1..n]) {
                *entry -= factor * solved;
            }
        }
        row.iter().all(|entry| entry.is_finite())
    }

    /// Overwrites a gradient `g` by `−(RᵀR)⁻¹g`, two triangular solves.
    ///
    /// With a gradient summed in more than double precision this refines a
    /// linear solution beyond what one factorisation reaches (Björck's corrected
    /// seminormal equations, from memory).
    ///
    /// False when `R` is singular or the result is not finite.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::numeric::Triangle;
    ///
    /// let mut triangle = Triangle::new(1);
    /// triangle.push_row(&[2.0], 3.0);
    /// let mut step = [6.0]; // the gradient 2·3
    /// assert!(triangle.factor().seminormal_step(&mut step));
    /// assert!((step[0] + 1.5).abs() < 1e-15);
    /// ```
    pub fn seminormal_step(&self, gradient: &mut [f64]) -> bool {
        if !self.solve_transposed(gradient) {
            return false;
        }
        let n = self.coefficient_count;
        for i in (0..n).rev() {
            let known: f64 = (i + 1..n).map(|j| self.row(i)[j] * gradient[j]).sum();
            gradient[i] = -(gradient[i] + known) / self.row(i)[i];
        }
        gradient.iter().all(|entry| entry.is_finite())
    }

    /// The leverage `‖R⁻ᵀj‖²` of a row j; between 0 and 1 for a row that was folded in.
    ///
    /// `None` when `R` is singular. Needs a copy of the row; see
    /// [`solve_transposed`](Self::solve_transposed) for a form without.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::numeric::Triangle;
    ///
    /// let mut triangle = Triangle::new(1);
    /// triangle.push_row(&[3.0], 0.0);
    /// triangle.push_row(&[4.0], 0.0);
    /// let leverage = triangle.factor().leverage(&[3.0]).unwrap();
    /// assert!((leverage - 0.36).abs() < 1e-15); // 9 / (9 + 16)
    /// ```
    pub fn leverage(&self, jacobian_row: &[f64]) -> Option<f64> {
        let mut row = jacobian_row.to_vec();
        self.solve_transposed(&mut row).then(|| sum::sum_of_squares(&row))
    }

    #[inline]
    pub(super) fn row_mut(&mut self, i: usize) -> &mut [f64] {
        let width = self.coefficient_count + 1;
        &mut self.entries[i * width..][..width]
    }

    pub(super) fn set_row_count(&mut self, row_count: usize) {
        self.row_count = row_count;
    }

    pub(super) fn clear(&mut self) {
        self.entries.fill(0.0);
        self.row_count = 0;
    }
}

/// Norm of a few numbers, with the slow and safe way where squares would not do.
#[inline]
fn norm_of(numbers: impl Iterator<Item = f64> + Clone) -> f64 {
    let squares: f64 = numbers.clone().map(|x| x * x).sum();
    if (sum::SMALLEST_SAFE_SQUARE..=sum::LARGEST_SAFE_SQUARE).contains(&squares) {
        squares.sqrt()
    } else {
        numbers.fold(0.0, f64::hypot)
    }
}
