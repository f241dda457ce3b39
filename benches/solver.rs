//! The solver on an exponential of three coefficients, from a dozen rows to a
//! million, and its parts.
//!
//! `cargo bench --bench solver`

use std::hint::black_box;

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use kneadfit::fit::solver::{LeastSquares, Options, Workspace, solve_in};
use kneadfit::numeric::{RankAnalysis, Triangle};

/// `a + b e^(−k x)` against readings.
struct Approach {
    rows: Vec<(f64, f64)>,
}

impl Approach {
    /// Readings with a made-up, repeatable noise.
    fn new(count: usize) -> Self {
        let rows = (0..count)
            .map(|i| {
                let x = 12.0 * (i as f64 + 0.5) / count as f64;
                let noise = 0.2 * ((i as f64 * 12.9898).sin() * 43_758.545_3).fract();
                (x, 26.0 - 8.0 * (-0.3 * x).exp() + noise)
            })
            .collect();
        Self { rows }
    }
}

impl LeastSquares for Approach {
    fn coefficient_count(&self) -> usize {
        3
    }

    fn cost(&mut self, c: &[f64]) -> Option<f64> {
        let squares: f64 =
            self.rows.iter().map(|&(x, y)| (c[0] + c[1] * (-c[2] * x).exp() - y).powi(2)).sum();
        squares.is_finite().then_some(0.5 * squares)
    }

    fn linearise(&mut self, c: &[f64], triangle: &mut Triangle) -> Option<f64> {
        let mut squares = 0.0;
        for &(x, y) in &self.rows {
            let decay = (-c[2] * x).exp();
            let residual = c[0] + c[1] * decay - y;
            triangle.push_row(&[1.0, decay, -x * c[1] * decay], residual);
            squares += residual * residual;
        }
        squares.is_finite().then_some(0.5 * squares)
    }
}

const START: [f64; 3] = [25.0, -5.0, 0.2];

fn solves(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("solve");
    let options = Options::default();
    for count in [12, 1_000, 1_000_000] {
        let mut problem = Approach::new(count);
        let mut workspace = Workspace::new(3);
        let cold = solve_in(&mut workspace, &mut problem, &START, &options);
        assert!(cold.is_success(), "{cold:?}");
        println!("{count} rows: {} evaluations", cold.evaluations);
        if count > 100_000 {
            group.sample_size(10);
        }
        group.throughput(Throughput::Elements(count as u64));
        group.bench_function(format!("cold, {count} rows"), |bencher| {
            bencher.iter(|| solve_in(&mut workspace, &mut problem, black_box(&START), &options));
        });
    }
    let mut problem = Approach::new(12);
    let mut workspace = Workspace::new(3);
    solve_in(&mut workspace, &mut problem, &START, &options);
    let minimum = workspace.coefficients().as_slice().to_vec();
    let near: Vec<f64> = minimum.iter().map(|c| c * 1.0001).collect();
    group.sample_size(100);
    group.bench_function("at the minimum, 12 rows", |bencher| {
        bencher.iter(|| solve_in(&mut workspace, &mut problem, black_box(&minimum), &options));
    });
    group.bench_function("from nearby, 12 rows", |bencher| {
        bencher.iter(|| solve_in(&mut workspace, &mut problem, black_box(&near), &options));
    });
    group.finish();
}

fn triangles(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("triangle");
    for (count, n) in [(12, 3), (1_000_000, 3), (1_000_000, 9)] {
        let rows: Vec<f64> =
            (0..count * (n + 1)).map(|i| ((i * 7919 % 10_007) as f64).sin()).collect();
        let mut triangle = Triangle::new(n);
        if count > 100_000 {
            group.sample_size(10);
        }
        group.throughput(Throughput::Elements(count as u64));
        group.bench_function(format!("{count} rows of {n}"), |bencher| {
            bencher.iter(|| {
                triangle.reset();
                triangle.push_rows(black_box(&rows));
                triangle.factor().remainder()
            });
        });
    }
    group.finish();
}

fn analysis(criterion: &mut Criterion) {
    let mut problem = Approach::new(12);
    let mut triangle = Triangle::new(3);
    problem.linearise(&START, &mut triangle);
    criterion.bench_function("rank and covariance of 3", |bencher| {
        bencher.iter_batched(
            || triangle.clone(),
            |mut triangle| RankAnalysis::new(triangle.factor()).covariance(),
            BatchSize::SmallInput,
        );
    });
}

criterion_group!(benches, solves, triangles, analysis);
criterion_main!(benches);
