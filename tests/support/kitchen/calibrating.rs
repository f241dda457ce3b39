//! The batches that the README asks for when a mixer is new.

use kneadfit::batch::BatchLog;
use kneadfit::charge::{Material, Phase};

use super::super::machines::MachineKind;
use super::super::rng::Draws;
use super::parts::{YEAR, date_of};
use super::{Kitchen, MixedBatch, StagePlan};

/// A batch that teaches something of its own.
#[derive(Clone, Copy, Debug)]
enum Trial {
    /// The usual dough and minutes, read after its first minute too.
    FirstMinute,
    /// Long at this speed, short at the others.
    LongAt(usize),
    /// Half the usual charge.
    HalfCharge,
    /// The water some 10 °C colder, or warmer where it cannot be colder; the same minutes.
    OtherWater,
    /// Ten points more water.
    Wetter,
    /// Read, rested in the bowl, read again.
    Rested,
    /// Any recipe.
    AnyDay,
}

/// Parts of the usual charge that the usual dough is made in.
const USUAL_SHARE: f64 = 0.8;

impl Kitchen {
    /// The log of `n` batches over a year of a baker who mixes what the README says: each dough
    /// is read at every change of speed and graded at its end. Fewer than the README's batches:
    /// the first of them.
    pub fn calibration_log(&self, draws: &mut Draws, n: usize) -> BatchLog {
        let speeds = self.machine.speeds.len();
        let mut trials = vec![Trial::FirstMinute];
        trials.extend((0..speeds).map(Trial::LongAt));
        if speeds == 1 {
            trials.push(Trial::AnyDay);
        }
        trials.extend([Trial::HalfCharge, Trial::OtherWater, Trial::Wetter, Trial::Rested]);
        trials.resize(n, Trial::AnyDay);
        let batches = trials.into_iter().enumerate().map(|(i, trial)| {
            let day = YEAR * (i as f64 + draws.unit()) / n as f64;
            let mut mixed = self.try_out(draws, trial, format!("{}", i + 1), day);
            mixed.logged.date = Some(date_of(day));
            mixed.logged
        });
        let batches = batches.collect();
        self.log_of(batches)
    }

    fn try_out(&self, draws: &mut Draws, trial: Trial, id: String, day: f64) -> MixedBatch {
        let mut recipe = match trial {
            Trial::AnyDay => draws.pick(&self.recipes).clone(),
            _ => self.recipes[0].clone(),
        };
        if let Trial::Wetter = trial {
            recipe.hydration += 0.1;
        }
        let share = if let Trial::HalfCharge = trial { 0.5 } else { 1.0 } * USUAL_SHARE;
        let room_c = self.place.room_c(draws, day);
        let mut intended = self.intend_recipe(draws, day, room_c, &recipe, share);
        if let Trial::OtherWater = trial {
            let water = intended.ingredients.iter_mut().find(|i| i.material == Material::Water);
            let water = water.expect("every recipe has water");
            let colder_c = water.temperature_c - 10.0;
            let can_be = colder_c >= self.place.fridge_c;
            water.temperature_c = if can_be { colder_c } else { water.temperature_c + 10.0 };
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
