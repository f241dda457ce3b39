//! Batches on their way in kitchens richer than the model: after one reading of the dough
//! the interval of its next must hold, and be narrower.

use kneadfit::batch::{Batch, Reading};
use kneadfit::calibration::{Options, calibrate};
use kneadfit::charge::Phase;
use kneadfit::forecast::Forecaster;
use kneadfit::profile::{Profile, Provenance};

use crate::coverage::Coverage;
use crate::support::kitchen::{Kitchen, StagePlan};
use crate::support::machines::MachineKind;
use crate::support::rng::Draws;

/// A programme stopped once on the way for a look: after `share` of its minutes.
fn stopped(phases: &[Phase], share: f64) -> [Vec<Phase>; 2] {
    let total: f64 = phases.iter().map(|p| p.minutes).sum();
    let mut left = share * total;
    let mut parts = [Vec::new(), Vec::new()];
    for phase in phases {
        let first = phase.minutes.min(left);
        left -= first;
        for (part, minutes) in parts.iter_mut().zip([first, phase.minutes - first]) {
            if minutes > 0.0 {
                part.push(Phase { minutes, ..phase.clone() });
            }
        }
    }
    parts
}

#[derive(Default)]
struct Outcome {
    dough: Coverage,
    grade: Coverage,
    width: [f64; 2],
    squared_error: [f64; 2],
    doughs: f64,
}

/// Doughs read after half of their minutes, the reading off by `slip_k`.
fn try_kitchens(kind: MachineKind, size: usize, kitchens: usize, slip_k: f64) -> Outcome {
    let mut draws = Draws::seeded(1000 * size as u64 + kind.name().len() as u64);
    let mut outcome = Outcome::default();
    for _ in 0..kitchens {
        let kitchen = Kitchen::draw(&mut draws, kind);
        let log = kitchen.log(&mut draws, size);
        let Ok(calibration) = calibrate(&log, &Options::default()) else { continue };
        let profile = Profile::new(&calibration, &Provenance::default());
        let forecaster = Forecaster::new(&profile).unwrap();
        for _ in 0..4 {
            let intended = kitchen.intend(&mut draws, 200.0);
            let setup = kitchen.set_up(&mut draws, &intended, 200.0);
            let phases: Vec<Phase> =
                kitchen.programme(&mut draws).into_iter().flat_map(|s| s.phases).collect();
            let plan = stopped(&phases, 0.5).map(StagePlan::read);
            let mut logged = kitchen.mix(&mut draws, &setup, "next", &plan).logged;
            *logged.stages[0].reading.dough_c.as_mut().unwrap() += slip_k;
            let mut unread = logged.clone();
            unread.stages[0].reading = Reading::default();
            let of = |batch: &Batch| forecaster.forecast(batch, 0.95).unwrap().pop().unwrap();
            let (before, after) = (of(&unread), of(&logged));
            let read = logged.stages[1].reading;
            let dough_c = read.dough_c.unwrap();
            for (i, forecast) in [&before, &after].into_iter().enumerate() {
                let (low, high) = forecast.dough_interval_c.unwrap();
                outcome.width[i] += high - low;
                outcome.squared_error[i] += (forecast.dough_c - dough_c).powi(2);
            }
            outcome.doughs += 1.0;
            let (low, high) = after.dough_interval_c.unwrap();
            outcome.dough.count(low, dough_c, high);
            if let (Some(grade), Some((low, high))) = (read.development, after.development_interval)
            {
                outcome.grade.count(low, grade, high);
            }
        }
    }
    outcome
}

#[test]
fn intervals_hold_and_narrow_after_one_reading() {
    let (mut dough, mut grade) = (Coverage::default(), Coverage::default());
    let (mut error_before, mut error_after) = (0.0, 0.0);
    for size in [1, 3, 6, 12, 30] {
        let mut of_size = Coverage::default();
        for kind in [MachineKind::Spiral, MachineKind::Planetary, MachineKind::Hands] {
            let o = try_kitchens(kind, size, 150, 0.0);
            let per = |sum: f64| sum / o.doughs;
            let [wide, narrow] = o.width.map(per);
            let [unread, read] = o.squared_error.map(|sum| per(sum).sqrt());
            println!(
                "{size:>2} batches, {:<9}: dough {}, grade {}, width {wide:.2} → {narrow:.2} °C, \
                error {unread:.2} → {read:.2} °C",
                kind.name(),
                o.dough,
                o.grade,
            );
            assert!(narrow < 0.9 * wide, "{wide} {narrow}");
            error_before += unread;
            error_after += read;
            o.dough.assert_within(&format!("{size} batches, {}", kind.name()), 0.90, 1.0);
            of_size.add(o.dough);
            grade.add(o.grade);
        }
        of_size.assert_within(&format!("{size} batches"), 0.90, 1.0);
        dough.add(of_size);
    }
    assert!(error_after < 0.9 * error_before, "{error_before} {error_after}");
    println!("pooled: dough {dough}, grade {grade}");
    dough.assert_within("all sizes", 0.93, 0.98);
    grade.assert_within("all sizes, grades", 0.93, 1.0);
}

/// A reading on the way that is mistyped by ten degrees does next to nothing to what follows.
#[test]
fn a_mistyped_reading_on_the_way_does_little() {
    let mut pooled = Coverage::default();
    for size in [6, 30] {
        for kind in [MachineKind::Spiral, MachineKind::Planetary, MachineKind::Hands] {
            for slip_k in [10.0, -10.0] {
                let o = try_kitchens(kind, size, 50, slip_k);
                let per = |sum: f64| sum / o.doughs;
                let [unread, slipped] = o.squared_error.map(|sum| per(sum).sqrt());
                let [wide, after] = o.width.map(per);
                println!(
                    "{size:>2} batches, {:<9}, {slip_k:+} °C: dough {}, width {wide:.2} → \
                    {after:.2} °C, error {unread:.2} → {slipped:.2} °C",
                    kind.name(),
                    o.dough,
                );
                assert!(slipped < 1.1 * unread && after < 1.1 * wide, "{unread} {slipped}");
                pooled.add(o.dough);
            }
        }
    }
    pooled.assert_within("after a mistyped reading", 0.93, 0.99);
}
