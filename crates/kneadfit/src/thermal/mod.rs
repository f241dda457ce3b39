//! The heat balance of a dough in a mixer: forecast and analytic derivatives.
//!
//! One lumped node, the dough and the metal that follows it. Once everything is
//! wet the dough stands at
//!
//! ```text
//! T₀ = [ Σ mᵢcᵢTᵢ + C_b T_bowl + h m_flour − h_salt m_salt − h_sugar m_sugar
//!        − m_ice (L + c_ice |T_ice|) ] / C,          C = Σ mᵢcᵢ + C_b
//! ```
//!
//! (ice counts in the sums as water at 0 °C), and mixing at speed `s` moves it by
//!
//! ```text
//! dT/dt = 0.06 · [ q_s ψ m (m/m_ref)^β e^(−γ(H−H_ref)) (1 − α(T−T_ref)) + u m^⅔ (T_room − T) ] / C
//! ```
//!
//! in °C per minute. Rest is a phase without friction. Stiffness (γ) and softening
//! (α) are properties of gluten: a batch without flour has neither. Flours take up more or
//! less water, and their doughs rub accordingly: the friction of a flour's doughs is ψ times
//! that of the reference flour's.
//!
//! | quantity | symbol | unit |
//! |---|---|---|
//! | friction heat at a speed | q_s | W per kg of dough |
//! | exchange with the room | u | W/(K·kg^⅔) |
//! | bowl and tool that follow the dough | C_b | kJ/K |
//! | heat of wetting | h | kJ per kg of dry flour |
//! | charge exponent | β | – |
//! | stiffness | γ | – |
//! | softening | α | 1/K |
//! | friction of a flour's doughs, of the reference flour's | ψ | – |
//!
//! # Examples
//!
//! Water only, no bowl, no exchange: 10 kg stirred with 35 W/kg for 10 minutes
//! warm by 35 · 600 / 4185 = 5.018 °C.
//!
//! ```
//! use kneadfit::batch::Batch;
//! use kneadfit::charge::{Charge, Material, Phase};
//! use kneadfit::thermal::{HeatCoefficients, HeatModel};
//!
//! let model = HeatModel::new(10.0);
//! let coefficients = HeatCoefficients {
//!     friction_w_per_kg: vec![35.0],
//!     exchange_w_per_k_kg23: 0.0,
//!     bowl_kj_per_k: 0.0,
//!     ..HeatCoefficients::typical(&model, 1)
//! };
//! let charge = Charge::new(20.0).with(Material::Water, 10.0, 20.0);
//! let batch = Batch::new("water", charge, vec![Phase::mixing("low", 10.0)]);
//! let dough_c = model.forecast_c(&coefficients, &batch, &["low".into()])?;
//! assert!((dough_c[0] - 25.018).abs() < 1e-3);
//! # Ok::<(), kneadfit::batch::BatchError>(())
//! ```

mod inputs;
mod phase;
mod scatter;
mod terms;
mod walk;

pub use inputs::{FLOUR_FRICTION_SPREAD, Input, Uncertainties};
pub(crate) use inputs::{
    InputErrors, InputWalk, add_input_covariance, input_variance, sensitivities,
};
pub use scatter::{SCATTER_UNWORKED, SCATTER_WARMTH_K, scatter_share};
pub use terms::{FlourOf, HeatTerms};
pub(crate) use walk::{HeatWalk, Leg, Setting};

use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::batch::{Batch, BatchError};
use crate::units::PhysicalConstants;

/// The temperature at which friction coefficients are stated, °C.
pub const REFERENCE_C: f64 = 24.0;
/// The hydration at which friction coefficients are stated, kg of water a kg of flour.
pub const REFERENCE_HYDRATION: f64 = 0.65;

/// Everything the heat balance needs that is not fitted.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HeatModel {
    /// The machine's usual charge m_ref, kg of dough: where β has no effect.
    pub usual_charge_kg: f64,
    /// H_ref, kg of water a kg of flour: where γ has no effect.
    pub reference_hydration: f64,
    /// T_ref, °C: where α has no effect.
    pub reference_c: f64,
    /// Material constants.
    pub constants: PhysicalConstants,
}

impl HeatModel {
    /// The model of a machine whose usual charge is `usual_charge_kg` of dough.
    pub fn new(usual_charge_kg: f64) -> Self {
        Self {
            usual_charge_kg,
            reference_hydration: REFERENCE_HYDRATION,
            reference_c: REFERENCE_C,
            constants: PhysicalConstants::default(),
        }
    }

    /// Heat capacity in kJ/K of the usual charge as a plain dough of reference hydration.
    pub fn usual_capacity_kj_per_k(&self) -> f64 {
        self.usual_charge_kg * self.constants.dough_kj_per_kg_k(self.reference_hydration)
    }

    /// Dough temperatures in °C at the end of each stage of a batch, of the reference flour
    /// whatever flour it names: these coefficients know flours by their places alone.
    ///
    /// # Errors
    ///
    /// A batch that cannot be: see [`BatchError`].
    pub fn forecast_c(
        &self,
        coefficients: &HeatCoefficients,
        batch: &Batch,
        speeds: &[Arc<str>],
    ) -> Result<Vec<f64>, BatchError> {
        let terms = HeatTerms::new(self, batch, speeds)?;
        let mut walk = HeatWalk::new(speeds.len());
        let mut dough_c = Vec::with_capacity(batch.stages.len());
        walk.forecast(self, coefficients, &terms, |_, end_c| dough_c.push(end_c));
        Ok(dough_c)
    }

    /// Dough temperatures in °C at the end of each stage, with their derivatives, of the
    /// reference flour as in [`Self::forecast_c`].
    ///
    /// # Shape
    ///
    /// One [`Sensitivity`] a stage. `by_coefficient` is in the order of
    /// [`HeatCoefficients::to_vec`] and by the natural (not logarithmic) values;
    /// `by_input` lists each logged input that the batch depends on.
    ///
    /// # Errors
    ///
    /// A batch that cannot be: see [`BatchError`].
    pub fn sensitivity(
        &self,
        coefficients: &HeatCoefficients,
        batch: &Batch,
        speeds: &[Arc<str>],
    ) -> Result<Vec<Sensitivity>, BatchError> {
        let terms = HeatTerms::new(self, batch, speeds)?;
        let mut walk = HeatWalk::new(speeds.len());
        let mut by_stage: Vec<Sensitivity> = Vec::with_capacity(batch.stages.len());
        walk.linearise(self, coefficients, &terms, |_, dough_c, by_coefficient| {
            by_stage.push(Sensitivity {
                dough_c,
                by_coefficient: by_coefficient.to_vec(),
                by_input: Vec::new(),
            });
        });
        let by_input = sensitivities(self, coefficients, &terms);
        for (sensitivity, by_input) in by_stage.iter_mut().zip(by_input) {
            sensitivity.by_input = by_input;
        }
        Ok(by_stage)
    }
}

/// A dough temperature and what it depends on.
#[derive(Clone, Debug, PartialEq)]
pub struct Sensitivity {
    /// Dough temperature, °C.
    pub dough_c: f64,
    /// Derivative by each coefficient, °C per unit of it.
    pub by_coefficient: Vec<f64>,
    /// Derivative by each logged input, °C per unit of it.
    pub by_input: Vec<(Input, f64)>,
}

/// The coefficients of the heat balance, each in its own unit.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatCoefficients {
    /// q_s, one a speed in the order of the machine's speeds, W per kg of dough.
    pub friction_w_per_kg: Vec<f64>,
    /// u, W/(K·kg^⅔).
    pub exchange_w_per_k_kg23: f64,
    /// C_b, kJ/K.
    pub bowl_kj_per_k: f64,
    /// h, kJ per kg of dry flour.
    pub wetting_kj_per_kg: f64,
    /// β, dimensionless.
    pub charge_exponent: f64,
    /// γ, dimensionless.
    pub stiffness: f64,
    /// α, 1/K.
    pub softening_per_k: f64,
    /// ψ, the friction of a flour's doughs relative to the reference flour's, one for each
    /// other flour, dimensionless.
    pub flour_friction: Vec<f64>,
}

/// How many coefficients stand between the friction coefficients and the flours'.
pub const COMMON_COEFFICIENTS: usize = 6;

impl HeatCoefficients {
    /// A machine of which nothing is known but its usual charge: the medians of the
    /// default priors. It knows the reference flour alone: see [`Self::with_flours`].
    pub fn typical(model: &HeatModel, speeds: usize) -> Self {
        Self {
            friction_w_per_kg: vec![35.0; speeds],
            exchange_w_per_k_kg23: 0.75,
            bowl_kj_per_k: 0.1 * model.usual_capacity_kj_per_k(),
            wetting_kj_per_kg: 15.1,
            charge_exponent: 0.0,
            stiffness: 1.5,
            softening_per_k: 0.02,
            flour_friction: Vec::new(),
        }
    }

    /// The same with so many flours beside the reference flour, whose doughs rub as its do.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::thermal::{HeatCoefficients, HeatModel};
    /// let spiral = HeatCoefficients::typical(&HeatModel::new(10.0), 2).with_flours(1);
    /// assert_eq!(spiral.flour_friction, [1.0]);
    /// assert_eq!(spiral.to_vec().len(), 2 + 6 + 1);
    /// ```
    pub fn with_flours(mut self, flours: usize) -> Self {
        self.flour_friction = vec![1.0; flours];
        self
    }

    /// The coefficients in a row: friction by speed, then u, C_b, h, β, γ, α, then ψ by flour.
    pub fn to_vec(&self) -> Vec<f64> {
        let mut row = self.friction_w_per_kg.clone();
        row.extend([
            self.exchange_w_per_k_kg23,
            self.bowl_kj_per_k,
            self.wetting_kj_per_kg,
            self.charge_exponent,
            self.stiffness,
            self.softening_per_k,
        ]);
        row.extend_from_slice(&self.flour_friction);
        row
    }

    /// Takes the coefficients from a row in the order of [`Self::to_vec`], without allocating.
    ///
    /// # Panics
    ///
    /// If `row` is not as long as this machine's speeds, [`COMMON_COEFFICIENTS`] and flours
    /// together.
    pub fn set_from(&mut self, row: &[f64]) {
        let speeds = self.friction_w_per_kg.len();
        assert_eq!(row.len(), speeds + COMMON_COEFFICIENTS + self.flour_friction.len());
        self.friction_w_per_kg.copy_from_slice(&row[..speeds]);
        self.exchange_w_per_k_kg23 = row[speeds];
        self.bowl_kj_per_k = row[speeds + 1];
        self.wetting_kj_per_kg = row[speeds + 2];
        self.charge_exponent = row[speeds + 3];
        self.stiffness = row[speeds + 4];
        self.softening_per_k = row[speeds + 5];
        self.flour_friction.copy_from_slice(&row[speeds + COMMON_COEFFICIENTS..]);
    }
}

#[cfg(test)]
mod tests;
