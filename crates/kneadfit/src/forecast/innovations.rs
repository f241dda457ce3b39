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
        if !(left > NOTHING_NEW * variance) {
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
        weights.iter().zip(ln_likelihoods).map(|(w, l)| w * (l - most).exp()).collect();
    let sum: f64 = all.iter().sum();
    all.iter_mut().for_each(|w| *w /= sum);
    all
}
