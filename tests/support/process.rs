//! What truly happens in the bowl: a process richer than the fitted model.
//!
//! Dough and bowl are two thermal nodes; friction depends on how far the dough has
//! picked up, on its temperature (exponentially) and on its free water (a power law);
//! ice melts and flour wets at finite rates; the open surface evaporates. The fitted
//! model has one node, a linear softening, an exponential stiffness, everything wet
//! and melted at the start, and no evaporation.

use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::units::PhysicalConstants;

use super::machines::Machine;

/// What is true of one batch beside the machine.
#[derive(Clone, Debug)]
pub struct Truth {
    /// True masses and temperatures; `bowl_c` of `None` is the room's.
    pub charge: Charge,
    /// Specific heat of this lot of flour, kJ/(kg·K).
    pub flour_kj_per_kg_k: f64,
    /// Heat of wetting of this lot, kJ per kg of dry flour.
    pub wetting_kj_per_kg: f64,
    /// Water that this flour binds beyond the usual, kg per kg of flour.
    pub absorption_shift: f64,
    /// How fast this flour develops beside the usual one.
    pub flour_rate: f64,
    /// Friction of this batch beside the machine's.
    pub friction_factor: f64,
    /// Development of this batch beside the machine's.
    pub rate_factor: f64,
    /// How the room's temperature drifts while the batch is mixed, °C a minute.
    pub room_drift_k_per_min: f64,
    /// Relative humidity of the room, 0 to 1.
    pub humidity: f64,
    /// Share of the weighed ice that is already water.
    pub wet_ice_share: f64,
}

impl Truth {
    /// A batch of which nothing is out of the ordinary.
    pub fn plain(charge: Charge) -> Self {
        Self {
            charge,
            flour_kj_per_kg_k: PhysicalConstants::default().flour_kj_per_kg_k,
            wetting_kj_per_kg: 15.1,
            absorption_shift: 0.0,
            flour_rate: 1.0,
            friction_factor: 1.0,
            rate_factor: 1.0,
            room_drift_k_per_min: 0.0,
            humidity: 0.55,
            wet_ice_share: 0.0,
        }
    }
}

/// The true state of a dough at the end of a stage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrueReading {
    /// Dough temperature, °C.
    pub dough_c: f64,
    /// Development grade, 0 to 1.
    pub development: f64,
    /// Bowl temperature, °C.
    pub bowl_c: f64,
    /// The warmest the dough has been since the start, °C.
    pub peak_c: f64,
    /// Ice that has not melted, kg.
    pub ice_left_kg: f64,
}

/// Steps of the integration a minute: 5 s, against time constants of 18 s and more.
const STEPS_PER_MIN: f64 = 12.0;
/// Time constant of wetting and dissolving, minutes: nearly all in the first minute.
const WETTING_MIN: f64 = 0.3;
/// Time constant of hydration, which development waits for, minutes.
const HYDRATION_MIN: f64 = 1.2;
/// Share of the ice that melts a minute for each °C of dough, mixing and resting.
const MELTING_PER_MIN_K: (f64, f64) = (0.15, 0.03);
/// Share of the dough–bowl conductance that is left when the dough lies still.
const STILL_CONTACT: f64 = 0.5;
/// Temperature of hands, °C.
const HANDS_C: f64 = 33.0;
/// Dose that a preferment brings along when it is all of the flour.
const PREFERMENT_DOSE: f64 = 0.25;
/// Temperature for which the machine's friction and development are stated, °C.
const REFERENCE_C: f64 = 24.0;

/// Vapour pressure over water, kPa (Magnus).
fn vapour_kpa(temperature_c: f64) -> f64 {
    0.6112 * libm::exp(17.62 * temperature_c / (243.12 + temperature_c))
}

/// What changes while mixing: dough °C, bowl °C, dose, ice left kg, share not yet wetted.
type State = [f64; 5];

/// The parts of a batch that do not change while it is mixed.
struct Bowl<'a> {
    machine: &'a Machine,
    truth: &'a Truth,
    mass_kg: f64,
    mass_two_thirds: f64,
    usual_two_thirds: f64,
    /// Heat capacity of all but the ice, kJ/K.
    liquid_kj_per_k: f64,
    /// To melt a kg of ice, up to 0 °C, kJ.
    melting_kj_per_kg: f64,
    /// Ice at the start, kg.
    ice_kg: f64,
    /// Wetting and dissolving, all of it, kJ.
    wetting_kj: f64,
    /// Friction by stiffness and load; 1 for the usual dough.
    stiffness: f64,
    load: f64,
    room_vapour_kpa: f64,
    log_q10_per_k: f64,
}

impl<'a> Bowl<'a> {
    fn new(machine: &'a Machine, truth: &'a Truth) -> (Self, State) {
        let c = PhysicalConstants::default();
        let (mut capacity, mut heat, mut wetting) = (0.0, 0.0, 0.0);
        let (mut ice_kg, mut melting_kj) = (0.0, 0.0);
        let (mut flour_kg, mut water_kg, mut old_flour_kg) = (0.0, 0.0, 0.0);
        let mut put = |mass_kg: f64, kj_per_kg_k: f64, temperature_c: f64| {
            capacity += mass_kg * kj_per_kg_k;
            heat += mass_kg * kj_per_kg_k * temperature_c;
        };
        for i in &truth.charge.ingredients {
            let (m, t) = (i.mass_kg, i.temperature_c);
            match i.material {
                Material::Flour => {
                    put(m, truth.flour_kj_per_kg_k, t);
                    wetting += truth.wetting_kj_per_kg * m;
                    flour_kg += m;
                }
                Material::Water => {
                    put(m, c.water_kj_per_kg_k, t);
                    water_kg += m;
                }
                Material::Ice => {
                    let wet_kg = m * truth.wet_ice_share;
                    put(wet_kg, c.water_kj_per_kg_k, 0.0);
                    ice_kg += m - wet_kg;
                    melting_kj +=
                        (m - wet_kg) * (c.ice_latent_kj_per_kg + c.ice_kj_per_kg_k * t.abs());
                    water_kg += m;
                }
                Material::Preferment { hydration } => {
                    let flour = m / (1.0 + hydration);
                    put(flour, truth.flour_kj_per_kg_k, t);
                    put(m - flour, c.water_kj_per_kg_k, t);
                    flour_kg += flour;
                    old_flour_kg += flour;
                    water_kg += m - flour;
                }
                Material::Salt => {
                    put(m, c.salt_kj_per_kg_k, t);
                    wetting -= c.salt_solution_kj_per_kg * m;
                }
                Material::Sugar => {
                    put(m, c.sugar_kj_per_kg_k, t);
                    wetting -= c.sugar_solution_kj_per_kg * m;
                }
                Material::Fat => put(m, c.fat_kj_per_kg_k, t),
                Material::Other { specific_heat_kj_per_kg_k } => {
                    put(m, specific_heat_kj_per_kg_k, t);
                }
                _ => unreachable!("the simulated kitchens use no other material"),
            }
        }
        let mass_kg = truth.charge.mass_kg();
        let two_thirds = |kg: f64| {
            let root = libm::cbrt(kg);
            root * root
        };
        let stiffness = if flour_kg > 0.0 {
            let free_water = (water_kg / flour_kg - truth.absorption_shift).max(0.4);
            libm::pow((free_water - 0.3) / 0.35, -machine.stiffness_exponent)
        } else {
            1.0
        };
        // Below about a third of the usual charge the tool no longer grips the dough.
        let load = mass_kg / machine.usual_dough_kg;
        let grip = if load < 0.35 { 1.0 - 0.4 * (0.35 - load) / 0.35 } else { 1.0 };
        let dose = if flour_kg > 0.0 { PREFERMENT_DOSE * old_flour_kg / flour_kg } else { 0.0 };
        let room_c = truth.charge.room_c;
        let start = [heat / capacity, truth.charge.bowl_c.unwrap_or(room_c), dose, ice_kg, 1.0];
        let bowl = Self {
            machine,
            truth,
            mass_kg,
            mass_two_thirds: two_thirds(mass_kg),
            usual_two_thirds: two_thirds(machine.usual_dough_kg),
            liquid_kj_per_k: capacity,
            melting_kj_per_kg: if ice_kg > 0.0 { melting_kj / ice_kg } else { 0.0 },
            ice_kg,
            wetting_kj: wetting,
            stiffness,
            load: grip * libm::pow(load, machine.load_exponent),
            room_vapour_kpa: truth.humidity * vapour_kpa(room_c),
            log_q10_per_k: libm::log(machine.q10) / 10.0,
        };
        (bowl, start)
    }

    fn grade(&self, dose: f64) -> f64 {
        if dose <= 0.0 {
            return 0.0;
        }
        1.0 - libm::exp(-libm::log(20.0) * libm::pow(dose, self.machine.grade_exponent))
    }

    /// Derivative of the state a minute; `speed` is the index of the speed, `None` at rest.
    fn slope(&self, state: &State, minute: f64, speed: Option<usize>) -> State {
        const KJ_PER_MIN_PER_W: f64 = 0.06;
        let [dough_c, bowl_c, dose, ice_kg, unwetted] = *state;
        let (m, t) = (self.machine, self.truth);
        let room_c = t.charge.room_c + t.room_drift_k_per_min * minute;
        let warmth = dough_c - REFERENCE_C;
        let hydrated = 1.0 - libm::exp(-minute / HYDRATION_MIN);
        let pace = hydrated * t.flour_rate * t.rate_factor * libm::exp(self.log_q10_per_k * warmth);

        let (friction_w, dose_per_min, contact, hands_w_per_k, melting) = match speed {
            Some(s) => {
                let picked_up = 1.0 - m.pickup_share * (1.0 - self.grade(dose));
                let share = picked_up * self.stiffness * libm::exp(-m.softening_per_k * warmth);
                let speed = &m.speeds[s];
                let friction_w =
                    speed.friction_w_per_kg * self.mass_kg * self.load * share * t.friction_factor;
                let worked = ((share - m.critical_share) / (1.0 - m.critical_share)).max(0.0);
                let dose_per_min = speed.development_per_min * worked * pace;
                (friction_w, dose_per_min, 1.0, m.dough_hands_w_per_k, MELTING_PER_MIN_K.0)
            }
            None => (0.0, m.rest_per_min * pace, STILL_CONTACT, 0.0, MELTING_PER_MIN_K.1),
        };

        let to_bowl_w = contact * m.dough_bowl_w_per_k * self.mass_two_thirds * (dough_c - bowl_c);
        let evaporated_w = m.evaporation_w_per_kpa
            * self.mass_two_thirds
            * (0.95 * vapour_kpa(dough_c) - self.room_vapour_kpa);
        let surface_w = self.mass_two_thirds
            * (m.dough_room_w_per_k * (room_c - dough_c) + hands_w_per_k * (HANDS_C - dough_c));
        let dough_w = (1.0 - m.tool_share) * friction_w + surface_w - evaporated_w - to_bowl_w;
        let bowl_w = m.tool_share * friction_w
            + to_bowl_w
            + m.bowl_room_w_per_k * self.usual_two_thirds * (room_c - bowl_c);

        let water_kj = PhysicalConstants::default().water_kj_per_kg_k;
        let melt_kg = melting * ice_kg * dough_c.max(0.0);
        let wetting_kj = self.wetting_kj * unwetted / WETTING_MIN;
        let dough_kj = KJ_PER_MIN_PER_W * dough_w + wetting_kj
            - melt_kg * (self.melting_kj_per_kg + water_kj * dough_c);
        let capacity = self.liquid_kj_per_k + water_kj * (self.ice_kg - ice_kg);
        [
            dough_kj / capacity,
            KJ_PER_MIN_PER_W * bowl_w / m.bowl_kj_per_k,
            dose_per_min,
            -melt_kg,
            -unwetted / WETTING_MIN,
        ]
    }
}

/// Mixes a batch: one reading at the end of each stage of phases (true minutes).
///
/// Classical Runge–Kutta of fourth order at fixed steps.
///
/// # Panics
///
/// When a phase is at a speed that the machine does not have.
pub fn mix(machine: &Machine, truth: &Truth, stages: &[Vec<Phase>]) -> Vec<TrueReading> {
    let (bowl, mut state) = Bowl::new(machine, truth);
    let (mut minute, mut peak_c) = (0.0, state[0]);
    let along = |state: &State, slope: &State, step: f64| -> State {
        std::array::from_fn(|i| state[i] + step * slope[i])
    };
    let mut readings = Vec::with_capacity(stages.len());
    for stage in stages {
        for phase in stage.iter().filter(|p| p.minutes > 0.0) {
            let speed = (!phase.is_rest()).then(|| {
                machine.speeds.iter().position(|s| s.name == phase.speed).unwrap_or_else(|| {
                    panic!("{} has no speed {}", machine.kind.name(), phase.speed)
                })
            });
            let steps = (phase.minutes * STEPS_PER_MIN).ceil();
            let step = phase.minutes / steps;
            for _ in 0..steps as usize {
                let k1 = bowl.slope(&state, minute, speed);
                let k2 = bowl.slope(&along(&state, &k1, step / 2.0), minute + step / 2.0, speed);
                let k3 = bowl.slope(&along(&state, &k2, step / 2.0), minute + step / 2.0, speed);
                let k4 = bowl.slope(&along(&state, &k3, step), minute + step, speed);
                for i in 0..state.len() {
                    state[i] += step / 6.0 * (k1[i] + 2.0 * (k2[i] + k3[i]) + k4[i]);
                }
                minute += step;
                peak_c = peak_c.max(state[0]);
            }
        }
        readings.push(TrueReading {
            dough_c: state[0],
            development: bowl.grade(state[2]),
            bowl_c: state[1],
            peak_c,
            ice_left_kg: state[3],
        });
    }
    readings
}
