//! Information in prior-whitened coordinates: identity plus what the log adds.
//!
//! In these coordinates the prior's information is the identity, so that the matrix
//! is never singular and its condition number is the ratio of what the log knows best
//! to what the prior knows: the Cholesky factor is safe here, unlike that of a bare
//! `JᵀJ`.

/// `H = I + Σ jᵀ w j` with the gradient `g`, `p` coordinates.
#[derive(Clone, Debug, Default)]
pub struct Gram {
    p: usize,
    /// Row-major, lower triangle filled; after [`Self::factor`] its Cholesky factor.
    pub lower: Vec<f64>,
    /// Gradient of the cost.
    pub gradient: Vec<f64>,
}

impl Gram {
    /// Room for `p` coordinates.
    pub fn new(p: usize) -> Self {
        Self { p, lower: vec![0.0; p * p], gradient: vec![0.0; p] }
    }

    /// Starts again with the prior alone, at the coordinates `z`.
    pub fn start(&mut self, z: &[f64]) {
        self.lower.fill(0.0);
        for i in 0..self.p {
            self.lower[i * self.p + i] = 1.0;
        }
        self.gradient.copy_from_slice(z);
    }

    /// Adds one reading: its row, its residual and their precisions in information and
    /// gradient (equal but where a loss bends).
    #[inline]
    pub fn add(&mut self, row: &[f64], residual: f64, information: f64, pull: f64) {
        // As many coordinates as machines of one to four speeds have: loops of a known length are
        // worked out several numbers at once.
        match self.p {
            7 => self.add_sized::<7>(row, residual, information, pull),
            8 => self.add_sized::<8>(row, residual, information, pull),
            9 => self.add_sized::<9>(row, residual, information, pull),
            10 => self.add_sized::<10>(row, residual, information, pull),
            _ => self.add_any(row, residual, information, pull),
        }
    }

    #[inline]
    fn add_sized<const P: usize>(
        &mut self,
        row: &[f64],
        residual: f64,
        information: f64,
        pull: f64,
    ) {
        let (Ok(row), Ok(gradient)) =
            (<&[f64; P]>::try_from(row), <&mut [f64; P]>::try_from(&mut self.gradient[..]))
        else {
            return self.add_any(row, residual, information, pull);
        };
        let (lower, _) = self.lower.as_chunks_mut::<P>();
        // A copy stands in registers, where no sum can be in its way.
        let row = *row;
        let by_residual = pull * residual;
        for i in 0..P {
            gradient[i] += by_residual * row[i];
        }
        for (sums, value) in lower.iter_mut().zip(row) {
            let scaled = information * value;
            // What comes above the diagonal is nobody's.
            for j in 0..P {
                sums[j] += scaled * row[j];
            }
        }
    }

    fn add_any(&mut self, row: &[f64], residual: f64, information: f64, pull: f64) {
        let p = self.p;
        let row = &row[..p];
        let by_residual = pull * residual;
        for (i, &value) in row.iter().enumerate() {
            let scaled = information * value;
            for (sum, &other) in self.lower[i * p..i * p + i + 1].iter_mut().zip(row) {
                *sum += scaled * other;
            }
            self.gradient[i] += by_residual * value;
        }
    }

    /// Factors in place; `false` when a number is not finite.
    #[must_use]
    pub fn factor(&mut self) -> bool {
        let lower = &mut self.lower;
        match self.p {
            7 => factor(lower, 7),
            8 => factor(lower, 8),
            9 => factor(lower, 9),
            10 => factor(lower, 10),
            p => factor(lower, p),
        }
    }

    /// The Newton step `−H⁻¹ g`, after [`Self::factor`].
    pub fn step(&self, step: &mut [f64]) {
        for (to, from) in step.iter_mut().zip(&self.gradient) {
            *to = -from;
        }
        self.solve(step);
    }

    /// Replaces `values` by `H⁻¹ values`, after [`Self::factor`].
    pub fn solve(&self, values: &mut [f64]) {
        self.half_solve(values);
        self.other_half_solve(values);
    }

    /// Replaces `values` by `L⁻ᵀ values`, after [`Self::factor`].
    pub fn other_half_solve(&self, values: &mut [f64]) {
        let p = self.p;
        for i in (0..p).rev() {
            let mut value = values[i];
            for j in i + 1..p {
                value -= self.lower[j * p + i] * values[j];
            }
            values[i] = value / self.lower[i * p + i];
        }
    }

    /// Replaces `values` by `L⁻¹ values`, after [`Self::factor`].
    pub fn half_solve(&self, values: &mut [f64]) {
        let p = self.p;
        for i in 0..p {
            let mut value = values[i];
            for j in 0..i {
                value -= self.lower[i * p + j] * values[j];
            }
            values[i] = value / self.lower[i * p + i];
        }
    }

    /// [`Self::half_solve`] of several columns at once, to the same bits.
    pub fn half_solve_columns<const N: usize>(&self, columns: &mut [[f64; N]]) {
        let p = self.p;
        for i in 0..p {
            let mut values = columns[i];
            for j in 0..i {
                let factor = self.lower[i * p + j];
                for (value, other) in values.iter_mut().zip(&columns[j]) {
                    *value -= factor * other;
                }
            }
            let pivot = self.lower[i * p + i];
            columns[i] = values.map(|value| value / pivot);
        }
    }

    /// ln det H, after [`Self::factor`].
    pub fn ln_determinant(&self) -> f64 {
        (0..self.p).map(|i| 2.0 * self.lower[i * self.p + i].ln()).sum()
    }

    /// H⁻¹, row-major and full, after [`Self::factor`].
    pub fn inverse(&self) -> Vec<f64> {
        let p = self.p;
        let mut inverse = vec![0.0; p * p];
        let mut column = vec![0.0; p];
        for j in 0..p {
            column.fill(0.0);
            column[j] = 1.0;
            self.solve(&mut column);
            for i in 0..p {
                inverse[i * p + j] = column[i];
            }
        }
        // Symmetric to the last bit, so that what is written of it is too.
        for i in 0..p {
            for j in 0..i {
                let mean = 0.5 * (inverse[i * p + j] + inverse[j * p + i]);
                inverse[i * p + j] = mean;
                inverse[j * p + i] = mean;
            }
        }
        inverse
    }
}

/// Replaces the lower triangle of a matrix with `p` rows by its Cholesky factor.
#[inline(always)]
fn factor(lower: &mut [f64], p: usize) -> bool {
    let lower = &mut lower[..p * p];
    for j in 0..p {
        for k in 0..j {
            let factor = lower[j * p + k];
            for i in j..p {
                lower[i * p + j] -= lower[i * p + k] * factor;
            }
        }
        let pivot = lower[j * p + j];
        if !(pivot > 0.0 && pivot.is_finite()) {
            return false;
        }
        let scale = 1.0 / pivot.sqrt();
        for i in j..p {
            lower[i * p + j] *= scale;
        }
    }
    true
}
