//! What a kitchen consists of besides its machine: flours, recipes, a baker, a place.

use std::sync::Arc;

use super::super::machines::MachineKind;
use super::super::rng::{Draws, round_to};

/// A flour on the shelf and the lots of it that a year brings.
#[derive(Clone, Debug)]
pub struct Flour {
    /// Its name in the log.
    pub name: Arc<str>,
    /// Water it binds beyond the usual, kg per kg.
    pub absorption_shift: f64,
    /// How fast it develops beside the kitchen's usual flour.
    pub rate: f64,
    /// Its lots, one for each part of the year.
    pub(super) lots: Vec<Lot>,
}

#[derive(Clone, Debug)]
pub(super) struct Lot {
    pub(super) wetting_kj_per_kg: f64,
    pub(super) kj_per_kg_k: f64,
    pub(super) rate: f64,
}

/// What a kitchen makes: shares of the flour's mass.
#[derive(Clone, Debug)]
pub struct Recipe {
    /// Index of the flour among the kitchen's.
    pub flour: usize,
    /// Water of every source a kg of flour.
    pub hydration: f64,
    /// Salt a kg of flour.
    pub salt: f64,
    /// Sugar a kg of flour.
    pub sugar: f64,
    /// Fat a kg of flour.
    pub fat: f64,
    /// Share of the flour that comes with a preferment.
    pub preferment: f64,
    /// Water a kg of flour in the preferment.
    pub preferment_hydration: f64,
}

/// How a baker measures and what a baker does.
#[derive(Clone, Debug)]
pub struct Habits {
    /// Sd of the probe's error that one session's readings share, °C.
    pub session_sd_k: f64,
    /// Sd of each reading's own error: flour, water, dough, room, °C.
    pub flour_sd_k: f64,
    pub water_sd_k: f64,
    pub dough_sd_k: f64,
    pub room_sd_k: f64,
    /// Probe and room thermometer are written to these steps, °C.
    pub probe_step_k: f64,
    pub room_step_k: f64,
    /// Sd of the scale, relative, and its step, kg.
    pub scale_sd: f64,
    pub scale_step_kg: f64,
    /// Sd of a phase's true minutes around those set.
    pub timer_sd_min: f64,
    /// Sd of a judged grade, and the step to which it is written.
    pub grade_sd: f64,
    pub grade_step: f64,
    /// How often a grade is written, a second reading taken, the flour named.
    pub grades: f64,
    pub reads_twice: f64,
    pub names_flour: f64,
    /// The dough temperature aimed at, °C, by the friction factor in the baker's head, K.
    pub wanted_c: f64,
    pub friction_factor_k: f64,
    /// Sd of batch-to-batch friction and development, of their logarithms.
    pub friction_log_sd: f64,
    pub rate_log_sd: f64,
}

/// The place: its seasons, its cold.
#[derive(Clone, Debug)]
pub struct Place {
    /// Mean room temperature over the year, and half of summer minus winter, °C.
    pub room_mean_c: f64,
    pub room_season_k: f64,
    /// Tap water: the same.
    pub tap_mean_c: f64,
    pub tap_season_k: f64,
    /// What the refrigerator gives, °C.
    pub fridge_c: f64,
    /// How often the flour comes from the refrigerator on a mild day.
    pub fridge_flour: f64,
}

/// Days in the simulated year.
pub(super) const YEAR: f64 = 365.0;
/// Lots of one flour in a year.
const LOTS: usize = 4;

/// −1 at mid-January, 1 at mid-July.
fn season(day: f64) -> f64 {
    -libm::cos(2.0 * std::f64::consts::PI * (day - 15.0) / YEAR)
}

impl Flour {
    /// A flour whose lots differ from its usual behaviour as lots do.
    pub fn draw(draws: &mut Draws, name: &str, absorption_shift: f64, rate: f64) -> Self {
        // Whole grain holds more bran, and bran wets warmer.
        let wetting = draws.normal(15.1, 1.5) + 10.0 * absorption_shift;
        let lots = (0..LOTS)
            .map(|_| Lot {
                wetting_kj_per_kg: draws.normal(wetting, 0.8),
                kj_per_kg_k: draws.normal(1.84, 0.03),
                rate: draws.lognormal(1.0, 0.05),
            })
            .collect();
        Self { name: name.into(), absorption_shift, rate, lots }
    }

    pub(super) fn lot(&self, day: f64) -> &Lot {
        let part = (day / YEAR * self.lots.len() as f64) as usize;
        &self.lots[part.min(self.lots.len() - 1)]
    }
}

impl Habits {
    /// The habits of one baker.
    pub fn draw(draws: &mut Draws, kind: MachineKind) -> Self {
        let small = matches!(kind, MachineKind::Planetary | MachineKind::Hands);
        let friction_factor_k = match kind {
            MachineKind::Spiral => 22.0,
            MachineKind::Planetary => 28.0,
            MachineKind::Hands => 10.0,
            MachineKind::DivingArm => 17.0,
        };
        Self {
            session_sd_k: 0.15,
            flour_sd_k: 0.42,
            water_sd_k: 0.2,
            dough_sd_k: 0.22,
            room_sd_k: 0.55,
            probe_step_k: *draws.pick(&[0.1, 0.1, 0.5]),
            room_step_k: *draws.pick(&[0.5, 1.0]),
            scale_sd: 0.003,
            scale_step_kg: if small { 0.001 } else { 0.01 },
            timer_sd_min: draws.uniform(0.05, 0.15),
            grade_sd: 0.05,
            grade_step: *draws.pick(&[0.05, 0.1]),
            grades: draws.uniform(0.7, 1.0),
            reads_twice: draws.uniform(0.05, 0.25),
            names_flour: 0.9,
            wanted_c: draws.uniform(23.0, 26.0),
            friction_factor_k: draws.normal(friction_factor_k, 3.0),
            friction_log_sd: draws.uniform(0.05, 0.08),
            rate_log_sd: draws.uniform(0.05, 0.1),
        }
    }
}

impl Place {
    /// A place with its seasons.
    pub fn draw(draws: &mut Draws) -> Self {
        Self {
            room_mean_c: draws.normal(22.5, 1.3),
            room_season_k: draws.uniform(2.0, 5.5),
            tap_mean_c: draws.normal(14.0, 1.5),
            tap_season_k: draws.uniform(2.0, 6.0),
            fridge_c: draws.uniform(3.0, 6.0),
            fridge_flour: draws.uniform(0.0, 0.2),
        }
    }

    pub fn room_c(&self, draws: &mut Draws, day: f64) -> f64 {
        draws.normal(self.room_mean_c + self.room_season_k * season(day), 1.3).clamp(15.0, 34.0)
    }

    pub(super) fn tap_c(&self, draws: &mut Draws, day: f64) -> f64 {
        draws.normal(self.tap_mean_c + self.tap_season_k * season(day - 30.0), 1.0).max(5.0)
    }
}

impl Recipe {
    pub(super) fn draw(draws: &mut Draws, flours: usize) -> Self {
        let rich = draws.chance(0.2);
        Self {
            flour: draws.below(flours),
            hydration: round_to(draws.triangular(0.56, 0.65, 0.78), 0.01),
            salt: round_to(draws.uniform(0.018, 0.028), 0.001),
            sugar: if rich { round_to(draws.uniform(0.02, 0.1), 0.01) } else { 0.0 },
            fat: if rich || draws.chance(0.3) {
                round_to(draws.uniform(0.01, 0.08), 0.005)
            } else {
                0.0
            },
            preferment: if draws.chance(0.4) {
                round_to(draws.uniform(0.1, 0.4), 0.05)
            } else {
                0.0
            },
            preferment_hydration: *draws.pick(&[0.5, 1.0, 1.0]),
        }
    }
}

/// The ISO date of a day of the simulated year, 2025; day 0 is the first of January.
pub fn date_of(day: f64) -> Arc<str> {
    const MONTHS: [u32; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    let mut rest = day.clamp(0.0, YEAR - 1.0) as u32;
    let mut month = 0;
    while rest >= MONTHS[month] {
        rest -= MONTHS[month];
        month += 1;
    }
    format!("2025-{:02}-{:02}", month + 1, rest + 1).into()
}
