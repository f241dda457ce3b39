//! The coefficients as a baker reads them.

use kneadfit::calibration::Calibration;
use kneadfit::publish::Readings;

use super::derived::{Derived, Kind};

/// Reads a calibration in bakers' terms, at one level of confidence.
#[derive(Clone, Copy, Debug)]
pub struct Bakers<'a> {
    calibration: &'a Calibration,
    readings: Readings<'a>,
}

impl<'a> Bakers<'a> {
    /// Readings with intervals of a level such as 0.95.
    pub fn new(calibration: &'a Calibration, level: f64) -> Self {
        Self { calibration, readings: Readings::new(calibration).at_level(level) }
    }

    /// A reading of a coefficient of the heat balance; without one, nought that nothing is
    /// known of.
    fn heat(&self, name: &str, kind: Kind) -> Derived {
        let none = Derived { value: 0.0, interval: None };
        let of = |reading| Derived::of(reading, &[&self.calibration.heat], kind);
        self.readings.of(name).first().map_or(none, of)
    }

    /// Friction at a speed, °C per minute, of the usual charge at 65 % hydration and 24 °C.
    pub fn friction_c_per_min(&self, speed: usize) -> Derived {
        self.heat(&format!("friction_{}", self.calibration.speeds[speed]), Kind::Positive)
    }

    /// What 10 minutes do to the usual charge in a room 10 K off, °C: less than the gap,
    /// which closes meanwhile.
    pub fn exchange_c(&self) -> Derived {
        self.heat("exchange", Kind::Positive)
    }

    /// Capacity of bowl and tool over that of the usual charge, %.
    pub fn bowl_percent(&self) -> Derived {
        self.heat("bowl", Kind::Positive)
    }

    /// What wetting the flour adds to the usual charge at 65 % hydration, °C.
    pub fn wetting_c(&self) -> Derived {
        self.heat("wetting", Kind::Any)
    }

    /// How much more heat a kg of dough takes from friction at half the usual charge, %.
    pub fn half_charge_percent(&self) -> Derived {
        self.heat("charge_exponent", Kind::Any)
    }

    /// How much more friction heats a dough of 10 points more hydration, %.
    pub fn wetter_percent(&self) -> Derived {
        self.heat("stiffness", Kind::Any)
    }

    /// How much more friction heats a dough that is 10 °C warmer, %.
    pub fn warmer_percent(&self) -> Derived {
        // What it loses, the other way round.
        self.heat("softening", Kind::Any).times(-1.0)
    }

    fn development(&self, name: &str) -> Option<Derived> {
        let part = self.calibration.development.as_ref()?;
        let reading = self.readings.of(name);
        Some(Derived::of(reading.first()?, &[part], Kind::Positive))
    }

    /// Minutes to full development at a speed and 24 °C; the number of speeds: at rest.
    /// `None`: development was not graded.
    pub fn full_development_min(&self, speed: usize) -> Option<Derived> {
        let speed = self.calibration.speeds.get(speed).map_or("at_rest", |speed| speed);
        self.development(&format!("development_{speed}"))
    }

    /// By what 10 °C multiply the pace of development.
    pub fn q10(&self) -> Option<Derived> {
        let part = self.calibration.development.as_ref()?;
        Some(Derived::of(&self.readings.as_it_is("q10")?, &[part], Kind::Positive))
    }

    /// The pace of a flour's development beside the reference flour.
    pub fn flour_pace(&self, flour: usize) -> Option<Derived> {
        let flour = &self.calibration.flours[flour];
        Some(self.development(&format!("flour_{flour}"))?.times(0.01))
    }

    /// Friction of a flour's doughs beside the reference flour's.
    pub fn flour_friction(&self, flour: usize) -> Derived {
        let flour = &self.calibration.flours[flour];
        self.heat(&format!("dough_friction_{flour}"), Kind::Positive).times(0.01)
    }

    /// What friction adds over one full development at a speed, °C.
    pub fn full_development_c(&self, speed: usize) -> Option<Derived> {
        let part = self.calibration.development.as_ref()?;
        let readings = self.readings.of(&format!("friction_{}", self.calibration.speeds[speed]));
        Some(Derived::of(readings.get(1)?, &[&self.calibration.heat, part], Kind::Positive))
    }
}
