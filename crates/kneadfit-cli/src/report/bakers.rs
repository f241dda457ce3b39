//! The coefficients as a baker reads them.

use kneadfit::calibration::Calibration;
use kneadfit::thermal::HeatModel;
use kneadfit::units::KJ_PER_MIN_PER_W;

use super::derived::{Derived, Kind, derived};

/// Reads a calibration in bakers' terms, at one level of confidence.
#[derive(Clone, Copy, Debug)]
pub struct Bakers<'a> {
    calibration: &'a Calibration,
    level: f64,
}

/// What a warm room, or a cold one, is in [`Bakers::exchange_c`]: so many K off the dough.
pub const GAP_K: f64 = 10.0;
/// For so many minutes.
pub const GAP_MIN: f64 = 10.0;

impl<'a> Bakers<'a> {
    /// Readings with intervals of a level such as 0.95.
    pub fn new(calibration: &'a Calibration, level: f64) -> Self {
        Self { calibration, level }
    }

    fn model(&self) -> &HeatModel {
        &self.calibration.model
    }

    /// Place of a coefficient of the heat balance that follows the speeds.
    fn common(&self, offset: usize) -> usize {
        self.calibration.speeds.len() + offset
    }

    fn heat(&self, kind: Kind, of: impl Fn(&[f64]) -> f64) -> Derived {
        derived(&[&self.calibration.heat], self.level, kind, |parts| of(&parts[0]))
    }

    /// Capacity of the usual charge and its bowl, kJ/K, from a row of heat coefficients.
    fn capacity(&self, heat: &[f64]) -> f64 {
        self.model().usual_capacity_kj_per_k() + heat[self.common(1)]
    }

    fn warming(&self, heat: &[f64], speed: usize) -> f64 {
        KJ_PER_MIN_PER_W * heat[speed] * self.model().usual_charge_kg / self.capacity(heat)
    }

    /// Friction at a speed, °C per minute, of the usual charge at 65 % hydration and 24 °C.
    pub fn friction_c_per_min(&self, speed: usize) -> Derived {
        self.heat(Kind::Positive, |heat| self.warming(heat, speed))
    }

    /// What 10 minutes do to the usual charge in a room 10 K off, °C: less than the gap,
    /// which closes meanwhile.
    pub fn exchange_c(&self) -> Derived {
        // Its interval is that of the drift that a gap would make if it stayed as wide.
        let of_a_held_gap = self.heat(Kind::Positive, |heat| {
            let conductance = heat[self.common(0)] * self.model().usual_charge_kg.powf(2.0 / 3.0);
            GAP_K * GAP_MIN * KJ_PER_MIN_PER_W * conductance / self.capacity(heat)
        });
        let closing = |drift_c: f64| -GAP_K * (-drift_c / GAP_K).exp_m1();
        Derived {
            value: closing(of_a_held_gap.value),
            interval: of_a_held_gap.interval.map(|(low, high)| (closing(low), closing(high))),
        }
    }

    /// Capacity of bowl and tool over that of the usual charge, %.
    pub fn bowl_percent(&self) -> Derived {
        self.heat(Kind::Positive, |heat| {
            100.0 * heat[self.common(1)] / self.model().usual_capacity_kj_per_k()
        })
    }

    /// What wetting the flour adds to the usual charge at 65 % hydration, °C.
    pub fn wetting_c(&self) -> Derived {
        self.heat(Kind::Any, |heat| {
            let model = self.model();
            let flour_kg = model.usual_charge_kg / (1.0 + model.reference_hydration);
            heat[self.common(2)] * flour_kg / self.capacity(heat)
        })
    }

    /// How much more heat a kg of dough takes from friction at half the usual charge, %.
    pub fn half_charge_percent(&self) -> Derived {
        self.heat(Kind::Any, |heat| 100.0 * (0.5_f64.powf(heat[self.common(3)]) - 1.0))
    }

    /// How much more friction heats a dough of 10 points more hydration, %.
    pub fn wetter_percent(&self) -> Derived {
        self.heat(Kind::Any, |heat| 100.0 * (-0.1 * heat[self.common(4)]).exp_m1())
    }

    /// How much more friction heats a dough that is 10 °C warmer, %.
    pub fn warmer_percent(&self) -> Derived {
        self.heat(Kind::Any, |heat| -100.0 * 10.0 * heat[self.common(5)])
    }

    fn development(&self, of: impl Fn(&[f64]) -> f64) -> Option<Derived> {
        let part = self.calibration.development.as_ref()?;
        Some(derived(&[part], self.level, Kind::Positive, |parts| of(&parts[0])))
    }

    /// Minutes to full development at a speed and 24 °C; the number of speeds: at rest.
    /// `None`: development was not graded.
    pub fn full_development_min(&self, speed: usize) -> Option<Derived> {
        self.development(|rates| 1.0 / rates[speed])
    }

    /// By what 10 °C multiply the pace of development.
    pub fn q10(&self) -> Option<Derived> {
        self.development(|rates| rates[self.calibration.speeds.len() + 1])
    }

    /// The pace of a flour's development beside the reference flour.
    pub fn flour_pace(&self, flour: usize) -> Option<Derived> {
        self.development(|rates| rates[self.calibration.speeds.len() + 2 + flour])
    }

    /// What friction adds over one full development at a speed, °C.
    pub fn full_development_c(&self, speed: usize) -> Option<Derived> {
        let part = self.calibration.development.as_ref()?;
        let parts = [&self.calibration.heat, part];
        Some(derived(&parts, self.level, Kind::Positive, |parts| {
            self.warming(&parts[0], speed) / parts[1][speed]
        }))
    }
}
