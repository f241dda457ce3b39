//! All 27 nonlinear NIST sets from both starts, by one strategy.

use kneadfit::fit::solver::{Options, solve};
use kneadfit::numeric::differences::largest_disagreement;

use crate::dataset::{Dataset, digits, fewest_digits};
use crate::nist_models::MODELS;
use crate::regression::{Model, Regression, standard_errors};

fn read(name: &str) -> Dataset {
    let mut dataset = Dataset::read(name);
    if name == "Nelson" {
        dataset.rows.iter_mut().for_each(|row| row[0] = row[0].ln());
    }
    dataset
}

fn problem(dataset: &Dataset, model: Model) -> Regression<'_> {
    Regression { model, rows: &dataset.rows, coefficient_count: dataset.certified.len() }
}

/// Digits of coefficients, of standard errors, of the sum of squares; and the rest of a table row.
struct Run {
    label: String,
    coefficients: f64,
    errors: f64,
    success: bool,
}

fn run_all(options: &Options) -> Vec<Run> {
    let mut runs = Vec::new();
    println!("set      start  coef    se   rss  iterations evaluations  outcome");
    for (name, model) in MODELS {
        let dataset = read(name);
        for (number, start) in dataset.starts.iter().enumerate() {
            let mut problem = problem(&dataset, model);
            let solution = solve(&mut problem, start, options);
            let summary = solution.summary;
            let errors: Vec<f64> = standard_errors(&solution.factor, summary.rss())
                .into_iter()
                .map(|error| error.unwrap_or(f64::NAN))
                .collect();
            let run = Run {
                label: format!("{name} start {}", number + 1),
                coefficients: fewest_digits(solution.coefficients.as_slice(), &dataset.certified),
                errors: fewest_digits(&errors, &dataset.certified_errors),
                success: summary.is_success(),
            };
            println!(
                "{name:9}{:5} {:5.1} {:5.1} {:5.1} {:11} {:11}  {:?} {:?}",
                number + 1,
                run.coefficients,
                run.errors,
                digits(summary.rss(), dataset.certified_rss),
                summary.iterations,
                summary.evaluations,
                summary.reason,
                summary.scaling,
            );
            runs.push(run);
        }
    }
    runs
}

#[test]
fn thorough_fits_reach_eight_digits_everywhere() {
    let runs = run_all(&Options { thorough: true, ..Options::default() });
    assert_eq!(runs.len(), 54);
    for run in &runs {
        assert!(run.success, "{} did not converge", run.label);
        assert!(run.coefficients >= 8.0, "{}: {:.1} digits", run.label, run.coefficients);
        if !run.label.starts_with("Lanczos1 ") {
            assert!(run.errors >= 8.0, "{}: errors {:.1} digits", run.label, run.errors);
        }
    }
}

#[test]
fn a_single_fit_never_calls_a_wrong_answer_a_success() {
    let runs = run_all(&Options::default());
    let wrong: Vec<&str> = runs
        .iter()
        .filter(|run| run.success && run.coefficients < 8.0)
        .map(|run| run.label.as_str())
        .collect();
    assert!(wrong.is_empty(), "success was reported for {wrong:?}");
}

#[test]
fn the_derivatives_of_every_model_agree_with_differences() {
    for (name, model) in MODELS {
        let dataset = read(name);
        let problem = problem(&dataset, model);
        for at in [&dataset.starts[1], &dataset.certified] {
            let found = largest_disagreement(
                |coefficients, out| out.copy_from_slice(&problem.residuals(coefficients)),
                &problem.jacobian(at),
                at,
            );
            assert!(found.relative < 1e-6, "{name}: {found:?}");
        }
    }
}
