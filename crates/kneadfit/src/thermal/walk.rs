//! Walks a batch through its phases, carrying temperature and derivatives along.

use super::phase::{Flow, Passage};
use super::terms::HeatTerms;
use super::{COMMON_COEFFICIENTS, HeatCoefficients, HeatModel};
use crate::units::KJ_PER_MIN_PER_W;

/// A direction in which something of a batch changes a little: how much its
/// capacity, start heat, friction power, exchange, softening and room change.
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
    /// m (m/m_ref)^β e^(−γ(H−H_ref)), kg: friction power is this times q_s, in W.
    pub power_kg: f64,
    /// u m^⅔, W/K.
    pub exchange_w_per_k: f64,
    pub softening_per_k: f64,
    pub reference_c: f64,
    pub room_c: f64,
}

impl Setting {
    pub fn new(model: &HeatModel, c: &HeatCoefficients, terms: &HeatTerms) -> Self {
        let capacity = terms.capacity_kj_per_k + c.bowl_kj_per_k;
        let heat = terms.heat_kj
            + c.bowl_kj_per_k * terms.bowl_c
            + c.wetting_kj_per_kg * terms.dry_flour_kg;
        let exponent =
            c.charge_exponent * terms.ln_charge_ratio - c.stiffness * terms.hydration_offset;
        Self {
            capacity,
            start_c: heat / capacity,
            power_kg: terms.mass_kg * exponent.exp(),
            exchange_w_per_k: c.exchange_w_per_k_kg23 * terms.mass_23,
            softening_per_k: c.softening_per_k * terms.is_dough,
            reference_c: model.reference_c,
            room_c: terms.room_c,
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

    /// How the start temperature changes along a direction.
    pub fn start_along(&self, d: &Direction) -> f64 {
        (d.heat - self.start_c * d.capacity) / self.capacity
    }

    /// How the end of a phase changes along a direction in which its start changes by `start`.
    #[inline]
    pub fn end_along(
        &self,
        passage: &Passage,
        flow: &Flow,
        power_w: f64,
        d: &Direction,
        start: f64,
    ) -> f64 {
        let scale = KJ_PER_MIN_PER_W / self.capacity;
        let by_power = power_w * d.ln_power;
        let by_capacity = d.capacity / self.capacity;
        let rate = scale * (by_power * self.softening_per_k + power_w * d.softening + d.exchange)
            - flow.rate_per_min * by_capacity;
        let drive = scale
            * (by_power * (1.0 + self.softening_per_k * self.reference_c)
                + power_w * self.reference_c * d.softening
                + d.exchange * self.room_c
                + self.exchange_w_per_k * d.room)
            - flow.drive_c_per_min * by_capacity;
        passage.by_start * start + passage.by_rate * rate + passage.by_drive * drive
    }
}

/// One phase on the way, for those who need what happens inside it.
pub(crate) struct Leg<'a> {
    pub setting: &'a Setting,
    pub flow: Flow,
    pub power_w: f64,
    pub speed: Option<u32>,
    pub minutes: f64,
    pub start_c: f64,
    /// Derivatives of `start_c` by the natural coefficients; empty on a plain forecast.
    pub start_by_coefficient: &'a [f64],
    pub directions: &'a [Direction; COMMON_COEFFICIENTS],
    friction_w_per_kg: &'a [f64],
}

impl Leg<'_> {
    /// Temperature in °C after `minutes` of the leg.
    pub fn dough_c(&self, minutes: f64) -> f64 {
        self.flow.pass(self.start_c, minutes).end_c
    }

    /// Temperature in °C after `minutes` of the leg, and its derivatives by the coefficients.
    pub fn dough_with_derivatives(&self, minutes: f64, by_coefficient: &mut [f64]) -> f64 {
        let passage = self.flow.pass(self.start_c, minutes);
        by_coefficient.copy_from_slice(self.start_by_coefficient);
        carry(
            self.setting,
            &passage,
            &self.flow,
            self.power_w,
            self.speed,
            self.friction_w_per_kg,
            self.directions,
            by_coefficient,
        );
        passage.end_c
    }
}

#[expect(clippy::too_many_arguments, reason = "the hot loop's own registers, private to this file")]
#[inline]
fn carry(
    setting: &Setting,
    passage: &Passage,
    flow: &Flow,
    power_w: f64,
    speed: Option<u32>,
    friction_w_per_kg: &[f64],
    directions: &[Direction; COMMON_COEFFICIENTS],
    gradient: &mut [f64],
) {
    let speeds = friction_w_per_kg.len();
    let (friction, common) = gradient.split_at_mut(speeds);
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
    for (value, direction) in common.iter_mut().zip(directions) {
        *value = setting.end_along(passage, flow, power_w, direction, *value);
    }
}

/// Carries one batch through its phases; holds the room for derivatives, so that a
/// fit allocates nothing a batch.
#[derive(Clone, Debug)]
pub(crate) struct HeatWalk {
    gradient: Vec<f64>,
}

impl HeatWalk {
    pub fn new(speeds: usize) -> Self {
        Self { gradient: vec![0.0; speeds + COMMON_COEFFICIENTS] }
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
                phase.speed.map_or(0.0, |s| c.friction_w_per_kg[s as usize] * setting.power_kg);
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
        self.travel(model, c, terms, |_| (), &mut at_stage);
    }

    /// As [`Self::linearise`], showing each phase as a [`Leg`] before it is walked.
    #[inline]
    pub fn travel(
        &mut self,
        model: &HeatModel,
        c: &HeatCoefficients,
        terms: &HeatTerms,
        mut on_leg: impl FnMut(&Leg<'_>),
        at_stage: &mut impl FnMut(usize, f64, &[f64]),
    ) {
        let setting = Setting::new(model, c, terms);
        let directions = coefficient_directions(terms);
        let speeds = c.friction_w_per_kg.len();
        let gradient = &mut self.gradient[..];
        gradient[..speeds].fill(0.0);
        for (value, direction) in gradient[speeds..].iter_mut().zip(&directions) {
            *value = setting.start_along(direction);
        }
        let mut dough_c = setting.start_c;
        let mut stage = 0;
        for _ in 0..terms.stages_at_start {
            at_stage(stage, dough_c, gradient);
            stage += 1;
        }
        for phase in &terms.phases {
            let power_w =
                phase.speed.map_or(0.0, |s| c.friction_w_per_kg[s as usize] * setting.power_kg);
            let flow = setting.flow(power_w);
            on_leg(&Leg {
                setting: &setting,
                flow,
                power_w,
                speed: phase.speed,
                minutes: phase.minutes,
                start_c: dough_c,
                start_by_coefficient: gradient,
                directions: &directions,
                friction_w_per_kg: &c.friction_w_per_kg,
            });
            let passage = flow.pass(dough_c, phase.minutes);
            carry(
                &setting,
                &passage,
                &flow,
                power_w,
                phase.speed,
                &c.friction_w_per_kg,
                &directions,
                gradient,
            );
            dough_c = passage.end_c;
            for _ in 0..phase.ends_stages {
                at_stage(stage, dough_c, gradient);
                stage += 1;
            }
        }
    }
}

/// The directions of u, C_b, h, β, γ, α (friction has its own short way).
fn coefficient_directions(terms: &HeatTerms) -> [Direction; COMMON_COEFFICIENTS] {
    let none = Direction::default();
    [
        Direction { exchange: terms.mass_23, ..none },
        Direction { capacity: 1.0, heat: terms.bowl_c, ..none },
        Direction { heat: terms.dry_flour_kg, ..none },
        Direction { ln_power: terms.ln_charge_ratio, ..none },
        Direction { ln_power: -terms.hydration_offset, ..none },
        Direction { softening: terms.is_dough, ..none },
    ]
}
