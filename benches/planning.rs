//! Plans a second: water alone, and water with minutes of least heat.

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use kneadfit::calibration::{Options, calibrate};
use kneadfit::charge::{Charge, Material};
use kneadfit::planning::{Draft, Planner, Wanted};
use kneadfit::profile::{Profile, Provenance};

#[path = "../tests/support/mod.rs"]
mod support;

use support::kitchen::Kitchen;
use support::machines::MachineKind;
use support::rng::Draws;

fn planning(c: &mut Criterion) {
    let mut draws = Draws::seeded(12);
    let kitchen = Kitchen::draw(&mut draws, MachineKind::Spiral);
    let log = kitchen.log(&mut draws, 12);
    let calibration = calibrate(&log, &Options::default()).expect("a log that can be fitted");
    let profile = Profile::new(&calibration, &Provenance::default());
    let planner = Planner::new(&profile).expect("a profile that holds together");
    let charge =
        Charge::new(25.0).with(Material::Flour, 10.0, 21.0).with(Material::Salt, 0.2, 25.0);
    let draft = Draft::new("bench", charge, 6.6);
    let given = draft.clone().mixing("low", 4.0).mixing("high", 6.0);
    let open = draft.as_needed("low").as_needed("high");
    let wanted = Wanted::dough_at(24.0);
    let mut group = c.benchmark_group("planning");
    group.throughput(Throughput::Elements(1));
    group.bench_function("water and ice, intervals included", |b| {
        b.iter(|| planner.plan(black_box(&given), &wanted));
    });
    group.bench_function("water, ice and minutes", |b| {
        b.iter(|| planner.plan(black_box(&open), &wanted));
    });
    let capped = Wanted { cap_c: Some(24.5), ..wanted.clone() };
    group.bench_function("the same under a cap", |b| {
        b.iter(|| planner.plan(black_box(&open), &capped));
    });
    group.finish();
}

criterion_group!(benches, planning);
criterion_main!(benches);
