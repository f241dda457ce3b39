//! The same fits and forecasts by an independent program: `scipy/*.py`, whose results are
//! committed beside the logs that made them. It shares nothing with the crate but its
//! documentation; derivatives are complex steps there.

use std::sync::Arc;

use kneadfit::batch::{Batch, BatchLog, Reading, Stage};
use kneadfit::calibration::{Options, calibrate};
use kneadfit::charge::Phase;
use kneadfit::fit::{HeatReadings, MistypedRows};
use kneadfit::forecast::{Forecast, Forecaster};
use kneadfit::inference::{Assumptions, Posterior, ScatterPrior};
use kneadfit::prior::heat_coefficients;
use kneadfit::profile::Profile;
use kneadfit::thermal::{HeatModel, Uncertainties};
use kneadfit_log::{ReadOptions, read_log};
use serde_json::Value;

const FITS: &str = include_str!("scipy/fits.json");
const FORECASTS: &str = include_str!("scipy/forecasts.json");
const PLAIN_LOG: &str = include_str!("scipy/plain-log.csv");
const PRIOR_LOG: &str = include_str!("scipy/prior-log.csv");

fn log(text: &str) -> BatchLog {
    let mut read = read_log("log.csv", "mixer", text.as_bytes(), &ReadOptions::default());
    assert_eq!(read.rows_set_aside(), 0, "{:#?}", read.problems);
    read.machines.remove(0).log
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

/// All eight coefficients of a log that tells them, by plain least squares: values,
/// standard errors and the residual sum of squares to 1e-6 and better.
#[test]
fn plain_least_squares() {
    let fits: Value = serde_json::from_str(FITS).unwrap();
    let expected = &fits["plain"];
    let options = Options { with_prior: false, ..Options::default() };
    let calibration = calibrate(&log(PLAIN_LOG), &options).unwrap();
    assert!(calibration.converged());
    let heat = &calibration.heat;
    let names: Vec<&str> = heat.estimates.iter().map(|e| &*e.name).collect();
    let expected_names: Vec<&str> =
        expected["names"].as_array().unwrap().iter().map(|v| v.as_str().unwrap()).collect();
    assert_eq!(names, expected_names);
    assert_eq!(heat.free.len(), 8);
    let errors = numbers(&expected["standard_errors"]);
    let (mut worst, mut worst_error) = (0.0_f64, 0.0_f64);
    for (i, &fitted) in numbers(&expected["fitted"]).iter().enumerate() {
        worst = worst.max((heat.fitted[i] - fitted).abs() / fitted.abs());
        let error = heat.estimates[i].standard_error.unwrap();
        worst_error = worst_error.max((error / errors[i] - 1.0).abs());
    }
    let residuals = heat.batches.iter().flat_map(|b| &b.readings).map(|r| r.residual);
    let rss: f64 = residuals.map(|r| r * r).sum();
    let off = (rss / expected["rss"].as_f64().unwrap() - 1.0).abs();
    println!("plain: coefficients {worst:.1e}, errors {worst_error:.1e}, rss {off:.1e}");
    assert!(worst < 1e-8 && worst_error < 1e-7 && off < 1e-10);
}

/// The most probable coefficients with priors, errors of the inputs and the loss for
/// mistyped rows, at a known scatter. Relative to the value or, where that is smaller, to
/// the prior's spread.
#[test]
fn the_mode_with_priors() {
    let flours = ["rye".into(), "soft".into()];
    let worst = off_the_mode("prior", PRIOR_LOG, &flours, Some(MistypedRows::TEMPERATURES));
    println!("with priors: mode {worst:.1e}");
    assert!(worst < 1e-6, "{worst:e}");
}

/// The same where batches are read twice: readings share their batch's errors. Every row at its
/// word.
#[test]
fn the_mode_of_several_readings() {
    let worst = off_the_mode("several", PLAIN_LOG, &[], None);
    println!("several readings: mode {worst:.1e}");
    assert!(worst < 1e-6, "{worst:e}");
}

fn off_the_mode(of: &str, log_csv: &str, flours: &[Arc<str>], loss: Option<MistypedRows>) -> f64 {
    let fits: Value = serde_json::from_str(FITS).unwrap();
    let expected = &fits[of];
    let log = log(log_csv);
    let model = HeatModel::new(log.largest_dough_kg().unwrap());
    let table = heat_coefficients(&model, &log.speeds, flours);
    let names: Vec<&str> = table.iter().map(|c| &*c.name).collect();
    assert_eq!(
        names,
        expected["names"]
            .as_array()
            .unwrap()
            .iter()
            .map(|v| v.as_str().unwrap())
            .collect::<Vec<_>>()
    );
    let mut readings =
        HeatReadings::new(model, Uncertainties::default(), &log, flours, &table).unwrap();
    let assumptions =
        Assumptions { scatter: ScatterPrior::Known(expected["scatter_k"].as_f64().unwrap()), loss };
    let posterior = Posterior::fit(&mut readings, &table, assumptions).unwrap();
    assert!(posterior.outcome.is_success());
    let spreads = numbers(&expected["spreads"]);
    let mut worst = 0.0_f64;
    for (i, &mode) in numbers(&expected["mode"]).iter().enumerate() {
        assert_eq!(table[i].prior.spread, spreads[i]);
        worst = worst.max((posterior.mode[i] - mode).abs() / mode.abs().max(spreads[i]));
    }
    worst
}

/// How far one program's numbers are off another's: in degrees or, without priors, where
/// bounds may be thousands of degrees off, relative to themselves.
#[derive(Default)]
struct Compared {
    numbers: usize,
    worst: f64,
}

impl Compared {
    fn same(&mut self, what: &str, ours: Option<f64>, theirs: &Value) {
        let (Some(a), Some(b)) = (ours, theirs.as_f64()) else {
            assert!(ours.is_none() && theirs.is_null(), "{what}: {ours:?} {theirs}");
            return;
        };
        let off = (a - b).abs() / b.abs().max(1.0);
        assert!(off < 1e-9, "{what}: {a} {b}");
        self.worst = self.worst.max(off);
        self.numbers += 1;
    }

    fn forecast(&mut self, whose: &str, ours: &Forecast, theirs: &Value, skipped: Option<&str>) {
        self.same(&format!("{whose}, dough_c"), Some(ours.dough_c), &theirs["dough_c"]);
        self.same(&format!("{whose}, development"), ours.development, &theirs["development"]);
        for (key, interval) in [
            ("dough_interval_c", ours.dough_interval_c),
            ("development_interval", ours.development_interval),
        ] {
            let what = format!("{whose}, {key}");
            if skipped == Some(key) {
                continue;
            }
            self.same(&what, interval.map(|i| i.0), &theirs[key][0]);
            self.same(&what, interval.map(|i| i.1), &theirs[key][1]);
        }
    }
}

/// Calls `each` with the file, its profile and each of its forecasts.
fn each_forecast(of: &str, mut each: impl FnMut(&str, &Profile, &Forecaster, &Value)) {
    let all: Value = serde_json::from_str(FORECASTS).unwrap();
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/profile/written-by/1/");
    for (file, forecasts) in all[of].as_object().unwrap() {
        let text = std::fs::read_to_string(format!("{folder}{file}")).unwrap();
        let profile = Profile::from_json(&text).unwrap();
        let forecaster = Forecaster::new(&profile).unwrap();
        for entry in forecasts.as_array().unwrap() {
            each(file, &profile, &forecaster, entry);
        }
    }
}

/// The batch that an entry is about, of the flour that it says.
fn batch_of(profile: &Profile, entry: &Value) -> Batch {
    let mut batch = profile.self_test[entry["batch"].as_u64().unwrap() as usize].batch.clone();
    batch.charge.flour_name = entry["flour"].as_str().map(Into::into);
    batch
}

/// Means and intervals from profile files alone, dough temperature and development, at
/// four levels from 0.8 to 0.999999, to 1e-9.
#[test]
fn forecasts_from_a_profile_alone() {
    let mut compared = Compared::default();
    each_forecast("profiles", |file, profile, forecaster, entry| {
        let batch = batch_of(profile, entry);
        let level = entry["level"].as_f64().unwrap();
        let ours = forecaster.forecast(&batch, level).unwrap().pop().unwrap();
        compared.forecast(&format!("{file}, {}, {level}", batch.id), &ours, entry, None);
    });
    println!(
        "{} numbers from profiles alone, the worst off by {:.1e}",
        compared.numbers, compared.worst
    );
    assert!(compared.numbers > 400, "{}", compared.numbers);
}

/// The same of batches on their way, after readings and grades of the stages before: the
/// other program conditions with whole matrices, inverted.
#[test]
fn forecasts_of_batches_on_their_way() {
    let mut compared = Compared::default();
    each_forecast("on_the_way", |file, profile, forecaster, entry| {
        let whole = batch_of(profile, entry);
        let phases = whole.phases();
        let halves = phases.flat_map(|p| {
            let half = Phase { minutes: 0.5 * p.minutes, ..p.clone() };
            [half.clone(), half]
        });
        let read = entry["read"].as_array().unwrap();
        let readings = read
            .iter()
            .map(|r| Reading { dough_c: r[0].as_f64(), development: r[1].as_f64() })
            .chain([Reading::default()]);
        let stages = halves.zip(readings);
        let stages =
            stages.map(|(phase, reading)| Stage { phases: vec![phase], reading }).collect();
        let batch = Batch { stages, ..whole.clone() };
        let level = entry["level"].as_f64().unwrap();
        let ours = forecaster.forecast(&batch, level).unwrap().pop().unwrap();
        // This plain fit leaves exponents open by more than a thousand. One of its bounds is
        // at the limit of what a search may take, and rounding decides whether it settles.
        let open = file == "hands-no-prior.profile.json";
        let skipped = open.then_some("dough_interval_c");
        compared.forecast(&format!("{file}, {}, {read:?}", batch.id), &ours, entry, skipped);
    });
    println!("{} numbers on the way, the worst off by {:.1e}", compared.numbers, compared.worst);
    assert!(compared.numbers > 400, "{}", compared.numbers);
}
