//! Gluten development: dose and grade, on the temperature path of the heat balance.
//!
//! ```text
//! dose:   dX/dt = f · κ_s · Q10^((T − 24)/10)     per minute at speed s; rest has its own κ
//! grade:  D = 1 − 20^(−X)
//! ```
//!
//! `X = 1` is full development, `D = 0.95` by definition; `1/κ_s` is the minutes to
//! full development at a speed and 24 °C. `f` is the relative rate of the batch's
//! flour, 1 for the machine's reference flour.
//!
//! The temperature path is exponential within a phase, so that the dose has no
//! elementary closed form; it is integrated by Gauss–Legendre quadrature, which for
//! so smooth a path is exact to rounding.
//!
//! # Examples
//!
//! Ten minutes at 24 °C and a rate of 0.1 a minute are one full development:
//!
//! ```
//! use kneadfit::development::grade_of_dose;
//! assert!((grade_of_dose(10.0 * 0.1) - 0.95).abs() < 1e-15);
//! ```

mod path;

pub(crate) use path::{DosePath, PathDose};

use std::sync::Arc;

use crate::batch::{Batch, BatchError};
use crate::numeric::quadrature;
use crate::thermal::{FlourOf, HeatCoefficients, HeatModel, HeatTerms, HeatWalk, Leg, Setting};

/// The temperature at which development rates are stated, °C.
pub const DEVELOPMENT_REFERENCE_C: f64 = 24.0;
/// The grade of a dose of 1: full development.
pub const FULL_GRADE: f64 = 0.95;
/// A logged grade from here on says "at least full".
pub(crate) const LOGGED_AS_FULL: f64 = 0.995;
/// ln 20: the steepness that makes a dose of 1 a grade of 0.95.
pub(crate) const LN_20: f64 = 2.995_732_273_553_991;

/// Development grade (0 to 1) of a dose of full developments.
///
/// ```text
/// D = 1 − 20^(−X)
/// ```
///
/// # Examples
///
/// ```
/// // Half a dose: 1 − 1/√20.
/// let grade = kneadfit::development::grade_of_dose(0.5);
/// assert!((grade - (1.0 - 1.0 / 20.0_f64.sqrt())).abs() < 1e-15);
/// ```
pub fn grade_of_dose(dose: f64) -> f64 {
    -(-dose * LN_20).exp_m1()
}

/// Dose, in full developments, of a development grade below 1.
///
/// ```text
/// X = −ln(1 − D) / ln 20
/// ```
///
/// # Examples
///
/// ```
/// assert!((kneadfit::development::dose_of_grade(0.95) - 1.0).abs() < 1e-15);
/// ```
pub fn dose_of_grade(grade: f64) -> f64 {
    -(-grade).ln_1p() / LN_20
}

/// Slope of the grade by the dose, `dD/dX = ln 20 · 20^(−X)`.
pub(crate) fn grade_slope(dose: f64) -> f64 {
    LN_20 * (-dose * LN_20).exp()
}

/// The coefficients of development, each in its own unit.
#[derive(Clone, Debug, PartialEq)]
pub struct DevelopmentCoefficients {
    /// κ_s, one a speed in the order of the machine's speeds, 1/min at 24 °C.
    pub rate_per_min: Vec<f64>,
    /// κ at rest, 1/min at 24 °C.
    pub rest_per_min: f64,
    /// Q10: by how much 10 K speed development up, dimensionless.
    pub q10: f64,
    /// f of each flour beside the reference flour, dimensionless.
    pub flour: Vec<f64>,
}

impl DevelopmentCoefficients {
    /// A machine of which nothing is known: the medians of the default priors.
    pub fn typical(speeds: usize, flours: usize) -> Self {
        Self {
            rate_per_min: vec![0.05; speeds],
            rest_per_min: 0.006,
            q10: 1.5,
            flour: vec![1.0; flours],
        }
    }

    /// The coefficients in a row: rate by speed, rest, Q10, then flour by flour.
    pub fn to_vec(&self) -> Vec<f64> {
        let mut row = self.rate_per_min.clone();
        row.extend([self.rest_per_min, self.q10]);
        row.extend_from_slice(&self.flour);
        row
    }

    /// Takes the coefficients from a row in the order of [`Self::to_vec`].
    ///
    /// # Panics
    ///
    /// If the row's length does not fit the speeds and flours of `self`.
    pub fn set_from(&mut self, row: &[f64]) {
        let speeds = self.rate_per_min.len();
        assert_eq!(row.len(), speeds + 2 + self.flour.len());
        self.rate_per_min.copy_from_slice(&row[..speeds]);
        self.rest_per_min = row[speeds];
        self.q10 = row[speeds + 1];
        self.flour.copy_from_slice(&row[speeds + 2..]);
    }
}

/// Doses (full developments) at the end of each stage of a batch of this flour; one that the
/// coefficients do not have counts as the reference flour.
///
/// # Errors
///
/// A batch that cannot be: see [`BatchError`].
///
/// # Examples
///
/// ```
/// use kneadfit::batch::Batch;
/// use kneadfit::charge::{Charge, Material, Phase};
/// use kneadfit::development::{DevelopmentCoefficients, doses};
/// use kneadfit::thermal::{FlourOf, HeatCoefficients, HeatModel};
///
/// let model = HeatModel::new(16.5);
/// let heat = HeatCoefficients::typical(&model, 1);
/// let rates = DevelopmentCoefficients { q10: 1.0, ..DevelopmentCoefficients::typical(1, 0) };
/// let charge = Charge::new(24.0).with(Material::Flour, 10.0, 21.0).with(Material::Water, 6.5, 12.0);
/// let batch = Batch::new("1", charge, vec![Phase::mixing("low", 4.0)]);
/// // A Q10 of 1 makes the temperature irrelevant: 4 min · 0.05 /min.
/// let speeds = ["low".into()];
/// let dose = doses(&model, &heat, &rates, FlourOf::Reference, &batch, &speeds)?;
/// assert!((dose[0] - 0.2).abs() < 1e-12);
/// # Ok::<(), kneadfit::batch::BatchError>(())
/// ```
pub fn doses(
    model: &HeatModel,
    heat: &HeatCoefficients,
    development: &DevelopmentCoefficients,
    flour: FlourOf,
    batch: &Batch,
    speeds: &[Arc<str>],
) -> Result<Vec<f64>, BatchError> {
    let terms = HeatTerms::new(model, batch, speeds)?.of_flour(flour);
    let mut walk = DoseWalk::new(heat, development);
    let mut all = Vec::with_capacity(batch.stages.len());
    walk.linearise(model, heat, development, &terms, |_, d| all.push(d.dose));
    Ok(all)
}

/// A dose at the end of a stage and what it depends on.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Dose<'a> {
    /// X, full developments.
    pub dose: f64,
    /// Derivative by the natural development coefficients.
    pub by_coefficient: &'a [f64],
    /// Derivative by the natural heat coefficients.
    pub by_heat: &'a [f64],
    /// Derivative by a shift of the whole temperature path, 1/K.
    pub by_shift: f64,
    /// Sum over phases of the squared rate at their end, 1/min²: what a common
    /// uncertainty of each phase's minutes is multiplied by.
    pub rate_squared: f64,
}

/// Carries one batch's dose through its phases.
#[derive(Clone, Debug)]
pub(crate) struct DoseWalk {
    heat: HeatWalk,
    dose: Accumulated,
    scaled: Vec<f64>,
    scaled_heat: Vec<f64>,
}

#[derive(Clone, Debug)]
struct Accumulated {
    dose: f64,
    by_coefficient: Vec<f64>,
    by_heat: Vec<f64>,
    by_shift: f64,
    rate_squared: f64,
    at_node: Vec<f64>,
}

impl DoseWalk {
    /// Room for such coefficients.
    pub fn new(heat: &HeatCoefficients, development: &DevelopmentCoefficients) -> Self {
        let speeds = heat.friction_w_per_kg.len();
        let heat_count = heat.to_vec().len();
        Self {
            heat: HeatWalk::new(speeds),
            dose: Accumulated {
                dose: 0.0,
                by_coefficient: vec![0.0; speeds + 2],
                by_heat: vec![0.0; heat_count],
                by_shift: 0.0,
                rate_squared: 0.0,
                at_node: vec![0.0; heat_count],
            },
            scaled: vec![0.0; speeds + 2 + development.flour.len()],
            scaled_heat: vec![0.0; heat_count],
        }
    }

    /// Calls `at_stage(stage, dose)` at the end of every stage.
    pub fn linearise(
        &mut self,
        model: &HeatModel,
        heat: &HeatCoefficients,
        development: &DevelopmentCoefficients,
        terms: &HeatTerms,
        mut at_stage: impl FnMut(usize, Dose<'_>),
    ) {
        self.dose.clear();
        let flour = terms.flour.other().filter(|&f| f < development.flour.len());
        let factor = flour.map_or(1.0, |f| development.flour[f]);
        let accumulated = std::cell::RefCell::new(&mut self.dose);
        let (scaled, scaled_heat) = (&mut self.scaled, &mut self.scaled_heat);
        self.heat.travel(
            &Setting::new(model, heat, terms),
            heat,
            terms,
            |leg| accumulated.borrow_mut().add(leg, development),
            |stop| {
                let unit = accumulated.borrow();
                let speeds_rest_q10 = unit.by_coefficient.len();
                for (to, from) in scaled.iter_mut().zip(&unit.by_coefficient) {
                    *to = factor * from;
                }
                scaled[speeds_rest_q10..].fill(0.0);
                if let Some(flour) = flour {
                    scaled[speeds_rest_q10 + flour] = unit.dose;
                }
                for (to, from) in scaled_heat.iter_mut().zip(&unit.by_heat) {
                    *to = factor * from;
                }
                at_stage(
                    stop.stage,
                    Dose {
                        dose: factor * unit.dose,
                        by_coefficient: scaled,
                        by_heat: scaled_heat,
                        by_shift: factor * unit.by_shift,
                        rate_squared: factor * factor * unit.rate_squared,
                    },
                );
            },
        );
    }
}

/// Calls `at(weight_min, minutes)` for each point of the quadrature over a phase: minutes
/// that it stands for, and minutes of the phase at which it stands.
fn for_each_node(leg: &Leg<'_>, mut at: impl FnMut(f64, f64)) {
    quadrature::for_each_node(leg.flow.rate_per_min * leg.minutes, |share, weight| {
        at(weight * leg.minutes, share * leg.minutes);
    });
}

impl Accumulated {
    fn clear(&mut self) {
        self.dose = 0.0;
        self.by_coefficient.fill(0.0);
        self.by_heat.fill(0.0);
        self.by_shift = 0.0;
        self.rate_squared = 0.0;
    }

    /// Adds one phase, as for a flour of relative rate 1.
    fn add(&mut self, leg: &Leg<'_>, c: &DevelopmentCoefficients) {
        let speeds = c.rate_per_min.len();
        let (index, rate) = match leg.speed {
            Some(s) => (s as usize, c.rate_per_min[s as usize]),
            None => (speeds, c.rest_per_min),
        };
        let ln_q10 = c.q10.ln();
        let speed_up = |dough_c: f64| ((dough_c - DEVELOPMENT_REFERENCE_C) / 10.0 * ln_q10).exp();
        for_each_node(leg, |weight_min, minutes| {
            let dough_c = leg.dough_with_derivatives(minutes, &mut self.at_node);
            let equivalent_min = weight_min * speed_up(dough_c);
            let dose = rate * equivalent_min;
            let by_kelvin = dose * ln_q10 / 10.0;
            self.dose += dose;
            self.by_coefficient[index] += equivalent_min;
            self.by_coefficient[speeds + 1] +=
                dose * (dough_c - DEVELOPMENT_REFERENCE_C) / (10.0 * c.q10);
            self.by_shift += by_kelvin;
            for (sum, by) in self.by_heat.iter_mut().zip(&self.at_node) {
                *sum += by_kelvin * by;
            }
        });
        let at_end = rate * speed_up(leg.dough_c(leg.minutes));
        self.rate_squared += at_end * at_end;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::charge::{Charge, Material, Phase};

    fn batch() -> Batch {
        let charge = Charge::new(28.0)
            .with(Material::Flour, 10.0, 14.0)
            .with(Material::Water, 6.6, 3.0)
            .with(Material::Salt, 0.2, 28.0);
        Batch::new("1", charge, vec![Phase::mixing("low", 8.0)]).then(
            vec![Phase::rest(200.0), Phase::mixing("high", 5.0)],
            crate::batch::Reading::default(),
        )
    }

    fn set_up() -> (HeatModel, HeatCoefficients, DevelopmentCoefficients, [Arc<str>; 2]) {
        let model = HeatModel::new(16.8);
        let heat = HeatCoefficients {
            friction_w_per_kg: vec![30.0, 90.0],
            flour_friction: vec![0.9],
            ..HeatCoefficients::typical(&model, 2)
        };
        let development = DevelopmentCoefficients {
            rate_per_min: vec![0.03, 0.09],
            rest_per_min: 0.002,
            q10: 1.7,
            flour: vec![1.2],
        };
        (model, heat, development, ["low".into(), "high".into()])
    }

    /// Outside value: the dose integrated by the trapezium rule over the closed-form path
    /// that single long phases give.
    #[test]
    fn quadrature_is_the_integral_of_the_path() {
        let (model, heat, development, speeds) = set_up();
        let dose =
            doses(&model, &heat, &development, FlourOf::Reference, &batch(), &speeds).unwrap();
        let path = |minutes: f64| {
            let mut cut = batch();
            cut.stages.truncate(1);
            cut.stages[0].phases[0].minutes = minutes;
            model.forecast_c(&heat, &cut, &speeds).unwrap()[0]
        };
        let steps = 4000;
        let width = 8.0 / f64::from(steps);
        let by_trapezium: f64 = (0..=steps)
            .map(|i| {
                let weight = if i == 0 || i == steps { 0.5 } else { 1.0 };
                let dough_c = path(f64::from(i) * width);
                weight * width * 0.03 * 1.7_f64.powf((dough_c - 24.0) / 10.0)
            })
            .sum();
        assert!((dose[0] - by_trapezium).abs() < 1e-9, "{} {by_trapezium}", dose[0]);
    }

    #[test]
    fn a_path_walked_once_says_what_the_walk_says() {
        let (model, heat, development, speeds) = set_up();
        let terms = HeatTerms::new(&model, &batch(), &speeds).unwrap();
        for flour in [FlourOf::Reference, FlourOf::Other(0)] {
            let terms = terms.clone().of_flour(flour);
            let path = DosePath::new(&model, &heat, &terms, &mut HeatWalk::new(2));
            let mut walked: Vec<Vec<f64>> = Vec::new();
            let mut kept: Vec<Vec<f64>> = Vec::new();
            let mut walk = DoseWalk::new(&heat, &development);
            walk.linearise(&model, &heat, &development, &terms, |_, d| {
                walked.push([d.dose, d.by_shift, d.rate_squared].to_vec());
                walked.last_mut().unwrap().extend(d.by_coefficient);
            });
            path.linearise(&development, &mut PathDose::default(), |_, d| {
                kept.push([d.dose, d.by_shift, d.rate_squared].to_vec());
                kept.last_mut().unwrap().extend(&d.by_coefficient);
            });
            assert_eq!(walked.len(), 2);
            for (walked, kept) in walked.concat().iter().zip(&kept.concat()) {
                assert!((walked - kept).abs() <= 1e-13 * walked.abs(), "{walked} {kept}");
            }
        }
    }

    #[test]
    fn derivatives_are_those_of_differences() {
        let (model, heat, development, speeds) = set_up();
        let flour = FlourOf::Other(0);
        let terms = HeatTerms::new(&model, &batch(), &speeds).unwrap().of_flour(flour);
        let mut walk = DoseWalk::new(&heat, &development);
        let mut exact: Vec<(Vec<f64>, Vec<f64>)> = Vec::new();
        walk.linearise(&model, &heat, &development, &terms, |_, d| {
            exact.push((d.by_coefficient.to_vec(), d.by_heat.to_vec()));
        });
        let at = |heat: &HeatCoefficients, development: &DevelopmentCoefficients| {
            doses(&model, heat, development, flour, &batch(), &speeds).unwrap()
        };
        let close = |exact: f64, plus: f64, minus: f64, step: f64, what: &str| {
            let difference = (plus - minus) / (2.0 * step);
            assert!(
                (exact - difference).abs() < 1e-7 * (exact.abs() + 1e-2),
                "{what}: {exact} {difference}"
            );
        };
        let row = development.to_vec();
        for i in 0..row.len() {
            let step = 1e-5 * row[i];
            let moved = |by: f64| {
                let mut moved = row.clone();
                moved[i] += by;
                let mut c = development.clone();
                c.set_from(&moved);
                at(&heat, &c)
            };
            for stage in 0..2 {
                let (plus, minus) = (moved(step)[stage], moved(-step)[stage]);
                close(exact[stage].0[i], plus, minus, step, &format!("development {i}"));
            }
        }
        let row = heat.to_vec();
        for i in 0..row.len() {
            let step = 1e-4 * row[i].abs().max(0.1);
            let moved = |by: f64| {
                let mut moved = row.clone();
                moved[i] += by;
                let mut c = heat.clone();
                c.set_from(&moved);
                at(&c, &development)
            };
            for stage in 0..2 {
                let (plus, minus) = (moved(step)[stage], moved(-step)[stage]);
                close(exact[stage].1[i], plus, minus, step, &format!("heat {i}"));
            }
        }
    }
}
