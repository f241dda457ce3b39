//! Readings taken one after another, each by what is new in it.

/// The triangular factor L of the readings' covariance, a row a reading, and the readings
/// themselves as `L⁻¹ (read − forecast)`. The rows of readings taken later change nothing
/// of those before.
#[derive(Clone, Debug, Default)]
pub(super) struct Innovations {
    /// Rows of L, one behind the other.
    lower: Vec<f64>,
    whitened: Vec<f64>,
    taken: Vec<usize>,
    ln_determinant: f64,
}

/// A reading whose variance is known but for this share says nothing that the readings
/// before it have not said.
const NOTHING_NEW: f64 = 1e-12;

impl Innovations {
    /// The stages whose readings were taken.
    pub fn taken(&self) -> &[usize] {
        &self.taken
    }

    /// Σ (innovation / its standard deviation)².
    pub fn distance(&self) -> f64 {
        self.whitened.iter().map(|w| w * w).sum()
    }

    /// ln of the readings' normal density, but for a constant of their number.
    pub fn ln_likelihood(&self) -> f64 {
        -0.5 * (self.distance() + self.ln_determinant)
    }

    /// `L⁻¹ b` of the covariances `b` of something with the readings taken.
    pub fn solve(&self, with_taken: impl Fn(usize) -> f64) -> Vec<f64> {
        let mut solved: Vec<f64> = Vec::with_capacity(self.taken.len() + 1);
        let mut rows = &self.lower[..];
        for (i, &stage) in self.taken.iter().enumerate() {
            let (row, rest) = rows.split_at(i + 1);
            let known: f64 = row.iter().zip(&solved).map(|(l, s)| l * s).sum();
            solved.push((with_taken(stage) - known) / row[i]);
            rows = rest;
        }
        solved
    }

    /// How far the readings move the mean of what [`Self::solve`] was asked for.
    pub fn moves(&self, solved: &[f64]) -> f64 {
        dot(solved, &self.whitened)
    }

    /// Takes a reading: its stage, its covariances with those taken, its variance, and by
    /// how much it differs from its forecast.
    pub fn take(
        &mut self,
        stage: usize,
        with_taken: impl Fn(usize) -> f64,
        variance: f64,
        off: f64,
    ) {
        let mut row = self.solve(with_taken);
        let left = variance - dot(&row, &row);
        if left.is_nan() || left <= NOTHING_NEW * variance {
            return;
        }
        let pivot = left.sqrt();
        self.whitened.push((off - dot(&row, &self.whitened)) / pivot);
        row.push(pivot);
        self.lower.extend(row);
        self.taken.push(stage);
        self.ln_determinant += left.ln();
    }
}

pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Weights of scatter nodes after readings of these log-likelihoods.
pub(super) fn reweighted(weights: &[f64], ln_likelihoods: &[f64]) -> Vec<f64> {
    let most = (weights.iter().zip(ln_likelihoods))
        .filter(|(w, _)| **w > 0.0)
        .fold(f64::NEG_INFINITY, |most, (_, l)| most.max(*l));
    let mut all: Vec<f64> =
        weights.iter().zip(ln_likelihoods).map(|(w, l)| w * (l - most).min(0.0).exp()).collect();
    let sum: f64 = all.iter().sum();
    all.iter_mut().for_each(|w| *w /= sum);
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Inverse by Gauss–Jordan elimination, with row exchanges.
    fn inverse(matrix: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let n = matrix.len();
        let mut rows: Vec<Vec<f64>> = matrix
            .iter()
            .enumerate()
            .map(|(i, row)| row.iter().copied().chain((0..n).map(|j| f64::from(i == j))).collect())
            .collect();
        for column in 0..n {
            let pivot = (column..n)
                .max_by(|&a, &b| rows[a][column].abs().total_cmp(&rows[b][column].abs()))
                .unwrap();
            rows.swap(column, pivot);
            let lead = rows[column].clone();
            for (i, row) in rows.iter_mut().enumerate() {
                let share =
                    if i == column { 1.0 - 1.0 / lead[column] } else { row[column] / lead[column] };
                row.iter_mut().zip(&lead).for_each(|(to, from)| *to -= share * from);
            }
        }
        rows.into_iter().map(|row| row[n..].to_vec()).collect()
    }

    /// The conditional normal distribution as every textbook has it: with joint covariance
    /// `[[A, b], [bᵀ, c]]` the mean moves by `bᵀ A⁻¹ y`, and `c − bᵀ A⁻¹ b` is left.
    #[test]
    fn innovations_condition_as_the_textbook_does() {
        // A covariance of five readings and a sixth, from factors without pattern.
        let factor = |i: usize, k: usize| ((7 * i + 3 * k * k + i * k) % 11) as f64 - 4.5;
        let covariance: Vec<Vec<f64>> = (0..6)
            .map(|i| {
                (0..6)
                    .map(|j| {
                        let shared: f64 = (0..4).map(|k| factor(i, k) * factor(j, k)).sum();
                        shared + if i == j { 3.0 + i as f64 } else { 0.0 }
                    })
                    .collect()
            })
            .collect();
        let off = [1.0, -2.0, 0.5, 3.0, -0.7];
        let mut told = Innovations::default();
        for i in 0..5 {
            told.take(i, |other| covariance[i][other], covariance[i][i], off[i]);
        }
        let solved = told.solve(|other| covariance[5][other]);
        let known: Vec<Vec<f64>> = covariance[..5].iter().map(|row| row[..5].to_vec()).collect();
        let inverse = inverse(&known);
        let gain: Vec<f64> = inverse.iter().map(|row| dot(row, &covariance[5][..5])).collect();
        assert!((told.moves(&solved) - dot(&gain, &off)).abs() < 1e-12);
        assert!((dot(&solved, &solved) - dot(&gain, &covariance[5][..5])).abs() < 1e-11);
        let distance: f64 = inverse.iter().zip(off).map(|(row, y)| y * dot(row, &off)).sum();
        assert!((told.distance() - distance).abs() < 1e-12);
    }

    /// A reading that repeats another exactly says nothing new, and breaks nothing.
    #[test]
    fn a_reading_without_news() {
        let mut told = Innovations::default();
        told.take(0, |_| 0.0, 4.0, 1.0);
        told.take(1, |_| 4.0, 4.0, 1.0);
        assert_eq!(told.taken(), [0]);
        assert_eq!(told.moves(&told.solve(|_| 2.0)), 0.5);
    }

    #[test]
    fn weights_follow_the_likelihood() {
        let even = reweighted(&[0.5, 0.5, 0.0], &[-1000.0, -1000.0 + 3_f64.ln(), 9.0]);
        assert!((even[0] - 0.25).abs() < 1e-12 && (even[1] - 0.75).abs() < 1e-12 && even[2] == 0.0);
    }
}
