//! What a plan says.

use std::sync::Arc;

use super::change::Change;
use crate::batch::Batch;
use crate::charge::Phase;
use crate::domain::Outside;
use crate::forecast::Forecast;

/// Whether a plan gives what is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Verdict {
    /// It does.
    Ok,
    /// It does, with ice in place of some of the water.
    WithIce,
    /// It does, but with inputs outside what was logged.
    OutsideLog,
    /// It does not: the plan is the nearest, [`Plan::short_of`] says by how much.
    NotReachable,
}

/// A dough as planned.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The batch as planned; stages that are over keep what was read.
    pub batch: Batch,
    /// Temperature of the water, °C; `None` without formula water.
    pub water_c: Option<f64>,
    /// Liquid water, kg.
    pub water_kg: f64,
    /// Ice, kg.
    pub ice_kg: f64,
    /// Phases ahead, in order, those of no minutes included.
    pub phases: Vec<Phase>,
    /// What the dough comes to.
    pub forecast: Forecast,
    /// Development wanted and planned, in full developments; `None` where the profile
    /// does not know development or the dough has no flour.
    pub dose: Option<f64>,
    /// Probability that the dough's next reading is within 1 °C of the wanted
    /// temperature; `None` where none is wanted or the scatter is unknown.
    pub chance_within_1c: Option<f64>,
    /// Whether it gives what is wanted.
    pub verdict: Verdict,
    /// What is not reached; empty unless the verdict is [`Verdict::NotReachable`].
    pub short_of: Vec<Short>,
    /// What would help, the best first; empty unless the wanted temperature is not reached.
    pub remedies: Vec<Remedy>,
    /// By how much the dough warms for a water 1 °C warmer, K; 0 without liquid water.
    pub dough_k_per_water_k: f64,
}

/// Something wanted that a plan does not reach.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Short {
    /// The dough ends warmer than wanted, by so many K.
    TooWarm {
        /// K.
        by_k: f64,
    },
    /// The dough ends colder than wanted, by so many K.
    TooCold {
        /// K.
        by_k: f64,
    },
    /// Development stays behind, in full developments.
    Undeveloped {
        /// Dose wanted.
        wanted: f64,
        /// Dose planned.
        reached: f64,
    },
    /// The cap holds the dough below what is wanted, or stops the mixing.
    Cap {
        /// The temperature that the plan may aim at so that the cap is kept, °C.
        allows_c: f64,
    },
    /// The cap cannot be kept with the chance wanted, whatever is done.
    AboveCap {
        /// By how much the dough would have to be colder, K.
        by_k: f64,
    },
}

/// Something that would help, computed on this dough: the plan of what
/// [`Change::of`] makes of the draft.
#[derive(Clone, Debug, PartialEq)]
pub struct Remedy {
    /// What to change.
    pub change: Change,
    /// Where the dough then ends, all that was planned planned anew, °C.
    pub dough_c: f64,
    /// Whether that is the wanted temperature.
    pub reaches: bool,
}

/// The temperature to expect at the end of a phase: a check on the way.
#[derive(Clone, Debug, PartialEq)]
pub struct CheckPoint {
    /// The speed's name, or [`crate::charge::REST`].
    pub speed: Arc<str>,
    /// Minutes of the phase.
    pub minutes: f64,
    /// What to expect after it.
    pub forecast: Forecast,
}

impl Plan {
    /// Inputs outside what was logged.
    pub fn outside(&self) -> &[Outside] {
        &self.forecast.outside
    }

    /// Minutes at a speed as planned, those that are over included.
    pub fn minutes_at(&self, speed: &str) -> f64 {
        self.batch.minutes_at(speed)
    }
}
