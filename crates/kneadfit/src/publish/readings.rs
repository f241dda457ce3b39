//! Coefficients in bakers' terms, with the doubt of everything that enters.

use crate::calibration::{Calibration, Part, Scatter};
use crate::numeric::normal_quantile;
use crate::numeric::quantiles::student_t_for_level;
use crate::prior::Scale;
use crate::profile::bakers::{
    Around, HALF_CHARGE, PERCENT_IN_10_K, WETTER, change_percent, of_a_closing_gap_c,
};

/// One reading of a coefficient in bakers' terms.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// What it is.
    pub says: String,
    /// Its unit.
    pub unit: &'static str,
    /// Value.
    pub value: f64,
    /// 95 % interval; `None` where the doubt is unknown.
    pub interval_95: Option<(f64, f64)>,
}

/// Makes bakers' readings of a calibration.
///
/// All are for the usual charge as a plain dough of 65 % hydration at 24 °C.
///
/// # Examples
///
/// ```
/// use kneadfit::batch::{Batch, BatchLog};
/// use kneadfit::calibration::{Options, calibrate};
/// use kneadfit::charge::{Charge, Material, Phase};
/// use kneadfit::publish::Readings;
///
/// let charge = Charge::new(24.0).with(Material::Flour, 10.0, 21.0).with(Material::Water, 6.5, 12.0);
/// let batch = Batch::new("1", charge, vec![Phase::mixing("low", 10.0)]).read_dough(22.0);
/// let calibration = calibrate(&BatchLog::new("m", ["low"], vec![batch])?, &Options::default())?;
/// let reading = &Readings::new(&calibration).of("friction_low")[0];
/// assert_eq!(reading.unit, "°C/min");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug)]
pub struct Readings<'a> {
    calibration: &'a Calibration,
    around: Around<'a>,
}

impl<'a> Readings<'a> {
    /// Readings of one calibration.
    pub fn new(calibration: &'a Calibration) -> Self {
        let bowl_kj_per_k = calibration.heat.estimate("bowl").map_or(0.0, |e| e.value);
        Self { calibration, around: Around { model: &calibration.model, bowl_kj_per_k } }
    }

    /// The readings of a coefficient; none where its number already is what a baker reads.
    pub fn of(&self, name: &str) -> Vec<Reading> {
        let heat = &self.calibration.heat;
        let Some(e) = heat.estimate(name) else { return self.of_development(name) };
        let dough = self.calibration.model.usual_capacity_kj_per_k();
        // The share of the total capacity that is the bowl's, which is the derivative of
        // −ln C by ln C_b.
        let bowl_share = 1.0 - dough / self.around.capacity_kj_per_k();
        if let Some(speed) = name.strip_prefix("friction_") {
            let warming = self.around.warming_c_per_min(e.value);
            let log_half = self.log_half(heat, &[(name, 1.0), ("bowl", -bowl_share)]);
            let mut readings =
                vec![positive(format!("warming at {speed}"), "°C/min", warming, log_half)];
            readings.extend(self.per_development(speed, warming, log_half));
            return readings;
        }
        match name {
            "exchange" => {
                let drift_c = self.around.drift_of_a_held_gap_c(e.value);
                let log_half = self.log_half(heat, &[(name, 1.0), ("bowl", -bowl_share)]);
                let says = "drift in 10 min at 10 °C off the room".into();
                let of_a_gap = positive(says, "°C", drift_c, log_half);
                // The more it drifts, the less is left of the gap: nothing drifts beyond.
                vec![Reading {
                    value: of_a_closing_gap_c(of_a_gap.value),
                    interval_95: of_a_gap
                        .interval_95
                        .map(|(low, high)| (of_a_closing_gap_c(low), of_a_closing_gap_c(high))),
                    ..of_a_gap
                }]
            }
            "bowl" => {
                let log_half = self.log_half(heat, &[(name, 1.0)]);
                vec![positive(
                    "heat that the bowl holds, of the dough's".into(),
                    "%",
                    100.0 * e.value / dough,
                    log_half,
                )]
            }
            "wetting" => {
                let scale = self.around.flour_over_capacity();
                vec![linear("warming from wetting the flour", "°C", e, scale)]
            }
            "charge_exponent" => {
                vec![percent("friction a kg at half the charge", e, HALF_CHARGE)]
            }
            "stiffness" => vec![percent("friction at ten points more water", e, WETTER)],
            "softening" => {
                vec![linear("friction lost in warming by 10 °C", "%", e, PERCENT_IN_10_K)]
            }
            _ => Vec::new(),
        }
    }

    /// °C that one full development at a speed adds.
    fn per_development(
        &self,
        speed: &str,
        warming: f64,
        heat_log_half: Option<f64>,
    ) -> Option<Reading> {
        let part = self.calibration.development.as_ref()?;
        let name = format!("development_{speed}");
        let rate = part.estimate(&name)?;
        let log_half =
            self.log_half(part, &[(&name, 1.0)]).zip(heat_log_half).map(|(a, b)| a.hypot(b));
        Some(positive(
            format!("heat of one full development at {speed}"),
            "°C",
            warming / rate.value,
            log_half,
        ))
    }

    fn of_development(&self, name: &str) -> Vec<Reading> {
        let Some(part) = &self.calibration.development else { return Vec::new() };
        let Some(e) = part.estimate(name) else { return Vec::new() };
        let log_half = self.log_half(part, &[(name, 1.0)]);
        if let Some(speed) = name.strip_prefix("development_") {
            let (says, unit) = if speed == "at_rest" {
                ("rest that does what one full development does".to_owned(), "min")
            } else {
                (format!("minutes to full development at {speed}, dough at 24 °C"), "min")
            };
            return vec![positive(says, unit, 1.0 / e.value, log_half)];
        }
        if let Some(flour) = name.strip_prefix("flour_") {
            return vec![positive(
                format!("speed of development of {flour}, of the reference flour's"),
                "%",
                100.0 * e.value,
                log_half,
            )];
        }
        Vec::new()
    }

    /// Half of the 95 % interval of `Σ part · ln(coefficient)`; `None` where it is unknown.
    /// A coefficient that is held adds nothing.
    fn log_half(&self, part: &Part, parts: &[(&str, f64)]) -> Option<f64> {
        let covariance = part.covariance.as_ref()?;
        let p = part.free.len();
        let mut gradient = vec![0.0; p];
        for &(name, weight) in parts {
            let place = part.free.iter().position(|&i| &*part.estimates[i].name == name);
            if let Some(k) = place {
                let e = &part.estimates[part.free[k]];
                gradient[k] = if e.scale == Scale::Logarithm { weight } else { weight / e.value };
            } else if parts.len() == 1 {
                return None;
            }
        }
        let mut variance = 0.0;
        for i in 0..p {
            for j in 0..p {
                variance += gradient[i] * covariance[i * p + j] * gradient[j];
            }
        }
        let factor = match part.scatter {
            Scatter::Mixture(_) => normal_quantile(0.975),
            Scatter::StudentT { dof, .. } => student_t_for_level(0.95, dof as f64),
        };
        (variance > 0.0).then(|| factor * variance.sqrt())
    }
}

fn positive(says: String, unit: &'static str, value: f64, log_half: Option<f64>) -> Reading {
    Reading {
        says,
        unit,
        value,
        interval_95: log_half.map(|half| (value * (-half).exp(), value * half.exp())),
    }
}

fn linear(says: &str, unit: &'static str, e: &crate::inference::Estimate, scale: f64) -> Reading {
    Reading {
        says: says.into(),
        unit,
        value: e.value * scale,
        interval_95: e.interval_95.map(|(a, b)| ordered(a * scale, b * scale)),
    }
}

/// A change in per cent: `e^(coefficient · by) − 1`.
fn percent(says: &str, e: &crate::inference::Estimate, by: f64) -> Reading {
    let change = |value: f64| change_percent(value, by);
    Reading {
        says: says.into(),
        unit: "%",
        value: change(e.value),
        interval_95: e.interval_95.map(|(a, b)| ordered(change(a), change(b))),
    }
}

fn ordered(a: f64, b: f64) -> (f64, f64) {
    (a.min(b), a.max(b))
}
