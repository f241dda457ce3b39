//! The linear NIST sets, solved by the triangle alone: one pass over the rows,
//! and a refinement for the sets whose residuals dwarf their coefficients.

use kneadfit::numeric::sum::CompensatedSum;
use kneadfit::numeric::{Factor, Triangle};

use crate::dataset::{Dataset, digits, fewest_digits};
use crate::regression::standard_errors;

/// The derivatives of a row by the coefficients.
type Design = fn(&[f64]) -> Vec<f64>;

fn powers(x: f64, highest: i32) -> Vec<f64> {
    (0..=highest).map(|power| x.powi(power)).collect()
}

const SETS: [(&str, Design); 11] = [
    ("Norris", |x| powers(x[0], 1)),
    ("Pontius", |x| powers(x[0], 2)),
    ("NoInt1", |x| x.to_vec()),
    ("NoInt2", |x| x.to_vec()),
    ("Filip", |x| powers(x[0], 10)),
    ("Longley", |x| [&[1.0], x].concat()),
    ("Wampler1", |x| powers(x[0], 5)),
    ("Wampler2", |x| powers(x[0], 5)),
    ("Wampler3", |x| powers(x[0], 5)),
    ("Wampler4", |x| powers(x[0], 5)),
    ("Wampler5", |x| powers(x[0], 5)),
];

/// What one pass leaves: Filip's condition is some 10¹⁰ after scaling, and the
/// noise of Wampler5 is 10⁴ times the coefficient that it has to find.
fn one_pass_digits(name: &str) -> f64 {
    match name {
        "Filip" => 6.5,
        "Wampler5" => 6.0,
        _ => 8.0,
    }
}

/// `Σ aᵢ bᵢ` with the rounding of every product and sum carried along.
fn exact_dot(pairs: impl Iterator<Item = (f64, f64)>) -> f64 {
    let mut sum = CompensatedSum::default();
    for (a, b) in pairs {
        let product = a * b;
        sum.add(product);
        sum.add(a.mul_add(b, -product));
    }
    sum.value()
}

/// Steps with a gradient of more than double precision, until they are rounding.
fn refine(factor: &Factor, rows: &[Vec<f64>], responses: &[f64], solution: &mut [f64]) {
    for _ in 0..4 {
        let residuals: Vec<f64> = rows
            .iter()
            .zip(responses)
            .map(|(row, &y)| {
                let predicted = row.iter().copied().zip(solution.iter().copied());
                exact_dot(predicted.chain([(-1.0, y)]))
            })
            .collect();
        let mut step: Vec<f64> = (0..solution.len())
            .map(|j| exact_dot(rows.iter().zip(&residuals).map(|(row, &r)| (row[j], r))))
            .collect();
        assert!(factor.seminormal_step(&mut step));
        solution.iter_mut().zip(step).for_each(|(x, p)| *x += p);
    }
}

#[test]
fn linear_sets_reach_eight_digits() {
    println!("set       coef  refined    se   rss");
    for (name, design) in SETS {
        let dataset = Dataset::read(name);
        let n = dataset.certified.len();
        let mut triangle = Triangle::new(n);
        let rows: Vec<Vec<f64>> = dataset.rows.iter().map(|row| design(&row[1..])).collect();
        let responses: Vec<f64> = dataset.rows.iter().map(|row| row[0]).collect();
        for (row, y) in rows.iter().zip(&responses) {
            // predicted − observed at coefficients of zero
            triangle.push_row(row, -y);
        }
        let factor = triangle.factor();
        let mut solution = vec![0.0; n];
        assert!(factor.gauss_newton_step(&mut solution), "{name} is singular");
        let rss = factor.remainder().powi(2);
        let errors: Vec<f64> =
            standard_errors(factor, rss).into_iter().map(|e| e.unwrap_or(f64::NAN)).collect();
        let reached = fewest_digits(&solution, &dataset.certified);
        let exact = dataset.certified_rss == 0.0;
        let reached_errors = if exact {
            // Certified as zero: what remains must be nothing beside the coefficients.
            let worst = errors.iter().zip(&dataset.certified).map(|(e, c)| e / c);
            -worst.fold(0.0, f64::max).log10()
        } else {
            fewest_digits(&errors, &dataset.certified_errors)
        };
        refine(factor, &rows, &responses, &mut solution);
        let refined = fewest_digits(&solution, &dataset.certified);
        println!(
            "{name:9} {reached:4.1}     {refined:4.1}  {reached_errors:4.1}  {:4.1}",
            digits(rss, dataset.certified_rss)
        );
        let wanted = one_pass_digits(name);
        assert!(reached >= wanted, "{name}: {reached:.1} digits");
        // Rounding Filip's powers of x to doubles has moved its solution already.
        let wanted = if name == "Filip" { 6.5 } else { 8.0 };
        assert!(refined >= wanted, "{name}: {refined:.1} digits after refinement");
        assert!(reached_errors >= wanted, "{name}: standard errors {reached_errors:.1} digits");
    }
}
