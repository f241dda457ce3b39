//! The damped subproblem: the best step no longer than a radius.
//!
//! In scaled coefficients `q = D p` and with the scaled triangle `R D⁻¹`:
//!
//! ```text
//! minimise ‖R D⁻¹ q + Qᵀr‖   subject to ‖q‖ ≤ Δ
//! ```
//!
//! Everything happens on n × n triangles; the rows of the problem are not
//! touched. Method: Moré, *The Levenberg–Marquardt algorithm: implementation
//! and theory* (1978), from memory.

use crate::numeric::Factor;
use crate::numeric::sum;

/// ‖q‖ may miss the radius by this share: more precision saves no evaluation.
const RADIUS_SLACK: f64 = 0.1;

/// Newton steps for the damping; two or three are the rule.
const DAMPING_LIMIT: usize = 10;

/// A diagonal entry of the scaled triangle below this counts as zero: rounding
/// of unit columns, with a margin.
const SINGULAR: f64 = 1e-14;

/// The least damping of a singular triangle: the undetermined direction then
/// takes no part in the step, and the others lose nothing visible.
const SINGULAR_DAMPING: f64 = 1e-14;

/// The subproblem at one point, and its memory.
#[derive(Debug, Clone)]
pub(super) struct Subproblem {
    n: usize,
    /// Row by row `[R D⁻¹ | Qᵀr]`, n + 1 numbers each.
    scaled: Vec<f64>,
    /// The same with damping folded in.
    damped: Vec<f64>,
    spare: Vec<f64>,
    /// The undamped step in scaled coefficients.
    pub undamped: Vec<f64>,
    /// ‖undamped‖, infinite where the triangle is singular.
    pub undamped_norm: f64,
    /// The step found last, in scaled coefficients.
    pub step: Vec<f64>,
    pub step_norm: f64,
    damping: f64,
}

impl Subproblem {
    pub fn new(n: usize) -> Self {
        Self {
            n,
            scaled: vec![0.0; n * (n + 1)],
            damped: vec![0.0; n * (n + 1)],
            spare: vec![0.0; n + 1],
            undamped: vec![0.0; n],
            undamped_norm: f64::INFINITY,
            step: vec![0.0; n],
            step_norm: 0.0,
            damping: 0.0,
        }
    }

    /// Forgets the damping of an earlier solve.
    pub fn reset(&mut self) {
        self.damping = 0.0;
    }

    /// Takes up a new point: its factor, the norms of its columns and the scales
    /// of the coefficients.
    pub fn set(&mut self, factor: &Factor, norms: &[f64], scales: &[f64]) {
        let n = self.n;
        let mut regular = true;
        for i in 0..n {
            let row = factor.row(i);
            let scaled = &mut self.scaled[i * (n + 1)..][..n + 1];
            for j in i..n {
                scaled[j] = row[j] / scales[j];
            }
            scaled[n] = row[n];
            regular &= row[i].abs() > SINGULAR * norms[i];
        }
        self.undamped_norm = f64::INFINITY;
        if regular {
            solve_upper(&self.scaled, n, &mut self.undamped);
            let norm = sum::norm(&self.undamped);
            if norm.is_finite() {
                self.undamped_norm = norm;
            }
        }
    }

    /// Whether the undamped step exists.
    pub fn is_regular(&self) -> bool {
        self.undamped_norm.is_finite()
    }

    /// Whether the undamped step is inside the region, so that damping is not needed.
    pub fn is_inside(&self, radius: f64) -> bool {
        self.undamped_norm <= (1.0 + RADIUS_SLACK) * radius
    }

    /// Finds the step for `radius` and returns the reduction of the cost that
    /// the linear model predicts, `½‖R D⁻¹q‖² + λ‖q‖²`.
    pub fn solve(&mut self, radius: f64) -> f64 {
        if self.is_inside(radius) {
            self.damping = 0.0;
            self.step.copy_from_slice(&self.undamped);
            self.step_norm = self.undamped_norm;
            return self.predicted_reduction();
        }
        // ‖q‖ falls with the damping λ. Bounds: at the upper one the step is the
        // gradient's and short enough; at the lower one, from the undamped step
        // by convexity, still too long.
        let upper = self.gradient_norm() / radius;
        let mut lower = if self.is_regular() {
            let excess = (self.undamped_norm - radius) / radius;
            excess / self.slope(Stage::Undamped)
        } else {
            SINGULAR_DAMPING
        };
        // Where a column all but vanishes the slope may underflow, and nothing is known.
        if !lower.is_finite() {
            lower = SINGULAR_DAMPING;
        }
        let mut upper = upper.max(lower);
        let mut damping = self.damping.clamp(lower, upper);
        if damping == 0.0 {
            damping = (lower * upper).sqrt().max(1e-3 * upper);
        }
        for _ in 0..DAMPING_LIMIT {
            self.damp(damping);
            let excess = (self.step_norm - radius) / radius;
            let floor = !self.is_regular() && damping <= SINGULAR_DAMPING && excess <= 0.0;
            if excess.abs() <= RADIUS_SLACK || floor {
                break;
            }
            if excess > 0.0 {
                lower = lower.max(damping);
            } else {
                upper = upper.min(damping);
            }
            let newton = damping + excess / self.slope(Stage::Damped);
            damping = if newton.is_finite() { newton.max(lower) } else { 0.5 * (lower + upper) };
        }
        self.predicted_reduction()
    }

    /// The gain ratio found the model wanting: the next region is smaller by
    /// `factor`, hence the damping larger.
    pub fn stiffen(&mut self, factor: f64) {
        self.damping /= factor;
    }

    fn predicted_reduction(&self) -> f64 {
        let n = self.n;
        let mut squares = 0.0;
        for i in 0..n {
            let row = &self.scaled[i * (n + 1)..][..n];
            let along: f64 = (i..n).map(|j| row[j] * self.step[j]).sum();
            squares += along * along;
        }
        0.5 * squares + self.damping * self.step_norm * self.step_norm
    }

    /// Folds √λ I into the triangle by Givens rotations and solves for the step.
    fn damp(&mut self, damping: f64) {
        let (n, width) = (self.n, self.n + 1);
        self.damping = damping;
        self.damped.copy_from_slice(&self.scaled);
        for j in 0..n {
            self.spare[j..].fill(0.0);
            self.spare[j] = damping.sqrt();
            for k in j..n {
                let row = &mut self.damped[k * width..][..width];
                let (a, b) = (row[k], self.spare[k]);
                if b == 0.0 {
                    continue;
                }
                let size = a.hypot(b);
                let (cosine, sine) = (a / size, b / size);
                for (x, y) in row[k..].iter_mut().zip(&mut self.spare[k..]) {
                    (*x, *y) = (cosine * *x + sine * *y, cosine * *y - sine * *x);
                }
            }
        }
        solve_upper(&self.damped, n, &mut self.step);
        self.step_norm = sum::norm(&self.step);
    }

    /// `‖S⁻ᵀ q/‖q‖‖²`, minus the slope of ln ‖q‖ by the damping.
    fn slope(&mut self, stage: Stage) -> f64 {
        let (n, width) = (self.n, self.n + 1);
        let (triangle, step, norm) = match stage {
            Stage::Undamped => (&self.scaled, &self.undamped, self.undamped_norm),
            Stage::Damped => (&self.damped, &self.step, self.step_norm),
        };
        for (spare, step) in self.spare.iter_mut().zip(step) {
            *spare = step / norm;
        }
        let mut squares = 0.0;
        for i in 0..n {
            let row = &triangle[i * width..][..width];
            let solved = self.spare[i] / row[i];
            squares += solved * solved;
            for (spare, entry) in self.spare[i + 1..n].iter_mut().zip(&row[i + 1..n]) {
                *spare -= entry * solved;
            }
        }
        squares
    }

    fn gradient_norm(&mut self) -> f64 {
        let (n, width) = (self.n, self.n + 1);
        self.spare[..n].fill(0.0);
        for i in 0..n {
            let row = &self.scaled[i * width..][..width];
            for (spare, entry) in self.spare[i..n].iter_mut().zip(&row[i..n]) {
                *spare += entry * row[n];
            }
        }
        sum::norm(&self.spare[..n])
    }
}

#[derive(Clone, Copy)]
enum Stage {
    Undamped,
    Damped,
}

/// Solves `S q = −rhs` for rows `[S | rhs]`.
fn solve_upper(rows: &[f64], n: usize, out: &mut [f64]) {
    for i in (0..n).rev() {
        let row = &rows[i * (n + 1)..][..n + 1];
        let mut sum = row[n];
        for (entry, solved) in row[i + 1..n].iter().zip(&out[i + 1..n]) {
            sum += entry * solved;
        }
        out[i] = -sum / row[i];
    }
}
