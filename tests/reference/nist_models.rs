//! The models of the 27 nonlinear NIST sets, as their files state them.

use std::f64::consts::PI;

use crate::dual::Dual;
use crate::regression::Model;

/// The name of a set's file and its model; that of `Nelson` is for log y.
pub const MODELS: [(&str, Model); 27] = [
    ("Misra1a", saturation),
    ("Chwirut2", chwirut),
    ("Chwirut1", chwirut),
    ("Lanczos3", three_exponentials),
    ("Gauss1", gauss),
    ("Gauss2", gauss),
    ("DanWood", |b, x| b[0] * (b[1] * x[0].ln()).exp()),
    ("Misra1b", |b, x| b[0] * (1.0 - (1.0 + b[1] * x[0] / 2.0).power(-2.0))),
    ("Kirby2", |b, x| rational(&b[..3], &b[3..], x[0])),
    ("Hahn1", |b, x| rational(&b[..4], &b[4..], x[0])),
    ("Nelson", |b, x| b[0] - b[1] * x[0] * (-(b[2] * x[1])).exp()),
    ("MGH17", |b, x| b[0] + b[1] * (-(b[3] * x[0])).exp() + b[2] * (-(b[4] * x[0])).exp()),
    ("Lanczos1", three_exponentials),
    ("Lanczos2", three_exponentials),
    ("Gauss3", gauss),
    ("Misra1c", |b, x| b[0] * (1.0 - (1.0 + 2.0 * b[1] * x[0]).power(-0.5))),
    ("Misra1d", |b, x| b[0] * b[1] * x[0] / (1.0 + b[1] * x[0])),
    ("Roszman1", |b, x| b[0] - b[1] * x[0] - (b[2] / (x[0] - b[3])).atan() / PI),
    ("ENSO", enso),
    ("MGH09", |b, x| b[0] * (x[0] * x[0] + x[0] * b[1]) / (x[0] * x[0] + x[0] * b[2] + b[3])),
    ("Thurber", |b, x| rational(&b[..4], &b[4..], x[0])),
    ("BoxBOD", saturation),
    ("Rat42", |b, x| b[0] / (1.0 + (b[1] - b[2] * x[0]).exp())),
    ("MGH10", |b, x| b[0] * (b[1] / (x[0] + b[2])).exp()),
    ("Eckerle4", |b, x| b[0] / b[1] * (-0.5 * ((x[0] - b[2]) / b[1]).square()).exp()),
    ("Rat43", |b, x| b[0] / (1.0 + (b[1] - b[2] * x[0]).exp()).power_dual(1.0 / b[3])),
    ("Bennett5", |b, x| b[0] * (b[1] + x[0]).power_dual(-1.0 / b[2])),
];

/// First-order build-up; also the shape of BOD.
pub fn saturation(b: &[Dual], x: &[f64]) -> Dual {
    b[0] * (1.0 - (-(b[1] * x[0])).exp())
}

fn chwirut(b: &[Dual], x: &[f64]) -> Dual {
    (-(b[0] * x[0])).exp() / (b[1] + b[2] * x[0])
}

fn three_exponentials(b: &[Dual], x: &[f64]) -> Dual {
    let term = |k: usize| b[k] * (-(b[k + 1] * x[0])).exp();
    term(0) + term(2) + term(4)
}

fn gauss(b: &[Dual], x: &[f64]) -> Dual {
    let peak = |k: usize| b[k] * (-((x[0] - b[k + 1]) / b[k + 2]).square()).exp();
    b[0] * (-(b[1] * x[0])).exp() + peak(2) + peak(5)
}

fn enso(b: &[Dual], x: &[f64]) -> Dual {
    let year = 2.0 * PI * x[0] / 12.0;
    let cycle = |k: usize| {
        let angle = 2.0 * PI * x[0] / b[k];
        b[k + 1] * angle.cos() + b[k + 2] * angle.sin()
    };
    b[0] + b[1] * year.cos() + b[2] * year.sin() + cycle(3) + cycle(6)
}

/// `Σ aᵢ xⁱ / (1 + x Σ cᵢ xⁱ)`.
fn rational(above: &[Dual], below: &[Dual], x: f64) -> Dual {
    let polynomial =
        |terms: &[Dual]| terms.iter().rev().fold(Dual::from(0.0), |sum, &term| sum * x + term);
    polynomial(above) / (1.0 + polynomial(below) * x)
}
