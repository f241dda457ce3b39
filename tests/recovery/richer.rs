//! Kitchens that are richer than the model: a bowl of its own, softening of another
//! shape, errors of every thermometer and scale. Intervals must hold all the same, and
//! the forecast must beat the trade's friction-factor rule.

use kneadfit::calibration::{Options, calibrate};
use kneadfit::forecast::Forecaster;
use kneadfit::profile::{Profile, Provenance};

use crate::coverage::Coverage;
use crate::support::kitchen::Kitchen;
use crate::support::machines::MachineKind;
use crate::support::rng::Draws;
use crate::support::rule::{self, Memory};

/// Forecasts of the next doughs of many kitchens from logs of `size` batches: how often
/// the 95 % intervals hold the reading and the grade, and the mean squared errors of
/// forecast and rule.
struct Outcome {
    dough: Coverage,
    grade: Coverage,
    forecast: f64,
    rule: f64,
    /// Machines that are called unlike any mixer.
    unlike: usize,
}

fn try_kitchens(kind: MachineKind, size: usize, kitchens: usize) -> Outcome {
    let mut draws = Draws::seeded(97 * size as u64 + kind.name().len() as u64);
    let mut outcome = Outcome {
        dough: Coverage::default(),
        grade: Coverage::default(),
        forecast: 0.0,
        rule: 0.0,
        unlike: 0,
    };
    let mut compared = 0.0;
    for _ in 0..kitchens {
        let kitchen = Kitchen::draw(&mut draws, kind);
        let log = kitchen.log(&mut draws, size);
        let Ok(calibration) = calibrate(&log, &Options::default()) else { continue };
        let parts = || std::iter::once(&calibration.heat).chain(&calibration.development);
        let is_unlike = parts().flat_map(|p| &p.warnings).any(|w| w.contains("several machines"));
        outcome.unlike += usize::from(is_unlike);
        let profile = Profile::new(&calibration, &Provenance::default());
        let forecaster = Forecaster::new(&profile).unwrap();
        for _ in 0..4 {
            let next = kitchen.next_batch(&mut draws);
            // From the charge alone; `on_the_way` has what readings add.
            let Ok(stages) = forecaster.forecast(&next.unread(), 0.95) else { continue };
            let forecast = stages.last().unwrap();
            if let Some(read) = next.observed_dough_c() {
                let (low, high) = forecast.dough_interval_c.unwrap();
                outcome.dough.count(low, read, high);
                if let Some(by_rule) = rule::forecast_c(&log.batches, &next.logged, Memory::Mean) {
                    outcome.forecast += (forecast.dough_c - read).powi(2);
                    outcome.rule += (by_rule - read).powi(2);
                    compared += 1.0;
                }
            }
            let grade = next.logged.stages.last().unwrap().reading.development;
            if let (Some(grade), Some((low, high))) = (grade, forecast.development_interval) {
                outcome.grade.count(low, grade, high);
            }
        }
    }
    outcome.forecast = (outcome.forecast / compared).sqrt();
    outcome.rule = (outcome.rule / compared).sqrt();
    outcome
}

const KINDS: [MachineKind; 3] = [MachineKind::Spiral, MachineKind::Planetary, MachineKind::Hands];

#[test]
fn intervals_hold_in_kitchens_richer_than_the_model() {
    let mut pooled = Coverage::default();
    let mut pooled_grades = Coverage::default();
    for size in [1, 3, 6, 12, 30] {
        let mut of_size = Coverage::default();
        let mut grades_of_size = Coverage::default();
        for kind in KINDS {
            let outcome = try_kitchens(kind, size, 150);
            assert_eq!(outcome.unlike, 0, "{size} batches of {}", kind.name());
            println!(
                "{size:>2} batches, {:<9}: dough {}, grade {}, forecast {:.2} °C, rule {:.2} °C, ratio {:.2}",
                kind.name(),
                outcome.dough,
                outcome.grade,
                outcome.forecast,
                outcome.rule,
                outcome.rule / outcome.forecast
            );
            of_size.add(outcome.dough);
            grades_of_size.add(outcome.grade);
        }
        of_size.assert_within(&format!("{size} batches"), 0.90, 1.0);
        grades_of_size.assert_within(&format!("{size} batches, grades"), 0.90, 1.0);
        pooled.add(of_size);
        pooled_grades.add(grades_of_size);
    }
    println!("pooled: dough {pooled}, grade {pooled_grades}");
    pooled.assert_within("all sizes", 0.93, 0.98);
    pooled_grades.assert_within("all sizes, grades", 0.93, 0.98);
}

#[test]
fn the_forecast_beats_the_friction_factor_rule() {
    for (kind, times) in KINDS.into_iter().zip([3.0, 3.0, 1.5]) {
        let outcome = try_kitchens(kind, 30, 150);
        let ratio = outcome.rule / outcome.forecast;
        println!(
            "{}: {:.2} °C against {:.2} °C: {ratio:.2}",
            kind.name(),
            outcome.forecast,
            outcome.rule
        );
        assert!(ratio >= times, "{}: {ratio:.2} times, expected {times}", kind.name());
    }
}
