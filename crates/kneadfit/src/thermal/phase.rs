//! One phase of mixing or rest in closed form, with its derivatives.
//!
//! Within a phase the balance is linear in the dough temperature,
//! `dT/dt = a − λT`, so that
//!
//! ```text
//! T(t) = T₀ e^(−λt) + a t φ(λt),   φ(x) = (1 − e^(−x)) / x
//! ```
//!
//! `φ` and its derivative are entire functions, so an exchange or softening of
//! nought (λ = 0) needs no special case.

/// Below this |x| the series are used: they need no call of `exp` and do not cancel.
const SERIES_LIMIT: f64 = 0.5;

/// `φ(x) = (1 − e^(−x)) / x` and `φ′(x)`.
#[inline(always)]
pub(crate) fn phi(x: f64) -> (f64, f64) {
    if x.abs() < SERIES_LIMIT {
        // φ(x) = Σ (−x)ⁿ/(n+1)!,  φ′(x) = −Σ (n+1)(−x)ⁿ/(n+2)!; the first term
        // left out is below 1e-17 of the sum at |x| = 0.5.
        const VALUE: [f64; 16] = series(false);
        const SLOPE: [f64; 16] = series(true);
        let y = -x;
        (by_pairs(&VALUE, y), -by_pairs(&SLOPE, y))
    } else {
        let decay = (-x).exp();
        ((1.0 - decay) / x, (decay * (1.0 + x) - 1.0) / (x * x))
    }
}

/// 1/(n+1)!, or (n+1)/(n+2)! for the slope; the last is left out.
const fn series(slope: bool) -> [f64; 16] {
    let mut table = [0.0; 16];
    let mut n = 0;
    let mut factorial = 1.0;
    while n < 15 {
        factorial *= (n + 1) as f64;
        table[n] =
            if slope { (n + 1) as f64 / (factorial * (n + 2) as f64) } else { 1.0 / factorial };
        n += 1;
    }
    table
}

/// A polynomial, `Σ table[n] yⁿ`, by pairs of pairs (Estrin): a processor works on several at
/// once, where Horner's rule waits for each.
#[inline]
fn by_pairs(table: &[f64; 16], y: f64) -> f64 {
    let (y2, y4) = (y * y, y * y * y * y);
    let four = |i: usize| (table[i] + table[i + 1] * y) + (table[i + 2] + table[i + 3] * y) * y2;
    (four(0) + four(4) * y4) + (four(8) + four(12) * y4) * (y4 * y4)
}

/// The constants of one phase: `dT/dt = drive − rate · T`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Flow {
    /// λ, 1/min.
    pub rate_per_min: f64,
    /// a, °C/min.
    pub drive_c_per_min: f64,
}

/// How a phase passes on its start temperature and small changes of its constants.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Passage {
    /// Dough temperature at its end, °C.
    pub end_c: f64,
    /// ∂T_end/∂T_start.
    pub by_start: f64,
    /// ∂T_end/∂λ, °C·min.
    pub by_rate: f64,
    /// ∂T_end/∂a, min.
    pub by_drive: f64,
    /// ∂T_end/∂t, °C/min.
    pub by_minutes: f64,
}

/// From here on e^(−x) is less than the rounding of 1.
const NOTHING_LEFT: f64 = 37.0;

impl Flow {
    /// Dough temperature and derivatives after `minutes` from `start_c`.
    #[inline(always)]
    pub fn pass(&self, start_c: f64, minutes: f64) -> Passage {
        let x = self.rate_per_min * minutes;
        if x > NOTHING_LEFT {
            // At rest between drive and losses. Coefficients that are hardly known put x
            // anywhere up to where its square is infinite.
            let (end_c, by_drive) =
                (self.drive_c_per_min / self.rate_per_min, 1.0 / self.rate_per_min);
            let by_rate = -end_c * by_drive;
            return Passage { end_c, by_start: 0.0, by_rate, by_drive, by_minutes: 0.0 };
        }
        let (phi, slope) = phi(x);
        let by_start = 1.0 - x * phi;
        let by_drive = minutes * phi;
        let end_c = start_c * by_start + self.drive_c_per_min * by_drive;
        Passage {
            end_c,
            by_start,
            by_rate: minutes * (self.drive_c_per_min * minutes * slope - start_c * by_start),
            by_drive,
            by_minutes: self.drive_c_per_min - self.rate_per_min * end_c,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Outside value: the definition itself through `exp_m1` of the C library, and the
    /// derivative by central differences of it.
    #[test]
    fn phi_is_its_definition_on_both_sides_of_the_series_limit() {
        for &x in &[-3.0, -0.6, -0.4999, -0.1, -1e-9, 1e-12, 1e-3, 0.2, 0.4999, 0.5001, 1.0, 9.0] {
            let definition = |x: f64| -(-x).exp_m1() / x;
            let (value, slope) = phi(x);
            assert!((value - definition(x)).abs() <= 4e-16 * value.abs(), "{x}");
            if x.abs() > 1e-2 {
                let step = 1e-4;
                let by_differences = (8.0 * (definition(x + step) - definition(x - step))
                    - (definition(x + 2.0 * step) - definition(x - 2.0 * step)))
                    / (12.0 * step);
                assert!((slope - by_differences).abs() < 1e-9 * slope.abs().max(1.0), "{x}");
            }
        }
        assert_eq!(phi(0.0), (1.0, -0.5));
    }

    /// Where nothing is left of the start, both ways to compute a phase meet.
    #[test]
    fn a_phase_that_lasts_comes_to_rest() {
        let pass = |rate_per_min| Flow { rate_per_min, drive_c_per_min: 40.0 }.pass(11.0, 10.0);
        let (before, after) = (pass(3.699_999_999), pass(3.700_000_001));
        for (a, b) in [
            (before.end_c, after.end_c),
            (before.by_start, after.by_start),
            (before.by_rate, after.by_rate),
            (before.by_drive, after.by_drive),
            (before.by_minutes, after.by_minutes),
        ] {
            assert!((a - b).abs() < 1e-7, "{a} {b}");
        }
        let far = Flow { rate_per_min: 1e170, drive_c_per_min: 24e170 }.pass(11.0, 10.0);
        assert!((far.end_c - 24.0).abs() < 1e-12 && (far.by_rate / -24e-170 - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_phase_solves_its_differential_equation() {
        let flow = Flow { rate_per_min: 0.03, drive_c_per_min: 2.0 };
        // Many short classical Runge–Kutta steps of dT/dt = a − λT.
        let (mut t, steps) = (11.0, 2000);
        let h = 12.0 / f64::from(steps);
        let f = |t: f64| flow.drive_c_per_min - flow.rate_per_min * t;
        for _ in 0..steps {
            let k1 = f(t);
            let k2 = f(t + 0.5 * h * k1);
            let k3 = f(t + 0.5 * h * k2);
            let k4 = f(t + h * k3);
            t += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
        }
        assert!((flow.pass(11.0, 12.0).end_c - t).abs() < 1e-11);
    }
}
