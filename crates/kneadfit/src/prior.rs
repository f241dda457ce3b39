//! What is believed of the coefficients before the log is read, and on which scale
//! each of them is fitted.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::thermal::{FLOUR_FRICTION_SPREAD, HeatCoefficients, HeatModel};

/// The scale on which a coefficient is fitted and its doubt is normal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Scale {
    /// The coefficient itself.
    Linear,
    /// Its natural logarithm: the coefficient is positive.
    Logarithm,
}

impl Scale {
    /// The fitted value of a natural one.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::prior::Scale;
    /// assert_eq!(Scale::Logarithm.fitted(1.0), 0.0);
    /// assert_eq!(Scale::Linear.fitted(1.5), 1.5);
    /// ```
    pub fn fitted(self, natural: f64) -> f64 {
        match self {
            Self::Linear => natural,
            Self::Logarithm => natural.ln(),
        }
    }

    /// The natural value of a fitted one.
    pub fn natural(self, fitted: f64) -> f64 {
        match self {
            Self::Linear => fitted,
            Self::Logarithm => fitted.exp(),
        }
    }

    /// d(natural)/d(fitted) at a natural value.
    pub fn slope(self, natural: f64) -> f64 {
        match self {
            Self::Linear => 1.0,
            Self::Logarithm => natural,
        }
    }
}

/// A prior: normal on the fitted scale.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Prior {
    /// Its median, in the coefficient's own unit.
    pub median: f64,
    /// Its standard deviation on the fitted scale: of the logarithm for a positive
    /// coefficient.
    pub spread: f64,
}

/// One coefficient: its name, unit, scale and what is believed of it beforehand.
#[derive(Clone, Debug, PartialEq)]
pub struct Coefficient {
    /// Name as in the profile, such as `friction_low`.
    pub name: Arc<str>,
    /// Unit, such as `W/kg`; `1` for a pure number.
    pub unit: &'static str,
    /// On which scale it is fitted.
    pub scale: Scale,
    /// Prior on that scale; also where the fit starts.
    pub prior: Prior,
    /// `Some`: not fitted but held at this value, in the coefficient's own unit.
    pub held_at: Option<f64>,
}

impl Coefficient {
    fn free(name: impl Into<Arc<str>>, unit: &'static str, scale: Scale, prior: Prior) -> Self {
        Self { name: name.into(), unit, scale, prior, held_at: None }
    }

    /// Where a fit starts, in the coefficient's own unit.
    pub fn start(&self) -> f64 {
        self.held_at.unwrap_or(self.prior.median)
    }
}

/// How the name of a flour's friction begins; its own name follows.
pub(crate) const FLOUR_FRICTION: &str = "dough_friction_";

/// ln-sd of a coefficient of which only the order of magnitude is known.
const WIDE: f64 = 0.8;

/// The coefficients of the heat balance with their default priors, in the order of
/// [`HeatCoefficients::to_vec`]. `flours` are those beside the reference flour.
///
/// | coefficient | median; spread |
/// |---|---|
/// | friction at a speed | 35 W/kg; ln-sd 0.8 |
/// | exchange | 0.75 W/(K·kg^⅔); ln-sd 0.8 |
/// | bowl | 0.1 × capacity of the usual charge; ln-sd 0.7 |
/// | wetting | 15.1 kJ/kg; sd 2 |
/// | charge exponent | 0; sd 0.15 |
/// | stiffness | 1.5; sd 1.5 |
/// | softening | 0.02 /K; sd 0.01 |
/// | friction of a flour's doughs | 1; ln-sd 0.04 |
///
/// # Examples
///
/// ```
/// use kneadfit::prior::heat_coefficients;
/// use kneadfit::thermal::HeatModel;
/// let table = heat_coefficients(&HeatModel::new(10.0), &["low".into()], &["rye".into()]);
/// assert_eq!(&*table[0].name, "friction_low");
/// assert_eq!(&*table[7].name, "dough_friction_rye");
/// assert_eq!(table.len(), 8);
/// ```
///
/// # References
///
/// Heat of wetting: 6.5 Btu/lb of flour at 11–12 % moisture = 15.1 kJ/kg, Baking
/// Business, Bakers Dictionary. The others: orders of magnitude of common practice.
pub fn heat_coefficients(
    model: &HeatModel,
    speeds: &[Arc<str>],
    flours: &[Arc<str>],
) -> Vec<Coefficient> {
    let typical = HeatCoefficients::typical(model, speeds.len());
    let mut table: Vec<Coefficient> = speeds
        .iter()
        .zip(&typical.friction_w_per_kg)
        .map(|(speed, &median)| {
            Coefficient::free(
                format!("friction_{speed}"),
                "W/kg",
                Scale::Logarithm,
                Prior { median, spread: WIDE },
            )
        })
        .collect();
    let common = [
        ("exchange", "W/(K·kg^⅔)", Scale::Logarithm, typical.exchange_w_per_k_kg23, WIDE),
        ("bowl", "kJ/K", Scale::Logarithm, typical.bowl_kj_per_k, 0.7),
        ("wetting", "kJ/kg", Scale::Linear, typical.wetting_kj_per_kg, 2.0),
        ("charge_exponent", "1", Scale::Linear, typical.charge_exponent, 0.15),
        ("stiffness", "1", Scale::Linear, typical.stiffness, 1.5),
        ("softening", "1/K", Scale::Linear, typical.softening_per_k, 0.01),
    ];
    table.extend(common.map(|(name, unit, scale, median, spread)| {
        Coefficient::free(name, unit, scale, Prior { median, spread })
    }));
    table.extend(flours.iter().map(|flour| {
        let prior = Prior { median: 1.0, spread: FLOUR_FRICTION_SPREAD };
        Coefficient::free(format!("{FLOUR_FRICTION}{flour}"), "1", Scale::Logarithm, prior)
    }));
    table
}

/// The coefficients of development with their default priors, in the order of
/// [`crate::development::DevelopmentCoefficients::to_vec`]. `flours` are those beside
/// the reference flour.
///
/// | coefficient | median; ln-sd |
/// |---|---|
/// | rate at a speed | 0.05 /min; 0.8 |
/// | rate at rest | 0.006 /min; 0.8 |
/// | Q10 | 1.5; 0.15 |
/// | relative rate of a flour | 1; 0.3 |
pub fn development_coefficients(speeds: &[Arc<str>], flours: &[Arc<str>]) -> Vec<Coefficient> {
    let positive = |name: String, unit, median, spread| {
        Coefficient::free(name, unit, Scale::Logarithm, Prior { median, spread })
    };
    let mut table: Vec<Coefficient> =
        speeds.iter().map(|s| positive(format!("development_{s}"), "1/min", 0.05, WIDE)).collect();
    table.push(positive("development_at_rest".into(), "1/min", 0.006, WIDE));
    table.push(positive("q10".into(), "1", 1.5, 0.15));
    table.extend(flours.iter().map(|f| positive(format!("flour_{f}"), "1", 1.0, FLOUR_SPREAD)));
    table
}

/// ln-sd of a flour's relative development rate.
pub const FLOUR_SPREAD: f64 = 0.3;
