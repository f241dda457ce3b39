//! Bakers' readings against draws: a coefficient over the capacity that dough and bowl have
//! together, where coefficient and bowl are jointly normal on their fitted scales, as the
//! covariance that the profile publishes says.

use kneadfit::calibration::{Calibration, Options, Part, calibrate};
use kneadfit::numeric::cholesky;
use kneadfit::prior::Scale;
use kneadfit::publish::{Reading, Readings};

use crate::support::exact::{ModelMachine, Uncertainties};
use crate::support::rng::Draws;

const DRAWS: usize = 100_000;

/// Natural values of all coefficients of a part, drawn from its covariance.
fn drawn(part: &Part, lower: &[f64], draws: &mut Draws) -> Vec<f64> {
    let p = part.free.len();
    let normal: Vec<f64> = (0..p).map(|_| draws.normal(0.0, 1.0)).collect();
    let mut natural = part.values();
    for (i, &index) in part.free.iter().enumerate() {
        let off: f64 = (0..=i).map(|j| lower[i * p + j] * normal[j]).sum();
        match part.estimates[index].scale {
            Scale::Logarithm => natural[index] *= off.exp(),
            Scale::Linear => natural[index] += off,
        }
    }
    natural
}

/// Shares of the draws below and above each reading's interval.
fn tails(calibration: &Calibration, level: f64, draws: &mut Draws) -> Vec<(String, f64, f64)> {
    let readings = Readings::new(calibration).at_level(level);
    let heat = &calibration.heat;
    let grades = calibration.development.as_ref().unwrap();
    let lower = |part: &Part| cholesky(part.covariance.as_ref().unwrap(), part.free.len()).unwrap();
    let (lower_heat, lower_grades) = (lower(heat), lower(grades));
    let speeds = calibration.speeds.len();
    let mut asked: Vec<Reading> = Vec::new();
    for speed in &calibration.speeds {
        asked.extend(readings.of(&format!("friction_{speed}")));
    }
    asked.extend(["exchange", "wetting"].iter().flat_map(|name| readings.of(name)));
    let mut counts = vec![(0_u32, 0_u32); asked.len()];
    for _ in 0..DRAWS {
        let (natural, rates) =
            (drawn(heat, &lower_heat, draws), drawn(grades, &lower_grades, draws));
        let mass_kg = calibration.model.usual_charge_kg;
        let capacity = calibration.model.usual_capacity_kj_per_k() + natural[speeds + 1];
        let mut values = Vec::new();
        for speed in 0..speeds {
            let warming = 0.06 * natural[speed] * mass_kg / capacity;
            values.extend([warming, warming / rates[speed]]);
        }
        let held_gap_c = 6.0 * natural[speeds] * mass_kg.powf(2.0 / 3.0) / capacity;
        values.push(10.0 * (1.0 - (-held_gap_c / 10.0).exp()));
        values.push(natural[speeds + 2] * mass_kg / 1.65 / capacity);
        for ((count, reading), value) in counts.iter_mut().zip(&asked).zip(values) {
            let (low, high) = reading.interval.unwrap();
            count.0 += u32::from(value < low);
            count.1 += u32::from(value > high);
        }
    }
    let share = |count: u32| f64::from(count) / DRAWS as f64;
    let told = asked.into_iter().zip(counts);
    told.map(|(reading, (below, above))| (reading.says, share(below), share(above))).collect()
}

#[test]
fn bakers_readings_hold_the_draws_of_what_they_come_from() {
    let mut draws = Draws::seeded(2_026);
    for batches in [1, 3, 12, 100] {
        let machine = ModelMachine::draw(&mut draws, &["low", "high"], 16.0, &[]);
        let log = machine.log(&mut draws, batches, &Uncertainties::default());
        let calibration = calibrate(&log, &Options::default()).unwrap();
        assert!(calibration.development.is_some());
        for level in [0.8, 0.95] {
            let wanted = 0.5 * (1.0 - level);
            // Five standard errors of the count.
            let near = 5.0 * (wanted * (1.0 - wanted) / DRAWS as f64).sqrt();
            for (says, below, above) in tails(&calibration, level, &mut draws) {
                let tells = format!("{batches} batches, {level}, {says}: {below}, {above}");
                assert!((below - wanted).abs() < near && (above - wanted).abs() < near, "{tells}");
            }
        }
    }
}

/// The middle of the draws is not the reading of the middle: an interval so narrow that it would
/// lie to one side goes as far as the reading.
#[test]
fn an_interval_holds_its_reading_at_any_level() {
    let mut draws = Draws::seeded(2_027);
    let machine = ModelMachine::draw(&mut draws, &["low", "high"], 16.0, &[]);
    let log = machine.log(&mut draws, 1, &Uncertainties::default());
    let calibration = calibrate(&log, &Options::default()).unwrap();
    for level in [0.001, 0.01, 0.1, 0.5, 0.999] {
        let readings = Readings::new(&calibration).at_level(level);
        for name in ["friction_low", "friction_high", "exchange", "bowl", "wetting"] {
            for reading in readings.of(name) {
                let (low, high) = reading.interval.unwrap();
                assert!(low <= reading.value && reading.value <= high, "{level}: {reading:?}");
            }
        }
    }
}
