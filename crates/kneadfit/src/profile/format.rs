//! The profile's keys, in the order in which they are written.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::batch::Batch;
use crate::domain::Domain;
use crate::inference::Status;
use crate::prior::{Prior, Scale};
use crate::thermal::{HeatModel, Uncertainties};

/// A calibrated machine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Profile {
    /// `"kneadfit-profile"`.
    pub format: String,
    /// Version of the format; a reader takes its own and older ones.
    pub format_version: u32,
    /// What a reader must know to use this profile beyond its version; a reader refuses
    /// what it does not know.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub requires: Vec<String>,
    /// The machine.
    pub machine: Machine,
    /// The models and what they hold fixed.
    pub model: Models,
    /// The coefficients: first those of the heat balance, then those of development.
    pub coefficients: Vec<CoefficientEntry>,
    /// Joint doubt of the fitted coefficients.
    pub covariance: Covariance,
    /// Scatter from batch to batch, and the uncertainties assumed.
    pub scatter: ScatterSection,
    /// What was logged.
    pub domain: Domain,
    /// How well the fit foretells.
    pub quality: Quality,
    /// How the profile was made.
    pub calibration: Provenance,
    /// Batches with the forecast that this profile must give.
    pub self_test: Vec<SelfTest>,
    /// Optional keys that this version does not know; kept and ignored.
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

/// The machine and what the user said of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Machine {
    /// Its name.
    pub id: String,
    /// Its speeds in the order in which they are used.
    pub speeds: Vec<String>,
    /// Usual charge, kg of dough.
    pub usual_charge_kg: f64,
    /// Whether the user gave the usual charge; otherwise it is the largest dough logged.
    pub usual_charge_given: bool,
    /// Heat capacity of bowl and tool, kJ/K, where the user gave it.
    pub bowl_given_kj_per_k: Option<f64>,
}

/// The models and what they hold fixed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Models {
    /// Id of the heat balance.
    pub heat: String,
    /// Id of the development model; absent without graded batches.
    pub development: Option<String>,
    /// Reference charge, hydration and temperature, and the physical constants.
    pub reference: HeatModel,
    /// Temperature at which development rates are stated, °C.
    pub development_reference_c: f64,
    /// The flour of which friction and development rates are; absent where none was named.
    pub reference_flour: Option<String>,
    /// The other flours, each with a friction and, where development is known, a rate of its
    /// own relative to the reference flour's, in order.
    pub flours: Vec<String>,
    /// Spread of the logarithm of the relative rate of a flour that was never logged.
    pub unknown_flour_spread: f64,
}

/// Id of the heat balance of this version.
pub const HEAT_MODEL: &str = "kneadfit-heat-1";
/// Id of the development model of this version.
pub const DEVELOPMENT_MODEL: &str = "kneadfit-dose-1";

/// One coefficient.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CoefficientEntry {
    /// Name, unique in the profile.
    pub name: String,
    /// Unit of `value`; `1` for a pure number.
    pub unit: String,
    /// Value in its unit.
    pub value: f64,
    /// Scale on which it was fitted and on which its doubt is normal.
    pub scale: Scale,
    /// The value on that scale, at which forecasts start.
    pub fitted: f64,
    /// Standard error on that scale; absent: see `no_standard_error`.
    pub standard_error: Option<f64>,
    /// Why there is no standard error.
    pub no_standard_error: Option<String>,
    /// 95 % interval in the coefficient's unit; absent without a standard error and where
    /// it reaches beyond all numbers.
    pub interval_95: Option<[f64; 2]>,
    /// Where the value comes from.
    pub status: Status,
    /// Prior used.
    pub prior: Option<Prior>,
    /// Share of the information that came from the log, 0 to 1.
    pub log_share: f64,
    /// Readings in bakers' terms.
    pub readings: Vec<BakersReading>,
}

/// A coefficient in a baker's terms.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BakersReading {
    /// What it is.
    pub says: String,
    /// Its unit.
    pub unit: String,
    /// Value.
    pub value: f64,
    /// 95 % interval, the other coefficients' doubt included; absent where unknown.
    pub interval_95: Option<[f64; 2]>,
}

/// Joint doubt of the fitted coefficients, on their fitted scales.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Covariance {
    /// Names of the fitted coefficients: the order of rows and columns.
    pub coefficients: Vec<String>,
    /// Scale of each.
    pub scales: Vec<Scale>,
    /// Rows; absent where no reading was left over to tell the scatter.
    pub matrix: Option<Vec<Vec<f64>>>,
    /// Directions that the log leaves open, the least known first.
    pub left_open: Vec<LeftOpen>,
}

/// A direction among the coefficients of which the log says next to nothing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LeftOpen {
    /// What is unknown and why, in kitchen words.
    pub words: String,
    /// The batch to mix that would tell.
    pub remedy: String,
    /// Share of what is known along it that came from the log, 0 to 1.
    pub log_share: f64,
    /// Its larger parts, in units of the priors' spreads.
    pub direction: Vec<DirectionPart>,
}

/// One part of a direction.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DirectionPart {
    /// Coefficient.
    pub coefficient: String,
    /// Its part of the unit vector.
    pub part: f64,
}

/// Scatter from batch to batch, and the uncertainties assumed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ScatterSection {
    /// Of the dough temperature, K: the part that friction brings for each 10 K of warmth. A
    /// dough that it has warmed by `w` has √(0.3² + (w / 10 K)²) of it (plain least squares: all
    /// have one standard deviation).
    pub dough: Spread,
    /// Of the logarithm of the dose (plain least squares: of the grade); absent without
    /// graded batches.
    pub development: Option<Spread>,
    /// Standard uncertainties of what was logged.
    pub uncertainties: Uncertainties,
}

/// Scatter and its doubt.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Spread {
    /// Normal with an unknown standard deviation: its posterior on a grid.
    Mixture {
        /// Standard deviations with their shares, which sum to 1.
        nodes: Vec<SpreadNode>,
    },
    /// Student's t, everything of a reading in one standard deviation.
    StudentT {
        /// Residual standard deviation; absent when no reading is left over.
        sd: Option<f64>,
        /// Degrees of freedom.
        dof: usize,
    },
}

/// One standard deviation with its share.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SpreadNode {
    /// Standard deviation.
    pub sd: f64,
    /// Its share.
    pub weight: f64,
}

/// How well the fit foretells.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Quality {
    /// Batches with a dough temperature.
    pub batches: usize,
    /// Dough temperatures read.
    pub readings: usize,
    /// Grades given.
    pub grades: usize,
    /// Standard deviation of the dough temperature's residuals, K.
    pub residual_sd_k: f64,
    /// Standard deviation of the grades' residuals; absent without graded batches.
    pub residual_sd_development: Option<f64>,
    /// Errors of forecasting each batch's dough temperature from the others, K.
    pub left_out_k: Option<LeftOut>,
    /// The same of grades.
    pub left_out_development: Option<LeftOut>,
    /// How the heat fit ended.
    pub heat_fit: String,
    /// How the development fit ended; absent without graded batches.
    pub development_fit: Option<String>,
    /// Warnings about the residuals.
    pub warnings: Vec<String>,
    /// Rows set aside by the reader, and why.
    pub set_aside: Vec<String>,
    /// Batches that look mistyped and were left with little weight.
    pub looks_mistyped: Vec<String>,
}

/// Errors of forecasting each batch from the others (predicted − observed).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LeftOut {
    /// Root mean square.
    pub rms: f64,
    /// Mean.
    pub bias: f64,
    /// Largest in size.
    pub worst: f64,
}

/// How a profile was made: enough to make the same file again.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Provenance {
    /// Name and version of the tool.
    pub tool: String,
    /// When, ISO 8601; absent where the same bytes matter more than the hour.
    pub made: Option<String>,
    /// First and last day of the log.
    pub period: Option<[String; 2]>,
    /// Names of the logs.
    pub logs: Vec<String>,
    /// SHA-256 of the logs' bytes, one after the other.
    pub log_sha256: String,
    /// Options that were given, as the tool takes them.
    pub options: Vec<String>,
    /// SHA-256 of the profile that this one was carried on from.
    pub parent_sha256: Option<String>,
    /// Rows that the reader of the log set aside, and why; written under `quality`.
    #[serde(skip)]
    pub set_aside: Vec<String>,
}

/// A batch with the forecast that this profile must give.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SelfTest {
    /// The batch.
    pub batch: Batch,
    /// Level of the intervals.
    pub level: f64,
    /// The forecast at the end of its last stage.
    pub dough_c: f64,
    /// Interval for the next reading; absent where unknown.
    pub dough_interval_c: Option<[f64; 2]>,
    /// Development grade; absent without graded batches.
    pub development: Option<f64>,
    /// Interval for the next grade.
    pub development_interval: Option<[f64; 2]>,
}
