//! A kitchen: a true machine, a baker's habits, and batches logged with all the
//! errors that a kitchen makes.
//!
//! Standard deviations of the errors, together near the defaults of the fit (flour
//! 0.5, water 0.3, room 0.7, dough 0.3 °C):
//!
//! | reading | one session's probe | each reading | rounding |
//! |---|---|---|---|
//! | flour | 0.15 | 0.42 | 0.1 or 0.5 |
//! | water | 0.15 | 0.20 | 0.1 or 0.5 |
//! | dough | 0.15 | 0.22 | 0.1 or 0.5 |
//! | room | – | 0.55, and drift while mixing (sd 0.03 a minute) | 0.5 or 1 |
//!
//! Scales err by 0.3 % and round; timers by 0.05–0.15 min a phase; grades by 0.05,
//! rounded to 0.05 or 0.1 and written as 1 from 0.95 up.

mod calibrating;
mod parts;

use std::sync::Arc;

use kneadfit::batch::{Batch, BatchLog, Reading, Stage};
use kneadfit::charge::{Charge, Ingredient, Material, Phase};

pub use self::parts::{Flour, Habits, Place, Recipe, date_of};
use self::parts::{Lot, YEAR};
use super::machines::{Machine, MachineKind};
use super::process::{self, TrueReading, Truth};
use super::rng::{Draws, round_to};

/// A simulated kitchen with one machine.
#[derive(Clone, Debug)]
pub struct Kitchen {
    pub machine: Machine,
    pub habits: Habits,
    pub place: Place,
    pub flours: Vec<Flour>,
    pub recipes: Vec<Recipe>,
}

/// What stands on the bench before the mixer starts: as it is and as it was written down.
#[derive(Clone, Debug)]
pub struct Setup {
    /// As it is.
    pub truth: Truth,
    /// As the baker measured it.
    pub noted: Charge,
    /// Error that this session's probe readings share, °C.
    probe_bias_k: f64,
}

/// Phases as set on the timer, and what is read after them.
#[derive(Clone, Debug)]
pub struct StagePlan {
    /// Phases in order.
    pub phases: Vec<Phase>,
    /// Whether the dough's temperature is read.
    pub read_dough: bool,
    /// Whether the development is judged.
    pub read_development: bool,
}

impl StagePlan {
    /// Phases after which both temperature and development are read.
    pub fn read(phases: Vec<Phase>) -> Self {
        Self { phases, read_dough: true, read_development: true }
    }
}

/// A mixed batch: as logged, and as it was.
#[derive(Clone, Debug)]
pub struct MixedBatch {
    /// With all errors of measuring.
    pub logged: Batch,
    /// The true state at each reading.
    pub true_readings: Vec<TrueReading>,
}

impl MixedBatch {
    /// The logged batch before anything was read: what is given to a forecast.
    pub fn unread(&self) -> Batch {
        let mut batch = self.logged.clone();
        for stage in &mut batch.stages {
            stage.reading = Reading::default();
        }
        batch
    }

    /// The last dough temperature as logged, °C.
    pub fn observed_dough_c(&self) -> Option<f64> {
        self.logged.stages.last().and_then(|s| s.reading.dough_c)
    }

    /// The true state at the end.
    pub fn at_end(&self) -> TrueReading {
        *self.true_readings.last().expect("a batch has a stage")
    }
}

impl Kitchen {
    /// A kitchen of its own with a machine of this kind.
    pub fn draw(draws: &mut Draws, kind: MachineKind) -> Self {
        let machine = Machine::draw(draws, kind);
        let habits = Habits::draw(draws, kind);
        let place = Place::draw(draws);
        let fine = draws.lognormal(1.0, 0.15);
        let whole = draws.lognormal(0.9, 0.15);
        let flours = vec![
            Flour::draw(draws, "strong white", 0.0, 1.0),
            Flour::draw(draws, "00 pizza", -0.01, fine),
            Flour::draw(draws, "wholemeal blend", 0.05, whole),
        ];
        let recipes = (0..5).map(|_| Recipe::draw(draws, flours.len())).collect();
        Self { machine, habits, place, flours, recipes }
    }

    /// Puts on the bench what the recipe asks for and measures it.
    ///
    /// `intended` holds masses as the scale shows them and temperatures as they truly
    /// are; the setup returned holds true masses, and temperatures as they were read.
    pub fn set_up(&self, draws: &mut Draws, intended: &Charge, day: f64) -> Setup {
        let h = &self.habits;
        let probe_bias_k = draws.normal(0.0, h.session_sd_k);
        let flour = intended
            .flour_name
            .as_ref()
            .and_then(|name| self.flours.iter().find(|f| f.name == *name))
            .unwrap_or(&self.flours[0]);
        let lot = flour.lot(day);
        let room_noted_c = round_to(draws.normal(intended.room_c, h.room_sd_k), h.room_step_k);

        let mut truth = Charge { ingredients: Vec::new(), ..intended.clone() };
        let mut noted = Charge { ingredients: Vec::new(), ..intended.clone() };
        noted.room_c = room_noted_c;
        for &i in &intended.ingredients {
            let on_scale_kg = round_to(i.mass_kg, h.scale_step_kg);
            if on_scale_kg <= 0.0 {
                continue;
            }
            let true_kg = on_scale_kg * (1.0 + draws.normal(0.0, h.scale_sd));
            let noted_c = match i.material {
                Material::Flour => self.probe(draws, i.temperature_c, probe_bias_k, h.flour_sd_k),
                Material::Ice => i.temperature_c.round(),
                // Nobody measures the salt: it is taken to be at room temperature.
                Material::Salt | Material::Sugar | Material::Fat => room_noted_c,
                _ => self.probe(draws, i.temperature_c, probe_bias_k, h.water_sd_k),
            };
            truth.ingredients.push(Ingredient { mass_kg: true_kg, ..i });
            noted.ingredients.push(Ingredient {
                mass_kg: on_scale_kg,
                temperature_c: noted_c,
                ..i
            });
        }
        // A bowl is measured when it is noticeably off the room, and then most often.
        if let Some(bowl_c) = intended.bowl_c {
            let noticed = (bowl_c - intended.room_c).abs() > 1.5 && draws.chance(0.8);
            noted.bowl_c = noticed.then(|| self.probe(draws, bowl_c, probe_bias_k, h.flour_sd_k));
        }
        if noted.flour_name.is_some() && !draws.chance(h.names_flour) {
            noted.flour_name = None;
        }
        let truth = Truth {
            charge: truth,
            flour_kj_per_kg_k: lot.kj_per_kg_k,
            wetting_kj_per_kg: lot.wetting_kj_per_kg,
            absorption_shift: flour.absorption_shift,
            flour_rate: flour.rate * lot.rate,
            friction_factor: draws.lognormal(1.0, h.friction_log_sd),
            rate_factor: draws.lognormal(1.0, h.rate_log_sd),
            room_drift_k_per_min: draws.normal(0.0, 0.03),
            humidity: draws.uniform(0.4, 0.7),
            wet_ice_share: draws.uniform(0.0, 0.04),
        };
        Setup { truth, noted, probe_bias_k }
    }

    fn probe(&self, draws: &mut Draws, true_c: f64, bias_k: f64, sd_k: f64) -> f64 {
        round_to(true_c + bias_k + draws.normal(0.0, sd_k), self.habits.probe_step_k)
    }

    /// Changes the water of a setup to what a plan asks for: the formula water stays
    /// the same in all, `ice_kg` of it as ice at `ice_c`, the rest brought to `water_c`
    /// by the baker's own thermometer.
    pub fn pour(
        &self,
        draws: &mut Draws,
        setup: &Setup,
        water_c: f64,
        ice_kg: f64,
        ice_c: f64,
    ) -> Setup {
        let h = &self.habits;
        let mut poured = setup.clone();
        let is_water = |i: &Ingredient| matches!(i.material, Material::Water | Material::Ice);
        let whole_kg: f64 =
            setup.noted.ingredients.iter().filter(|i| is_water(i)).map(|i| i.mass_kg).sum();
        poured.noted.ingredients.retain(|i| !is_water(i));
        poured.truth.charge.ingredients.retain(|i| !is_water(i));
        let ice_kg = round_to(ice_kg.clamp(0.0, whole_kg), h.scale_step_kg);
        let water_kg = whole_kg - ice_kg;
        let true_c = water_c - setup.probe_bias_k + draws.normal(0.0, h.water_sd_k);
        let parts = [
            (Material::Water, water_kg, water_c, true_c),
            (Material::Ice, ice_kg, ice_c, draws.normal(ice_c, 2.0).min(-0.5)),
        ];
        for (material, mass_kg, noted_c, true_c) in parts {
            if mass_kg > 0.0 {
                poured.noted = poured.noted.with(material, mass_kg, noted_c);
                let true_kg = mass_kg * (1.0 + draws.normal(0.0, h.scale_sd));
                poured.truth.charge = poured.truth.charge.with(material, true_kg, true_c);
            }
        }
        poured
    }

    /// Mixes what is on the bench and reads as planned.
    pub fn mix(
        &self,
        draws: &mut Draws,
        setup: &Setup,
        id: impl Into<Arc<str>>,
        plan: &[StagePlan],
    ) -> MixedBatch {
        let h = &self.habits;
        let true_phases: Vec<Vec<Phase>> = plan
            .iter()
            .map(|stage| {
                let phases = stage.phases.iter();
                phases
                    .map(|p| Phase {
                        speed: p.speed.clone(),
                        minutes: draws.normal(p.minutes, h.timer_sd_min).max(0.0),
                    })
                    .collect()
            })
            .collect();
        let true_readings = process::mix(&self.machine, &setup.truth, &true_phases);
        let stages = plan
            .iter()
            .zip(&true_readings)
            .map(|(stage, truth)| Stage {
                phases: stage.phases.clone(),
                reading: Reading {
                    dough_c: stage.read_dough.then(|| {
                        self.probe(draws, truth.dough_c, setup.probe_bias_k, h.dough_sd_k)
                    }),
                    development: stage
                        .read_development
                        .then(|| self.judge(draws, truth.development)),
                },
            })
            .collect();
        let logged = Batch { id: id.into(), date: None, charge: setup.noted.clone(), stages };
        MixedBatch { logged, true_readings }
    }

    fn judge(&self, draws: &mut Draws, development: f64) -> f64 {
        let judged = development + draws.normal(0.0, self.habits.grade_sd);
        if judged >= 0.95 { 1.0 } else { round_to(judged.max(0.0), self.habits.grade_step) }
    }

    /// What the baker puts together on a day: masses as the scale shows them,
    /// temperatures as they truly are.
    pub fn intend(&self, draws: &mut Draws, day: f64) -> Charge {
        let (recipe, share) = self.choose(draws);
        let room_c = self.place.room_c(draws, day);
        self.intend_recipe(draws, day, room_c, &recipe, share)
    }

    /// The same in a room at `room_c`, whatever the season.
    pub fn intend_in_room(&self, draws: &mut Draws, day: f64, room_c: f64) -> Charge {
        let (recipe, share) = self.choose(draws);
        self.intend_recipe(draws, day, room_c, &recipe, share)
    }

    /// One of the recipes and a share of the usual charge.
    fn choose(&self, draws: &mut Draws) -> (Recipe, f64) {
        (draws.pick(&self.recipes).clone(), draws.triangular(0.35, 0.8, 1.0))
    }

    /// The same for a given recipe and share of the usual charge.
    pub fn intend_recipe(
        &self,
        draws: &mut Draws,
        day: f64,
        room_c: f64,
        recipe: &Recipe,
        share: f64,
    ) -> Charge {
        let (h, p) = (&self.habits, &self.place);
        let hot = room_c > 26.0;
        let flour_c = if draws.chance(if hot { 0.4 } else { p.fridge_flour }) {
            p.fridge_c + draws.uniform(1.0, 6.0)
        } else {
            room_c - draws.uniform(0.0, 2.5)
        };
        let parts = 1.0 + recipe.hydration + recipe.salt + recipe.sugar + recipe.fat;
        // Bakers weigh flour in round figures.
        let whole_kg = self.machine.usual_dough_kg * share / parts;
        let step = if whole_kg > 4.0 { 0.5 } else { 0.05 };
        let flour_kg = round_to(whole_kg, step).max(step);
        let old_flour_kg = recipe.preferment * flour_kg;
        let old_water_kg = old_flour_kg * recipe.preferment_hydration;
        let preferment_c = if draws.chance(0.5) {
            p.fridge_c + draws.uniform(0.0, 3.0)
        } else {
            room_c - draws.uniform(-1.0, 3.0)
        };
        let mut known = vec![room_c, flour_c];
        if old_flour_kg > 0.0 {
            known.push(preferment_c);
        }
        let water_kg = (recipe.hydration * flour_kg - old_water_kg).max(0.05 * flour_kg);
        let (water_c, ice_kg) = self.choose_water(draws, day, &known, water_kg);
        let mut charge = Charge::new(room_c)
            .of_flour(self.flours[recipe.flour].name.clone())
            .with(Material::Flour, flour_kg - old_flour_kg, flour_c)
            .with(Material::Water, water_kg - ice_kg, water_c)
            .with(Material::Salt, recipe.salt * flour_kg, room_c);
        if ice_kg > 0.0 {
            charge = charge.with(Material::Ice, ice_kg, draws.normal(-6.0, 2.5).min(-0.5));
        }
        if old_flour_kg > 0.0 {
            let material = Material::Preferment { hydration: recipe.preferment_hydration };
            charge = charge.with(material, old_flour_kg + old_water_kg, preferment_c);
        }
        if recipe.sugar > 0.0 {
            charge = charge.with(Material::Sugar, recipe.sugar * flour_kg, room_c);
        }
        if recipe.fat > 0.0 {
            charge = charge.with(Material::Fat, recipe.fat * flour_kg, room_c);
        }
        // Batches follow each other: the bowl is then still warm from the dough before.
        if draws.chance(0.15) {
            let dough_before_c = h.wanted_c + draws.normal(1.0, 1.0);
            let share = draws.uniform(0.4, 0.9);
            charge = charge.in_bowl_at(room_c + share * (dough_before_c - room_c));
        }
        charge
    }

    /// The water that the baker's own friction factor asks for, and ice where the
    /// refrigerator is not cold enough: true °C and kg.
    fn choose_water(
        &self,
        draws: &mut Draws,
        day: f64,
        known_c: &[f64],
        water_kg: f64,
    ) -> (f64, f64) {
        let (h, p) = (&self.habits, &self.place);
        if draws.chance(0.12) {
            return (p.tap_c(draws, day), 0.0);
        }
        let n = known_c.len() as f64 + 1.0;
        let wanted_c = n * h.wanted_c - known_c.iter().sum::<f64>() - h.friction_factor_k * n / 3.0
            + draws.normal(0.0, 1.5);
        let coldest_c = p.fridge_c + draws.uniform(-0.5, 1.0);
        if wanted_c >= coldest_c {
            return (wanted_c.min(38.0), 0.0);
        }
        if wanted_c < coldest_c - 4.0 && draws.chance(0.6) {
            let share = ((coldest_c - wanted_c) / (coldest_c + 80.0)).min(0.3);
            return (coldest_c, share * water_kg);
        }
        (coldest_c, 0.0)
    }

    /// The programme of a day: half minutes, sometimes a rest, sometimes a reading on the way.
    pub fn programme(&self, draws: &mut Draws) -> Vec<StagePlan> {
        let h = &self.habits;
        let half = |minutes: f64| round_to(minutes, 0.5);
        let mut phases: Vec<Phase> = match self.machine.kind {
            MachineKind::Spiral => vec![
                Phase::mixing("low", half(draws.triangular(2.0, 4.0, 6.0))),
                Phase::mixing("high", half(draws.triangular(3.0, 7.0, 11.0))),
            ],
            MachineKind::DivingArm => vec![
                Phase::mixing("low", half(draws.triangular(3.0, 5.0, 8.0))),
                Phase::mixing("high", half(draws.triangular(5.0, 9.0, 15.0))),
            ],
            MachineKind::Planetary => {
                let mut phases = vec![
                    Phase::mixing("low", half(draws.triangular(1.0, 3.0, 8.0))),
                    Phase::mixing("medium", half(draws.triangular(2.0, 5.0, 10.0))),
                ];
                if draws.chance(0.5) {
                    phases.push(Phase::mixing("high", half(draws.triangular(1.0, 2.0, 5.0))));
                }
                phases
            }
            MachineKind::Hands => {
                vec![Phase::mixing("hand", half(draws.triangular(6.0, 13.0, 20.0)))]
            }
        };
        let grade = draws.chance(h.grades);
        let twice = draws.chance(h.reads_twice);
        let rests = draws.chance(0.12).then(|| round_to(draws.uniform(10.0, 30.0), 5.0));
        if !twice && phases.len() == 1 {
            return vec![StagePlan { phases, read_dough: true, read_development: grade }];
        }
        let mut later = phases.split_off(1);
        if later.is_empty() {
            // One speed only: the minutes are split in two.
            let whole = phases[0].minutes;
            phases[0].minutes = half(whole * draws.uniform(0.3, 0.6));
            later.push(Phase::mixing(phases[0].speed.clone(), whole - phases[0].minutes));
        }
        if let Some(minutes) = rests {
            later.insert(0, Phase::rest(minutes));
        }
        if twice {
            return vec![
                StagePlan {
                    phases,
                    read_dough: true,
                    read_development: grade && draws.chance(0.5),
                },
                StagePlan { phases: later, read_dough: true, read_development: grade },
            ];
        }
        phases.append(&mut later);
        vec![StagePlan { phases, read_dough: true, read_development: grade }]
    }

    /// One batch of a day, as the baker makes it.
    pub fn batch_on(&self, draws: &mut Draws, id: impl Into<Arc<str>>, day: f64) -> MixedBatch {
        let intended = self.intend(draws, day);
        let setup = self.set_up(draws, &intended, day);
        let plan = self.programme(draws);
        let mut mixed = self.mix(draws, &setup, id, &plan);
        mixed.logged.date = Some(date_of(day));
        mixed
    }

    /// `n` batches in the order of a year, as they are, with their truth.
    pub fn year(&self, draws: &mut Draws, n: usize) -> Vec<MixedBatch> {
        (0..n)
            .map(|i| {
                let day = YEAR * (i as f64 + draws.unit()) / n as f64;
                self.batch_on(draws, format!("{}", i + 1), day)
            })
            .collect()
    }

    /// The log of `n` batches over a year.
    pub fn log(&self, draws: &mut Draws, n: usize) -> BatchLog {
        let batches = self.year(draws, n).into_iter().map(|m| m.logged).collect();
        self.log_of(batches)
    }

    /// A log of batches mixed one by one.
    pub fn log_of(&self, batches: Vec<Batch>) -> BatchLog {
        let kind = self.machine.kind;
        BatchLog::new(kind.name(), kind.speeds().iter().copied(), batches)
            .expect("simulated batches are possible ones")
    }

    /// What a forecaster who knew this kitchen perfectly would say of the batch as it
    /// was noted: what is left of the error is the batch's own, and nobody's to avoid.
    pub fn best_forecast(&self, noted: &Batch) -> Vec<TrueReading> {
        let flour = noted
            .charge
            .flour_name
            .as_ref()
            .and_then(|name| self.flours.iter().find(|f| f.name == *name))
            .unwrap_or(&self.flours[0]);
        let lots = flour.lots.len() as f64;
        let mean = |of: fn(&Lot) -> f64| flour.lots.iter().map(of).sum::<f64>() / lots;
        let truth = Truth {
            flour_kj_per_kg_k: mean(|l| l.kj_per_kg_k),
            wetting_kj_per_kg: mean(|l| l.wetting_kj_per_kg),
            absorption_shift: flour.absorption_shift,
            flour_rate: flour.rate * mean(|l| l.rate),
            wet_ice_share: 0.02,
            ..Truth::plain(noted.charge.clone())
        };
        let stages: Vec<Vec<Phase>> = noted.stages.iter().map(|s| s.phases.clone()).collect();
        process::mix(&self.machine, &truth, &stages)
    }

    /// A further batch on any day of the year.
    pub fn next_batch(&self, draws: &mut Draws) -> MixedBatch {
        let day = YEAR * draws.unit();
        self.batch_on(draws, "next", day)
    }
}
