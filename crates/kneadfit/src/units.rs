//! Unit conversions and the physical constants of dough, each with its source.
//!
//! Inside the crate masses are in kg, temperatures in °C, heats in kJ, powers in
//! W and times in minutes, because the trade counts minutes. Every name carries
//! its unit: `_c` is a temperature, `_k` a difference of temperatures.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Seconds in a minute divided by joules in a kilojoule: turns W into kJ per minute.
pub const KJ_PER_MIN_PER_W: f64 = 60.0 / 1000.0;

/// The temperature in °C of a temperature in °F.
///
/// ```text
/// T_c = (T_f − 32) · 5/9
/// ```
///
/// # Examples
///
/// ```
/// assert_eq!(kneadfit::units::celsius_from_fahrenheit(77.0), 25.0);
/// ```
pub fn celsius_from_fahrenheit(temperature_f: f64) -> f64 {
    (temperature_f - 32.0) * 5.0 / 9.0
}

/// The temperature in °F of a temperature in °C.
///
/// # Examples
///
/// ```
/// assert_eq!(kneadfit::units::fahrenheit_from_celsius(25.0), 77.0);
/// ```
pub fn fahrenheit_from_celsius(temperature_c: f64) -> f64 {
    temperature_c * 9.0 / 5.0 + 32.0
}

/// A *difference* of temperatures in K of one in °F: 5/9, with no offset of 32.
///
/// # Examples
///
/// ```
/// assert_eq!(kneadfit::units::kelvin_from_fahrenheit_difference(9.0), 5.0);
/// ```
pub fn kelvin_from_fahrenheit_difference(difference_f: f64) -> f64 {
    difference_f * 5.0 / 9.0
}

/// A *difference* of temperatures in °F of one in K: 9/5, with no offset of 32.
///
/// # Examples
///
/// ```
/// assert_eq!(kneadfit::units::fahrenheit_from_kelvin_difference(5.0), 9.0);
/// ```
pub fn fahrenheit_from_kelvin_difference(difference_k: f64) -> f64 {
    difference_k * 9.0 / 5.0
}

/// The material constants that the heat balance uses.
///
/// They are carried in every profile, so that a profile says what it was fitted
/// with and can be used without this crate.
///
/// # Examples
///
/// ```
/// let constants = kneadfit::units::PhysicalConstants::default();
/// // Dough of 65 % hydration, per kg: (1.84 + 0.65 · 4.185) / 1.65.
/// assert!((constants.dough_kj_per_kg_k(0.65) - 2.7638).abs() < 1e-4);
/// ```
///
/// # References
///
/// Specific heats of flour (1.80–1.88 at 12–13.5 % moisture), water, ice and
/// butter: Geankoplis, *Transport Processes and Separation Process Principles*,
/// 4th ed., table A.4-1. Latent heat of ice: standard tables. Specific heats of
/// crystalline salt and sucrose and their heats of solution: handbook values
/// quoted from memory.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PhysicalConstants {
    /// Specific heat of wheat flour at 12–13.5 % moisture, kJ/(kg·K).
    pub flour_kj_per_kg_k: f64,
    /// Specific heat of liquid water, kJ/(kg·K).
    pub water_kj_per_kg_k: f64,
    /// Specific heat of ice, kJ/(kg·K).
    pub ice_kj_per_kg_k: f64,
    /// Latent heat of melting ice, kJ/kg.
    pub ice_latent_kj_per_kg: f64,
    /// Specific heat of salt, kJ/(kg·K).
    pub salt_kj_per_kg_k: f64,
    /// Heat absorbed by salt in solution, kJ/kg.
    pub salt_solution_kj_per_kg: f64,
    /// Specific heat of sugar (sucrose), kJ/(kg·K).
    pub sugar_kj_per_kg_k: f64,
    /// Heat absorbed by sugar in solution, kJ/kg.
    pub sugar_solution_kj_per_kg: f64,
    /// Specific heat of fat (butter 2.30, olive oil 2.01), kJ/(kg·K).
    pub fat_kj_per_kg_k: f64,
}

impl Default for PhysicalConstants {
    fn default() -> Self {
        Self {
            flour_kj_per_kg_k: 1.84,
            water_kj_per_kg_k: 4.185,
            ice_kj_per_kg_k: 1.958,
            ice_latent_kj_per_kg: 333.55,
            salt_kj_per_kg_k: 0.88,
            salt_solution_kj_per_kg: 66.0,
            sugar_kj_per_kg_k: 1.24,
            sugar_solution_kj_per_kg: 16.0,
            fat_kj_per_kg_k: 2.2,
        }
    }
}

impl PhysicalConstants {
    /// Specific heat in kJ/(kg·K) of a dough of flour and water alone.
    ///
    /// ```text
    /// c = (c_flour + H · c_water) / (1 + H),   H = water / flour
    /// ```
    pub fn dough_kj_per_kg_k(&self, hydration: f64) -> f64 {
        (self.flour_kj_per_kg_k + hydration * self.water_kj_per_kg_k) / (1.0 + hydration)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Geankoplis, *Transport Processes and Separation Process Principles*, 4th ed., table A.4-1.
    #[test]
    fn constants_are_those_of_the_handbook() {
        let c = PhysicalConstants::default();
        assert!((1.80..=1.88).contains(&c.flour_kj_per_kg_k));
        assert_eq!(c.water_kj_per_kg_k, 4.185);
        assert_eq!(c.ice_kj_per_kg_k, 1.958);
        assert!((2.01..=2.30).contains(&c.fat_kj_per_kg_k));
        // Standard tables: 333.55 kJ/kg; the older 144 Btu/lb is 334.9.
        assert!((c.ice_latent_kj_per_kg - 333.55).abs() < 1e-9);
    }

    /// Same table: white bread at 44–45 % water holds 2.72–2.85 kJ/(kg·K). Bread of
    /// that water is flour at 14 % moisture with 0.55 kg of water a kg of flour
    /// ((0.14 + 0.55) / 1.55 = 44.5 %).
    #[test]
    fn dough_of_bread_water_content_holds_what_bread_holds() {
        let c = PhysicalConstants::default().dough_kj_per_kg_k(0.55);
        assert!((2.60..=2.85).contains(&c), "{c}");
    }

    /// Heldman & Singh, from memory: 1.424 carbohydrate + 1.549 protein + 1.675 fat
    /// + 0.837 ash + 4.187 water, for flour at 14 % moisture.
    #[test]
    fn flour_agrees_with_its_composition() {
        let by_composition =
            1.424 * 0.73 + 1.549 * 0.113 + 1.675 * 0.012 + 0.837 * 0.005 + 4.187 * 0.14;
        let flour = PhysicalConstants::default().flour_kj_per_kg_k;
        assert!((flour - by_composition).abs() < 0.03, "{flour} {by_composition}");
    }
}
