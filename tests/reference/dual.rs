//! Numbers that carry their derivatives, so that a reference model is written
//! once and its Jacobian is exact to rounding.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// The most coefficients of a reference model (ENSO has nine).
pub const MOST: usize = 9;

#[derive(Debug, Clone, Copy)]
pub struct Dual {
    pub value: f64,
    pub slopes: [f64; MOST],
}

impl Dual {
    pub fn variable(value: f64, index: usize) -> Self {
        let mut slopes = [0.0; MOST];
        slopes[index] = 1.0;
        Self { value, slopes }
    }

    /// A function of one number, given its value and its derivative there.
    fn chain(self, value: f64, derivative: f64) -> Self {
        Self { value, slopes: self.slopes.map(|slope| derivative * slope) }
    }

    pub fn exp(self) -> Self {
        self.chain(self.value.exp(), self.value.exp())
    }

    pub fn ln(self) -> Self {
        self.chain(self.value.ln(), 1.0 / self.value)
    }

    pub fn sin(self) -> Self {
        self.chain(self.value.sin(), self.value.cos())
    }

    pub fn cos(self) -> Self {
        self.chain(self.value.cos(), -self.value.sin())
    }

    pub fn atan(self) -> Self {
        self.chain(self.value.atan(), 1.0 / (1.0 + self.value * self.value))
    }

    pub fn square(self) -> Self {
        self * self
    }

    pub fn power(self, exponent: f64) -> Self {
        self.chain(self.value.powf(exponent), exponent * self.value.powf(exponent - 1.0))
    }

    pub fn power_dual(self, exponent: Self) -> Self {
        let value = self.value.powf(exponent.value);
        let by_base = exponent.value * self.value.powf(exponent.value - 1.0);
        let by_exponent = value * self.value.ln();
        let mut slopes = [0.0; MOST];
        for (i, slope) in slopes.iter_mut().enumerate() {
            *slope = by_base * self.slopes[i] + by_exponent * exponent.slopes[i];
        }
        Self { value, slopes }
    }
}

impl From<f64> for Dual {
    fn from(value: f64) -> Self {
        Self { value, slopes: [0.0; MOST] }
    }
}

macro_rules! operator {
    ($operator:ident, $method:ident, |$a:ident, $b:ident| $value:expr, $by_a:expr, $by_b:expr) => {
        impl $operator for Dual {
            type Output = Dual;
            fn $method(self, other: Dual) -> Dual {
                let ($a, $b) = (self.value, other.value);
                let (by_a, by_b): (f64, f64) = ($by_a, $by_b);
                let mut slopes = [0.0; MOST];
                for (i, slope) in slopes.iter_mut().enumerate() {
                    *slope = by_a * self.slopes[i] + by_b * other.slopes[i];
                }
                Dual { value: $value, slopes }
            }
        }
        impl $operator<f64> for Dual {
            type Output = Dual;
            fn $method(self, other: f64) -> Dual {
                self.$method(Dual::from(other))
            }
        }
        impl $operator<Dual> for f64 {
            type Output = Dual;
            fn $method(self, other: Dual) -> Dual {
                Dual::from(self).$method(other)
            }
        }
    };
}

operator!(Add, add, |a, b| a + b, 1.0, 1.0);
operator!(Sub, sub, |a, b| a - b, 1.0, -1.0);
operator!(Mul, mul, |a, b| a * b, b, a);
operator!(Div, div, |a, b| a / b, 1.0 / b, -a / b / b);

impl Neg for Dual {
    type Output = Dual;
    fn neg(self) -> Dual {
        self.chain(-self.value, -1.0)
    }
}
