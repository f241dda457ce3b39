//! What a coefficient comes to in bakers' terms: arithmetic alone, of numbers that a profile
//! holds, so that whoever writes readings and whoever checks them use one formula.

use crate::prior::FLOUR_FRICTION;
use crate::thermal::HeatModel;
use crate::units::KJ_PER_MIN_PER_W;

/// How far off the room a dough is, K, where its exchange is read.
pub(crate) const GAP_K: f64 = 10.0;
/// For how many minutes.
pub(crate) const GAP_MIN: f64 = 10.0;

/// What readings of a coefficient need beside the coefficient.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Around<'a> {
    /// The machine's model.
    pub model: &'a HeatModel,
    /// Heat capacity of the bowl, kJ/K.
    pub bowl_kj_per_k: f64,
}

impl Around<'_> {
    /// Heat capacity of the usual charge with its bowl, kJ/K.
    pub fn capacity_kj_per_k(&self) -> f64 {
        self.model.usual_capacity_kj_per_k() + self.bowl_kj_per_k
    }

    /// Warming of the usual charge, °C a minute, by a friction in W/kg.
    pub fn warming_c_per_min(&self, friction_w_per_kg: f64) -> f64 {
        friction_w_per_kg
            * (KJ_PER_MIN_PER_W * self.model.usual_charge_kg / self.capacity_kj_per_k())
    }

    /// By how much a gap of [`GAP_K`] would close in [`GAP_MIN`] if it stayed as wide, °C.
    pub fn drift_of_a_held_gap_c(&self, exchange: f64) -> f64 {
        KJ_PER_MIN_PER_W * exchange * self.model.usual_charge_kg.powf(2.0 / 3.0) * (GAP_K * GAP_MIN)
            / self.capacity_kj_per_k()
    }

    /// The readings of a coefficient in the order in which they are written; `rate` gives
    /// the development rate at a speed, where there is one.
    pub fn readings(&self, name: &str, value: f64, rate: impl Fn(&str) -> Option<f64>) -> Vec<f64> {
        if let Some(speed) = name.strip_prefix("friction_") {
            let warming = self.warming_c_per_min(value);
            return std::iter::once(warming).chain(rate(speed).map(|r| warming / r)).collect();
        }
        if name.starts_with("development_") {
            return vec![1.0 / value];
        }
        if name.starts_with("flour_") || name.starts_with(FLOUR_FRICTION) {
            return vec![100.0 * value];
        }
        match name {
            "exchange" => vec![of_a_closing_gap_c(self.drift_of_a_held_gap_c(value))],
            "bowl" => vec![100.0 * value / self.model.usual_capacity_kj_per_k()],
            "wetting" => vec![value * self.flour_over_capacity()],
            "charge_exponent" => vec![written(change_percent(value, HALF_CHARGE))],
            "stiffness" => vec![written(change_percent(value, WETTER))],
            "softening" => vec![value * PERCENT_IN_10_K],
            _ => Vec::new(),
        }
    }

    /// Flour of the usual charge over the capacity, kg·K/kJ.
    pub fn flour_over_capacity(&self) -> f64 {
        self.model.usual_charge_kg
            / (1.0 + self.model.reference_hydration)
            / self.capacity_kj_per_k()
    }
}

/// What is left of the drift of a gap that stays once the gap closes as it drifts:
/// `g (1 − e^(−drift/g))`, at most the gap itself.
pub(crate) fn of_a_closing_gap_c(drift_c: f64) -> f64 {
    -GAP_K * (-drift_c / GAP_K).exp_m1()
}

/// Logarithm of half a charge.
pub(crate) const HALF_CHARGE: f64 = -std::f64::consts::LN_2;
/// Ten points more water, on the scale of stiffness.
pub(crate) const WETTER: f64 = -0.1;
/// Per cent lost in warming by 10 K, of a loss a K.
pub(crate) const PERCENT_IN_10_K: f64 = 1000.0;

/// A reading as it can be written: of an exponent of thousands, as a plain fit may have one, the
/// change is more than a double holds, and JSON has no infinity.
pub(crate) fn written(value: f64) -> f64 {
    value.min(f64::MAX)
}

/// A change in per cent: `e^(coefficient · by) − 1`.
pub(crate) fn change_percent(coefficient: f64, by: f64) -> f64 {
    100.0 * (coefficient * by).exp_m1()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_closes_by_no_more_than_itself() {
        // 10 (1 − e^(−1)), by hand; a small drift is as if the gap stayed.
        assert!((of_a_closing_gap_c(10.0) - 6.321_205_588).abs() < 1e-9);
        assert!((of_a_closing_gap_c(1e-6) / 1e-6 - 1.0).abs() < 1e-6);
        assert_eq!(of_a_closing_gap_c(1e9), GAP_K);
    }
}
