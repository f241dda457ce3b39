//! Whether what a file holds can be used.

use std::sync::Arc;

use super::check_said::{check_domain, check_machine, check_readings};
use super::{CoefficientEntry, DEVELOPMENT_MODEL, HEAT_MODEL, Profile, ProfileError, Spread};
use crate::development::DEVELOPMENT_REFERENCE_C;
use crate::numeric::cholesky;
use crate::prior::{Scale, development_coefficients, heat_coefficients};

pub(super) fn wrong(
    key: impl Into<String>,
    found: impl ToString,
    expected: &'static str,
) -> ProfileError {
    ProfileError::Value { key: key.into(), found: found.to_string(), expected }
}

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
    if model.development_reference_c != DEVELOPMENT_REFERENCE_C {
        return Err(wrong(
            "model.development_reference_c",
            model.development_reference_c,
            "24 °C, as in the equations of this version",
        ));
    }
    check_coefficients(profile)?;
    check_machine(profile)?;
    check_readings(profile)?;
    check_domain(profile)?;
    check_covariance(profile)?;
    check_uncertainties(profile)?;
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

/// That a profile from a file can prove itself. One that is being made has no self-test yet.
pub(super) fn check_self_test(profile: &Profile) -> Result<(), ProfileError> {
    if profile.self_test.is_empty() {
        return Err(wrong(
            "self_test",
            "an empty list",
            "the batches with their forecasts by which a profile proves that nothing in it was \
             changed",
        ));
    }
    Ok(())
}

/// Coefficients are used by their places, which their names must agree with.
fn check_coefficients(profile: &Profile) -> Result<(), ProfileError> {
    let names = |of: &[String]| -> Vec<Arc<str>> { of.iter().map(|n| n.as_str().into()).collect() };
    let speeds = names(&profile.machine.speeds);
    let flours = names(&profile.model.flours);
    let mut expected = heat_coefficients(&profile.model.reference, &speeds, &flours);
    if profile.model.development.is_some() {
        expected.extend(development_coefficients(&speeds, &flours));
    }
    if profile.coefficients.len() != expected.len() {
        return Err(wrong(
            "coefficients",
            format!("a list of {}", profile.coefficients.len()),
            "one coefficient for each speed and each part of the models",
        ));
    }
    for (c, expected) in profile.coefficients.iter().zip(&expected) {
        if *c.name != *expected.name {
            return Err(wrong(
                format!("coefficients.{}.name", expected.name),
                &c.name,
                "the coefficients of the models in their order",
            ));
        }
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
            // The interval lies around what was fitted: it says which of the two was changed.
            let middle =
                c.interval_95.map(|[low, high]| 0.5 * (c.scale.fitted(low) + c.scale.fitted(high)));
            let agrees = |middle: f64| (middle - c.fitted).abs() <= 1e-6 * c.fitted.abs().max(1.0);
            if middle.is_none_or(agrees) {
                let found = format!("{}, while it was fitted as {natural}", c.value);
                return Err(wrong(key("value"), found, "the fitted number"));
            }
            return Err(wrong(key("fitted"), c.fitted, "the value on its fitted scale"));
        }
    }
    if c.scale == Scale::Logarithm && c.value < 0.0 {
        return Err(wrong(key("value"), c.value, "a positive number"));
    }
    Ok(())
}

/// How far below nought rounding may take an eigenvalue of the correlations.
const ROUNDING: f64 = 1e-9;

fn check_covariance(profile: &Profile) -> Result<(), ProfileError> {
    let covariance = &profile.covariance;
    let n = covariance.coefficients.len();
    if covariance.scales.len() != n {
        return Err(wrong("covariance.scales", covariance.scales.len(), "one a coefficient"));
    }
    let mut entries = Vec::with_capacity(n);
    for (i, name) in covariance.coefficients.iter().enumerate() {
        let Some(entry) = profile.coefficients.iter().find(|c| c.name == *name) else {
            return Err(wrong("covariance.coefficients", name, "the name of a coefficient"));
        };
        if covariance.coefficients[..i].contains(name) {
            return Err(wrong("covariance.coefficients", name, "each coefficient once"));
        }
        if covariance.scales[i] != entry.scale {
            return Err(wrong("covariance.scales", name, "the scale of each coefficient"));
        }
        entries.push(entry);
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
    for (i, entry) in entries.iter().enumerate() {
        let variance = entry.standard_error.map_or(f64::NAN, |e| e * e);
        let found = flat[i * n + i];
        let off = (found - variance).abs();
        if off.is_nan() || off > 1e-9 * variance {
            return Err(wrong(
                "covariance.matrix",
                format!("{found} for {}", entry.name),
                "the square of the coefficient's standard error",
            ));
        }
    }
    // Of the correlations, and with a little to spare: where a log without priors leaves a
    // direction all but open, rounding alone takes the matrix past singular.
    let mut correlations = flat;
    for i in 0..n {
        for j in 0..n {
            // A perfect plain fit has errors of nought.
            let error = |k: usize| entries[k].standard_error.filter(|&e| e > 0.0).unwrap_or(1.0);
            correlations[i * n + j] /= error(i) * error(j);
        }
        correlations[i * n + i] += ROUNDING;
    }
    if cholesky(&correlations, n).is_none() {
        return Err(wrong(
            "covariance.matrix",
            "not positive definite",
            "a positive definite matrix",
        ));
    }
    Ok(())
}

fn check_uncertainties(profile: &Profile) -> Result<(), ProfileError> {
    let u = &profile.scatter.uncertainties;
    for (name, value) in [
        ("flour_k", u.flour_k),
        ("water_k", u.water_k),
        ("room_k", u.room_k),
        ("dough_k", u.dough_k),
        ("minutes_min", u.minutes_min),
        ("scale_relative", u.scale_relative),
        ("ice_relative", u.ice_relative),
        ("development", u.development),
        ("flour_friction", u.flour_friction),
    ] {
        if !(value >= 0.0 && value.is_finite()) {
            let key = format!("scatter.uncertainties.{name}");
            return Err(wrong(key, value, "an uncertainty of nought or more"));
        }
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
        Spread::StudentT { sd: Some(_), dof: 0 } => {
            return Err(wrong(format!("{key}.dof"), 0, "1 or more beside a standard deviation"));
        }
        Spread::StudentT { .. } => {}
    }
    Ok(())
}
