//! The friction factor that a calibrated machine has for one dough, and how far it drifts
//! when the dough is not quite that one.
//!
//! The profile forecasts the dough, and from the forecast the factor follows as from a test
//! dough ([`crate::trade_rule`]). Each drift is the factor of a dough that is changed in one
//! thing, forecast through the profile again, less the factor of the dough itself. By the
//! rule's own arithmetic the dough that it promises is then off by the drift divided by n.
//! That is why a profile serves better than the rule: the factor belongs to one recipe, one
//! charge, one room and its minutes.
//!
//! | temperature | what counts |
//! |---|---|
//! | room | the room |
//! | flour | dry flour, the mean by mass |
//! | water | water, the mean by mass; with ice the water that both are equal to |
//! | preferment | preferments, the mean by mass, where there are any |
//!
//! All else in the bowl, and the bowl, goes into the factor. The rule cannot know ice: its
//! water is counted at the temperature at which as much water would be as cold as water and
//! ice together, by the profile's own constants, so that its forecast is the same:
//!
//! ```text
//! T = [ Σ m_w c_w T_w − Σ m_ice (L + c_ice |T_ice|) ] / [ c_w (Σ m_w + Σ m_ice) ]
//! ```
//!
//! # Examples
//!
//! ```
//! use kneadfit::batch::{Batch, BatchLog};
//! use kneadfit::calibration::{Options, calibrate};
//! use kneadfit::charge::{Charge, Material, Phase};
//! use kneadfit::machine_factor::{Change, FactorTeller};
//! use kneadfit::profile::{Profile, Provenance};
//!
//! let mix = |low| {
//!     let charge = Charge::new(24.0)
//!         .with(Material::Flour, 10.0, 21.0)
//!         .with(Material::Water, 6.5, 8.0);
//!     Batch::new("1", charge, vec![Phase::mixing("low", low)])
//! };
//! let log = BatchLog::new("spiral", ["low"], vec![
//!     mix(10.0).read_dough(20.9),
//!     mix(16.0).read_dough(23.3),
//! ])?;
//! let profile = Profile::new(&calibrate(&log, &Options::default())?, &Provenance::default());
//! let told = FactorTeller::new(&profile)?.tell(&mix(12.0), 0.95)?.remove(0).unwrap();
//! // Some 3 · 21.7 − (24 + 21 + 8), and more after more minutes.
//! assert!((told.factor.k() - 12.1).abs() < 1.0);
//! assert!((told.factor.k() / told.rise().k() - 3.0).abs() < 1e-12);
//! let drift_k = told.drift(Change::MoreMinutes).unwrap().factor_k;
//! assert!((1.0..4.0).contains(&drift_k));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod changed;

use std::sync::Arc;

use thiserror::Error;

use crate::batch::{Batch, Reading};
use crate::charge::{Charge, Material};
use crate::forecast::{Forecast, ForecastError, Forecaster};
use crate::profile::{Profile, ProfileError};
use crate::trade_rule::{Counted, FrictionFactor, Known, Rise, ice_and_water_c};
use crate::units::PhysicalConstants;

pub use changed::{CHANGED_MINUTES, CHANGED_ROOM_K, Change};

/// What a machine's friction factor is for one dough at the end of one stage.
#[derive(Clone, Debug, PartialEq)]
pub struct MachineFactor {
    /// The temperatures that count beside the water's.
    pub known: Known,
    /// The temperature at which the water counts, °C: with ice that of the water which
    /// water and ice are equal to.
    pub water_c: f64,
    /// How much of the water is ice, kg; the rule cannot know it.
    pub ice_kg: f64,
    /// What the profile says of the dough.
    pub forecast: Forecast,
    /// The friction factor, subtracted once from n times the wanted temperature.
    pub factor: FrictionFactor,
    /// The factors that the next reading of the dough would show, lowest and highest;
    /// `None` where the forecast has no interval.
    pub factor_interval: Option<(FrictionFactor, FrictionFactor)>,
    /// The speed at which minutes are changed: the last at which the dough was mixed.
    pub last_speed: Arc<str>,
    /// How far the factor drifts with each change, in the order of [`Change::ALL`]; a change
    /// that this dough cannot make is not among them.
    pub drifts: Vec<Drift>,
}

/// How far a friction factor drifts with one change of the dough.
#[derive(Clone, Debug, PartialEq)]
pub struct Drift {
    /// What changes.
    pub change: Change,
    /// How far the friction factor (subtracted once) moves, K. Divided by n it is how far
    /// the rise moves, and the dough that the rule promises is off.
    pub factor_k: f64,
    /// Inputs of the changed dough that lie outside what was logged, by name.
    pub outside: Vec<String>,
}

impl MachineFactor {
    /// Which temperatures count.
    pub fn counted(&self) -> Counted {
        self.known.counted()
    }

    /// The same in the other convention: the rise, subtracted from the wanted temperature.
    pub fn rise(&self) -> Rise {
        self.factor.rise(self.counted())
    }

    /// The drift with one change; `None` where this dough cannot make it.
    pub fn drift(&self, change: Change) -> Option<&Drift> {
        self.drifts.iter().find(|d| d.change == change)
    }
}

/// Why there is no friction factor for a dough.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum FactorError {
    /// The batch cannot be forecast.
    #[error(transparent)]
    Forecast(#[from] ForecastError),
    /// There is no dry flour whose temperature would count.
    #[error("batch {batch}: no dry flour, whose temperature the friction factor counts")]
    NoFlour {
        /// Which batch.
        batch: Arc<str>,
    },
    /// There is neither water nor ice.
    #[error("batch {batch}: no water, whose temperature the friction factor is to tell")]
    NoWater {
        /// Which batch.
        batch: Arc<str>,
    },
}

/// A profile made ready to tell friction factors.
#[derive(Clone, Debug)]
pub struct FactorTeller {
    forecaster: Forecaster,
    constants: PhysicalConstants,
}

impl FactorTeller {
    /// Takes over a profile.
    ///
    /// # Errors
    ///
    /// [`ProfileError`] as for [`Forecaster::new`].
    pub fn new(profile: &Profile) -> Result<Self, ProfileError> {
        let forecaster = Forecaster::new(profile)?;
        Ok(Self { forecaster, constants: profile.model.reference.constants })
    }

    /// The friction factor of a batch at the end of each of its stages; readings in it are
    /// not used. `None` for a stage before which nothing was mixed: what moved the dough
    /// there is no friction. `level` is that of the interval.
    ///
    /// # Errors
    ///
    /// [`FactorError`]: a batch that cannot be forecast, or one without dry flour or water.
    ///
    /// # Examples
    ///
    /// See [the module](self).
    pub fn tell(
        &self,
        batch: &Batch,
        level: f64,
    ) -> Result<Vec<Option<MachineFactor>>, FactorError> {
        // The changed doughs were never read: no reading may move the dough that they are
        // held against.
        let batch = &unread(batch);
        let forecasts = self.forecaster.forecast(batch, level)?;
        let (known, water_c) = self.counted(batch)?;
        let ice_kg = batch.charge.mass_of_kg(is_ice);
        let mut told = Vec::with_capacity(forecasts.len());
        for (stage, forecast) in forecasts.into_iter().enumerate() {
            let until = Batch { stages: batch.stages[..=stage].to_vec(), ..batch.clone() };
            let Some(last_speed) = changed::last_speed(&until) else {
                told.push(None);
                continue;
            };
            let of = |dough_c| FrictionFactor::of_dough(dough_c, water_c, &known);
            let factor = of(forecast.dough_c);
            told.push(Some(MachineFactor {
                known,
                water_c,
                ice_kg,
                factor,
                factor_interval: forecast.dough_interval_c.map(|(a, b)| (of(a), of(b))),
                drifts: self.drifts(&until, factor)?,
                last_speed,
                forecast,
            }));
        }
        Ok(told)
    }

    fn drifts(&self, batch: &Batch, factor: FrictionFactor) -> Result<Vec<Drift>, FactorError> {
        let mut drifts = Vec::with_capacity(Change::ALL.len());
        for change in Change::ALL {
            let Some(changed) = change.of(batch) else { continue };
            // A batch has a stage, or it could not have been forecast; the level does not
            // touch the mean.
            let forecast = match self.forecaster.forecast(&changed, 0.5) {
                Ok(forecasts) => forecasts.into_iter().next_back(),
                // The changed dough cannot be: its ice does not melt in a colder room, say.
                Err(_) => None,
            };
            let Some(forecast) = forecast else { continue };
            let (known, water_c) = self.counted(&changed)?;
            let moved = FrictionFactor::of_dough(forecast.dough_c, water_c, &known);
            drifts.push(Drift {
                change,
                factor_k: moved.k() - factor.k(),
                outside: forecast.outside.into_iter().map(|o| o.input).collect(),
            });
        }
        Ok(drifts)
    }

    /// The temperatures that count: the known ones and the water's.
    fn counted(&self, batch: &Batch) -> Result<(Known, f64), FactorError> {
        let charge = &batch.charge;
        let flour_c = charge
            .mean_c(|m| matches!(m, Material::Flour))
            .ok_or_else(|| FactorError::NoFlour { batch: batch.id.clone() })?;
        let water_c =
            self.water_c(charge).ok_or_else(|| FactorError::NoWater { batch: batch.id.clone() })?;
        let preferment_c = charge.mean_c(|m| matches!(m, Material::Preferment { .. }));
        Ok((Known { room_c: charge.room_c, flour_c, preferment_c }, water_c))
    }

    /// The water's temperature, or that of the water which water and ice are equal to.
    fn water_c(&self, charge: &Charge) -> Option<f64> {
        let c = &self.constants;
        let water_c = charge.mean_c(is_water);
        let Some(ice_c) = charge.mean_c(is_ice) else { return water_c };
        let melting_k =
            (c.ice_latent_kj_per_kg + c.ice_kj_per_kg_k * ice_c.abs()) / c.water_kj_per_kg_k;
        let (water_kg, ice_kg) = (charge.mass_of_kg(is_water), charge.mass_of_kg(is_ice));
        Some(ice_and_water_c(water_kg, water_c.unwrap_or(0.0), ice_kg, melting_k))
    }
}

/// The batch without its readings.
fn unread(batch: &Batch) -> Batch {
    let mut batch = batch.clone();
    for stage in &mut batch.stages {
        stage.reading = Reading::default();
    }
    batch
}

fn is_water(material: &Material) -> bool {
    matches!(material, Material::Water)
}

fn is_ice(material: &Material) -> bool {
    matches!(material, Material::Ice)
}
