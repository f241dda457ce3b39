//! Distribution functions against values of `quantile_values.py` (mpmath with
//! 60 digits, agreeing with SciPy) and against printed tables.

use kneadfit::numeric::quantiles::{
    chi_squared_cdf, chi_squared_tail, normal_cdf, normal_quantile, student_t_cdf,
    student_t_density, student_t_for_level, student_t_quantile,
};

/// Relative; the reference has 17 digits.
const TOLERANCE: f64 = 1e-12;

#[test]
fn agreement_with_sixty_digit_arithmetic() {
    let mut worst: Vec<(String, f64, String)> = Vec::new();
    let mut count = 0;
    for line in include_str!("quantile_values.csv").lines().skip(1) {
        let words: Vec<&str> = line.split(',').collect();
        let number = |i: usize| words[i].parse::<f64>().unwrap();
        let (x, dof, expected) = (number(1), number(2), number(3));
        let value = match words[0] {
            "normal_cdf" => normal_cdf(x),
            "normal_quantile" => normal_quantile(x),
            "student_tail" => student_t_cdf(-x, dof),
            "student_quantile_of_tail" => -student_t_quantile(x, dof),
            "chi_squared_cdf" => chi_squared_cdf(x, dof),
            "chi_squared_tail" => chi_squared_tail(x, dof),
            other => panic!("what is {other}?"),
        };
        let error = (value / expected - 1.0).abs();
        match worst.iter_mut().find(|(kind, ..)| kind == words[0]) {
            Some(entry) if error > entry.1 => *entry = (words[0].into(), error, line.into()),
            Some(_) => {}
            None => worst.push((words[0].into(), error, line.into())),
        }
        assert!(!error.is_nan(), "{line}: {value}");
        count += 1;
    }
    assert!(count > 300);
    for (kind, error, line) in &worst {
        println!("{kind}: {error:.1e} at {line}");
    }
    for (kind, error, line) in &worst {
        assert!(*error <= TOLERANCE, "{kind}: {error:.1e} at {line}");
    }
}

/// Rounded values of printed t tables (NIST/SEMATECH e-Handbook 1.3.6.7.2), from memory.
#[test]
fn printed_tables() {
    for (dof, level, expected) in [
        (1.0, 0.95, 12.706),
        (2.0, 0.95, 4.303),
        (4.0, 0.95, 2.776),
        (10.0, 0.90, 1.812),
        (10.0, 0.99, 3.169),
        (30.0, 0.95, 2.042),
        (100.0, 0.99, 2.626),
        (f64::INFINITY, 0.95, 1.960),
    ] {
        assert!((student_t_for_level(level, dof) - expected).abs() <= 5e-4, "{dof} {level}");
    }
    for (dof, x, tail) in [(1.0, 3.841, 0.05), (4.0, 9.488, 0.05), (10.0, 23.209, 0.01)] {
        assert!((chi_squared_tail(x, dof) - tail).abs() < 2e-5, "{dof} {x}");
    }
}

#[test]
fn edges_and_nonsense() {
    assert_eq!(student_t_quantile(0.0, 3.0), f64::NEG_INFINITY);
    assert_eq!(student_t_quantile(1.0, 3.0), f64::INFINITY);
    assert_eq!(student_t_quantile(0.5, 3.0), 0.0);
    assert_eq!(normal_quantile(0.0), f64::NEG_INFINITY);
    assert_eq!(normal_quantile(1.0), f64::INFINITY);
    assert_eq!(normal_quantile(0.5), 0.0);
    assert_eq!(student_t_cdf(f64::INFINITY, 2.0), 1.0);
    assert_eq!(student_t_cdf(f64::NEG_INFINITY, 2.0), 0.0);
    assert_eq!(chi_squared_cdf(f64::INFINITY, 2.0), 1.0);
    assert_eq!(chi_squared_cdf(-1.0, 2.0), 0.0);
    for nonsense in [
        student_t_cdf(1.0, 0.0),
        student_t_cdf(1.0, -1.0),
        student_t_cdf(f64::NAN, 2.0),
        student_t_quantile(1.1, 2.0),
        student_t_quantile(0.3, f64::NAN),
        normal_quantile(-0.1),
        normal_quantile(f64::NAN),
        chi_squared_cdf(1.0, 0.0),
        student_t_density(0.0, -2.0),
    ] {
        assert!(nonsense.is_nan());
    }
}
