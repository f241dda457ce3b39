//! A least-squares problem of any length folded into one small triangle.
//!
//! The rows `[j₀ … jₙ₋₁ | r]` of a Jacobian and its residuals are gathered in a
//! block of [`BLOCK_ROWS`] and folded by Householder reflections into an upper
//! triangle of order n + 1, so a million rows are never stored:
//!
//! ```text
//! ⎡ R  Qᵀr ⎤        ⎡ R' Q'ᵀr ⎤
//! ⎢ 0   ρ  ⎥  ──►   ⎣ 0   ρ'  ⎦    with RᵀR = JᵀJ and ‖Qᵀr‖² + ρ² = ‖r‖²
//! ⎣ block  ⎦
//! ```
//!
//! Each reflection reaches one row of the triangle and the block only, because
//! the rest of that column of the triangle is zero already.
//!
//! References: Golub & Van Loan, *Matrix Computations*, the chapter on
//! orthogonalisation (updating a QR factorisation); Björck, *Numerical Methods
//! for Least Squares Problems*, on sequential orthogonalisation. From memory.

use super::factor::Factor;
use super::sum::{
    self, LANES, LARGEST_SAFE_SQUARE, SMALLEST_SAFE_SQUARE, dot_of_lanes, subtract_scaled,
};

/// Rows gathered before they are folded: ten columns of a block are 5 kB, which
/// stays in the first cache, and 64 rows make the work outside the block small.
pub const BLOCK_ROWS: usize = 64;

/// Accumulates rows `[j₀ … jₙ₋₁ | r]` into the triangular factor of their
/// least-squares problem. No method allocates after construction.
///
/// # Shape
///
/// A row has n Jacobian entries and one residual; any number of rows may come,
/// fewer than n too (the factor is then rank-deficient, see
/// [`RankAnalysis`](super::RankAnalysis)).
///
/// # Examples
///
/// A line `a + b x` through (0, 1), (1, 3), (2, 5): from `a = b = 0` the
/// residuals predicted − observed are −1, −3, −5 and the step to the least
/// squares is a = 1, b = 2.
///
/// ```
/// use kneadfit::numeric::Triangle;
///
/// let mut triangle = Triangle::new(2);
/// triangle.push_row(&[1.0, 0.0], -1.0);
/// triangle.push_row(&[1.0, 1.0], -3.0);
/// triangle.push_row(&[1.0, 2.0], -5.0);
/// let mut step = [0.0; 2];
/// assert!(triangle.factor().gauss_newton_step(&mut step));
/// assert!((step[0] - 1.0).abs() < 1e-14 && (step[1] - 2.0).abs() < 1e-14);
/// ```
#[derive(Debug, Clone)]
pub struct Triangle {
    factor: Factor,
    /// Column by column, `BLOCK_ROWS` apart; the first `pending` of each are filled.
    block: Vec<f64>,
    pending: usize,
}

impl Triangle {
    /// An empty triangle for `coefficient_count` columns.
    pub fn new(coefficient_count: usize) -> Self {
        Self {
            factor: Factor::zeros(coefficient_count),
            block: vec![0.0; (coefficient_count + 1) * BLOCK_ROWS],
            pending: 0,
        }
    }

    /// The number n of Jacobian columns.
    pub fn coefficient_count(&self) -> usize {
        self.factor.coefficient_count()
    }

    /// The number of rows pushed since construction or [`reset`](Self::reset).
    pub fn row_count(&self) -> usize {
        self.factor.row_count() + self.pending
    }

    /// Forgets all rows and keeps the memory.
    pub fn reset(&mut self) {
        self.factor.clear();
        self.pending = 0;
    }

    /// Adds one row: the derivatives of one residual, and that residual
    /// (predicted − observed, whitened).
    ///
    /// # Panics
    ///
    /// When `jacobian_row` has not n entries.
    #[inline]
    pub fn push_row(&mut self, jacobian_row: &[f64], residual: f64) {
        let n = self.factor.coefficient_count();
        assert_eq!(jacobian_row.len(), n, "a Jacobian row needs one entry a coefficient");
        if self.pending == BLOCK_ROWS {
            self.fold();
        }
        let row = self.pending;
        let (columns, _) = self.block.as_chunks_mut::<BLOCK_ROWS>();
        for (column, &entry) in columns.iter_mut().zip(jacobian_row) {
            column[row] = entry;
        }
        columns[n][row] = residual;
        self.pending += 1;
    }

    /// Adds many rows, `rows` holding n + 1 numbers a row with the residual last.
    ///
    /// # Panics
    ///
    /// When the length of `rows` is no multiple of n + 1.
    pub fn push_rows(&mut self, rows: &[f64]) {
        let width = self.factor.coefficient_count() + 1;
        let chunks = rows.chunks_exact(width);
        assert!(chunks.remainder().is_empty(), "rows must hold n + 1 numbers each");
        for row in chunks {
            self.push_row(&row[..width - 1], row[width - 1]);
        }
    }

    /// Adds all rows of another triangle.
    ///
    /// Chunks of a long problem may be factored on several threads; merged in
    /// the order of the chunks, the result does not depend on which thread was
    /// first.
    ///
    /// # Panics
    ///
    /// When the two differ in their number of coefficients.
    pub fn merge(&mut self, other: &Triangle) {
        let n = self.coefficient_count();
        assert_eq!(n, other.coefficient_count(), "only triangles of one width can be merged");
        let rows = self.row_count() + other.row_count();
        if other.factor.row_count() > 0 {
            for i in 0..=n {
                let row = other.factor.row(i);
                self.push_row(&row[..n], row[n]);
            }
        }
        for i in 0..other.pending {
            if self.pending == BLOCK_ROWS {
                self.fold();
            }
            let to = self.pending;
            for (mine, theirs) in
                self.block.chunks_exact_mut(BLOCK_ROWS).zip(other.block.chunks_exact(BLOCK_ROWS))
            {
                mine[to] = theirs[i];
            }
            self.pending += 1;
        }
        // The rows of a triangle stand for another number of rows than they are.
        self.fold();
        self.factor.set_row_count(rows);
    }

    /// The factor of all rows so far; folds those that still wait.
    pub fn factor(&mut self) -> &Factor {
        self.fold();
        &self.factor
    }

    /// Folds the waiting rows and exchanges the factor with `other`, so that a
    /// solver keeps the factor of its best point without copying.
    ///
    /// # Panics
    ///
    /// When the two differ in their number of coefficients.
    pub fn swap_factor(&mut self, other: &mut Factor) {
        assert_eq!(self.coefficient_count(), other.coefficient_count());
        self.fold();
        std::mem::swap(&mut self.factor, other);
    }

    fn fold(&mut self) {
        let rows = self.pending;
        if rows == 0 {
            return;
        }
        let n = self.factor.coefficient_count();
        // Rows of zeros change nothing, and the kernels see whole lanes only.
        let padded = rows.next_multiple_of(LANES);
        for column in self.block.chunks_exact_mut(BLOCK_ROWS) {
            column[rows..padded].fill(0.0);
        }
        for k in 0..n {
            let (left, right) = self.block.split_at_mut((k + 1) * BLOCK_ROWS);
            let column = left[k * BLOCK_ROWS..][..padded].as_chunks_mut().0;
            let triangle_row = &mut self.factor.row_mut(k)[k..];
            let Some(reflection) = Reflection::annihilating(triangle_row[0], column) else {
                continue;
            };
            triangle_row[0] = reflection.diagonal;
            let others = right.chunks_exact_mut(BLOCK_ROWS);
            for (corner, other) in triangle_row[1..].iter_mut().zip(others) {
                let other = other[..padded].as_chunks_mut().0;
                let along =
                    reflection.factor * (reflection.head * *corner + dot_of_lanes(column, other));
                *corner -= along * reflection.head;
                subtract_scaled(other, along, column);
            }
        }
        // No column follows the residuals: of their reflection only the norm remains.
        let rest = sum::norm(&self.block[n * BLOCK_ROWS..][..padded]);
        let remainder = &mut self.factor.row_mut(n)[n];
        *remainder = sum::norm(&[*remainder, rest]);
        self.factor.set_row_count(self.factor.row_count() + rows);
        self.pending = 0;
    }
}

/// The reflection `I − factor · u uᵀ`, `u = (head, column)`, that takes
/// `(corner, column)` to `(diagonal, 0)`.
struct Reflection {
    head: f64,
    factor: f64,
    diagonal: f64,
}

impl Reflection {
    /// `None` when the column is zero already. Rescales the column where its
    /// squares would overflow or vanish.
    #[inline]
    fn annihilating(corner: f64, column: &mut [[f64; LANES]]) -> Option<Self> {
        let below = dot_of_lanes(column, column);
        let all = corner * corner + below;
        let safe = SMALLEST_SAFE_SQUARE..=LARGEST_SAFE_SQUARE;
        if safe.contains(&all) && (below == 0.0 || safe.contains(&below)) {
            if below == 0.0 && column.as_flattened().iter().all(|&x| x == 0.0) {
                return None;
            }
            // The sign that adds: the head loses no digits.
            let diagonal = if corner > 0.0 { -all.sqrt() } else { all.sqrt() };
            let head = corner - diagonal;
            return Some(Self { head, factor: -1.0 / (diagonal * head), diagonal });
        }
        let below = sum::norm(column.as_flattened());
        if below == 0.0 {
            return None;
        }
        let size = corner.hypot(below);
        let diagonal = if corner > 0.0 { -size } else { size };
        let head = corner - diagonal;
        column.as_flattened_mut().iter_mut().for_each(|x| *x /= head);
        Some(Self { head: 1.0, factor: -head / diagonal, diagonal })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_row_at_a_time_or_many_give_one_factor() {
        let rows: Vec<f64> = (0..300).map(|i| f64::from(i * 7919 % 101) - 50.0).collect();
        let (mut one, mut many) = (Triangle::new(2), Triangle::new(2));
        many.push_rows(&rows);
        rows.chunks_exact(3).for_each(|row| one.push_row(&row[..2], row[2]));
        assert_eq!(one.row_count(), 100);
        assert_eq!(one.factor(), many.factor());
    }

    #[test]
    fn reset_forgets_everything() {
        let mut used = Triangle::new(1);
        (0..100).for_each(|i| used.push_row(&[f64::from(i)], 1.0));
        used.reset();
        used.push_row(&[3.0], 4.0);
        let mut fresh = Triangle::new(1);
        fresh.push_row(&[3.0], 4.0);
        assert_eq!(used.factor(), fresh.factor());
    }

    #[test]
    fn columns_too_small_or_large_to_square_are_factored_too() {
        for scale in [1e-220, 1e-160, 1.0, 1e160, 1e220] {
            let mut triangle = Triangle::new(2);
            for x in [0.0, 1.0, 2.0] {
                triangle.push_row(&[scale, scale * x], -(1.0 + 2.0 * x));
            }
            let mut step = [0.0; 2];
            assert!(triangle.factor().gauss_newton_step(&mut step), "scale {scale:e}");
            assert!((step[0] * scale - 1.0).abs() < 1e-14, "scale {scale:e}: {step:?}");
            assert!((step[1] * scale - 2.0).abs() < 1e-14, "scale {scale:e}: {step:?}");
        }
    }

    #[test]
    fn merging_counts_rows_and_keeps_the_norm() {
        let mut parts: Vec<Triangle> = (0..3).map(|_| Triangle::new(2)).collect();
        let mut squares = 0.0;
        for i in 0..200_u32 {
            let x = f64::from(i);
            let residual = (x * 0.37).sin();
            squares += residual * residual;
            parts[i as usize % 3].push_row(&[1.0, x.sqrt()], residual);
        }
        let mut merged = Triangle::new(2);
        parts.iter().for_each(|part| merged.merge(part));
        assert_eq!(merged.row_count(), 200);
        assert!((merged.factor().residual_norm() - squares.sqrt()).abs() < 1e-13);
        assert_eq!(merged.factor().row_count(), 200);
    }
}
