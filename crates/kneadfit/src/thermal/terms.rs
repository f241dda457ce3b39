//! What the heat balance needs of a batch, added up once before any fit.

use std::sync::Arc;

use smallvec::SmallVec;

use super::HeatModel;
use crate::batch::{Batch, BatchError, limits, validate};
use crate::charge::{Ingredient, Material};

/// A phase whose speed has been looked up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct PhaseTerms {
    speed_or_rest: u32,
    /// How many stages it ends.
    pub ends_stages: u32,
    pub minutes: f64,
}

impl PhaseTerms {
    const REST: u32 = u32::MAX;

    /// Which speed; `None` is rest.
    #[inline]
    pub fn speed(&self) -> Option<u32> {
        (self.speed_or_rest != Self::REST).then_some(self.speed_or_rest)
    }
}

/// Most doughs have no more phases than these. They lie beside the sums, because a fit of a
/// great many batches waits for memory more than for anything else.
type Phases = SmallVec<[PhaseTerms; 3]>;

/// Whose flour a dough is of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum FlourOf {
    /// The reference flour, or none that was named.
    #[default]
    Reference,
    /// Another, by its place among [`super::HeatCoefficients::flour_friction`].
    Other(u32),
    /// One that was never logged.
    Unknown,
}

impl FlourOf {
    /// The flour called `name` among `others`, beside the `reference`. Where no flour was ever
    /// named there is none to be unlike.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::thermal::FlourOf;
    /// let others = ["rye".into()];
    /// let of = |name: &str| FlourOf::named(Some(name), Some("strong"), &others);
    /// assert_eq!(of("strong"), FlourOf::Reference);
    /// assert_eq!(of("rye"), FlourOf::Other(0));
    /// assert_eq!(of("spelt"), FlourOf::Unknown);
    /// assert_eq!(FlourOf::named(None, Some("strong"), &others), FlourOf::Reference);
    /// assert_eq!(FlourOf::named(Some("spelt"), None, &[]), FlourOf::Reference);
    /// ```
    pub fn named(name: Option<&str>, reference: Option<&str>, others: &[Arc<str>]) -> Self {
        let Some(name) = name else { return Self::Reference };
        if reference.is_none_or(|reference| reference == name) {
            return Self::Reference;
        }
        others.iter().position(|f| **f == *name).map_or(Self::Unknown, |i| Self::Other(i as u32))
    }

    /// The flour of a batch in the log that `others` are from: each of its flours is either
    /// among them or the reference flour.
    pub(crate) fn among(name: Option<&Arc<str>>, others: &[Arc<str>]) -> Self {
        let place = name.and_then(|n| others.iter().position(|f| Arc::ptr_eq(f, n) || f == n));
        place.map_or(Self::Reference, |i| Self::Other(i as u32))
    }

    /// The place of another flour; `None` for the reference flour and one never logged.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::thermal::FlourOf;
    /// assert_eq!(FlourOf::Other(1).other(), Some(1));
    /// assert_eq!(FlourOf::Unknown.other(), None);
    /// ```
    pub fn other(self) -> Option<usize> {
        match self {
            Self::Other(index) => Some(index as usize),
            _ => None,
        }
    }
}

/// A batch reduced to the sums in which the heat balance sees it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HeatTerms {
    /// Dough mass, kg.
    pub mass_kg: f64,
    /// Heat capacity of the ingredients, ice as water, kJ/K.
    pub capacity_kj_per_k: f64,
    /// Heat of the ingredients above liquid at 0 °C, less melting and solution, kJ.
    pub heat_kj: f64,
    /// Hydration; `None` for a batch without flour.
    pub hydration: Option<f64>,
    /// Room temperature, °C.
    pub room_c: f64,
    /// Bowl temperature, °C.
    pub bowl_c: f64,
    /// Whether the bowl was taken to stand at room temperature.
    pub bowl_is_room: bool,
    /// Whose flour it is: the reference flour's unless [`Self::of_flour`] says otherwise.
    pub flour: FlourOf,
    pub(crate) mass_23: f64,
    pub(crate) ln_charge_ratio: f64,
    pub(crate) hydration_offset: f64,
    /// Stages that end before any phase (a reading at the start).
    pub(crate) stages_at_start: u32,
    pub(crate) phases: Phases,
    pub(crate) by_material: ByMaterial,
}

/// Mass and heat of a kind of material: m and m·c·T. What it holds a K follows from its mass.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Sum {
    pub mass_kg: f64,
    pub heat_kj: f64,
}

/// What the errors of masses and thermometers act through.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct ByMaterial {
    pub flour: Sum,
    pub water: Sum,
    /// Its heat is what it takes to become water at 0 °C, below nought.
    pub ice: Sum,
    pub preferment_kj_per_k: f64,
    /// Salt, sugar and fat: they stand in the room.
    pub at_room_kj_per_k: f64,
    pub other_kj_per_k: f64,
    /// All flour, that in preferments included.
    pub flour_kg: f64,
}

impl HeatTerms {
    /// Adds up one batch for the heat balance of `model`.
    ///
    /// # Errors
    ///
    /// A batch that cannot be, among them one whose ice the rest of the batch cannot
    /// melt even with a typical heat of wetting and bowl.
    pub fn new(model: &HeatModel, batch: &Batch, speeds: &[Arc<str>]) -> Result<Self, BatchError> {
        validate(batch, speeds)?;
        let constants = &model.constants;
        let mut by = ByMaterial::default();
        // By kind: mass, kg; capacity, kJ/K; heat, kJ.
        let mut sums = [[0.0; 3]; 6];
        let [flour, water, ice, preferment, at_room, other] = [0, 1, 2, 3, 4, 5];
        let mut water_in_preferment_kg = 0.0;
        // Heat that solution takes, kJ.
        let mut absorbed_kj = 0.0;
        for &Ingredient { material, mass_kg, temperature_c } in &batch.charge.ingredients {
            // Specific heat, and heat above liquid at 0 °C, by mass.
            let warm = |specific_heat: f64| (specific_heat, specific_heat * temperature_c);
            let (kind, (specific_heat, heat)) = match material {
                Material::Flour => (flour, warm(constants.flour_kj_per_kg_k)),
                Material::Water => (water, warm(constants.water_kj_per_kg_k)),
                Material::Ice => {
                    let absorbs = constants.ice_latent_kj_per_kg
                        + constants.ice_kj_per_kg_k * temperature_c.abs();
                    (ice, (constants.water_kj_per_kg_k, -absorbs))
                }
                Material::Preferment { hydration } => {
                    by.flour_kg += mass_kg / (1.0 + hydration);
                    water_in_preferment_kg += mass_kg * hydration / (1.0 + hydration);
                    (preferment, warm(constants.dough_kj_per_kg_k(hydration)))
                }
                Material::Salt => {
                    absorbed_kj += mass_kg * constants.salt_solution_kj_per_kg;
                    (at_room, warm(constants.salt_kj_per_kg_k))
                }
                Material::Sugar => {
                    absorbed_kj += mass_kg * constants.sugar_solution_kj_per_kg;
                    (at_room, warm(constants.sugar_kj_per_kg_k))
                }
                Material::Fat => (at_room, warm(constants.fat_kj_per_kg_k)),
                Material::Other { specific_heat_kj_per_kg_k } => {
                    (other, warm(specific_heat_kj_per_kg_k))
                }
            };
            let sum = &mut sums[kind];
            sum[0] += mass_kg;
            sum[1] += mass_kg * specific_heat;
            sum[2] += mass_kg * heat;
        }
        let of = |kind: usize| Sum { mass_kg: sums[kind][0], heat_kj: sums[kind][2] };
        (by.flour, by.water, by.ice) = (of(flour), of(water), of(ice));
        by.flour_kg += by.flour.mass_kg;
        by.preferment_kj_per_k = sums[preferment][1];
        by.at_room_kj_per_k = sums[at_room][1];
        by.other_kj_per_k = sums[other][1];
        let [mass_kg, capacity_kj_per_k, heat_kj] =
            [0, 1, 2].map(|i| sums.iter().map(|sum| sum[i]).sum::<f64>());
        let heat_kj = heat_kj - absorbed_kj;
        let water_kg = by.water.mass_kg + by.ice.mass_kg + water_in_preferment_kg;
        let hydration = (by.flour_kg > 0.0).then(|| water_kg / by.flour_kg);
        if let Some(hydration) = hydration
            && hydration > limits::HYDRATION.1
        {
            return Err(BatchError::OutOfRange {
                batch: batch.id.clone(),
                quantity: "hydration",
                value: hydration,
                least: limits::HYDRATION.0,
                most: limits::HYDRATION.1,
            });
        }
        let bowl_c = batch.charge.bowl_c.unwrap_or(batch.charge.room_c);
        if by.ice.mass_kg > 0.0 {
            let typical = super::HeatCoefficients::typical(model, 0);
            let balance_kj = heat_kj
                + typical.wetting_kj_per_kg * by.flour.mass_kg
                + typical.bowl_kj_per_k * bowl_c.max(0.0);
            if balance_kj < 0.0 {
                return Err(BatchError::IceNotMelted {
                    batch: batch.id.clone(),
                    short_kj: -balance_kj,
                });
            }
        }
        let (phases, stages_at_start) = look_up_phases(batch, speeds);
        Ok(Self {
            mass_kg,
            capacity_kj_per_k,
            heat_kj,
            hydration,
            room_c: batch.charge.room_c,
            bowl_c,
            bowl_is_room: batch.charge.bowl_c.is_none(),
            flour: FlourOf::Reference,
            mass_23: mass_kg.powf(2.0 / 3.0),
            ln_charge_ratio: (mass_kg / model.usual_charge_kg).ln(),
            hydration_offset: hydration.map_or(0.0, |h| h - model.reference_hydration),
            stages_at_start,
            phases,
            by_material: by,
        })
    }

    /// Flour that is wetted in this batch, kg.
    #[inline]
    pub(crate) fn dry_flour_kg(&self) -> f64 {
        self.by_material.flour.mass_kg
    }

    /// 1 for a dough, 0 for a batch without flour: switches stiffness and softening.
    #[inline]
    pub(crate) fn is_dough(&self) -> f64 {
        if self.hydration.is_some() { 1.0 } else { 0.0 }
    }

    /// The same of another flour; a batch without flour stays as it is.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::batch::Batch;
    /// use kneadfit::charge::{Charge, Material};
    /// use kneadfit::thermal::{FlourOf, HeatModel, HeatTerms};
    ///
    /// let charge = Charge::new(22.0).with(Material::Flour, 10.0, 20.0).with(Material::Water, 6.5, 12.0);
    /// let batch = Batch::new("1", charge, Vec::new());
    /// let terms = HeatTerms::new(&HeatModel::new(16.5), &batch, &[])?;
    /// assert_eq!(terms.of_flour(FlourOf::Other(0)).flour, FlourOf::Other(0));
    /// # Ok::<(), kneadfit::batch::BatchError>(())
    /// ```
    pub fn of_flour(mut self, flour: FlourOf) -> Self {
        if self.hydration.is_some() {
            self.flour = flour;
        }
        self
    }

    /// How many stages the batch has.
    pub fn stage_count(&self) -> usize {
        (self.stages_at_start + self.phases.iter().map(|p| p.ends_stages).sum::<u32>()) as usize
    }
}

fn look_up_phases(batch: &Batch, speeds: &[Arc<str>]) -> (Phases, u32) {
    let mut phases = Phases::new();
    let mut stages_at_start = 0;
    for stage in &batch.stages {
        for phase in stage.phases.iter().filter(|p| p.minutes > 0.0) {
            let speed =
                speeds.iter().position(|s| Arc::ptr_eq(s, &phase.speed) || *s == phase.speed);
            phases.push(PhaseTerms {
                speed_or_rest: speed.map_or(PhaseTerms::REST, |i| i as u32),
                minutes: phase.minutes,
                ends_stages: 0,
            });
        }
        match phases.last_mut() {
            Some(last) => last.ends_stages += 1,
            None => stages_at_start += 1,
        }
    }
    (phases, stages_at_start)
}
