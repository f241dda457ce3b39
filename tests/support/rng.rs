//! Random draws that are the same on every platform.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A stream of draws. The distributions are written out here, not taken from a
/// library, so that an upgrade cannot change files made from a seed.
pub struct Draws(ChaCha8Rng);

impl Draws {
    /// The stream of one seed.
    pub fn seeded(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// Uniform on `[0, 1)`, 53 bits.
    pub fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform on `[least, most)`.
    pub fn uniform(&mut self, least: f64, most: f64) -> f64 {
        least + (most - least) * self.unit()
    }

    /// Triangular on `[least, most]` with its peak at `mode`.
    pub fn triangular(&mut self, least: f64, mode: f64, most: f64) -> f64 {
        let (p, width) = (self.unit(), most - least);
        if p * width < mode - least {
            least + (p * width * (mode - least)).sqrt()
        } else {
            most - ((1.0 - p) * width * (most - mode)).sqrt()
        }
    }

    /// Normal, by Marsaglia's polar method; its second value is thrown away so that
    /// a draw depends on the stream alone.
    pub fn normal(&mut self, mean: f64, sd: f64) -> f64 {
        loop {
            let (x, y) = (self.uniform(-1.0, 1.0), self.uniform(-1.0, 1.0));
            let r2 = x * x + y * y;
            if r2 > 0.0 && r2 < 1.0 {
                return mean + sd * x * (-2.0 * libm::log(r2) / r2).sqrt();
            }
        }
    }

    /// Lognormal by its median and the standard deviation of its logarithm.
    pub fn lognormal(&mut self, median: f64, log_sd: f64) -> f64 {
        median * libm::exp(self.normal(0.0, log_sd))
    }

    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// A whole number from 0 to `n − 1`; `n` at least 1.
    pub fn below(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n - 1)
    }

    /// One of the items, each as likely as any other.
    pub fn pick<'a, T>(&mut self, items: &'a [T]) -> &'a T {
        &items[self.below(items.len())]
    }
}

/// `value` rounded to the nearest multiple of `step`; unchanged when `step` is 0.
///
/// Divides by the whole number of steps in one where there is one, so that the
/// result is the double nearest to its decimal and prints short.
pub fn round_to(value: f64, step: f64) -> f64 {
    if step <= 0.0 {
        return value;
    }
    let steps_in_one = 1.0 / step;
    let whole = steps_in_one.round();
    if (steps_in_one - whole).abs() < 1e-9 && whole >= 1.0 {
        (value * whole).round() / whole
    } else {
        (value / step).round() * step
    }
}
