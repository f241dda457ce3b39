//! Walks a batch through its phases, carrying temperature and derivatives along.

use super::phase::{Flow, Passage};
use super::scatter::scatter_share;
use super::terms::HeatTerms;
use super::{COMMON_COEFFICIENTS, HeatCoefficients, HeatModel};
use crate::units::KJ_PER_MIN_PER_W;

/// ψ of a batch's flour.
#[inline]
fn flour_friction(c: &HeatCoefficients, terms: &HeatTerms) -> f64 {
    terms.flour.other().and_then(|f| c.flour_friction.get(f)).copied().unwrap_or(1.0)
}

/// The derivatives of a temperature with these slopes by ψ of each flour.
#[inline]
fn by_flours(
    c: &HeatCoefficients,
    terms: &HeatTerms,
    slopes: &Direction,
) -> impl Iterator<Item = f64> {
    let own = terms.flour.other();
    let ln_power = slopes.ln_power;
    (c.flour_friction.iter().enumerate())
        .map(move |(f, friction)| if Some(f) == own { ln_power / friction } else { 0.0 })
}

/// The slopes of a temperature by the six things through which all else acts on it: capacity,
/// start heat, friction power, exchange, softening and room.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Direction {
    /// dC, kJ/K.
    pub capacity: f64,
    /// d(heat at start), kJ.
    pub heat: f64,
    /// d ln(friction power), at every speed.
    pub ln_power: f64,
    /// d(exchange conductance), W/K.
    pub exchange: f64,
    /// dα, 1/K.
    pub softening: f64,
    /// dT_room, K.
    pub room: f64,
}

/// What a batch's coefficients come to before any phase.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Setting {
    /// C, kJ/K.
    pub capacity: f64,
    /// T₀, °C.
    pub start_c: f64,
    /// ψ m (m/m_ref)^β e^(−γ(H−H_ref)), kg: friction power is this times q_s, in W.
    pub power_kg: f64,
    /// u m^⅔, W/K.
    pub exchange_w_per_k: f64,
    pub softening_per_k: f64,
    pub reference_c: f64,
    pub room_c: f64,
    /// Specific heats, kJ/(kg·K).
    pub flour_kj_per_kg_k: f64,
    pub water_kj_per_kg_k: f64,
}

impl Setting {
    pub fn new(model: &HeatModel, c: &HeatCoefficients, terms: &HeatTerms) -> Self {
        let capacity = terms.capacity_kj_per_k + c.bowl_kj_per_k;
        let heat = terms.heat_kj
            + c.bowl_kj_per_k * terms.bowl_c
            + c.wetting_kj_per_kg * terms.dry_flour_kg();
        let exponent =
            c.charge_exponent * terms.ln_charge_ratio - c.stiffness * terms.hydration_offset;
        Self {
            capacity,
            start_c: heat / capacity,
            power_kg: terms.mass_kg * exponent.exp() * flour_friction(c, terms),
            exchange_w_per_k: c.exchange_w_per_k_kg23 * terms.mass_23,
            softening_per_k: c.softening_per_k * terms.is_dough(),
            reference_c: model.reference_c,
            room_c: terms.room_c,
            flour_kj_per_kg_k: model.constants.flour_kj_per_kg_k,
            water_kj_per_kg_k: model.constants.water_kj_per_kg_k,
        }
    }

    /// The flow at a friction power of `power_w` (nought: rest).
    pub fn flow(&self, power_w: f64) -> Flow {
        let scale = KJ_PER_MIN_PER_W / self.capacity;
        Flow {
            rate_per_min: scale * (power_w * self.softening_per_k + self.exchange_w_per_k),
            drive_c_per_min: scale
                * (power_w * (1.0 + self.softening_per_k * self.reference_c)
                    + self.exchange_w_per_k * self.room_c),
        }
    }

    /// How the start temperature changes by each thing that may change.
    pub fn start_slopes(&self) -> Direction {
        let heat = 1.0 / self.capacity;
        Direction { capacity: -self.start_c * heat, heat, ..Direction::default() }
    }

    /// How the end of a phase changes by each thing that may change, its start changing
    /// by `start`.
    #[inline]
    pub fn end_slopes(
        &self,
        passage: &Passage,
        flow: &Flow,
        power_w: f64,
        start: &Direction,
    ) -> Direction {
        let Passage { by_start, by_rate, by_drive, .. } = *passage;
        let by_capacity = 1.0 / self.capacity;
        let (rate, drive) =
            (KJ_PER_MIN_PER_W * by_capacity * by_rate, KJ_PER_MIN_PER_W * by_capacity * by_drive);
        let (warm, softer) =
            (1.0 + self.softening_per_k * self.reference_c, rate + drive * self.reference_c);
        Direction {
            capacity: by_start * start.capacity
                - (by_rate * flow.rate_per_min + by_drive * flow.drive_c_per_min) * by_capacity,
            heat: by_start * start.heat,
            ln_power: by_start * start.ln_power
                + power_w * (rate * self.softening_per_k + drive * warm),
            exchange: by_start * start.exchange + rate + drive * self.room_c,
            softening: by_start * start.softening + power_w * softer,
            room: by_start * start.room + drive * self.exchange_w_per_k,
        }
    }
}

/// One phase on the way, for those who need what happens inside it.
pub(crate) struct Leg<'a> {
    setting: &'a Setting,
    pub flow: Flow,
    power_w: f64,
    pub speed: Option<u32>,
    pub minutes: f64,
    start_c: f64,
    start: &'a Direction,
    friction: &'a [f64],
    terms: &'a HeatTerms,
    coefficients: &'a HeatCoefficients,
}

impl Leg<'_> {
    /// Temperature in °C after `minutes` of the leg.
    pub fn dough_c(&self, minutes: f64) -> f64 {
        self.flow.pass(self.start_c, minutes).end_c
    }

    /// Temperature in °C after `minutes` of the leg, and its derivatives by the coefficients.
    pub fn dough_with_derivatives(&self, minutes: f64, by_coefficient: &mut [f64]) -> f64 {
        let passage = self.flow.pass(self.start_c, minutes);
        let slopes = self.setting.end_slopes(&passage, &self.flow, self.power_w, self.start);
        let (friction, common) = by_coefficient.split_at_mut(self.friction.len());
        let (common, flours) = common.split_at_mut(COMMON_COEFFICIENTS);
        friction.copy_from_slice(self.friction);
        carry_friction(self.setting, &passage, self.speed, friction);
        common.copy_from_slice(&by_common(self.terms, &slopes));
        for (to, by) in flours.iter_mut().zip(by_flours(self.coefficients, self.terms, &slopes)) {
            *to = by;
        }
        passage.end_c
    }
}

/// Carries the derivatives by each speed's friction through a phase.
#[inline]
fn carry_friction(setting: &Setting, passage: &Passage, speed: Option<u32>, friction: &mut [f64]) {
    for value in friction.iter_mut() {
        *value *= passage.by_start;
    }
    if let Some(speed) = speed {
        // d ln(power)/dq = 1/q; written by power/q so that q = 0 has its derivative too.
        let scale = KJ_PER_MIN_PER_W / setting.capacity * setting.power_kg;
        friction[speed as usize] += scale
            * (passage.by_rate * setting.softening_per_k
                + passage.by_drive * (1.0 + setting.softening_per_k * setting.reference_c));
    }
}

/// The derivatives by u, C_b, h, β, γ, α of a temperature with these slopes.
#[inline]
fn by_common(terms: &HeatTerms, slopes: &Direction) -> [f64; COMMON_COEFFICIENTS] {
    [
        slopes.exchange * terms.mass_23,
        slopes.capacity + slopes.heat * terms.bowl_c,
        slopes.heat * terms.dry_flour_kg(),
        slopes.ln_power * terms.ln_charge_ratio,
        -slopes.ln_power * terms.hydration_offset,
        slopes.softening * terms.is_dough(),
    ]
}

/// A batch at the end of a stage.
pub(crate) struct Stop<'a> {
    /// Which stage.
    pub stage: usize,
    /// Dough temperature, °C.
    pub dough_c: f64,
    /// Its slopes by the things that may change.
    pub slopes: &'a Direction,
    /// Its derivative by the minutes of each phase so far, °C/min.
    pub by_minutes: &'a [f64],
    friction: &'a [f64],
    terms: &'a HeatTerms,
    coefficients: &'a HeatCoefficients,
}

impl Stop<'_> {
    /// The share of its batch's scatter that the dough has.
    #[inline]
    pub fn scatter_share(&self) -> f64 {
        scatter_share(self.slopes.ln_power)
    }

    /// The derivatives by the natural coefficients in the order of
    /// [`HeatCoefficients::to_vec`].
    #[inline]
    pub fn by_coefficient(&self) -> impl Iterator<Item = f64> {
        let flours = by_flours(self.coefficients, self.terms, self.slopes);
        self.friction.iter().copied().chain(by_common(self.terms, self.slopes)).chain(flours)
    }
}

/// Carries one batch through its phases; holds the room for derivatives, so that a
/// fit allocates nothing a batch.
#[derive(Clone, Debug)]
pub(crate) struct HeatWalk {
    friction: Vec<f64>,
    by_minutes: Vec<f64>,
    gradient: Vec<f64>,
}

impl HeatWalk {
    pub fn new(speeds: usize) -> Self {
        Self { friction: vec![0.0; speeds], by_minutes: Vec::new(), gradient: Vec::new() }
    }

    /// Calls `at_stage(stage, dough_c)` at the end of every stage.
    #[inline]
    pub fn forecast(
        &mut self,
        model: &HeatModel,
        c: &HeatCoefficients,
        terms: &HeatTerms,
        mut at_stage: impl FnMut(usize, f64),
    ) {
        let setting = Setting::new(model, c, terms);
        let mut dough_c = setting.start_c;
        let mut stage = 0;
        for _ in 0..terms.stages_at_start {
            at_stage(stage, dough_c);
            stage += 1;
        }
        for phase in &terms.phases {
            let power_w =
                phase.speed().map_or(0.0, |s| c.friction_w_per_kg[s as usize] * setting.power_kg);
            dough_c = setting.flow(power_w).pass(dough_c, phase.minutes).end_c;
            for _ in 0..phase.ends_stages {
                at_stage(stage, dough_c);
                stage += 1;
            }
        }
    }

    /// Calls `at_stage(stage, dough_c, by_coefficient)` at the end of every stage; the
    /// derivatives are by the natural coefficients in the order of
    /// [`HeatCoefficients::to_vec`].
    #[inline]
    pub fn linearise(
        &mut self,
        model: &HeatModel,
        c: &HeatCoefficients,
        terms: &HeatTerms,
        mut at_stage: impl FnMut(usize, f64, &[f64]),
    ) {
        let setting = Setting::new(model, c, terms);
        let mut gradient = std::mem::take(&mut self.gradient);
        self.travel(
            &setting,
            c,
            terms,
            |_| (),
            |stop| {
                gradient.clear();
                gradient.extend(stop.by_coefficient());
                at_stage(stop.stage, stop.dough_c, &gradient);
            },
        );
        self.gradient = gradient;
    }

    /// As [`Self::linearise`] from a `setting` that is at hand, with all that a [`Stop`]
    /// tells, showing each phase as a [`Leg`] before it is walked.
    #[inline]
    pub fn travel(
        &mut self,
        setting: &Setting,
        c: &HeatCoefficients,
        terms: &HeatTerms,
        mut on_leg: impl FnMut(&Leg<'_>),
        mut at_stage: impl FnMut(&Stop<'_>),
    ) {
        let Self { friction, by_minutes, .. } = self;
        friction.fill(0.0);
        by_minutes.clear();
        let mut slopes = setting.start_slopes();
        let mut dough_c = setting.start_c;
        let mut stage = 0;
        let mut stop = |count: u32, dough_c, slopes: &_, by_minutes: &[_], friction: &[_]| {
            for _ in 0..count {
                let coefficients = c;
                at_stage(&Stop {
                    stage,
                    dough_c,
                    slopes,
                    by_minutes,
                    friction,
                    terms,
                    coefficients,
                });
                stage += 1;
            }
        };
        stop(terms.stages_at_start, dough_c, &slopes, by_minutes, friction);
        for phase in &terms.phases {
            let power_w =
                phase.speed().map_or(0.0, |s| c.friction_w_per_kg[s as usize] * setting.power_kg);
            let flow = setting.flow(power_w);
            on_leg(&Leg {
                setting,
                flow,
                power_w,
                speed: phase.speed(),
                minutes: phase.minutes,
                start_c: dough_c,
                start: &slopes,
                friction,
                terms,
                coefficients: c,
            });
            let passage = flow.pass(dough_c, phase.minutes);
            slopes = setting.end_slopes(&passage, &flow, power_w, &slopes);
            carry_friction(setting, &passage, phase.speed(), friction);
            // Minutes change nothing before their phase: only what follows passes it on.
            by_minutes.iter_mut().for_each(|by| *by *= passage.by_start);
            by_minutes.push(passage.by_minutes);
            dough_c = passage.end_c;
            stop(phase.ends_stages, dough_c, &slopes, by_minutes, friction);
        }
    }
}
