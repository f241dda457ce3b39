//! Whole fits and forecasts: twelve batches, a hundred, ten thousand rows, a million; of heat
//! alone and with development; and the `fit` command on the demo, from start to written files.

#[path = "../tests/support/mod.rs"]
mod support;

use std::hint::black_box;
use std::process::Command;

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use kneadfit::batch::BatchLog;
use kneadfit::calibration::{Options, calibrate};
use kneadfit::forecast::Forecaster;
use kneadfit::profile::{Profile, Provenance};

use support::exact::{ModelMachine, Uncertainties};
use support::rng::Draws;

/// A log of `batches` batches of one machine from the middle of the priors: read and graded
/// as the simulated baker does.
fn graded_log_of(batches: usize) -> BatchLog {
    let mut draws = Draws::seeded(12);
    let mut machine = ModelMachine::draw(&mut draws, &["low", "high"], 16.0, &[]);
    machine.speeds[0].friction_w_per_kg = 20.0;
    machine.speeds[1].friction_w_per_kg = 45.0;
    machine.scatter_k = 0.4;
    let mut log = machine.log(&mut draws, batches.min(2_000), &Uncertainties::default());
    // Simulating a million batches would take longer than fitting them: they repeat.
    let some = log.batches.clone();
    while log.batches.len() < batches {
        log.batches.extend_from_slice(&some[..some.len().min(batches - log.batches.len())]);
    }
    log
}

/// The same batches, each read once and without grades: heat alone.
fn log_of(batches: usize) -> BatchLog {
    let mut log = graded_log_of(batches);
    for batch in &mut log.batches {
        let phases = batch.phases().cloned().collect();
        let last = batch.stages.pop();
        batch.stages.clear();
        if let Some(mut stage) = last {
            stage.phases = phases;
            stage.reading.development = None;
            batch.stages.push(stage);
        }
    }
    log
}

fn fits(c: &mut Criterion) {
    calibrations(c, "calibrate", log_of);
    calibrations(c, "calibrate with development", graded_log_of);
}

fn calibrations(c: &mut Criterion, name: &str, log_of: fn(usize) -> BatchLog) {
    let mut group = c.benchmark_group(name);
    for batches in [12, 100, 10_000, 1_000_000] {
        let log = log_of(batches);
        let both = calibrate(&log, &Options::default()).unwrap().development.is_some();
        assert_eq!(both, name.ends_with("development"), "{batches}: the parts that are timed");
        group.throughput(Throughput::Elements(batches as u64));
        if batches > 1_000 {
            group.sample_size(10);
        }
        group.bench_function(format!("{batches} batches"), |b| {
            b.iter_batched(
                || &log,
                |log| black_box(calibrate(log, &Options::default())),
                BatchSize::PerIteration,
            );
        });
    }
}

/// The whole command, its start and its nine files included.
fn command(c: &mut Criterion) {
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/data-demo/kitchen-log.csv");
    let folder = tempfile::tempdir().unwrap();
    let mut group = c.benchmark_group("command");
    group.sample_size(20);
    group.bench_function("fit on the demo", |b| {
        b.iter(|| {
            let mut command = Command::new(env!("CARGO_BIN_EXE_kneadfit"));
            let output = command.args(["fit", demo, "--out"]).arg(folder.path()).output().unwrap();
            assert!(output.status.success());
            black_box(output)
        });
    });
}

fn forecasts(c: &mut Criterion) {
    let log = log_of(30);
    let calibration = calibrate(&log, &Options::default()).unwrap();
    let forecaster = Forecaster::new(&Profile::new(&calibration, &Provenance::default())).unwrap();
    let mut group = c.benchmark_group("forecast");
    group.throughput(Throughput::Elements(1));
    group.bench_function("one dough with interval", |b| {
        b.iter(|| black_box(forecaster.forecast(&log.batches[3], 0.95)));
    });
}

criterion_group!(benches, command, fits, forecasts);
criterion_main!(benches);
