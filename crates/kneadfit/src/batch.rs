//! A charge plus what was read of it, and the validated log of one machine.

mod flours;

use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

pub(crate) use flours::Flours;

use crate::charge::{AT_REST, Charge, Phase, REST};

/// What was read of a dough at one moment. A quantity that was not read is `None`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Reading {
    /// Dough temperature, °C.
    pub dough_c: Option<f64>,
    /// Development grade: 0 is a shaggy mass, 1 a full thin window ("at least full").
    pub development: Option<f64>,
}

/// The phases since the reading before (or since the start), then a reading.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Stage {
    /// What the mixer did, in the order in which it did it.
    pub phases: Vec<Phase>,
    /// What was read at the end of those phases.
    pub reading: Reading,
}

/// One batch: what went in, what the mixer did and what was read on the way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Batch {
    /// The baker's name for the batch.
    pub id: Arc<str>,
    /// The day it was mixed, ISO 8601 (`2026-03-14`); `None`: not logged.
    pub date: Option<Arc<str>>,
    /// What was in the bowl.
    pub charge: Charge,
    /// Mixing and readings in the order of time; at least one.
    pub stages: Vec<Stage>,
}

impl Batch {
    /// A batch with one programme and nothing read yet.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::batch::Batch;
    /// use kneadfit::charge::{Charge, Material, Phase};
    ///
    /// let charge = Charge::new(24.0).with(Material::Flour, 10.0, 21.0).with(Material::Water, 6.5, 12.0);
    /// let batch = Batch::new("tomorrow", charge, vec![Phase::mixing("low", 4.0)]);
    /// assert_eq!(batch.minutes_at("low"), 4.0);
    /// ```
    pub fn new(id: impl Into<Arc<str>>, charge: Charge, phases: Vec<Phase>) -> Self {
        let stages = vec![Stage { phases, reading: Reading::default() }];
        Self { id: id.into(), date: None, charge, stages }
    }

    /// The batch with the dough temperature in °C that was read after its last phase.
    #[must_use]
    pub fn read_dough(mut self, dough_c: f64) -> Self {
        if let Some(stage) = self.stages.last_mut() {
            stage.reading.dough_c = Some(dough_c);
        }
        self
    }

    /// The batch with the development grade that was read after its last phase.
    #[must_use]
    pub fn read_development(mut self, development: f64) -> Self {
        if let Some(stage) = self.stages.last_mut() {
            stage.reading.development = Some(development);
        }
        self
    }

    /// The batch mixed on: further phases, read again at their end.
    #[must_use]
    pub fn then(mut self, phases: Vec<Phase>, reading: Reading) -> Self {
        self.stages.push(Stage { phases, reading });
        self
    }

    /// Total minutes at one speed (or of [`REST`]) over all stages.
    pub fn minutes_at(&self, speed: &str) -> f64 {
        // From 0.0 on: the sum of no numbers is −0.0, which nobody writes.
        self.phases().filter(|p| &*p.speed == speed).fold(0.0, |sum, p| sum + p.minutes)
    }

    /// All phases in the order of time.
    pub fn phases(&self) -> impl Iterator<Item = &Phase> {
        self.stages.iter().flat_map(|s| &s.phases)
    }
}

/// Why a batch cannot be used.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum BatchError {
    /// A quantity is not a finite number.
    #[error("batch {batch}: {quantity} is {value}, not a finite number")]
    NotFinite {
        /// Which batch.
        batch: Arc<str>,
        /// Which quantity, named as in the log.
        quantity: &'static str,
        /// What it was.
        value: f64,
    },
    /// A quantity is outside what can physically be.
    #[error("batch {batch}: {quantity} is {value}, expected {least} to {most}")]
    OutOfRange {
        /// Which batch.
        batch: Arc<str>,
        /// Which quantity, named as in the log.
        quantity: &'static str,
        /// What it was.
        value: f64,
        /// The least that is possible.
        least: f64,
        /// The most that is possible.
        most: f64,
    },
    /// Nothing is in the bowl.
    #[error("batch {batch}: the bowl is empty")]
    EmptyBowl {
        /// Which batch.
        batch: Arc<str>,
    },
    /// A batch without any stage.
    #[error("batch {batch}: neither mixed nor read")]
    NoStage {
        /// Which batch.
        batch: Arc<str>,
    },
    /// More readings of one batch than the fit takes.
    #[error("batch {batch}: {count} readings of one batch, expected at most {most}")]
    TooManyReadings {
        /// Which batch.
        batch: Arc<str>,
        /// How many stages it has.
        count: usize,
        /// The most that are taken.
        most: usize,
    },
    /// A phase at a speed that the log does not list.
    #[error("batch {batch}: speed {speed:?} is not one of the machine's")]
    UnknownSpeed {
        /// Which batch.
        batch: Arc<str>,
        /// The speed's name.
        speed: Arc<str>,
    },
    /// A speed of a name that the profile needs for rest.
    #[error("no speed can be called {speed:?}: a profile calls rest so")]
    SpeedNameTaken {
        /// The speed's name.
        speed: Arc<str>,
    },
    /// The heat in the ingredients cannot melt the ice.
    #[error(
        "batch {batch}: the ice takes {short_kj:.1} kJ more than the rest of the batch can give before it freezes"
    )]
    IceNotMelted {
        /// Which batch.
        batch: Arc<str>,
        /// The heat that is missing to melt it all, kJ.
        short_kj: f64,
    },
}

/// The batches of one machine, in the order in which they were mixed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BatchLog {
    /// The machine's name.
    pub machine: Arc<str>,
    /// Its speeds in the order in which they are used, [`REST`] not among them.
    pub speeds: Vec<Arc<str>>,
    /// The batches.
    pub batches: Vec<Batch>,
}

impl BatchLog {
    /// A log whose batches have been validated one by one.
    ///
    /// # Errors
    ///
    /// A speed that is called [`AT_REST`], or the first batch that cannot be used, as a
    /// [`BatchError`].
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::batch::{Batch, BatchLog};
    /// use kneadfit::charge::{Charge, Material, Phase};
    ///
    /// let charge = Charge::new(24.0).with(Material::Flour, 10.0, 21.0).with(Material::Water, 6.5, 12.0);
    /// let batch = Batch::new("1", charge, vec![Phase::mixing("low", 4.0)]).read_dough(19.8);
    /// let log = BatchLog::new("spiral", ["low"], vec![batch])?;
    /// assert_eq!(log.reading_count(), 1);
    /// // A profile needs this name for what rest does.
    /// assert!(BatchLog::new("spiral", ["at_rest"], vec![]).is_err());
    /// # Ok::<(), kneadfit::batch::BatchError>(())
    /// ```
    pub fn new<S: Into<Arc<str>>>(
        machine: impl Into<Arc<str>>,
        speeds: impl IntoIterator<Item = S>,
        batches: Vec<Batch>,
    ) -> Result<Self, BatchError> {
        let speeds: Vec<Arc<str>> = speeds.into_iter().map(Into::into).collect();
        if let Some(speed) = speeds.iter().find(|speed| ***speed == *AT_REST) {
            return Err(BatchError::SpeedNameTaken { speed: speed.clone() });
        }
        for batch in &batches {
            validate(batch, &speeds)?;
        }
        Ok(Self { machine: machine.into(), speeds, batches })
    }

    /// How many dough temperatures were read, over all batches.
    pub fn reading_count(&self) -> usize {
        self.batches.iter().flat_map(|b| &b.stages).filter(|s| s.reading.dough_c.is_some()).count()
    }

    /// The largest dough of the log, kg; `None` when there is no batch.
    pub fn largest_dough_kg(&self) -> Option<f64> {
        largest_of(&self.batches)
    }
}

/// The largest dough of some batches, kg; `None` when there is none.
fn largest_of(batches: &[Batch]) -> Option<f64> {
    batches.iter().map(|b| b.charge.mass_kg()).reduce(f64::max)
}

/// What is physically possible in a mixer, wide on purpose: whether a value is
/// *likely* is for the reader of logs to ask, who can show it to the baker.
pub mod limits {
    /// Temperatures of ingredients, room and bowl, °C.
    pub const TEMPERATURE_C: (f64, f64) = (-60.0, 150.0);
    /// Mass of one ingredient, kg.
    pub const MASS_KG: (f64, f64) = (0.0, 20_000.0);
    /// Minutes of one phase.
    pub const MINUTES: (f64, f64) = (0.0, 10_000.0);
    /// Readings of one batch: one every 15 seconds for an hour. They share the batch's
    /// errors, so that more of them add work by their cube and next to no knowledge.
    pub const READINGS_OF_A_BATCH: usize = 240;
    /// Development grade.
    pub const DEVELOPMENT: (f64, f64) = (0.0, 1.0);
    /// Water a kg of flour in a preferment.
    pub const HYDRATION: (f64, f64) = (0.0, 50.0);
    /// Specific heat, kJ/(kg·K).
    pub const SPECIFIC_HEAT_KJ_PER_KG_K: (f64, f64) = (0.01, 20.0);
}

/// Checks one batch against [`limits`] and the speeds of its machine.
///
/// # Errors
///
/// What is wrong with it, as a [`BatchError`].
pub fn validate(batch: &Batch, speeds: &[Arc<str>]) -> Result<(), BatchError> {
    use crate::charge::Material;

    let id = || batch.id.clone();
    let within = |quantity: &'static str, value: f64, (least, most): (f64, f64)| {
        if (least..=most).contains(&value) {
            return Ok(());
        }
        Err(if value.is_finite() {
            BatchError::OutOfRange { batch: id(), quantity, value, least, most }
        } else {
            BatchError::NotFinite { batch: id(), quantity, value }
        })
    };
    for ingredient in &batch.charge.ingredients {
        let (mass, temperature) = match ingredient.material {
            Material::Flour => ("flour_kg", "flour_c"),
            Material::Water => ("water_kg", "water_c"),
            Material::Ice => ("ice_kg", "ice_c"),
            Material::Preferment { hydration } => {
                within("preferment_hydration", hydration, limits::HYDRATION)?;
                ("preferment_kg", "preferment_c")
            }
            Material::Salt => ("salt_kg", "salt_c"),
            Material::Sugar => ("sugar_kg", "sugar_c"),
            Material::Fat => ("fat_kg", "fat_c"),
            Material::Other { specific_heat_kj_per_kg_k } => {
                within(
                    "other_kj_per_kg_k",
                    specific_heat_kj_per_kg_k,
                    limits::SPECIFIC_HEAT_KJ_PER_KG_K,
                )?;
                ("other_kg", "other_c")
            }
        };
        within(mass, ingredient.mass_kg, limits::MASS_KG)?;
        within(temperature, ingredient.temperature_c, limits::TEMPERATURE_C)?;
        if ingredient.material == Material::Ice {
            within(temperature, ingredient.temperature_c, (limits::TEMPERATURE_C.0, 0.0))?;
        }
    }
    within("room_c", batch.charge.room_c, limits::TEMPERATURE_C)?;
    if let Some(bowl_c) = batch.charge.bowl_c {
        within("bowl_c", bowl_c, limits::TEMPERATURE_C)?;
    }
    if batch.charge.mass_kg() <= 0.0 {
        return Err(BatchError::EmptyBowl { batch: id() });
    }
    if batch.stages.is_empty() {
        return Err(BatchError::NoStage { batch: id() });
    }
    if batch.stages.len() > limits::READINGS_OF_A_BATCH {
        return Err(BatchError::TooManyReadings {
            batch: id(),
            count: batch.stages.len(),
            most: limits::READINGS_OF_A_BATCH,
        });
    }
    for stage in &batch.stages {
        for phase in &stage.phases {
            within("minutes", phase.minutes, limits::MINUTES)?;
            if !speeds.contains(&phase.speed) && &*phase.speed != REST {
                return Err(BatchError::UnknownSpeed { batch: id(), speed: phase.speed.clone() });
            }
        }
        if let Some(dough_c) = stage.reading.dough_c {
            within("dough_c", dough_c, limits::TEMPERATURE_C)?;
        }
        if let Some(grade) = stage.reading.development {
            within("development", grade, limits::DEVELOPMENT)?;
        }
    }
    Ok(())
}
