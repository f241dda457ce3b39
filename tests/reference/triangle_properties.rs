//! The triangle against nalgebra's QR of the whole matrix.

use kneadfit::numeric::{Factor, RankAnalysis, Triangle};
use nalgebra::{DMatrix, DVector};
use proptest::prelude::*;

#[derive(Debug, Clone)]
struct Rows {
    jacobian: DMatrix<f64>,
    residuals: DVector<f64>,
}

fn rows() -> impl Strategy<Value = Rows> {
    (1_usize..8, 0_usize..200).prop_flat_map(|(n, extra)| {
        let m = n + extra;
        let entries = prop::collection::vec(-1.0..1.0_f64, m * n);
        // Columns of very different units.
        let exponents = prop::collection::vec(-6..6_i32, n);
        let residuals = prop::collection::vec(-1.0..1.0_f64, m);
        (entries, exponents, residuals).prop_map(move |(entries, exponents, residuals)| Rows {
            jacobian: DMatrix::from_fn(m, n, |i, j| entries[i * n + j] * 10_f64.powi(exponents[j])),
            residuals: DVector::from_vec(residuals),
        })
    })
}

fn folded(rows: &Rows, indices: impl Iterator<Item = usize>) -> Triangle {
    let mut triangle = Triangle::new(rows.jacobian.ncols());
    for i in indices {
        let row: Vec<f64> = rows.jacobian.row(i).iter().copied().collect();
        triangle.push_row(&row, rows.residuals[i]);
    }
    triangle
}

/// RᵀR and RᵀQᵀr do not depend on signs: equal to `share` of the columns' norms.
fn assert_same(one: &Factor, other: &Factor, share: f64) -> Result<(), TestCaseError> {
    let (a, b) = (one.r(), other.r());
    let n = one.coefficient_count();
    prop_assert_eq!(one.row_count(), other.row_count());
    for i in 0..n {
        for j in 0..n {
            let size = a.column(i).norm() * a.column(j).norm();
            let difference = a.column(i).dot(&a.column(j)) - b.column(i).dot(&b.column(j));
            prop_assert!(difference.abs() <= share * size);
        }
    }
    let (mut first, mut second) = (vec![0.0; n], vec![0.0; n]);
    one.gradient(&mut first);
    other.gradient(&mut second);
    for j in 0..n {
        let size = a.column(j).norm() * one.residual_norm();
        prop_assert!((first[j] - second[j]).abs() <= share * size);
    }
    prop_assert!(
        (one.residual_norm() - other.residual_norm()).abs() <= share * one.residual_norm()
    );
    Ok(())
}

proptest! {
    #[test]
    fn the_factor_is_that_of_the_whole_matrix(rows in rows()) {
        let (m, n) = rows.jacobian.shape();
        let mut triangle = folded(&rows, 0..m);
        let factor = triangle.factor();
        let qr = rows.jacobian.clone().qr();
        let (r, expected) = (factor.r(), qr.r());
        for i in 0..n {
            for j in 0..n {
                // Rows of R are unique up to sign, as far as the diagonal is well away from zero.
                let sign = (r[(i, i)] * expected[(i, i)]).signum();
                let condition = RankAnalysis::new(factor).reciprocal_condition();
                let size = expected.column(j).norm();
                prop_assert!(
                    (sign * r[(i, j)] - expected[(i, j)]).abs() <= 1e-13 * size / condition,
                    "{i} {j}: {} {}", r[(i, j)], expected[(i, j)]
                );
            }
        }
        let rotated = qr.q().transpose() * &rows.residuals;
        prop_assert!((factor.reducible_norm() - rotated.norm()).abs()
            <= 1e-13 * rows.residuals.norm() / RankAnalysis::new(factor).reciprocal_condition());
        prop_assert!((factor.residual_norm() - rows.residuals.norm()).abs() <= 1e-13 * rows.residuals.norm());
    }

    #[test]
    fn neither_the_order_of_rows_nor_the_cut_into_chunks_matters(rows in rows(), cuts in 1_usize..6) {
        let m = rows.jacobian.nrows();
        let mut forward = folded(&rows, 0..m);
        let mut backward = folded(&rows, (0..m).rev());
        assert_same(forward.factor(), backward.factor(), 1e-12)?;
        let chunks: Vec<Triangle> =
            (0..cuts).map(|cut| folded(&rows, cut * m / cuts..(cut + 1) * m / cuts)).collect();
        let merged = |order: &mut dyn Iterator<Item = &Triangle>| {
            let mut all = Triangle::new(rows.jacobian.ncols());
            order.for_each(|chunk| all.merge(chunk));
            all
        };
        let mut in_order = merged(&mut chunks.iter());
        let mut reversed = merged(&mut chunks.iter().rev());
        assert_same(forward.factor(), in_order.factor(), 1e-12)?;
        assert_same(forward.factor(), reversed.factor(), 1e-12)?;
        // The same order gives the same bits.
        let mut again = merged(&mut chunks.iter());
        prop_assert_eq!(in_order.factor(), again.factor());
    }

    #[test]
    fn leverages_add_up_to_the_rank_and_variances_agree_with_the_covariance(rows in rows()) {
        let (m, n) = rows.jacobian.shape();
        let mut triangle = folded(&rows, 0..m);
        let factor = triangle.factor();
        let analysis = RankAnalysis::new(factor);
        prop_assume!(analysis.reciprocal_condition() > 1e-6);
        let mut sum = 0.0;
        for i in 0..m {
            let row: Vec<f64> = rows.jacobian.row(i).iter().copied().collect();
            let leverage = factor.leverage(&row).unwrap();
            prop_assert!((analysis.variance(&row).unwrap() - leverage).abs() <= 1e-8);
            sum += leverage;
        }
        prop_assert!((sum - n as f64).abs() < 1e-8);
        let covariance = analysis.covariance().unwrap();
        let product = &covariance * rows.jacobian.transpose() * &rows.jacobian;
        for i in 0..n {
            for j in 0..n {
                let units = analysis.scales()[j] / analysis.scales()[i];
                let expected = if i == j { 1.0 } else { 0.0 };
                prop_assert!((product[(i, j)] / units - expected).abs() < 1e-8);
            }
        }
    }

    #[test]
    fn a_copied_column_is_found_and_named(rows in rows(), factor in 0.5..2.0_f64) {
        let (m, n) = rows.jacobian.shape();
        let whole = RankAnalysis::new(folded(&rows, 0..m).factor());
        prop_assume!(whole.reciprocal_condition() > 1e-6);
        let mut wide = Triangle::new(n + 1);
        for i in 0..m {
            let mut row: Vec<f64> = rows.jacobian.row(i).iter().copied().collect();
            row.push(factor * row[0]);
            wide.push_row(&row, rows.residuals[i]);
        }
        let analysis = RankAnalysis::with_tolerance(wide.factor(), 1e-10);
        prop_assert_eq!(analysis.rank(), n);
        prop_assert_eq!(analysis.undetermined(), vec![0, n]);
        for j in 1..n {
            let (one, other) = (analysis.standard_error(j).unwrap(), whole.standard_error(j).unwrap());
            prop_assert!((one / other - 1.0).abs() < 1e-6);
        }
        // What is seen keeps its variance: θ₀ + factor·θₙ is the old θ₀.
        let mut seen = vec![0.0; n + 1];
        (seen[0], seen[n]) = (1.0, factor);
        let variance = analysis.variance(&seen).unwrap();
        prop_assert!((variance.sqrt() / whole.standard_error(0).unwrap() - 1.0).abs() < 1e-6);
    }
}
