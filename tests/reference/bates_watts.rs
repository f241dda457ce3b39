//! Two data sets of Bates & Watts, *Nonlinear Regression Analysis and Its
//! Applications* (1988).

use kneadfit::fit::solver::{Options, solve};

use crate::dual::Dual;
use crate::nist_models::saturation;
use crate::regression::{Model, Regression, standard_errors};

fn fitted(model: Model, rows: &[Vec<f64>], start: &[f64]) -> (Vec<f64>, Vec<f64>, f64) {
    let mut problem = Regression { model, rows, coefficient_count: start.len() };
    let solution = solve(&mut problem, start, &Options::default());
    assert!(solution.summary.is_success(), "{:?}", solution.summary);
    let rss = solution.summary.rss();
    let errors = standard_errors(&solution.factor, rss).into_iter().map(Option::unwrap).collect();
    (solution.coefficients.as_slice().to_vec(), errors, rss)
}

/// BOD, the data and the summary of R's `datasets` help page
/// (19.143 ± 2.496, 0.5311 ± 0.2031, RSS 25.990).
#[test]
fn biochemical_oxygen_demand() {
    let rows: Vec<Vec<f64>> =
        [(1.0, 8.3), (2.0, 10.3), (3.0, 19.0), (4.0, 16.0), (5.0, 15.6), (7.0, 19.8)]
            .iter()
            .map(|&(time, demand)| vec![demand, time])
            .collect();
    let (coefficients, errors, rss) = fitted(saturation, &rows, &[20.0, 0.24]);
    assert!((coefficients[0] - 19.143).abs() < 5e-4);
    assert!((coefficients[1] - 0.5311).abs() < 5e-5);
    assert!((errors[0] - 2.496).abs() < 5e-4);
    assert!((errors[1] - 0.2031).abs() < 5e-5);
    assert!((rss - 25.990).abs() < 5e-4);
}

fn michaelis_menten(b: &[Dual], x: &[f64]) -> Dual {
    b[0] * x[0] / (b[1] + x[0])
}

/// Puromycin, treated cells: 212.68 ± 6.947, 0.064121 ± 0.008281, s = 10.934.
/// The data are written from memory; that the published fit comes out of them
/// says that memory served.
#[test]
fn puromycin() {
    let concentration = [0.02, 0.02, 0.06, 0.06, 0.11, 0.11, 0.22, 0.22, 0.56, 0.56, 1.1, 1.1];
    let rate = [76., 47., 97., 107., 123., 139., 159., 152., 191., 201., 207., 200.];
    let rows: Vec<Vec<f64>> = concentration.iter().zip(rate).map(|(&x, y)| vec![y, x]).collect();
    let (coefficients, errors, rss) = fitted(michaelis_menten, &rows, &[200.0, 0.1]);
    assert!((coefficients[0] - 212.68).abs() < 5e-3);
    assert!((coefficients[1] - 0.064_121).abs() < 5e-7);
    assert!((errors[0] - 6.947).abs() < 5e-4);
    assert!((errors[1] - 0.008_281).abs() < 5e-7);
    assert!(((rss / 10.0).sqrt() - 10.934).abs() < 5e-4);
}
