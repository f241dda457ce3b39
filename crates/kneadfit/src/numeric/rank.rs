//! Which directions of the coefficients the rows determine, and how well.
//!
//! The columns of `R` are scaled to unit length first, so that neither units
//! nor magnitudes decide what counts as rank-deficient, and then factored with
//! column pivoting: `R D⁻¹ P = Q S`. Covariances come from triangular solves
//! on `S`; the normal equations are never formed, because squaring the
//! condition number costs half of the digits.

use nalgebra::{DMatrix, DVector};

use super::factor::Factor;

/// A pivot below this many roundings a column, relative to the first, is zero.
const ROUNDINGS_A_COLUMN: f64 = 8.0;

/// A component of a null direction above this (directions have length 1) makes
/// its coefficient undetermined: well above the rounding of the factorisation,
/// well below any share that a user would care for.
const INVOLVED: f64 = 1e-6;

/// The rank-revealing analysis of a [`Factor`].
///
/// With scaled coefficients `z = D θ`, D the column norms of J:
///
/// ```text
/// R D⁻¹ P = Q S,     (JᵀJ)⁻¹ = D⁻¹ P S⁻¹ S⁻ᵀ Pᵀ D⁻¹
/// ```
///
/// # Examples
///
/// Two columns of which only the sum is seen:
///
/// ```
/// use kneadfit::numeric::{RankAnalysis, Triangle};
///
/// let mut triangle = Triangle::new(2);
/// for x in [1.0, 2.0, 3.0] {
///     triangle.push_row(&[x, x], 0.0);
/// }
/// let analysis = RankAnalysis::new(triangle.factor());
/// assert_eq!(analysis.rank(), 1);
/// assert_eq!(analysis.undetermined(), [0, 1]);
/// assert!(analysis.covariance().is_none());
/// // The sum of both is known all the same: 1 / (1 + 4 + 9).
/// let variance = analysis.variance(&[1.0, 1.0]).unwrap();
/// assert!((variance - 1.0 / 14.0).abs() < 1e-14);
/// assert!(analysis.variance(&[1.0, 0.0]).is_none());
/// ```
#[derive(Debug, Clone)]
pub struct RankAnalysis {
    rank: usize,
    /// Column norms of J, 1 where the column is zero.
    scales: DVector<f64>,
    /// Rank × rank, `S₁₁⁻¹`, upper triangular.
    inverse: DMatrix<f64>,
    /// `order[k]` is the coefficient behind pivot k.
    order: Vec<usize>,
    /// Orthonormal, one a column, in scaled coefficients.
    null_directions: DMatrix<f64>,
    pivots: DVector<f64>,
}

impl RankAnalysis {
    /// Analyses with the tolerance for rounding alone, `8 n ε`.
    pub fn new(factor: &Factor) -> Self {
        let n = factor.coefficient_count() as f64;
        Self::with_tolerance(factor, ROUNDINGS_A_COLUMN * n * f64::EPSILON)
    }

    /// Analyses with a tolerance of one's own: a pivot of the scaled triangle
    /// below `relative_tolerance` times the first counts as zero.
    pub fn with_tolerance(factor: &Factor, relative_tolerance: f64) -> Self {
        let n = factor.coefficient_count();
        let scales = DVector::from_fn(n, |j, _| {
            let norm = factor.column_norm(j);
            if norm > 0.0 { norm } else { 1.0 }
        });
        let mut s = DMatrix::from_fn(n, n, |i, j| factor.row(i)[j] / scales[j]);
        let order = factor_with_pivots(&mut s);
        let pivots = DVector::from_fn(n, |k, _| s[(k, k)].abs());
        let first = pivots.iter().copied().next().unwrap_or(0.0);
        let rank = pivots
            .iter()
            .take_while(|&&pivot| pivot > relative_tolerance * first && pivot > 0.0)
            .count();
        let inverse = inverse_of_upper(&s, rank);
        let null_directions = null_space(&s, &inverse, &order, rank);
        Self { rank, scales, inverse, order, null_directions, pivots }
    }

    /// The number of directions that the rows determine.
    pub fn rank(&self) -> usize {
        self.rank
    }

    /// Whether every coefficient is determined.
    pub fn is_full_rank(&self) -> bool {
        self.rank == self.order.len()
    }

    /// D, the column norms of J: multiply a coefficient by its scale to have it
    /// in units of the residuals. 1 for a column of zeros.
    pub fn scales(&self) -> &DVector<f64> {
        &self.scales
    }

    /// The smallest pivot of the scaled triangle over its largest: about the
    /// reciprocal of the condition number, 0 for a singular problem.
    pub fn reciprocal_condition(&self) -> f64 {
        let n = self.pivots.len();
        if n == 0 {
            return 1.0;
        }
        if self.pivots[0] > 0.0 { self.pivots[n - 1] / self.pivots[0] } else { 0.0 }
    }

    /// Orthonormal directions of the scaled coefficients that no row sees.
    ///
    /// # Shape
    ///
    /// n × (n − rank), one direction a column.
    pub fn null_directions(&self) -> &DMatrix<f64> {
        &self.null_directions
    }

    /// Indices of the coefficients that take part in a null direction, ascending.
    pub fn undetermined(&self) -> Vec<usize> {
        (0..self.order.len()).filter(|&j| !self.is_determined(j)).collect()
    }

    /// Whether coefficient `j` has a value of its own.
    pub fn is_determined(&self, j: usize) -> bool {
        self.null_directions.row(j).iter().all(|component| component.abs() <= INVOLVED)
    }

    /// `(JᵀJ)⁻¹`, n × n, for residuals of unit variance; `None` unless of full rank.
    ///
    /// Multiply by the residual variance when the residuals are not whitened.
    pub fn covariance(&self) -> Option<DMatrix<f64>> {
        if !self.is_full_rank() {
            return None;
        }
        let n = self.order.len();
        let mut covariance = DMatrix::zeros(n, n);
        for a in 0..n {
            for b in a..n {
                // S⁻¹S⁻ᵀ: rows of the inverse are zero before their own index.
                let dot: f64 = (b..n).map(|k| self.inverse[(a, k)] * self.inverse[(b, k)]).sum();
                let (i, j) = (self.order[a], self.order[b]);
                covariance[(i, j)] = dot / (self.scales[i] * self.scales[j]);
                covariance[(j, i)] = covariance[(i, j)];
            }
        }
        Some(covariance)
    }

    /// The standard error of coefficient `j` for residuals of unit variance;
    /// `None` when it is undetermined.
    pub fn standard_error(&self, j: usize) -> Option<f64> {
        if !self.is_determined(j) {
            return None;
        }
        let position = self.order.iter().position(|&coefficient| coefficient == j)?;
        if position >= self.rank {
            return None;
        }
        let squares: f64 = (position..self.rank).map(|k| self.inverse[(position, k)].powi(2)).sum();
        Some(squares.sqrt() / self.scales[j])
    }

    /// The variance `gᵀ(JᵀJ)⁻¹g` of the combination `gᵀθ`, for residuals of unit
    /// variance; `None` when that combination is undetermined.
    ///
    /// A forecast may be known where the coefficients are not: this is where.
    ///
    /// # Panics
    ///
    /// When `combination` has not n entries.
    pub fn variance(&self, combination: &[f64]) -> Option<f64> {
        let n = self.order.len();
        assert_eq!(combination.len(), n, "a combination needs one factor a coefficient");
        let scaled = DVector::from_fn(n, |j, _| combination[j] / self.scales[j]);
        let size = scaled.norm();
        if size == 0.0 {
            return Some(0.0);
        }
        if self.null_directions.column_iter().any(|d| d.dot(&scaled).abs() > INVOLVED * size) {
            return None;
        }
        // S₁₁⁻ᵀ g, entry k: Σ_{a ≤ k} inverse[a, k] g[order[a]].
        let mut variance = 0.0;
        for k in 0..self.rank {
            let entry: f64 = (0..=k).map(|a| self.inverse[(a, k)] * scaled[self.order[a]]).sum();
            variance += entry * entry;
        }
        Some(variance)
    }
}

/// Householder QR with column pivoting, in place; the upper triangle is S.
fn factor_with_pivots(s: &mut DMatrix<f64>) -> Vec<usize> {
    let n = s.ncols();
    let mut order: Vec<usize> = (0..n).collect();
    for k in 0..n {
        // Small and called once a fit: the norms are taken afresh, which needs
        // no safeguard against the cancellation of updated ones.
        let rest = |s: &DMatrix<f64>, j: usize| s.view((k, j), (n - k, 1)).norm();
        let mut pivot = k;
        for j in k + 1..n {
            if rest(s, j) > rest(s, pivot) {
                pivot = j;
            }
        }
        s.swap_columns(k, pivot);
        order.swap(k, pivot);
        let norm = rest(s, k);
        if norm == 0.0 {
            continue;
        }
        let diagonal = if s[(k, k)] > 0.0 { -norm } else { norm };
        let head = s[(k, k)] - diagonal;
        for j in k + 1..n {
            let below: f64 = (k + 1..n).map(|i| s[(i, k)] * s[(i, j)]).sum();
            let along = -(head * s[(k, j)] + below) / (diagonal * head);
            s[(k, j)] -= along * head;
            for i in k + 1..n {
                let reflected = along * s[(i, k)];
                s[(i, j)] -= reflected;
            }
        }
        s[(k, k)] = diagonal;
        for i in k + 1..n {
            s[(i, k)] = 0.0;
        }
    }
    order
}

/// The inverse of the leading `rank` × `rank` upper triangle.
fn inverse_of_upper(s: &DMatrix<f64>, rank: usize) -> DMatrix<f64> {
    let mut inverse = DMatrix::zeros(rank, rank);
    for column in 0..rank {
        inverse[(column, column)] = 1.0 / s[(column, column)];
        for i in (0..column).rev() {
            let sum: f64 = (i + 1..=column).map(|k| s[(i, k)] * inverse[(k, column)]).sum();
            inverse[(i, column)] = -sum / s[(i, i)];
        }
    }
    inverse
}

/// Orthonormal columns that span `P [−S₁₁⁻¹S₁₂; I]`.
fn null_space(
    s: &DMatrix<f64>,
    inverse: &DMatrix<f64>,
    order: &[usize],
    rank: usize,
) -> DMatrix<f64> {
    let n = order.len();
    let mut directions = DMatrix::zeros(n, n - rank);
    for column in 0..n - rank {
        for i in 0..rank {
            let sum: f64 = (i..rank).map(|k| inverse[(i, k)] * s[(k, rank + column)]).sum();
            directions[(order[i], column)] = -sum;
        }
        directions[(order[rank + column], column)] = 1.0;
        // Twice is enough: the second pass removes what rounding left.
        for _ in 0..2 {
            for earlier in 0..column {
                let along = directions.column(earlier).dot(&directions.column(column));
                let subtract = directions.column(earlier) * along;
                let mut current = directions.column_mut(column);
                current -= subtract;
            }
        }
        let norm = directions.column(column).norm();
        directions.column_mut(column).unscale_mut(norm);
    }
    directions
}

#[cfg(test)]
mod tests {
    use super::super::Triangle;
    use super::*;

    fn analysed(rows: &[[f64; 3]]) -> RankAnalysis {
        let mut triangle = Triangle::new(3);
        rows.iter().for_each(|row| triangle.push_row(row, 0.0));
        RankAnalysis::new(triangle.factor())
    }

    #[test]
    fn a_hidden_combination_leaves_the_other_coefficient_its_standard_error() {
        // Columns 0 and 2 are seen as θ₀ − 2 θ₂ only; column 1 is orthogonal to both.
        let analysis = analysed(&[[1.0, 1.0, -2.0], [1.0, -1.0, -2.0], [2.0, 0.0, -4.0]]);
        assert_eq!(analysis.rank(), 2);
        assert_eq!(analysis.undetermined(), [0, 2]);
        assert!((analysis.standard_error(1).unwrap() - 0.5_f64.sqrt()).abs() < 1e-15);
        assert_eq!(analysis.standard_error(0), None);
        // J moves neither with D⁻¹ times the null direction.
        let direction = analysis.null_directions().column(0);
        let theta0 = direction[0] / analysis.scales()[0];
        let theta2 = direction[2] / analysis.scales()[2];
        assert!((theta0 - 2.0 * theta2).abs() < 1e-15);
        assert!((direction.norm() - 1.0).abs() < 1e-15);
    }

    #[test]
    fn a_column_of_zeros_is_undetermined_alone() {
        let analysis = analysed(&[[1.0, 0.0, 1.0], [1.0, 0.0, 2.0], [1.0, 0.0, 4.0]]);
        assert_eq!((analysis.rank(), analysis.undetermined()), (2, vec![1]));
        assert!(analysis.standard_error(0).is_some() && analysis.standard_error(2).is_some());
        assert_eq!(analysis.reciprocal_condition(), 0.0);
    }

    #[test]
    fn fewer_rows_than_coefficients() {
        let analysis = analysed(&[[1.0, 0.0, 0.0], [0.0, 1.0, 1.0]]);
        assert_eq!((analysis.rank(), analysis.undetermined()), (2, vec![1, 2]));
        assert_eq!(analysed(&[]).rank(), 0);
        assert_eq!(analysed(&[]).undetermined(), [0, 1, 2]);
    }

    #[test]
    fn covariance_is_the_inverse_of_the_normal_matrix() {
        // JᵀJ = diag(4, 9, 16) + ones, its inverse by Sherman–Morrison.
        let rows = [[2.0, 0.0, 0.0], [0.0, 3.0, 0.0], [0.0, 0.0, 4.0], [1.0, 1.0, 1.0]];
        let covariance = analysed(&rows).covariance().unwrap();
        let inverse = [1.0 / 4.0, 1.0 / 9.0, 1.0 / 16.0];
        let denominator: f64 = 1.0 + inverse.iter().sum::<f64>();
        for i in 0..3 {
            for j in 0..3 {
                let diagonal = if i == j { inverse[i] } else { 0.0 };
                let expected = diagonal - inverse[i] * inverse[j] / denominator;
                assert!((covariance[(i, j)] - expected).abs() < 1e-16);
            }
            let error = analysed(&rows).standard_error(i).unwrap();
            assert!((error - covariance[(i, i)].sqrt()).abs() < 1e-15);
        }
    }

    #[test]
    fn units_do_not_decide_the_rank() {
        let small = analysed(&[[1e-150, 1.0, 1e120], [2e-150, 1.0, 0.0], [4e-150, 1.0, 1e120]]);
        assert_eq!(small.rank(), 3);
    }
}
