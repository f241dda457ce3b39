//! What a batch's thermometers, scale and clock do to its dough temperature.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::phase::{Flow, Passage};
use super::terms::HeatTerms;
use super::walk::{Direction, Setting};
use super::{HeatCoefficients, HeatModel};

/// A logged quantity whose error moves the dough temperature that the model gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Input {
    /// Flour temperature, by °C.
    FlourC,
    /// Water temperature, by °C.
    WaterC,
    /// Room temperature, by °C; salt, sugar and fat stand in the room, and so does a
    /// bowl whose temperature was not logged.
    RoomC,
    /// Logged bowl temperature, by °C.
    BowlC,
    /// Preferment temperature, by °C.
    PrefermentC,
    /// Temperature of any other ingredient, by °C.
    OtherC,
    /// Mass of dry flour, by its relative error.
    FlourScale,
    /// Mass of water, by its relative error.
    WaterScale,
    /// Mass of ice, by its relative error.
    IceScale,
    /// Minutes of one phase, by minutes; the number counts phases from 0.
    Minutes(u32),
}

/// Standard uncertainties of what is logged.
///
/// # Examples
///
/// A better flour probe, everything else as by default:
///
/// ```
/// use kneadfit::thermal::Uncertainties;
/// let thermometers = Uncertainties { flour_k: 0.2, ..Uncertainties::default() };
/// assert_eq!(thermometers.dough_k, 0.3);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Uncertainties {
    /// Flour temperature (and preferment and other ingredients), K.
    pub flour_k: f64,
    /// Water temperature, K.
    pub water_k: f64,
    /// Room temperature (and a logged bowl temperature), K.
    pub room_k: f64,
    /// One reading of the dough temperature, K.
    pub dough_k: f64,
    /// Minutes of one phase, min.
    pub minutes_min: f64,
    /// Mass of flour and of water, relative.
    pub scale_relative: f64,
    /// Mass of ice, relative: it drips, and carries water on it.
    pub ice_relative: f64,
    /// One development grade.
    pub development: f64,
}

impl Default for Uncertainties {
    fn default() -> Self {
        Self {
            flour_k: 0.5,
            water_k: 0.3,
            room_k: 0.7,
            dough_k: 0.3,
            minutes_min: 0.1,
            scale_relative: 0.005,
            ice_relative: 0.02,
            development: 0.05,
        }
    }
}

impl Uncertainties {
    /// The standard uncertainty of one input, in the unit by which [`Input`] counts it.
    pub fn of(&self, input: Input) -> f64 {
        match input {
            Input::FlourC | Input::PrefermentC | Input::OtherC => self.flour_k,
            Input::WaterC => self.water_k,
            Input::RoomC | Input::BowlC => self.room_k,
            Input::FlourScale | Input::WaterScale => self.scale_relative,
            Input::IceScale => self.ice_relative,
            Input::Minutes(_) => self.minutes_min,
        }
    }
}

/// The direction in which an input moves a batch; `None` where the batch does not have it.
fn direction(
    input: Input,
    c: &HeatCoefficients,
    terms: &HeatTerms,
    setting: &Setting,
) -> Option<Direction> {
    let by = &terms.by_material;
    let none = Direction::default();
    let heat = |heat: f64| (heat > 0.0).then_some(Direction { heat, ..none });
    match input {
        Input::FlourC => heat(by.flour.capacity_kj_per_k),
        Input::WaterC => heat(by.water.capacity_kj_per_k),
        Input::PrefermentC => heat(by.preferment.capacity_kj_per_k),
        Input::OtherC => heat(by.other.capacity_kj_per_k),
        Input::BowlC if terms.bowl_is_room => None,
        Input::BowlC => heat(c.bowl_kj_per_k),
        Input::RoomC => {
            let bowl = if terms.bowl_is_room { c.bowl_kj_per_k } else { 0.0 };
            Some(Direction { heat: by.at_room.capacity_kj_per_k + bowl, room: 1.0, ..none })
        }
        Input::FlourScale | Input::WaterScale | Input::IceScale => {
            let (sum, heat, by_flour) = match input {
                Input::FlourScale => {
                    (by.flour, by.flour.heat_kj + c.wetting_kj_per_kg * by.flour.mass_kg, true)
                }
                Input::WaterScale => (by.water, by.water.heat_kj, false),
                _ => (by.ice, -by.ice_absorbs_kj, false),
            };
            if sum.mass_kg <= 0.0 {
                return None;
            }
            // d ln m and dH of a relative change of this mass.
            let ln_mass = sum.mass_kg / terms.mass_kg;
            let hydration = terms.hydration.map_or(0.0, |hydration| {
                let share = sum.mass_kg / by.flour_kg();
                if by_flour { -hydration * share } else { share }
            });
            Some(Direction {
                capacity: sum.capacity_kj_per_k,
                heat,
                ln_power: (1.0 + c.charge_exponent) * ln_mass - c.stiffness * hydration,
                exchange: setting.exchange_w_per_k * ln_mass * 2.0 / 3.0,
                ..none
            })
        }
        Input::Minutes(_) => None,
    }
}

/// The inputs that every batch may have; phases come on top.
const COMMON_INPUTS: [Input; 9] = [
    Input::FlourC,
    Input::WaterC,
    Input::RoomC,
    Input::BowlC,
    Input::PrefermentC,
    Input::OtherC,
    Input::FlourScale,
    Input::WaterScale,
    Input::IceScale,
];

/// One phase as every direction passes it.
#[derive(Clone, Copy, Debug)]
struct Passed {
    flow: Flow,
    passage: Passage,
    power_w: f64,
    ends_stages: u32,
}

/// Room for [`for_each_sensitivity`], so that a fit allocates nothing a batch.
#[derive(Clone, Debug, Default)]
pub(crate) struct InputWalk {
    passed: Vec<Passed>,
    by_stage: Vec<f64>,
}

/// Calls `found(input, by_stage)` for every input the batch depends on; `by_stage` holds
/// the derivative of each stage's dough temperature, °C a unit of the input.
pub(crate) fn for_each_sensitivity(
    model: &HeatModel,
    c: &HeatCoefficients,
    terms: &HeatTerms,
    walk: &mut InputWalk,
    mut found: impl FnMut(Input, &[f64]),
) {
    let setting = Setting::new(model, c, terms);
    walk.passed.clear();
    let mut dough_c = setting.start_c;
    for phase in &terms.phases {
        let power_w =
            phase.speed.map_or(0.0, |s| c.friction_w_per_kg[s as usize] * setting.power_kg);
        let flow = setting.flow(power_w);
        let passage = flow.pass(dough_c, phase.minutes);
        dough_c = passage.end_c;
        walk.passed.push(Passed { flow, passage, power_w, ends_stages: phase.ends_stages });
    }
    let InputWalk { passed, by_stage } = walk;
    for input in COMMON_INPUTS {
        let Some(d) = direction(input, c, terms, &setting) else { continue };
        by_stage.clear();
        let mut along = setting.start_along(&d);
        by_stage.extend((0..terms.stages_at_start).map(|_| along));
        for p in passed.iter() {
            along = setting.end_along(&p.passage, &p.flow, p.power_w, &d, along);
            by_stage.extend((0..p.ends_stages).map(|_| along));
        }
        found(input, by_stage);
    }
    for phase in 0..terms.phases.len() {
        // Minutes change nothing before their phase: only what follows passes it on.
        by_stage.clear();
        by_stage.extend((0..terms.stages_at_start).map(|_| 0.0));
        let mut along = 0.0;
        for (index, p) in passed.iter().enumerate() {
            along *= p.passage.by_start;
            if index == phase {
                along = p.passage.by_minutes;
            }
            by_stage.extend((0..p.ends_stages).map(|_| along));
        }
        found(Input::Minutes(phase as u32), by_stage);
    }
}

/// All sensitivities at once, for showing and checking.
pub(crate) fn sensitivities(
    model: &HeatModel,
    c: &HeatCoefficients,
    terms: &HeatTerms,
) -> Vec<(Input, Vec<f64>)> {
    let mut all = Vec::new();
    for_each_sensitivity(model, c, terms, &mut InputWalk::default(), |input, by_stage| {
        all.push((input, by_stage.to_vec()));
    });
    all
}

/// Adds `Σ sd² g gᵀ` over a batch's inputs to the lower triangle of `covariance`
/// (`n × n`, row-major, K²), `n` the number of `stages` looked at.
pub(crate) fn add_input_covariance(
    model: &HeatModel,
    c: &HeatCoefficients,
    terms: &HeatTerms,
    uncertainties: &Uncertainties,
    stages: &[u32],
    walk: &mut InputWalk,
    covariance: &mut [f64],
) {
    let n = stages.len();
    for_each_sensitivity(model, c, terms, walk, |input, by_stage| {
        let sd = uncertainties.of(input);
        for (i, &row) in stages.iter().enumerate() {
            let scaled = sd * sd * by_stage[row as usize];
            for (j, &column) in stages[..=i].iter().enumerate() {
                covariance[i * n + j] += scaled * by_stage[column as usize];
            }
        }
    });
}
