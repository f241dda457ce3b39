//! The batches that the README asks for when a mixer is new.

use kneadfit::batch::BatchLog;
use kneadfit::charge::{Material, Phase};

use super::super::machines::MachineKind;
use super::super::rng::Draws;
use super::parts::{YEAR, date_of};
use super::{Kitchen, MixedBatch, Recipe, StagePlan};

/// A batch that teaches something of its own.
#[derive(Clone, Copy, Debug)]
enum Trial {
    /// The usual dough and minutes, read after its first minute too.
    FirstMinute,
    /// Long at this speed, short at the others.
    LongAt(usize),
    /// Half the usual charge.
    HalfCharge,
    /// Some of the water as ice, the rest from the refrigerator; the same minutes.
    Iced,
    /// Ten points more water.
    Wetter,
    /// Read, rested in the bowl, read again.
    Rested,
    /// A recipe as it is.
    AnyDay,
}

/// Parts of the usual charge that the usual dough is made in.
const USUAL_SHARE: f64 = 0.8;
/// Part of the water that is ice where some of it is.
const ICE_SHARE: f64 = 0.15;

impl Kitchen {
    /// The log of `n` batches over a year of a baker who mixes what the README says, the recipes
    /// in turn: each dough is read at every change of speed and graded at its end. Fewer than the
    /// README's batches: the first of them.
    pub fn calibration_log(&self, draws: &mut Draws, n: usize) -> BatchLog {
        let speeds = self.machine.speeds.len();
        let mut trials = vec![Trial::FirstMinute];
        trials.extend((0..speeds).map(Trial::LongAt));
        if speeds == 1 {
            trials.push(Trial::AnyDay);
        }
        trials.extend([Trial::HalfCharge, Trial::Iced, Trial::Wetter, Trial::Rested]);
        let more = [Trial::AnyDay, Trial::Iced].into_iter().cycle();
        let trials: Vec<Trial> = trials.into_iter().chain(more).take(n).collect();
        let batches = trials.into_iter().enumerate().map(|(i, trial)| {
            let day = YEAR * (i as f64 + draws.unit()) / n as f64;
            let recipe = self.recipes[i % self.recipes.len()].clone();
            let mut mixed = self.try_out(draws, trial, recipe, format!("{}", i + 1), day);
            mixed.logged.date = Some(date_of(day));
            mixed.logged
        });
        let batches = batches.collect();
        self.log_of(batches)
    }

    fn try_out(
        &self,
        draws: &mut Draws,
        trial: Trial,
        mut recipe: Recipe,
        id: String,
        day: f64,
    ) -> MixedBatch {
        if let Trial::Wetter = trial {
            recipe.hydration += 0.1;
        }
        let share = if let Trial::HalfCharge = trial { 0.5 } else { 1.0 } * USUAL_SHARE;
        let room_c = self.place.room_c(draws, day);
        let mut intended = self.intend_recipe(draws, day, room_c, &recipe, share);
        if let Trial::Iced = trial {
            let is_water = |m: &Material| matches!(m, Material::Water | Material::Ice);
            let whole_kg = intended.mass_of_kg(is_water);
            intended.ingredients.retain(|i| !is_water(&i.material));
            let ice_kg = ICE_SHARE * whole_kg;
            intended = intended.with(Material::Water, whole_kg - ice_kg, self.place.fridge_c).with(
                Material::Ice,
                ice_kg,
                -5.0,
            );
        }
        let setup = self.set_up(draws, &intended, day);
        let factor = |speed: usize| match trial {
            Trial::LongAt(long) => {
                if speed == long {
                    1.75
                } else {
                    0.5
                }
            }
            _ => 1.0,
        };
        let speeds = self.machine.speeds.iter().zip(self.usual_minutes()).enumerate();
        let mut phases: Vec<Phase> = speeds
            .map(|(i, (speed, minutes))| Phase::mixing(speed.name.clone(), factor(i) * minutes))
            .collect();
        if let Trial::FirstMinute = trial {
            phases[0].minutes -= 1.0;
            phases.insert(0, Phase::mixing(phases[0].speed.clone(), 1.0));
        }
        let kneaded = phases.len();
        if let Trial::Rested = trial {
            phases.push(Phase::rest(25.0));
        }
        let stage = |(i, phase)| StagePlan {
            phases: vec![phase],
            read_dough: true,
            read_development: i + 1 >= kneaded,
        };
        let stages: Vec<StagePlan> = phases.into_iter().enumerate().map(stage).collect();
        self.mix(draws, &setup, id, &stages)
    }

    /// The minutes of the usual programme at each speed.
    fn usual_minutes(&self) -> &'static [f64] {
        match self.machine.kind {
            MachineKind::Spiral => &[4.0, 7.0],
            MachineKind::DivingArm => &[5.0, 9.0],
            MachineKind::Planetary => &[3.0, 5.0, 2.0],
            MachineKind::Hands => &[13.0],
        }
    }
}
