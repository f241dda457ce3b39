//! Whether what a file holds can be used.

use super::{CoefficientEntry, DEVELOPMENT_MODEL, HEAT_MODEL, Profile, ProfileError, Spread};
use crate::numeric::cholesky;
use crate::prior::Scale;
use crate::thermal::COMMON_COEFFICIENTS;

fn wrong(key: impl Into<String>, found: impl ToString, expected: &'static str) -> ProfileError {
    ProfileError::Value { key: key.into(), found: found.to_string(), expected }
}

/// Coefficients that follow the development rates by speed: rest and Q10.
const COMMON_DEVELOPMENT: usize = 2;

pub(super) fn check(profile: &Profile) -> Result<(), ProfileError> {
    let model = &profile.model;
    if model.heat != HEAT_MODEL {
        return Err(wrong("model.heat", &model.heat, "kneadfit-heat-1"));
    }
    if let Some(development) = &model.development
        && development != DEVELOPMENT_MODEL
    {
        return Err(wrong("model.development", development, "kneadfit-dose-1"));
    }
    for (key, value) in [
        ("model.reference.usual_charge_kg", model.reference.usual_charge_kg),
        (
            "model.reference.constants.flour_kj_per_kg_k",
            model.reference.constants.flour_kj_per_kg_k,
        ),
        (
            "model.reference.constants.water_kj_per_kg_k",
            model.reference.constants.water_kj_per_kg_k,
        ),
    ] {
        if !(value > 0.0 && value.is_finite()) {
            return Err(wrong(key, value, "a positive number"));
        }
    }
    check_coefficients(profile)?;
    check_covariance(profile)?;
    check_spread("scatter.dough", &profile.scatter.dough)?;
    if let Some(spread) = &profile.scatter.development {
        check_spread("scatter.development", spread)?;
    }
    if model.development.is_some() != profile.scatter.development.is_some() {
        return Err(wrong(
            "scatter.development",
            "inconsistent",
            "present with a development model",
        ));
    }
    Ok(())
}

fn check_coefficients(profile: &Profile) -> Result<(), ProfileError> {
    let speeds = profile.machine.speeds.len();
    let heat = speeds + COMMON_COEFFICIENTS;
    let development = match profile.model.development {
        Some(_) => speeds + COMMON_DEVELOPMENT + profile.model.flours.len(),
        None => 0,
    };
    if profile.coefficients.len() != heat + development {
        return Err(wrong(
            "coefficients",
            format!("a list of {}", profile.coefficients.len()),
            "one coefficient for each speed and each part of the models",
        ));
    }
    for c in &profile.coefficients {
        check_coefficient(c)?;
    }
    Ok(())
}

fn check_coefficient(c: &CoefficientEntry) -> Result<(), ProfileError> {
    let key = |part: &str| format!("coefficients.{}.{part}", c.name);
    if !c.value.is_finite() {
        return Err(wrong(key("value"), c.value, "a finite number"));
    }
    // A positive coefficient held at nought has no logarithm; it is not used on that scale.
    if c.standard_error.is_some() {
        if !c.fitted.is_finite() {
            return Err(wrong(key("fitted"), c.fitted, "a finite number"));
        }
        let natural = c.scale.natural(c.fitted);
        if (natural - c.value).abs() > 1e-9 * c.value.abs().max(1e-9) {
            return Err(wrong(key("fitted"), c.fitted, "the value on its fitted scale"));
        }
    }
    if c.scale == Scale::Logarithm && c.value < 0.0 {
        return Err(wrong(key("value"), c.value, "a positive number"));
    }
    Ok(())
}

fn check_covariance(profile: &Profile) -> Result<(), ProfileError> {
    let covariance = &profile.covariance;
    let n = covariance.coefficients.len();
    if covariance.scales.len() != n {
        return Err(wrong("covariance.scales", covariance.scales.len(), "one a coefficient"));
    }
    for name in &covariance.coefficients {
        if !profile.coefficients.iter().any(|c| c.name == *name) {
            return Err(wrong("covariance.coefficients", name, "the name of a coefficient"));
        }
    }
    let Some(matrix) = &covariance.matrix else { return Ok(()) };
    if matrix.len() != n || matrix.iter().any(|row| row.len() != n) {
        return Err(wrong(
            "covariance.matrix",
            "of another shape",
            "as many rows and columns as coefficients",
        ));
    }
    let flat: Vec<f64> = matrix.iter().flatten().copied().collect();
    for i in 0..n {
        for j in 0..i {
            if flat[i * n + j] != flat[j * n + i] {
                return Err(wrong("covariance.matrix", "not symmetric", "a symmetric matrix"));
            }
        }
    }
    if cholesky(&flat, n).is_none() {
        return Err(wrong(
            "covariance.matrix",
            "not positive definite",
            "a positive definite matrix",
        ));
    }
    Ok(())
}

fn check_spread(key: &str, spread: &Spread) -> Result<(), ProfileError> {
    match spread {
        Spread::Mixture { nodes } => {
            let total: f64 = nodes.iter().map(|n| n.weight).sum();
            if (total - 1.0).abs() > 1e-9 {
                return Err(wrong(format!("{key}.nodes"), total, "weights that sum to 1"));
            }
            for node in nodes {
                if !(node.sd >= 0.0 && node.sd.is_finite() && node.weight >= 0.0) {
                    return Err(wrong(
                        format!("{key}.nodes"),
                        node.sd,
                        "standard deviations and weights of nought or more",
                    ));
                }
            }
        }
        Spread::StudentT { sd: Some(sd), .. } if !(*sd >= 0.0 && sd.is_finite()) => {
            return Err(wrong(format!("{key}.sd"), sd, "a standard deviation of nought or more"));
        }
        Spread::StudentT { .. } => {}
    }
    Ok(())
}
