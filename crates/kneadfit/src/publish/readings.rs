//! Coefficients in bakers' terms, with the doubt of everything that enters.

use super::over_capacity::OverCapacity;
use crate::calibration::{Calibration, Part};
use crate::inference::Estimate;
use crate::prior::FLOUR_FRICTION;
use crate::profile::bakers::{
    Around, HALF_CHARGE, PERCENT_IN_10_K, WETTER, change_percent, of_a_closing_gap_c, written,
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
    /// Its interval, of 95 % unless another level is asked for; `None` where the doubt is
    /// unknown.
    pub interval: Option<(f64, f64)>,
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
/// let readings = Readings::new(&calibration);
/// let reading = &readings.of("friction_low")[0];
/// assert_eq!(reading.unit, "°C/min");
/// // Four machines in five warm the dough by this much.
/// let narrower = readings.at_level(0.8).of("friction_low")[0].interval;
/// assert!(narrower.unwrap().1 < reading.interval.unwrap().1);
/// // What needs no translation is read as it is.
/// assert_eq!(readings.as_it_is("bowl").unwrap().unit, "kJ/K");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug)]
pub struct Readings<'a> {
    calibration: &'a Calibration,
    around: Around<'a>,
    level: f64,
}

impl<'a> Readings<'a> {
    /// Readings of one calibration, with intervals of 95 %.
    pub fn new(calibration: &'a Calibration) -> Self {
        let bowl_kj_per_k = calibration.heat.estimate("bowl").map_or(0.0, |e| e.value);
        let around = Around { model: &calibration.model, bowl_kj_per_k };
        Self { calibration, around, level: 0.95 }
    }

    /// The same with intervals of another level, above 0 and below 1.
    #[must_use]
    pub fn at_level(self, level: f64) -> Self {
        Self { level, ..self }
    }

    /// The readings of a coefficient; none where its number already is what a baker reads.
    pub fn of(&self, name: &str) -> Vec<Reading> {
        let heat = &self.calibration.heat;
        let Some(e) = heat.estimate(name) else { return self.of_development(name) };
        if let Some(speed) = name.strip_prefix("friction_") {
            let says = format!("warming at {speed}");
            let of = |q| self.around.warming_c_per_min(q);
            let warming = self.over_capacity(e, says, "°C/min", Some(0.0), of);
            return std::iter::once(warming).chain(self.per_development(e, speed)).collect();
        }
        if let Some(flour) = name.strip_prefix(FLOUR_FRICTION) {
            let says = format!("friction of doughs of {flour}, of the reference flour's");
            return vec![self.alone(heat, e, says, "%", |friction| 100.0 * friction)];
        }
        match name {
            "exchange" => {
                let says = "drift in 10 min at 10 °C off the room".into();
                let of = |h| self.around.drift_of_a_held_gap_c(h);
                let of_a_gap = self.over_capacity(e, says, "°C", Some(0.0), of);
                // The more it drifts, the less is left of the gap: nothing drifts beyond.
                vec![Reading {
                    value: of_a_closing_gap_c(of_a_gap.value),
                    interval: of_a_gap
                        .interval
                        .map(|(low, high)| (of_a_closing_gap_c(low), of_a_closing_gap_c(high))),
                    ..of_a_gap
                }]
            }
            "bowl" => {
                let scale = 100.0 / self.calibration.model.usual_capacity_kj_per_k();
                let says = "heat that the bowl holds, of the dough's".into();
                vec![self.alone(heat, e, says, "%", |bowl| scale * bowl)]
            }
            "wetting" => {
                let says = "warming from wetting the flour".into();
                let of = |w| w * self.around.flour_over_capacity();
                vec![self.over_capacity(e, says, "°C", Some(0.0), of)]
            }
            "charge_exponent" => {
                let says = "friction a kg at half the charge".into();
                vec![self.alone(heat, e, says, "%", |value| change_percent(value, HALF_CHARGE))]
            }
            "stiffness" => {
                let says = "friction at ten points more water".into();
                vec![self.alone(heat, e, says, "%", |value| change_percent(value, WETTER))]
            }
            "softening" => {
                let says = "friction lost in warming by 10 °C".into();
                vec![self.alone(heat, e, says, "%", |value| PERCENT_IN_10_K * value)]
            }
            _ => Vec::new(),
        }
    }

    /// A coefficient as it is, in its own unit; `None`: there is none of this name.
    pub fn as_it_is(&self, name: &str) -> Option<Reading> {
        let parts = std::iter::once(&self.calibration.heat).chain(&self.calibration.development);
        let (part, e) = parts.filter_map(|part| Some((part, part.estimate(name)?))).next()?;
        Some(self.alone(part, e, name.into(), e.unit, |value| value))
    }

    /// °C that one full development at a speed adds.
    fn per_development(&self, friction: &Estimate, speed: &str) -> Option<Reading> {
        let part = self.calibration.development.as_ref()?;
        let rate = part.estimate(&format!("development_{speed}"))?;
        let says = format!("heat of one full development at {speed}");
        let of = |q| self.around.warming_c_per_min(q) / rate.value;
        // Each as far out as its own fit has it.
        let (heat, level) = (&self.calibration.heat, self.level);
        let wider = part.width_in_sds(level).zip(heat.width_in_sds(level)).map(|(a, b)| a / b);
        let further = rate.standard_error.zip(wider).map(|(error, wider)| error * wider);
        Some(self.over_capacity(friction, says, "°C", further, of))
    }

    /// A reading that is proportional to a coefficient over the capacity that dough and bowl
    /// have together; `further` as [`OverCapacity::interval`] has it.
    fn over_capacity(
        &self,
        e: &Estimate,
        says: String,
        unit: &'static str,
        further: Option<f64>,
        of: impl Fn(f64) -> f64,
    ) -> Reading {
        let interval = further.and_then(|further| self.capacity().interval(&e.name, further));
        let scale = of(1.0) * self.around.capacity_kj_per_k();
        let value = of(e.value);
        // Of a bowl that is not told at all, as plain fits may leave it, or at a low level, both
        // ends may lie to one side of the value: the interval goes as far as the value then.
        let interval =
            interval.map(|(low, high)| ((low * scale).min(value), (high * scale).max(value)));
        Reading { says, unit, value, interval }
    }

    fn capacity(&self) -> OverCapacity<'a> {
        let dough_kj_per_k = self.calibration.model.usual_capacity_kj_per_k();
        OverCapacity { part: &self.calibration.heat, dough_kj_per_k, level: self.level }
    }

    fn of_development(&self, name: &str) -> Vec<Reading> {
        let Some(part) = &self.calibration.development else { return Vec::new() };
        let Some(e) = part.estimate(name) else { return Vec::new() };
        if let Some(speed) = name.strip_prefix("development_") {
            let says = if speed == "at_rest" {
                "rest that does what one full development does".to_owned()
            } else {
                format!("minutes to full development at {speed}, dough at 24 °C")
            };
            return vec![self.alone(part, e, says, "min", |rate| 1.0 / rate)];
        }
        if let Some(flour) = name.strip_prefix("flour_") {
            let says = format!("speed of development of {flour}, of the reference flour's");
            return vec![self.alone(part, e, says, "%", |pace| 100.0 * pace)];
        }
        Vec::new()
    }

    /// A reading that one coefficient alone decides, rising or falling with it.
    fn alone(
        &self,
        part: &Part,
        e: &Estimate,
        says: String,
        unit: &'static str,
        of: impl Fn(f64) -> f64,
    ) -> Reading {
        let interval = e.standard_error.zip(part.width_in_sds(self.level)).map(|(error, width)| {
            let fitted = e.scale.fitted(e.value);
            let at = |sds: f64| of(e.scale.natural(fitted + sds * error));
            let (a, b) = (at(-width), at(width));
            (a.min(b), a.max(b))
        });
        Reading { says, unit, value: written(of(e.value)), interval }
    }
}
