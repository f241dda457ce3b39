//! The order in which batches were mixed is no evidence.

use kneadfit::batch::BatchLog;
use kneadfit::calibration::{Options, Part, calibrate};
use proptest::prelude::*;

use crate::support::exact::ModelMachine;
use crate::support::kitchen::Kitchen;
use crate::support::machines::MachineKind;
use crate::support::rng::Draws;

/// The largest difference in standard errors, and in the standard errors themselves,
/// relative.
fn differs(a: &Part, b: &Part) -> f64 {
    let mut most = 0.0_f64;
    for (a, b) in a.estimates.iter().zip(&b.estimates) {
        assert_eq!(a.name, b.name);
        let (Some(of_a), Some(of_b)) = (a.standard_error, b.standard_error) else {
            most = most.max((a.value - b.value).abs() / a.value.abs().max(1e-300));
            continue;
        };
        let (x, y) = (a.scale.fitted(a.value), b.scale.fitted(b.value));
        most = most.max((x - y).abs() / of_a).max((of_a / of_b - 1.0).abs());
    }
    most
}

/// Sums in another order round otherwise: a ten-millionth of a standard error, which nobody
/// can tell.
const SETTLED: f64 = 1e-7;

fn check(log: &BatchLog, shuffled: BatchLog, with_prior: bool) -> Result<(), TestCaseError> {
    let options = Options { with_prior, ..Options::default() };
    let a = calibrate(log, &options).unwrap();
    let b = calibrate(&shuffled, &options).unwrap();
    let most = differs(&a.heat, &b.heat);
    prop_assert!(most < SETTLED, "heat, with priors {with_prior}: {most:e}");
    if with_prior {
        let most = differs(a.development.as_ref().unwrap(), b.development.as_ref().unwrap());
        prop_assert!(most < SETTLED, "development: {most:e}");
    }
    Ok(())
}

fn shuffled(log: &BatchLog, draws: &mut Draws) -> BatchLog {
    let mut other = log.clone();
    for i in (1..other.batches.len()).rev() {
        other.batches.swap(i, draws.below(i + 1));
    }
    other
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, ..ProptestConfig::default() })]

    /// Machines that follow the model.
    #[test]
    fn of_a_machine_that_follows_the_model(seed in 0_u64..1 << 32, n in 2_usize..20) {
        let draws = &mut Draws::seeded(seed);
        let (_, log) = ModelMachine::with_log(draws, &["low", "high"], 12.0, &["a", "b"], n);
        check(&log, shuffled(&log, draws), true)?;
    }

    /// Logs of kitchens, by plain least squares where they can tell everything.
    #[test]
    fn of_a_kitchen_by_plain_least_squares(seed in 0_u64..1 << 32) {
        let draws = &mut Draws::seeded(seed);
        let log = Kitchen::draw(draws, MachineKind::Spiral).log(draws, 60);
        check(&log, shuffled(&log, draws), false)?;
    }
}
