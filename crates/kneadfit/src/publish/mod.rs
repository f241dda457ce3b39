//! From a calibration to the profile that is written.

mod over_capacity;
mod readings;
mod self_test;

pub use readings::{Reading, Readings};

use crate::calibration::{Calibration, Part, Scatter};
use crate::development::DEVELOPMENT_REFERENCE_C;
use crate::diagnostics::{LeftOutErrors, Unknown};
use crate::prior::FLOUR_SPREAD;
use crate::profile::{
    BakersReading, CoefficientEntry, Covariance, DEVELOPMENT_MODEL, DirectionPart, FORMAT,
    FORMAT_VERSION, HEAT_MODEL, LeftOpen, LeftOut, Machine, Models, Profile, Provenance, Quality,
    ScatterSection, Spread, SpreadNode,
};

impl Profile {
    /// The profile of a calibrated machine.
    ///
    /// # Examples
    ///
    /// See [`crate::forecast`].
    pub fn new(calibration: &Calibration, provenance: &Provenance) -> Self {
        let mut profile = Self {
            format: FORMAT.into(),
            format_version: FORMAT_VERSION,
            requires: Vec::new(),
            machine: Machine {
                id: calibration.machine.to_string(),
                speeds: calibration.speeds.iter().map(|s| s.to_string()).collect(),
                usual_charge_kg: calibration.model.usual_charge_kg,
                usual_charge_given: calibration.options.usual_charge_kg.is_some(),
                bowl_given_kj_per_k: calibration.options.bowl_kj_per_k,
            },
            model: Models {
                heat: HEAT_MODEL.into(),
                development: calibration.development.as_ref().map(|_| DEVELOPMENT_MODEL.into()),
                reference: calibration.model,
                development_reference_c: DEVELOPMENT_REFERENCE_C,
                reference_flour: calibration.reference_flour.as_deref().map(Into::into),
                flours: calibration.flours.iter().map(|f| f.to_string()).collect(),
                unknown_flour_spread: FLOUR_SPREAD,
            },
            coefficients: coefficients(calibration),
            covariance: covariance(calibration),
            scatter: ScatterSection {
                dough: spread(&calibration.heat.scatter),
                development: calibration.development.as_ref().map(|d| spread(&d.scatter)),
                uncertainties: calibration.options.uncertainties,
            },
            domain: calibration.domain.clone(),
            quality: quality(calibration, &provenance.set_aside),
            calibration: Provenance {
                period: provenance.period.clone().or_else(|| {
                    calibration.period.as_ref().map(|(a, b)| [a.to_string(), b.to_string()])
                }),
                set_aside: Vec::new(),
                ..provenance.clone()
            },
            self_test: Vec::new(),
            other: serde_json::Map::new(),
        };
        profile.self_test = self_test::batches(calibration, &profile);
        profile
    }
}

fn coefficients(calibration: &Calibration) -> Vec<CoefficientEntry> {
    let readings = Readings::new(calibration);
    let parts = std::iter::once(&calibration.heat).chain(&calibration.development);
    parts
        .flat_map(|part| part.estimates.iter().zip(&part.fitted))
        .map(|(e, &fitted)| CoefficientEntry {
            name: e.name.to_string(),
            unit: e.unit.into(),
            value: e.value,
            scale: e.scale,
            // JSON has no infinity; a coefficient held at nought is not used on this scale.
            fitted: if fitted.is_finite() { fitted } else { 0.0 },
            standard_error: e.standard_error,
            no_standard_error: e.without_error.as_deref().map(Into::into),
            interval_95: e.interval_95.and_then(finite),
            status: e.status,
            prior: e.prior,
            log_share: e.log_share,
            readings: readings
                .of(&e.name)
                .into_iter()
                .map(|r| BakersReading {
                    says: r.says,
                    unit: r.unit.into(),
                    value: r.value,
                    interval_95: r.interval.and_then(finite),
                })
                .collect(),
        })
        .collect()
}

/// JSON has no infinity: an interval that reaches there is as good as none.
fn finite((low, high): (f64, f64)) -> Option<[f64; 2]> {
    (low.is_finite() && high.is_finite()).then_some([low, high])
}

fn covariance(calibration: &Calibration) -> Covariance {
    let parts: Vec<&Part> =
        std::iter::once(&calibration.heat).chain(&calibration.development).collect();
    let mut names = Vec::new();
    let mut scales = Vec::new();
    for part in &parts {
        for &index in &part.free {
            names.push(part.estimates[index].name.to_string());
            scales.push(part.estimates[index].scale);
        }
    }
    let known = parts.iter().all(|p| p.covariance.is_some());
    let matrix = known.then(|| {
        let n = names.len();
        let mut matrix = vec![vec![0.0; n]; n];
        let mut first = 0;
        for part in &parts {
            let p = part.free.len();
            if let Some(block) = &part.covariance {
                for i in 0..p {
                    matrix[first + i][first..first + p].copy_from_slice(&block[i * p..(i + 1) * p]);
                }
            }
            first += p;
        }
        matrix
    });
    Covariance {
        coefficients: names,
        scales,
        matrix,
        left_open: parts.iter().flat_map(|p| &p.left_open).map(left_open).collect(),
    }
}

fn left_open(unknown: &Unknown) -> LeftOpen {
    LeftOpen {
        words: unknown.words.clone(),
        remedy: unknown.remedy.clone(),
        log_share: unknown.log_share,
        direction: unknown
            .direction
            .iter()
            .map(|(name, part)| DirectionPart { coefficient: name.to_string(), part: *part })
            .collect(),
    }
}

fn spread(scatter: &Scatter) -> Spread {
    match scatter {
        Scatter::Mixture(nodes) => Spread::Mixture {
            nodes: nodes.iter().map(|n| SpreadNode { sd: n.scatter, weight: n.weight }).collect(),
        },
        Scatter::StudentT { sd, dof } => Spread::StudentT { sd: *sd, dof: *dof },
    }
}

fn quality(calibration: &Calibration, set_aside: &[String]) -> Quality {
    let heat = &calibration.heat;
    let development = calibration.development.as_ref();
    let left_out = |e: LeftOutErrors| LeftOut { rms: e.rms, bias: e.bias, worst: e.worst };
    let parts = || std::iter::once(heat).chain(development);
    Quality {
        batches: calibration.batches,
        readings: heat.readings,
        grades: development.map_or(0, |d| d.readings),
        residual_sd_k: heat.residual_sd,
        residual_sd_development: development.map(|d| d.residual_sd),
        left_out_k: heat.left_out.map(left_out),
        left_out_development: development.and_then(|d| d.left_out).map(left_out),
        heat_fit: heat.outcome.to_string(),
        development_fit: development.map(|d| d.outcome.to_string()),
        warnings: parts().flat_map(|part| part.warnings.iter().cloned()).collect(),
        set_aside: set_aside.to_vec(),
        looks_mistyped: parts().flat_map(Part::looks_mistyped).map(|b| b.id.to_string()).collect(),
    }
}
