//! What the heat balance needs of a batch, added up once before any fit.

use std::sync::Arc;

use super::HeatModel;
use crate::batch::{Batch, BatchError, limits, validate};
use crate::charge::{Ingredient, Material};

/// A phase whose speed has been looked up: `None` is rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct PhaseTerms {
    pub speed: Option<u32>,
    pub minutes: f64,
    /// Which stage it ends, when it is the last phase of one or more stages.
    pub ends_stages: u32,
}

/// A batch reduced to the sums in which the heat balance sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatTerms {
    /// Dough mass, kg.
    pub mass_kg: f64,
    /// Heat capacity of the ingredients, ice as water, kJ/K.
    pub capacity_kj_per_k: f64,
    /// Heat of the ingredients above liquid at 0 °C, less melting and solution, kJ.
    pub heat_kj: f64,
    /// Flour that is wetted in this batch, kg.
    pub dry_flour_kg: f64,
    /// Hydration; `None` for a batch without flour.
    pub hydration: Option<f64>,
    /// Room temperature, °C.
    pub room_c: f64,
    /// Bowl temperature, °C.
    pub bowl_c: f64,
    /// Whether the bowl was taken to stand at room temperature.
    pub bowl_is_room: bool,
    pub(crate) mass_23: f64,
    pub(crate) ln_charge_ratio: f64,
    pub(crate) hydration_offset: f64,
    /// 1 for a dough, 0 for a batch without flour: switches stiffness and softening.
    pub(crate) is_dough: f64,
    /// Stages that end before any phase (a reading at the start).
    pub(crate) stages_at_start: u32,
    pub(crate) phases: Box<[PhaseTerms]>,
    pub(crate) by_material: ByMaterial,
}

/// Sums by kind of material: m, m·c and m·c·T.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Sum {
    pub mass_kg: f64,
    pub capacity_kj_per_k: f64,
    pub heat_kj: f64,
}

#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct ByMaterial {
    pub flour: Sum,
    pub water: Sum,
    pub ice: Sum,
    pub preferment: Sum,
    /// Salt, sugar and fat: they stand in the room.
    pub at_room: Sum,
    pub other: Sum,
    /// Heat that the ice takes to become water at 0 °C.
    pub ice_absorbs_kj: f64,
    pub flour_in_preferment_kg: f64,
    pub water_in_preferment_kg: f64,
}

impl ByMaterial {
    pub fn flour_kg(&self) -> f64 {
        self.flour.mass_kg + self.flour_in_preferment_kg
    }

    pub fn water_kg(&self) -> f64 {
        self.water.mass_kg + self.ice.mass_kg + self.water_in_preferment_kg
    }
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
        // Heat that solution takes, kJ.
        let mut absorbed_kj = 0.0;
        for &Ingredient { material, mass_kg, temperature_c } in &batch.charge.ingredients {
            let (sum, specific_heat, from_c) = match material {
                Material::Flour => (&mut by.flour, constants.flour_kj_per_kg_k, temperature_c),
                Material::Water => (&mut by.water, constants.water_kj_per_kg_k, temperature_c),
                Material::Ice => {
                    by.ice_absorbs_kj += mass_kg
                        * (constants.ice_latent_kj_per_kg
                            + constants.ice_kj_per_kg_k * temperature_c.abs());
                    (&mut by.ice, constants.water_kj_per_kg_k, 0.0)
                }
                Material::Preferment { hydration } => {
                    by.flour_in_preferment_kg += mass_kg / (1.0 + hydration);
                    by.water_in_preferment_kg += mass_kg * hydration / (1.0 + hydration);
                    (&mut by.preferment, constants.dough_kj_per_kg_k(hydration), temperature_c)
                }
                Material::Salt => {
                    absorbed_kj += mass_kg * constants.salt_solution_kj_per_kg;
                    (&mut by.at_room, constants.salt_kj_per_kg_k, temperature_c)
                }
                Material::Sugar => {
                    absorbed_kj += mass_kg * constants.sugar_solution_kj_per_kg;
                    (&mut by.at_room, constants.sugar_kj_per_kg_k, temperature_c)
                }
                Material::Fat => (&mut by.at_room, constants.fat_kj_per_kg_k, temperature_c),
                Material::Other { specific_heat_kj_per_kg_k } => {
                    (&mut by.other, specific_heat_kj_per_kg_k, temperature_c)
                }
            };
            sum.mass_kg += mass_kg;
            sum.capacity_kj_per_k += mass_kg * specific_heat;
            sum.heat_kj += mass_kg * specific_heat * from_c;
        }
        let sums = [by.flour, by.water, by.ice, by.preferment, by.at_room, by.other];
        let mass_kg: f64 = sums.iter().map(|s| s.mass_kg).sum();
        let capacity_kj_per_k: f64 = sums.iter().map(|s| s.capacity_kj_per_k).sum();
        let heat_kj = sums.iter().map(|s| s.heat_kj).sum::<f64>() - absorbed_kj - by.ice_absorbs_kj;
        let hydration = (by.flour_kg() > 0.0).then(|| by.water_kg() / by.flour_kg());
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
            dry_flour_kg: by.flour.mass_kg,
            hydration,
            room_c: batch.charge.room_c,
            bowl_c,
            bowl_is_room: batch.charge.bowl_c.is_none(),
            mass_23: mass_kg.powf(2.0 / 3.0),
            ln_charge_ratio: (mass_kg / model.usual_charge_kg).ln(),
            hydration_offset: hydration.map_or(0.0, |h| h - model.reference_hydration),
            is_dough: if hydration.is_some() { 1.0 } else { 0.0 },
            stages_at_start,
            phases,
            by_material: by,
        })
    }

    /// How many stages the batch has.
    pub fn stage_count(&self) -> usize {
        (self.stages_at_start + self.phases.iter().map(|p| p.ends_stages).sum::<u32>()) as usize
    }
}

fn look_up_phases(batch: &Batch, speeds: &[Arc<str>]) -> (Box<[PhaseTerms]>, u32) {
    let mut phases: Vec<PhaseTerms> = Vec::with_capacity(batch.phases().count());
    let mut stages_at_start = 0;
    for stage in &batch.stages {
        for phase in stage.phases.iter().filter(|p| p.minutes > 0.0) {
            let speed = speeds.iter().position(|s| *s == phase.speed).map(|i| i as u32);
            phases.push(PhaseTerms { speed, minutes: phase.minutes, ends_stages: 0 });
        }
        match phases.last_mut() {
            Some(last) => last.ends_stages += 1,
            None => stages_at_start += 1,
        }
    }
    (phases.into_boxed_slice(), stages_at_start)
}
