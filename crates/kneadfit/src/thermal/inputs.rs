//! What a batch's thermometers, scale and clock do to its dough temperature.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::terms::{FlourOf, HeatTerms};
use super::walk::{Direction, HeatWalk, Setting, Stop};
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
    /// Friction of the doughs of a flour that was never logged, by its logarithm.
    FlourFriction,
    /// Minutes of one phase, by minutes; the number counts phases from 0.
    Minutes(u32),
}

/// Standard deviation of the logarithm of ψ, the friction of one flour's doughs beside
/// another's: flours that bind some points more or less water make stiffer or softer doughs. A
/// judgement: two to three points of water, by which flours on one shelf differ as common practice
/// has it, times the usual γ of 1.5.
pub const FLOUR_FRICTION_SPREAD: f64 = 0.04;

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
    /// Logarithm of the friction of the doughs of a flour that was never logged, relative to
    /// the reference flour's.
    pub flour_friction: f64,
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
            flour_friction: FLOUR_FRICTION_SPREAD,
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
            Input::FlourFriction => self.flour_friction,
            Input::Minutes(_) => self.minutes_min,
        }
    }
}

/// What an input changes of a batch, by its unit: see [`Direction`].
#[derive(Clone, Copy, Debug)]
enum Change {
    /// The heat at start alone.
    Heat(f64),
    /// The heat at start, and the room by as much as itself.
    Room(f64),
    /// The friction power, by its logarithm.
    Power,
    /// A mass.
    Mass { capacity: f64, heat: f64, ln_power: f64, exchange: f64 },
}

impl Change {
    /// How a temperature with these slopes moves along.
    #[inline]
    fn of(&self, slopes: &Direction) -> f64 {
        match *self {
            Self::Heat(heat) => slopes.heat * heat,
            Self::Room(heat) => slopes.heat * heat + slopes.room,
            Self::Power => slopes.ln_power,
            Self::Mass { capacity, heat, ln_power, exchange } => {
                slopes.capacity * capacity
                    + slopes.heat * heat
                    + slopes.ln_power * ln_power
                    + slopes.exchange * exchange
            }
        }
    }
}

/// What an input changes of a batch; `None` where the batch does not have it.
#[inline(always)]
fn change(
    input: Input,
    c: &HeatCoefficients,
    terms: &HeatTerms,
    setting: &Setting,
) -> Option<Change> {
    let by = &terms.by_material;
    let heat = |heat: f64| (heat > 0.0).then_some(Change::Heat(heat));
    match input {
        Input::FlourC => heat(by.flour.mass_kg * setting.flour_kj_per_kg_k),
        Input::WaterC => heat(by.water.mass_kg * setting.water_kj_per_kg_k),
        Input::PrefermentC => heat(by.preferment_kj_per_k),
        Input::OtherC => heat(by.other_kj_per_k),
        Input::BowlC if terms.bowl_is_room => None,
        Input::BowlC => heat(c.bowl_kj_per_k),
        Input::RoomC => {
            let bowl = if terms.bowl_is_room { c.bowl_kj_per_k } else { 0.0 };
            Some(Change::Room(by.at_room_kj_per_k + bowl))
        }
        Input::FlourScale | Input::WaterScale | Input::IceScale => {
            let (sum, kj_per_kg_k, heat, by_flour) = match input {
                Input::FlourScale => {
                    let wetting_kj = c.wetting_kj_per_kg * by.flour.mass_kg;
                    let kj_per_kg_k = setting.flour_kj_per_kg_k;
                    (by.flour, kj_per_kg_k, by.flour.heat_kj + wetting_kj, true)
                }
                Input::WaterScale => (by.water, setting.water_kj_per_kg_k, by.water.heat_kj, false),
                // It counts as water.
                _ => (by.ice, setting.water_kj_per_kg_k, by.ice.heat_kj, false),
            };
            if sum.mass_kg <= 0.0 {
                return None;
            }
            // d ln m and dH of a relative change of this mass.
            let ln_mass = sum.mass_kg / terms.mass_kg;
            let hydration = terms.hydration.map_or(0.0, |hydration| {
                let share = sum.mass_kg / by.flour_kg;
                if by_flour { -hydration * share } else { share }
            });
            Some(Change::Mass {
                capacity: sum.mass_kg * kj_per_kg_k,
                heat,
                ln_power: (1.0 + c.charge_exponent) * ln_mass - c.stiffness * hydration,
                exchange: setting.exchange_w_per_k * ln_mass * 2.0 / 3.0,
            })
        }
        Input::FlourFriction => (terms.flour == FlourOf::Unknown).then_some(Change::Power),
        Input::Minutes(_) => None,
    }
}

/// The inputs that every batch may have; phases come on top.
const COMMON_INPUTS: [Input; 10] = [
    Input::FlourC,
    Input::WaterC,
    Input::RoomC,
    Input::BowlC,
    Input::PrefermentC,
    Input::OtherC,
    Input::FlourScale,
    Input::WaterScale,
    Input::IceScale,
    Input::FlourFriction,
];

/// What the inputs' errors make of the variance of a batch's only reading, K²: the same as
/// [`InputErrors`] makes of it, without a row to keep.
#[inline]
pub(crate) fn input_variance(
    c: &HeatCoefficients,
    terms: &HeatTerms,
    setting: &Setting,
    stop: &Stop<'_>,
    uncertainties: &Uncertainties,
) -> f64 {
    let mut variance = 0.0;
    // One after the other as they stand: to look up in a loop what to do with each takes longer
    // than to do it.
    macro_rules! add {
        ($($input:expr),*) => {$(
            if let Some(change) = change($input, c, terms, setting) {
                let moved = uncertainties.of($input) * change.of(stop.slopes);
                variance += moved * moved;
            }
        )*};
    }
    let [a, b, d, e, f, g, h, i, j, k] = COMMON_INPUTS;
    add!(a, b, d, e, f, g, h, i, j, k);
    for by in stop.by_minutes {
        let moved = uncertainties.minutes_min * by;
        variance += moved * moved;
    }
    variance
}

/// The inputs that a batch depends on and what their errors do to readings that share
/// them; holds the room for it, so that a fit allocates nothing a batch.
#[derive(Clone, Debug, Default)]
pub(crate) struct InputErrors {
    /// Minutes apart.
    inputs: Vec<(Input, Change)>,
    /// How many inputs there are, minutes of each phase included.
    width: usize,
    /// Sensitivities times the inputs' uncertainties, a row a reading.
    rows: Vec<f64>,
}

impl InputErrors {
    /// Starts one batch.
    #[inline]
    pub fn start(&mut self, c: &HeatCoefficients, terms: &HeatTerms, setting: &Setting) {
        self.rows.clear();
        self.inputs.clear();
        for input in COMMON_INPUTS {
            if let Some(change) = change(input, c, terms, setting) {
                self.inputs.push((input, change));
            }
        }
        self.width = self.inputs.len() + terms.phases.len();
    }

    /// What the inputs do to the temperature at a stop, °C a unit of the input. Minutes
    /// come last, phase by phase; those of phases to come do nothing.
    fn sensitivities(&self, stop: &Stop<'_>) -> impl Iterator<Item = (Input, f64)> {
        let done = stop.by_minutes.iter().copied().chain(std::iter::repeat(0.0));
        self.inputs
            .iter()
            .map(|(input, change)| (*input, change.of(stop.slopes)))
            .chain((0..).map(Input::Minutes).zip(done))
            .take(self.width)
    }

    /// Takes in one reading.
    #[inline]
    pub fn push(&mut self, stop: &Stop<'_>, uncertainties: &Uncertainties) {
        for (input, change) in &self.inputs {
            self.rows.push(uncertainties.of(*input) * change.of(stop.slopes));
        }
        let end = self.rows.len() - self.inputs.len() + self.width;
        self.rows.extend(stop.by_minutes.iter().map(|by| uncertainties.minutes_min * by));
        self.rows.resize(end, 0.0);
    }

    /// Adds `Σ sd² g gᵀ` over the inputs to the lower triangle of `covariance` (`n × n`,
    /// row-major, K²), `n` the readings that were taken in.
    #[inline]
    pub fn add_to(&self, covariance: &mut [f64]) {
        let rows = || self.rows.chunks_exact(self.width.max(1));
        let n = rows().len();
        for (i, a) in rows().enumerate() {
            for (j, b) in rows().take(i + 1).enumerate() {
                covariance[i * n + j] += a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
            }
        }
    }
}

/// Room for [`add_input_covariance`].
#[derive(Clone, Debug)]
pub(crate) struct InputWalk {
    walk: HeatWalk,
    errors: InputErrors,
}

impl InputWalk {
    pub fn new(speeds: usize) -> Self {
        Self { walk: HeatWalk::new(speeds), errors: InputErrors::default() }
    }
}

/// All sensitivities, stage by stage; inputs are in one order at all stages.
pub(crate) fn sensitivities(
    model: &HeatModel,
    c: &HeatCoefficients,
    terms: &HeatTerms,
) -> Vec<Vec<(Input, f64)>> {
    let setting = Setting::new(model, c, terms);
    let mut errors = InputErrors::default();
    errors.start(c, terms, &setting);
    let mut all = Vec::new();
    let mut walk = HeatWalk::new(c.friction_w_per_kg.len());
    walk.travel(&setting, c, terms, |_| (), |stop| all.push(errors.sensitivities(stop).collect()));
    all
}

/// Adds what the errors of a batch's inputs do to its readings at `stages`, in order, to
/// the lower triangle of their `covariance`: see [`InputErrors::add_to`]. `shares` receives the
/// share of the batch's scatter that each of them has.
#[expect(clippy::too_many_arguments, reason = "what a walk needs, and the two things it fills")]
pub(crate) fn add_input_covariance(
    model: &HeatModel,
    c: &HeatCoefficients,
    terms: &HeatTerms,
    uncertainties: &Uncertainties,
    stages: &[u32],
    room: &mut InputWalk,
    covariance: &mut [f64],
    shares: &mut Vec<f64>,
) {
    let setting = Setting::new(model, c, terms);
    let InputWalk { walk, errors } = room;
    errors.start(c, terms, &setting);
    let mut wanted = stages.iter().peekable();
    walk.travel(
        &setting,
        c,
        terms,
        |_| (),
        |stop| {
            if wanted.next_if(|&&s| s as usize == stop.stage).is_some() {
                errors.push(stop, uncertainties);
                shares.push(stop.scatter_share());
            }
        },
    );
    errors.add_to(covariance);
}
