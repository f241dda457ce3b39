//! The fitted model itself, written a second time, with exactly the noise that the
//! fit assumes: for recovery without noise and for simulation-based calibration.
//!
//! The phases are integrated by Runge–Kutta from the differential equation, so that
//! they share no closed form with the core.
//!
//! ```text
//! dT/dt = 0.06 [q ψ m (m/m_ref)^β e^(−γ(H − H_ref)) (1 − α(T − T_ref)) + u m^⅔ (T_room − T)] / C
//! dX/dt = κ · f · Q10^((T − 24)/10),   D = 1 − 20^(−X)
//! ```
//!
//! Noise: what is logged is the truth plus an error. The log is drawn first and the
//! truth around it, which is what a fit without a prior for the inputs takes for
//! granted. All readings of a batch share the errors of its inputs and its scatter.

use std::sync::Arc;

use kneadfit::batch::{Batch, BatchLog, Reading};
use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::units::PhysicalConstants;

use super::rng::{Draws, round_to};

/// Standard deviations of what is logged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Uncertainties {
    /// Flour temperature, °C.
    pub flour_c: f64,
    /// Water temperature, °C.
    pub water_c: f64,
    /// Room temperature, °C: of the room, of a bowl that was not measured and of salt,
    /// sugar and fat that are logged at the room's temperature, all by one error.
    pub room_c: f64,
    /// Each reading of the dough, °C.
    pub dough_c: f64,
    /// Minutes of each phase, mixing or rest.
    pub minutes: f64,
    /// Mass of flour and mass of water, each by an error of its own, relative.
    pub scale_relative: f64,
    /// Mass of ice, relative.
    pub ice_relative: f64,
    /// Each judged grade.
    pub development: f64,
}

impl Default for Uncertainties {
    fn default() -> Self {
        Self {
            flour_c: 0.5,
            water_c: 0.3,
            room_c: 0.7,
            dough_c: 0.3,
            minutes: 0.1,
            scale_relative: 0.005,
            ice_relative: 0.02,
            development: 0.05,
        }
    }
}

/// One speed of a machine that follows the model.
#[derive(Clone, Debug, PartialEq)]
pub struct ModelSpeed {
    /// Its name.
    pub name: Arc<str>,
    /// `q`, W per kg of dough.
    pub friction_w_per_kg: f64,
    /// `κ`, dose a minute.
    pub development_per_min: f64,
}

/// A flour beside the reference flour.
#[derive(Clone, Debug, PartialEq)]
pub struct ModelFlour {
    /// Its name.
    pub name: Arc<str>,
    /// `f`, its rate of development.
    pub rate: f64,
    /// `ψ`, the friction of its doughs.
    pub friction: f64,
}

/// A machine that follows the model exactly.
#[derive(Clone, Debug, PartialEq)]
pub struct ModelMachine {
    /// Its speeds in the order in which they are used.
    pub speeds: Vec<ModelSpeed>,
    /// `u`, W/(K·kg^⅔).
    pub exchange_w_per_k: f64,
    /// `C_b`, kJ/K.
    pub bowl_kj_per_k: f64,
    /// `h`, kJ per kg of dry flour.
    pub wetting_kj_per_kg: f64,
    /// `β`.
    pub charge_exponent: f64,
    /// `γ`.
    pub stiffness: f64,
    /// `α`, 1/K.
    pub softening_per_k: f64,
    /// Dose a minute of rest.
    pub rest_per_min: f64,
    /// Development is this much faster for 10 °C more.
    pub q10: f64,
    /// The first is the reference flour, whose rate and friction are 1.
    pub flours: Vec<ModelFlour>,
    /// `m_ref`, kg: to be given to a fit as the usual charge.
    pub reference_dough_kg: f64,
    /// `H_ref`.
    pub reference_hydration: f64,
    /// `T_ref` of softening, °C.
    pub reference_c: f64,
    /// `τ`: sd of the scatter from batch to batch of a dough that friction has warmed by 10 K,
    /// °C. A batch's readings share it, each by its own warmth: see [`Self::scatter_shares`].
    pub scatter_k: f64,
}

/// Temperature for which development is stated, °C.
const DEVELOPMENT_C: f64 = 24.0;
/// Steps a minute; the error of a whole batch is then far below 1e-10 °C.
const STEPS_PER_MIN: f64 = 16.0;

impl ModelMachine {
    /// A machine with every coefficient drawn from its default prior.
    pub fn draw(draws: &mut Draws, speeds: &[&str], usual_dough_kg: f64, flours: &[&str]) -> Self {
        let usual_kj_per_k = usual_dough_kg * PhysicalConstants::default().dough_kj_per_kg_k(0.65);
        Self {
            speeds: speeds
                .iter()
                .map(|&name| ModelSpeed {
                    name: name.into(),
                    friction_w_per_kg: draws.lognormal(35.0, 0.8),
                    development_per_min: draws.lognormal(0.05, 0.8),
                })
                .collect(),
            exchange_w_per_k: draws.lognormal(0.75, 0.8),
            bowl_kj_per_k: draws.lognormal(0.1 * usual_kj_per_k, 0.7),
            wetting_kj_per_kg: draws.normal(15.1, 2.0),
            charge_exponent: draws.normal(0.0, 0.15),
            stiffness: draws.normal(1.5, 1.5),
            softening_per_k: draws.normal(0.02, 0.01),
            rest_per_min: draws.lognormal(0.006, 0.8),
            q10: draws.lognormal(1.5, 0.15),
            flours: flours
                .iter()
                .enumerate()
                .map(|(i, &name)| {
                    let mut drawn = |ln_sd| if i == 0 { 1.0 } else { draws.lognormal(1.0, ln_sd) };
                    let (rate, friction) = (drawn(0.3), drawn(0.04));
                    ModelFlour { name: name.into(), rate, friction }
                })
                .collect(),
            reference_dough_kg: usual_dough_kg,
            reference_hydration: 0.65,
            reference_c: 24.0,
            scatter_k: draws.normal(0.0, 0.5).abs(),
        }
    }

    /// A batch worth logging, its inputs as a baker would log them, nothing read yet.
    /// Every stage is to be read.
    pub fn plan(&self, draws: &mut Draws, id: impl Into<Arc<str>>) -> Batch {
        let room_c = round_to(draws.uniform(16.0, 30.0), 0.1);
        let flour_c = round_to(
            if draws.chance(0.2) {
                draws.uniform(4.0, 12.0)
            } else {
                room_c - draws.uniform(0.0, 3.0)
            },
            0.1,
        );
        let dough_kg = self.reference_dough_kg * draws.triangular(0.4, 0.8, 1.0);
        let hydration = draws.uniform(0.56, 0.75);
        let flour_kg = dough_kg / (1.02 + hydration);
        let old_flour_kg = if draws.chance(0.25) { 0.2 * flour_kg } else { 0.0 };
        let water_kg = hydration * flour_kg - old_flour_kg;
        let ice_kg = if draws.chance(0.15) { 0.15 * water_kg } else { 0.0 };
        let water_c = round_to(draws.uniform(if ice_kg > 0.0 { 8.0 } else { 3.0 }, 30.0), 0.1);
        let mut charge = Charge::new(room_c)
            .with(Material::Flour, flour_kg - old_flour_kg, flour_c)
            .with(Material::Water, water_kg - ice_kg, water_c)
            .with(Material::Salt, 0.02 * flour_kg, room_c);
        if ice_kg > 0.0 {
            charge = charge.with(Material::Ice, ice_kg, -5.0);
        }
        if old_flour_kg > 0.0 {
            let old_c = round_to(draws.uniform(5.0, 24.0), 0.1);
            let material = Material::Preferment { hydration: 1.0 };
            charge = charge.with(material, 2.0 * old_flour_kg, old_c);
        }
        if draws.chance(0.15) {
            charge = charge.in_bowl_at(round_to(draws.uniform(18.0, 28.0), 0.1));
        }
        if !self.flours.is_empty() {
            charge = charge.of_flour(draws.pick(&self.flours).name.clone());
        }
        let mut phases: Vec<Phase> = self
            .speeds
            .iter()
            .map(|s| Phase::mixing(s.name.clone(), round_to(draws.triangular(1.0, 4.0, 9.0), 0.5)))
            .collect();
        if draws.chance(0.15) {
            phases.insert(1, Phase::rest(round_to(draws.uniform(10.0, 30.0), 1.0)));
        }
        let rest_of = phases.split_off(1);
        if draws.chance(0.2) && !rest_of.is_empty() {
            return Batch::new(id, charge, phases).then(rest_of, Reading::default());
        }
        phases.extend(rest_of);
        Batch::new(id, charge, phases)
    }

    /// What the model says at the end of each stage: dough °C and grade.
    ///
    /// # Panics
    ///
    /// When a phase is at a speed that the machine does not have.
    pub fn forecast(&self, batch: &Batch) -> Vec<(f64, f64)> {
        let c = PhysicalConstants::default();
        let charge = &batch.charge;
        let mut capacity = self.bowl_kj_per_k;
        let mut heat = self.bowl_kj_per_k * charge.bowl_c.unwrap_or(charge.room_c);
        for i in &charge.ingredients {
            let m = i.mass_kg;
            let (kj_per_k, latent_kj, from_c) = match i.material {
                Material::Flour => (m * c.flour_kj_per_kg_k, m * self.wetting_kj_per_kg, None),
                Material::Water => (m * c.water_kj_per_kg_k, 0.0, None),
                Material::Ice => (
                    m * c.water_kj_per_kg_k,
                    -m * (c.ice_latent_kj_per_kg + c.ice_kj_per_kg_k * i.temperature_c.abs()),
                    Some(0.0),
                ),
                Material::Preferment { hydration } => {
                    (m * c.dough_kj_per_kg_k(hydration), 0.0, None)
                }
                Material::Salt => (m * c.salt_kj_per_kg_k, -m * c.salt_solution_kj_per_kg, None),
                Material::Sugar => (m * c.sugar_kj_per_kg_k, -m * c.sugar_solution_kj_per_kg, None),
                Material::Fat => (m * c.fat_kj_per_kg_k, 0.0, None),
                Material::Other { specific_heat_kj_per_kg_k } => {
                    (m * specific_heat_kj_per_kg_k, 0.0, None)
                }
                _ => unreachable!("the model knows no other material"),
            };
            capacity += kj_per_k;
            heat += kj_per_k * from_c.unwrap_or(i.temperature_c) + latent_kj;
        }
        let mass_kg = charge.mass_kg();
        let surface = libm::pow(mass_kg, 2.0 / 3.0);
        let stiffness = charge
            .hydration()
            .map_or(1.0, |h| libm::exp(-self.stiffness * (h - self.reference_hydration)));
        let named = charge.flour_name.as_ref();
        let flour = named.and_then(|name| self.flours.iter().find(|flour| flour.name == *name));
        let (flour_rate, flour_friction) = flour.map_or((1.0, 1.0), |f| (f.rate, f.friction));
        let power = mass_kg
            * libm::pow(mass_kg / self.reference_dough_kg, self.charge_exponent)
            * stiffness
            * charge.hydration().map_or(1.0, |_| flour_friction);

        let slope = |[dough_c, _]: [f64; 2], friction_w_per_kg: f64, dose_per_min: f64| {
            let softened = 1.0 - self.softening_per_k * (dough_c - self.reference_c);
            let watts = friction_w_per_kg * power * softened
                + self.exchange_w_per_k * surface * (charge.room_c - dough_c);
            let warm = libm::pow(self.q10, (dough_c - DEVELOPMENT_C) / 10.0);
            [60.0 / 1000.0 * watts / capacity, dose_per_min * flour_rate * warm]
        };
        let mut state = [heat / capacity, 0.0];
        let mut readings = Vec::with_capacity(batch.stages.len());
        for stage in &batch.stages {
            for phase in stage.phases.iter().filter(|p| p.minutes > 0.0) {
                let (q, dose) = if phase.is_rest() {
                    (0.0, self.rest_per_min)
                } else {
                    let speed = self.speeds.iter().find(|s| s.name == phase.speed);
                    let speed = speed.expect("a speed of the machine");
                    (speed.friction_w_per_kg, speed.development_per_min)
                };
                let steps = (phase.minutes * STEPS_PER_MIN).ceil();
                let step = phase.minutes / steps;
                for _ in 0..steps as usize {
                    let at = |k: [f64; 2], part: f64| {
                        [state[0] + part * step * k[0], state[1] + part * step * k[1]]
                    };
                    let k1 = slope(state, q, dose);
                    let k2 = slope(at(k1, 0.5), q, dose);
                    let k3 = slope(at(k2, 0.5), q, dose);
                    let k4 = slope(at(k3, 1.0), q, dose);
                    for i in 0..2 {
                        state[i] += step / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]);
                    }
                }
            }
            readings.push((state[0], 1.0 - libm::exp(-libm::log(20.0) * state[1])));
        }
        readings
    }

    /// The share of its scatter that a batch has at the end of each stage: √(0.3² + (w/10)²),
    /// `w` the warmth by friction in K, by how much the dough would be warmer if all speeds
    /// rubbed more.
    pub fn scatter_shares(&self, batch: &Batch) -> Vec<f64> {
        const STEP: f64 = 1e-3;
        let with = |factor: f64| {
            let mut machine = self.clone();
            machine.speeds.iter_mut().for_each(|s| s.friction_w_per_kg *= factor);
            machine.forecast(batch)
        };
        let pairs = with(libm::exp(STEP)).into_iter().zip(with(libm::exp(-STEP)));
        pairs
            .map(|((more_c, _), (less_c, _))| {
                let warmth_k = (more_c - less_c) / (2.0 * STEP);
                libm::hypot(0.3, warmth_k / 10.0)
            })
            .collect()
    }

    /// The planned batch read without any error; grades are those of the model, below 1.
    #[must_use]
    pub fn read_exactly(&self, planned: &Batch) -> Batch {
        let mut batch = planned.clone();
        for (stage, (dough_c, grade)) in batch.stages.iter_mut().zip(self.forecast(planned)) {
            stage.reading = Reading { dough_c: Some(dough_c), development: Some(grade) };
        }
        batch
    }

    /// The planned batch mixed and read with errors: its inputs stay as they were logged.
    #[must_use]
    pub fn observe(&self, draws: &mut Draws, planned: &Batch, u: &Uncertainties) -> Batch {
        let mut truth = planned.clone();
        let flour_k = draws.normal(0.0, u.flour_c);
        let water_k = draws.normal(0.0, u.water_c);
        let room_k = draws.normal(0.0, u.room_c);
        let flour_share = draws.normal(0.0, u.scale_relative);
        let water_share = draws.normal(0.0, u.scale_relative);
        let ice_share = draws.normal(0.0, u.ice_relative);
        for i in &mut truth.charge.ingredients {
            match i.material {
                Material::Flour => {
                    i.temperature_c -= flour_k;
                    i.mass_kg /= 1.0 + flour_share;
                }
                Material::Water => {
                    i.temperature_c -= water_k;
                    i.mass_kg /= 1.0 + water_share;
                }
                Material::Ice => i.mass_kg /= 1.0 + ice_share,
                Material::Salt | Material::Sugar | Material::Fat
                    if i.temperature_c == planned.charge.room_c =>
                {
                    i.temperature_c -= room_k;
                }
                _ => {}
            }
        }
        truth.charge.room_c -= room_k;
        for phase in truth.stages.iter_mut().flat_map(|s| &mut s.phases) {
            if phase.minutes > 0.0 {
                phase.minutes = (phase.minutes - draws.normal(0.0, u.minutes)).max(0.0);
            }
        }
        let shift_k = draws.normal(0.0, self.scatter_k);
        let mut logged = planned.clone();
        let shares = self.scatter_shares(&truth);
        let read = self.forecast(&truth).into_iter().zip(shares);
        for (stage, ((dough_c, grade), share)) in logged.stages.iter_mut().zip(read) {
            let judged = grade + draws.normal(0.0, u.development);
            stage.reading = Reading {
                dough_c: Some(dough_c + share * shift_k + draws.normal(0.0, u.dough_c)),
                development: Some(if judged >= 0.95 { 1.0 } else { judged.max(0.0) }),
            };
        }
        logged
    }

    /// A machine and its log of `n` batches: the first machine drawn that does not boil its
    /// dough, as one in some thousands drawn from the priors does.
    pub fn with_log(
        draws: &mut Draws,
        speeds: &[&str],
        usual_dough_kg: f64,
        flours: &[&str],
        n: usize,
    ) -> (Self, BatchLog) {
        loop {
            let machine = Self::draw(draws, speeds, usual_dough_kg, flours);
            let batches = machine.mix(draws, n, &Uncertainties::default());
            if let Ok(log) = BatchLog::new("model", speeds.iter().copied(), batches) {
                return (machine, log);
            }
        }
    }

    /// A log of `n` batches with the assumed noise.
    pub fn log(&self, draws: &mut Draws, n: usize, u: &Uncertainties) -> BatchLog {
        self.log_of(self.mix(draws, n, u))
    }

    fn mix(&self, draws: &mut Draws, n: usize, u: &Uncertainties) -> Vec<Batch> {
        (0..n)
            .map(|i| {
                let planned = self.plan(draws, format!("{}", i + 1));
                self.observe(draws, &planned, u)
            })
            .collect()
    }

    /// A log of `n` batches read without any error.
    pub fn exact_log(&self, draws: &mut Draws, n: usize) -> BatchLog {
        let batches = (0..n)
            .map(|i| {
                let planned = self.plan(draws, format!("{}", i + 1));
                self.read_exactly(&planned)
            })
            .collect();
        self.log_of(batches)
    }

    fn log_of(&self, batches: Vec<Batch>) -> BatchLog {
        BatchLog::new("model", self.speeds.iter().map(|s| s.name.clone()), batches)
            .expect("simulated batches are possible ones")
    }
}
