//! What `kneadfit fit --json` prints.

use kneadfit::calibration::{Calibration, Part};
use kneadfit::diagnostics::LeftOutErrors;
use kneadfit_log::Problem;
use serde::Serialize;

use crate::findings::parts;
use crate::mended::IfMended;
use crate::report::bakers::Bakers;
use crate::report::derived::Derived;

/// The whole.
#[derive(Serialize)]
pub struct Fitted {
    pub machines: Vec<MachineJson>,
    pub safety: &'static str,
}

/// One machine.
#[derive(Serialize)]
pub struct MachineJson {
    machine: String,
    /// Whether there is a fit that can be used.
    fitted: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    why_not: Option<String>,
    #[serde(flatten)]
    found: Option<Found>,
}

#[derive(Serialize)]
struct Found {
    files: Vec<String>,
    batches: usize,
    dough_temperatures: usize,
    grades: usize,
    rows_set_aside: usize,
    usual_charge_kg: f64,
    level: f64,
    speeds: Vec<Speed>,
    reference_flour: Option<String>,
    flours: Vec<Flour>,
    forecast_error_k: Option<Errors>,
    forecast_error_development: Option<Errors>,
    not_known: Vec<NotKnown>,
    looks_mistyped: Vec<String>,
    warnings: Vec<String>,
    #[serde(flatten)]
    doubts: Doubts,
}

/// Slips that the fit shows, and what it would be without them and those of the log.
#[derive(Serialize)]
pub struct Doubts {
    pub doubts: Vec<Problem>,
    #[serde(rename = "if_mended")]
    pub mended: Vec<IfMended>,
}

/// What a speed does to the usual charge at 65 % hydration and 24 °C.
#[derive(Serialize)]
struct Speed {
    speed: String,
    warming_c_per_min: Reading,
    full_development_min: Option<Reading>,
    full_development_adds_c: Option<Reading>,
}

/// Friction of a flour's doughs and pace of its development, of the reference flour's.
#[derive(Serialize)]
struct Flour {
    flour: String,
    friction: Option<Reading>,
    development_pace: Option<Reading>,
}

#[derive(Serialize)]
struct Reading {
    value: f64,
    low: Option<f64>,
    high: Option<f64>,
}

/// Forecasts of each batch from the others, less what was read.
#[derive(Serialize)]
struct Errors {
    rms: f64,
    bias: f64,
    worst: f64,
    readings: usize,
}

#[derive(Serialize)]
struct NotKnown {
    words: String,
    remedy: String,
    log_share: f64,
}

impl MachineJson {
    pub fn without_fit(machine: &str, why: String) -> Self {
        Self { machine: machine.into(), fitted: false, why_not: Some(why), found: None }
    }

    pub fn fitted(
        calibration: &Calibration,
        level: f64,
        rows_set_aside: usize,
        files: Vec<String>,
        doubts: Doubts,
    ) -> Self {
        let bakers = Bakers::new(calibration, level);
        let speeds = calibration.speeds.iter().enumerate().map(|(i, speed)| Speed {
            speed: speed.to_string(),
            warming_c_per_min: bakers.friction_c_per_min(i).into(),
            full_development_min: bakers.full_development_min(i).map(Into::into),
            full_development_adds_c: bakers.full_development_c(i).map(Into::into),
        });
        // Plain least squares has all flours alike.
        let with_prior = calibration.options.with_prior;
        let flours = calibration.flours.iter().enumerate().map(|(i, flour)| Flour {
            flour: flour.to_string(),
            friction: with_prior.then(|| bakers.flour_friction(i).into()),
            development_pace: bakers.flour_pace(i).map(Into::into),
        });
        let development = calibration.development.as_ref();
        let found = Found {
            files,
            batches: calibration.batches,
            dough_temperatures: calibration.heat.readings,
            grades: development.map_or(0, |d| d.readings),
            rows_set_aside,
            usual_charge_kg: calibration.model.usual_charge_kg,
            level,
            speeds: speeds.collect(),
            reference_flour: calibration.reference_flour.as_deref().map(Into::into),
            flours: flours.collect(),
            forecast_error_k: calibration.heat.left_out.map(Into::into),
            forecast_error_development: development.and_then(|d| d.left_out).map(Into::into),
            not_known: parts(calibration)
                .flat_map(|part| &part.left_open)
                .map(|u| NotKnown {
                    words: u.words.clone(),
                    remedy: u.remedy.clone(),
                    log_share: u.log_share,
                })
                .collect(),
            looks_mistyped: parts(calibration)
                .flat_map(Part::looks_mistyped)
                .map(|batch| batch.id.to_string())
                .collect(),
            warnings: parts(calibration).flat_map(|part| part.warnings.iter().cloned()).collect(),
            doubts,
        };
        Self {
            machine: calibration.machine.to_string(),
            fitted: true,
            why_not: None,
            found: Some(found),
        }
    }
}

impl From<Derived> for Reading {
    fn from(derived: Derived) -> Self {
        Self {
            value: derived.value,
            low: derived.interval.map(|i| i.0),
            high: derived.interval.map(|i| i.1),
        }
    }
}

impl From<LeftOutErrors> for Errors {
    fn from(e: LeftOutErrors) -> Self {
        Self { rms: e.rms, bias: e.bias, worst: e.worst, readings: e.readings }
    }
}
