//! What must hold for batches on their way: what an earlier reading does to what follows,
//! and what it leaves alone.

use kneadfit::batch::{Batch, BatchLog, Reading};
use kneadfit::calibration::{Options, calibrate};
use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::forecast::{Forecast, Forecaster, Law};
use kneadfit::profile::{Profile, Provenance};

fn charge(water_c: f64) -> Charge {
    Charge::new(24.0).with(Material::Flour, 10.0, 21.0).with(Material::Water, 6.5, water_c).with(
        Material::Salt,
        0.2,
        24.0,
    )
}

fn forecaster(with_prior: bool) -> Forecaster {
    let batch = |water_c, low, high, dough_c, grade| {
        let phases = vec![Phase::mixing("low", low), Phase::mixing("high", high)];
        Batch::new(format!("{low} {high}"), charge(water_c), phases)
            .read_dough(dough_c)
            .read_development(grade)
    };
    let log = BatchLog::new(
        "spiral",
        ["low", "high"],
        vec![
            batch(10.0, 4.0, 6.0, 24.4, 0.8),
            batch(8.0, 4.0, 9.0, 25.6, 0.9),
            batch(14.0, 8.0, 3.0, 24.9, 0.7),
            batch(12.0, 2.0, 4.0, 22.7, 0.5),
        ],
    );
    let options = Options { with_prior, ..Options::default() };
    let calibration = calibrate(&log.unwrap(), &options).unwrap();
    Forecaster::new(&Profile::new(&calibration, &Provenance::default())).unwrap()
}

/// Four minutes slow, five fast, two fast.
fn on_the_way(first: Reading, second: Reading) -> Batch {
    let mut batch = Batch::new("now", charge(11.0), vec![Phase::mixing("low", 4.0)])
        .then(vec![Phase::mixing("high", 5.0)], second)
        .then(vec![Phase::mixing("high", 2.0)], Reading::default());
    batch.stages[0].reading = first;
    batch
}

fn dough(dough_c: f64) -> Reading {
    Reading { dough_c: Some(dough_c), development: None }
}

#[test]
fn a_reading_that_was_forecast_leaves_the_mean_and_narrows_the_interval() {
    for with_prior in [true, false] {
        let forecaster = forecaster(with_prior);
        let unread = on_the_way(Reading::default(), Reading::default());
        let before = forecaster.forecast(&unread, 0.95).unwrap();
        let read = on_the_way(dough(before[0].dough_c), Reading::default());
        let after = forecaster.forecast(&read, 0.95).unwrap();
        assert_eq!(after[0], before[0], "its own reading says nothing of a stage");
        for stage in [1, 2] {
            let off = after[stage].dough_c - before[stage].dough_c;
            assert!(off.abs() < 1e-12, "{off:e}");
            let off = after[stage].development.unwrap() - before[stage].development.unwrap();
            assert!(off.abs() < 1e-12, "{off:e}");
            let width = |f: &Forecast| f.dough_interval_c.map(|(low, high)| high - low);
            assert!(width(&after[stage]) < width(&before[stage]), "{after:?}");
        }
    }
}

#[test]
fn a_warm_reading_warms_what_follows_and_develops_it() {
    let forecaster = forecaster(true);
    let at = |first, second| forecaster.forecast(&on_the_way(first, second), 0.95).unwrap();
    let before = at(Reading::default(), Reading::default());
    let warm = at(dough(before[0].dough_c + 1.0), Reading::default());
    let cold = at(dough(before[0].dough_c - 1.0), Reading::default());
    for stage in [1, 2] {
        let moved = warm[stage].dough_c - before[stage].dough_c;
        assert!(moved > 0.15 && moved < 1.0, "{moved}");
        assert!(
            (warm[stage].dough_c + cold[stage].dough_c - 2.0 * before[stage].dough_c).abs() < 1e-9
        );
        assert!(warm[stage].development > before[stage].development);
        assert!(cold[stage].development < before[stage].development);
    }
    // By the second reading friction has done more, so that more of what is off is the batch's.
    let later = at(Reading::default(), dough(before[1].dough_c + 1.0));
    let (early, late) = (warm[2].dough_c, later[2].dough_c);
    let moved = late - before[2].dough_c;
    assert!(moved > 0.2 && moved < 1.0 && late > early, "{moved}");
    // Two readings tell more than one.
    let twice = at(dough(before[0].dough_c), dough(before[1].dough_c));
    let width = |f: &Forecast| f.dough_interval_c.map(|(low, high)| high - low).unwrap();
    let once = at(dough(before[0].dough_c), Reading::default());
    assert!(width(&twice[2]) < width(&once[2]) && width(&once[2]) < width(&before[2]));
}

#[test]
fn a_grade_moves_later_grades_and_no_temperature() {
    let forecaster = forecaster(true);
    let graded = |grade: Option<f64>| {
        let reading = Reading { dough_c: None, development: grade };
        forecaster.forecast(&on_the_way(Reading::default(), reading), 0.95).unwrap()
    };
    let before = graded(None);
    let expected = before[1].development.unwrap();
    let (low, same, high) =
        (graded(Some(expected - 0.2)), graded(Some(expected)), graded(Some(expected + 0.1)));
    assert_eq!(
        (low[2].dough_c, low[2].dough_interval_c),
        (before[2].dough_c, before[2].dough_interval_c)
    );
    assert!(low[2].development < same[2].development && same[2].development < high[2].development);
    assert!((same[2].development.unwrap() - before[2].development.unwrap()).abs() < 1e-12);
    assert_eq!(low[1], before[1]);
    // "At least full" where the model says less lifts it; where it says full, says nothing.
    assert!(graded(Some(1.0))[2].development > before[2].development);
    let mut long =
        on_the_way(Reading::default(), Reading { dough_c: None, development: Some(1.0) });
    long.stages[1].phases[0].minutes = 40.0;
    let full = forecaster.forecast(&long, 0.95).unwrap();
    long.stages[1].reading = Reading::default();
    let off = full[2].development.unwrap()
        - forecaster.forecast(&long, 0.95).unwrap()[2].development.unwrap();
    assert!(off.abs() < 1e-12, "{off:e}");
}

#[test]
fn a_predictive_distribution_is_one() {
    for with_prior in [true, false] {
        let forecaster = forecaster(with_prior);
        let batch = on_the_way(dough(19.5), Reading::default());
        let forecasts = forecaster.forecast(&batch, 0.9).unwrap();
        for (stage, forecast) in forecasts.iter().enumerate() {
            let known = forecaster.predictive(&batch, stage).unwrap().unwrap();
            assert_eq!(known.mean_c(), forecast.dough_c);
            assert_eq!(known.interval_c(0.9), forecast.dough_interval_c);
            for probability in [1e-6, 0.05, 0.3, 0.6, 0.95, 0.999] {
                let c = known.quantile_c(probability);
                let back = known.probability_below(c);
                assert!((back - probability).abs() < 1e-8, "{stage} {probability} {back}");
            }
            assert!(known.probability_below(-1e9) < 1e-7);
            assert!(known.probability_below(1e9) > 1.0 - 1e-7);
            assert!(known.probability_below(f64::NAN).is_nan());
            assert!(known.dough_variance_k2() < known.reading_variance_k2());
        }
        let known = forecaster.predictive(&batch, 2).unwrap().unwrap();
        assert!((known.mean_c() - known.unread_c() - known.law().mean()).abs() < 1e-12);
        assert_eq!(matches!(known.law(), Law::Mixture(_)), with_prior);
        assert!(forecaster.predictive(&batch, 3).is_err());
    }
}
