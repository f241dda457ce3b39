//! The development part of a forecast.

use std::sync::Arc;

use super::bound::{mixture_quantile, spread_of, width};
use super::machine::{Doubted, Forecaster};
use super::outlook::DoseOutlook;
use crate::batch::Batch;
use crate::development::{
    DevelopmentCoefficients, DoseWalk, FULL_GRADE, grade_of_dose, grade_slope,
};
use crate::profile::{Profile, Spread};
use crate::thermal::{HeatCoefficients, HeatTerms};

/// The development model of a profile, ready to forecast.
#[derive(Clone, Debug)]
pub(super) struct DevelopmentForecaster {
    rates: Doubted,
    coefficients: DevelopmentCoefficients,
    scatter: Spread,
    flours: Vec<Arc<str>>,
    reference_flour: Option<Arc<str>>,
    unknown_flour_spread: f64,
}

impl DevelopmentForecaster {
    pub fn new(profile: &Profile, rates: Doubted, scatter: Spread, speeds: usize) -> Self {
        let flours: Vec<Arc<str>> =
            profile.model.flours.iter().map(|f| f.as_str().into()).collect();
        let mut coefficients = DevelopmentCoefficients::typical(speeds, flours.len());
        coefficients.set_from(&rates.natural);
        Self {
            rates,
            coefficients,
            scatter,
            flours,
            reference_flour: profile.model.reference_flour.as_deref().map(Into::into),
            unknown_flour_spread: profile.model.unknown_flour_spread,
        }
    }

    /// Grade and interval for the next grade at the end of a stage. `inputs` is the
    /// variance that the batch's inputs make in its dough temperature, K².
    #[expect(clippy::too_many_arguments, reason = "what the dough's forecast has at hand")]
    pub fn grade(
        &self,
        machine: &Forecaster,
        heat: &HeatCoefficients,
        terms: &HeatTerms,
        batch: &Batch,
        stage: usize,
        level: f64,
        inputs: f64,
    ) -> (f64, Option<(f64, f64)>) {
        let name = batch.charge.flour_name.as_ref();
        let flour = name.and_then(|n| self.flours.iter().position(|f| f == n));
        let unknown_flour =
            name.is_some() && flour.is_none() && name != self.reference_flour.as_ref();
        let mut walk = DoseWalk::new(machine.speeds.len(), self.flours.len());
        let mut rate_gradient = vec![0.0; self.rates.free.len()];
        let mut heat_gradient = vec![0.0; machine.heat.free.len()];
        let (mut dose, mut by_shift, mut by_clock) = (0.0, 0.0, 0.0);
        let heat_natural = heat.to_vec();
        walk.linearise(&machine.model, heat, &self.coefficients, flour, terms, |s, d| {
            if s == stage {
                dose = d.dose;
                by_shift = d.by_shift;
                by_clock = d.rate_squared;
                self.rates.on_fitted_scale(
                    d.by_coefficient,
                    &self.rates.natural,
                    &mut rate_gradient,
                );
                machine.heat.on_fitted_scale(d.by_heat, &heat_natural, &mut heat_gradient);
            }
        });
        let grade = grade_of_dose(dose);
        let known = |c: &Option<Vec<f64>>, gradient: &[f64]| {
            c.as_ref().map(|c| spread_of(c, gradient, &mut vec![0.0; gradient.len()]))
        };
        let (Some(of_rates), Some(of_heat)) = (
            known(&self.rates.covariance, &rate_gradient),
            known(&machine.heat.covariance, &heat_gradient),
        ) else {
            return (grade, None);
        };
        let graded = machine.uncertainties.development;
        let Spread::Mixture { nodes } = &self.scatter else {
            // Plain least squares: straight lines in the grade itself.
            let slope = grade_slope(dose);
            let known = slope * slope * (of_rates + of_heat);
            let interval = width(&self.scatter, level, known, 0.0).map(|w| {
                let half = w.z * (known + w.variance).sqrt();
                within(grade - half, grade + half)
            });
            return (grade, interval);
        };
        let z = crate::numeric::normal_quantile(0.5 * (1.0 + level));
        if dose <= 0.0 {
            return (grade, Some(within(grade - z * graded, grade + z * graded)));
        }
        let scatter_k: f64 = match &machine.scatter {
            Spread::Mixture { nodes } => nodes.iter().map(|n| n.weight * n.sd * n.sd).sum(),
            Spread::StudentT { sd, .. } => sd.map_or(0.0, |sd| sd * sd),
        };
        let minutes = machine.uncertainties.minutes_min;
        let mut variance = (of_rates
            + of_heat
            + by_shift * by_shift * (inputs + scatter_k)
            + minutes * minutes * by_clock)
            / (dose * dose);
        if unknown_flour {
            variance += self.unknown_flour_spread * self.unknown_flour_spread;
        }
        let x = mixture_quantile(nodes, variance, 0.5 * (1.0 + level));
        let typical: f64 = nodes.iter().map(|n| n.weight * n.sd * n.sd).sum();
        let z = x / (variance + typical).sqrt();
        let below = grade - grade_of_dose(dose * (-x).exp());
        let above = grade_of_dose(dose * x.exp()) - grade;
        let noise = z * graded;
        (grade, Some(within(grade - below.hypot(noise), grade + above.hypot(noise))))
    }
}

impl DevelopmentForecaster {
    pub fn coefficients(&self) -> &DevelopmentCoefficients {
        &self.coefficients
    }

    /// Relative rate of a flour; one that is not known counts as the reference flour.
    pub fn flour_rate(&self, flour: Option<&str>) -> f64 {
        flour
            .and_then(|n| self.flours.iter().position(|f| **f == *n))
            .map_or(1.0, |f| self.coefficients.flour[f])
    }

    /// Median dose at the end of a stage and the doubt of its logarithm.
    pub fn outlook(
        &self,
        machine: &Forecaster,
        heat: &HeatCoefficients,
        terms: &HeatTerms,
        batch: &Batch,
        stage: usize,
        inputs: f64,
    ) -> DoseOutlook {
        let name = batch.charge.flour_name.as_ref();
        let flour = name.and_then(|n| self.flours.iter().position(|f| f == n));
        let unknown_flour =
            name.is_some() && flour.is_none() && name != self.reference_flour.as_ref();
        let mut walk = DoseWalk::new(machine.speeds.len(), self.flours.len());
        let mut rate_gradient = vec![0.0; self.rates.free.len()];
        let mut heat_gradient = vec![0.0; machine.heat.free.len()];
        let (mut dose, mut by_shift, mut by_clock) = (0.0, 0.0, 0.0);
        walk.linearise(&machine.model, heat, &self.coefficients, flour, terms, |s, d| {
            if s == stage {
                (dose, by_shift, by_clock) = (d.dose, d.by_shift, d.rate_squared);
                let rates = &self.rates;
                rates.on_fitted_scale(d.by_coefficient, &rates.natural, &mut rate_gradient);
                let natural = &machine.heat.natural;
                machine.heat.on_fitted_scale(d.by_heat, natural, &mut heat_gradient);
            }
        });
        let known = |c: &Option<Vec<f64>>, gradient: &[f64]| {
            c.as_ref().map(|c| spread_of(c, gradient, &mut vec![0.0; gradient.len()]))
        };
        let of_rates = known(&self.rates.covariance, &rate_gradient);
        let of_heat = known(&machine.heat.covariance, &heat_gradient);
        let of = |spread: &Spread| match spread {
            Spread::Mixture { nodes } => Some(nodes.iter().map(|n| n.weight * n.sd * n.sd).sum()),
            Spread::StudentT { sd, .. } => sd.map(|sd| sd * sd),
        };
        let ln_sd = || {
            let plain = matches!(self.scatter, Spread::StudentT { .. });
            let minutes = machine.uncertainties.minutes_min;
            let beside: f64 = if plain {
                // Plain least squares scatters in the grade itself.
                let slope = grade_slope(dose);
                of(&self.scatter)? / (slope * slope)
            } else {
                by_shift * by_shift * (inputs + of(&machine.scatter)?)
                    + minutes * minutes * by_clock
            };
            let mut variance = (of_rates? + of_heat? + beside) / (dose * dose);
            if !plain {
                variance += of(&self.scatter)?;
                if unknown_flour {
                    variance += self.unknown_flour_spread * self.unknown_flour_spread;
                }
            }
            (dose > 0.0).then(|| variance.sqrt())
        };
        DoseOutlook { dose, ln_sd: ln_sd() }
    }
}

/// Bounds within the scale of grades; a grade that reaches full development is logged as
/// 1, "at least full".
fn within(low: f64, high: f64) -> (f64, f64) {
    (low.clamp(0.0, 1.0), if high >= FULL_GRADE { 1.0 } else { high.max(0.0) })
}
