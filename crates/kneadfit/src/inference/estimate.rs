//! A coefficient with its doubt, and where the knowledge came from.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Posterior;
use crate::prior::{Coefficient, Prior, Scale};

/// Where a coefficient's value comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// From the log (and the prior, where there is one).
    Fitted,
    /// Held at a value that was given or that the log says nothing of.
    Fixed,
    /// Run against the limit of what is physically possible.
    AtBound,
    /// As it was believed beforehand, within its spread: the log adds next to nothing.
    FromPrior,
}

/// One coefficient of a calibrated machine.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// Name as in the profile.
    pub name: Arc<str>,
    /// Unit of `value`.
    pub unit: &'static str,
    /// Scale on which it was fitted.
    pub scale: Scale,
    /// Value in its own unit.
    pub value: f64,
    /// Standard error on the fitted scale; `None`: see `without_error`.
    pub standard_error: Option<f64>,
    /// Why there is no standard error.
    pub without_error: Option<Arc<str>>,
    /// 95 % interval in its own unit; `None` where there is no standard error.
    pub interval_95: Option<(f64, f64)>,
    /// Where the value comes from.
    pub status: Status,
    /// Prior that was used; `None` in a fit without priors and for held coefficients.
    pub prior: Option<Prior>,
    /// Share of the information that came from the log, 0 to 1:
    /// `1 − variance after / variance before`.
    pub log_share: f64,
}

/// Below this share of information from the log a coefficient counts as the prior's.
pub const MOSTLY_PRIOR: f64 = 0.1;

/// Estimates of all coefficients of `table`, free ones from the posterior.
pub(crate) fn estimates(table: &[Coefficient], posterior: &Posterior) -> Vec<Estimate> {
    let errors = posterior.standard_errors();
    let z = crate::numeric::normal_quantile(0.975);
    table
        .iter()
        .enumerate()
        .map(|(index, c)| {
            let fitted = posterior.fitted[index];
            let value = c.held_at.unwrap_or_else(|| c.scale.natural(fitted));
            let Some(place) = posterior.free.iter().position(|&f| f == index) else {
                return held(c, value, Status::Fixed, "held at the value that was given");
            };
            let error = errors[place];
            let log_share = (1.0 - (error / c.prior.spread).powi(2)).clamp(0.0, 1.0);
            let moved = (fitted - c.scale.fitted(c.prior.median)).abs();
            let is_usual = log_share < MOSTLY_PRIOR && moved <= c.prior.spread;
            Estimate {
                name: c.name.clone(),
                unit: c.unit,
                scale: c.scale,
                value,
                standard_error: Some(error),
                without_error: None,
                interval_95: Some((
                    c.scale.natural(fitted - z * error),
                    c.scale.natural(fitted + z * error),
                )),
                status: if is_usual { Status::FromPrior } else { Status::Fitted },
                prior: Some(c.prior),
                log_share,
            }
        })
        .collect()
}

/// A coefficient that was not fitted.
pub(crate) fn held(c: &Coefficient, value: f64, status: Status, why: &str) -> Estimate {
    Estimate {
        name: c.name.clone(),
        unit: c.unit,
        scale: c.scale,
        value,
        standard_error: None,
        without_error: Some(why.into()),
        interval_95: None,
        status,
        prior: None,
        log_share: 0.0,
    }
}
