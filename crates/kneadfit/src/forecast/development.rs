//! The development part of a forecast.

use super::bound::spread_of;
use super::development_heat::half;
use super::innovations::{Innovations, dot, reweighted};
use super::journey::{Ahead, Journey};
use super::law::{Law, Part, mean_square, tail};
use super::machine::{Beside, Doubted, Forecaster};
use crate::batch::Batch;
use crate::development::{
    DevelopmentCoefficients, DoseWalk, FULL_GRADE, LOGGED_AS_FULL, grade_of_dose, grade_slope,
};
use crate::profile::{Profile, Spread};
use crate::thermal::{FlourOf, HeatCoefficients, HeatTerms};

/// The development model of a profile, ready to forecast.
#[derive(Clone, Debug)]
pub(super) struct DevelopmentForecaster {
    rates: Doubted,
    coefficients: DevelopmentCoefficients,
    scatter: Spread,
    unknown_flour_spread: f64,
}

/// The dose at the end of a stage, on the tangent at θ.
#[derive(Clone, Debug, Default)]
struct Dosed {
    dose: f64,
    by_shift: f64,
    by_clock: f64,
    by_rates: Vec<f64>,
    by_heat: Vec<f64>,
}

/// What is said of development at the end of a stage.
#[derive(Clone, Copy, Debug)]
pub(super) struct Graded {
    /// Grade of the median dose.
    pub grade: f64,
    /// Interval of the next grade.
    pub interval: Option<(f64, f64)>,
    /// Median dose, in full developments.
    pub dose: f64,
    /// Standard deviation of its logarithm; `None`: unknown.
    pub ln_sd: Option<f64>,
}

impl Graded {
    /// Nothing but a dose.
    fn unsure(dose: f64) -> Self {
        Self { grade: grade_of_dose(dose), interval: None, dose, ln_sd: None }
    }
}

impl DevelopmentForecaster {
    pub fn new(profile: &Profile, rates: Doubted, scatter: Spread, speeds: usize) -> Self {
        let flours = profile.model.flours.len();
        let mut coefficients = DevelopmentCoefficients::typical(speeds, flours);
        coefficients.set_from(&rates.natural);
        Self {
            rates,
            coefficients,
            scatter,
            unknown_flour_spread: profile.model.unknown_flour_spread,
        }
    }

    /// The stages up to `last`.
    fn doses(
        &self,
        machine: &Forecaster,
        heat: &HeatCoefficients,
        terms: &HeatTerms,
        last: usize,
    ) -> Vec<Dosed> {
        let heat_natural = heat.to_vec();
        let of_heat = machine.heat_of(terms.flour);
        let mut all = Vec::with_capacity(last + 1);
        let mut walk = DoseWalk::new(heat, &self.coefficients);
        walk.linearise(&machine.model, heat, &self.coefficients, terms, |stage, d| {
            if stage > last {
                return;
            }
            let mut dosed = Dosed {
                dose: d.dose,
                by_shift: d.by_shift,
                by_clock: d.rate_squared,
                by_rates: vec![0.0; self.rates.free.len()],
                by_heat: vec![0.0; of_heat.free.len()],
            };
            let natural = &self.rates.natural;
            self.rates.on_fitted_scale(d.by_coefficient, natural, &mut dosed.by_rates);
            of_heat.on_fitted_scale(d.by_heat, &heat_natural, &mut dosed.by_heat);
            all.push(dosed);
        });
        all
    }

    /// The variance of ln X that an unknown flour adds.
    fn of_flour(&self, flour: FlourOf) -> f64 {
        match flour {
            FlourOf::Unknown => self.unknown_flour_spread * self.unknown_flour_spread,
            _ => 0.0,
        }
    }

    /// Grade and interval for the next grade at the end of a stage. `beside` is
    /// what moves its dough temperature beside the coefficients; `told` is what
    /// earlier readings of the batch say.
    #[expect(clippy::too_many_arguments, reason = "what the dough's forecast has at hand")]
    pub fn grade(
        &self,
        machine: &Forecaster,
        heat: &HeatCoefficients,
        terms: &HeatTerms,
        batch: &Batch,
        stage: usize,
        level: f64,
        beside: Beside,
        told: Option<(&Journey<'_>, Option<&Ahead>)>,
    ) -> Graded {
        let doses = self.doses(machine, heat, terms, stage);
        let Some(here) = doses.get(stage) else { return Graded::unsure(f64::NAN) };
        let grade = grade_of_dose(here.dose);
        let (Some(of_rates), Some(of_heat)) =
            (&self.rates.covariance, &machine.heat_of(terms.flour).covariance)
        else {
            return Graded::unsure(here.dose);
        };
        let graded = machine.uncertainties.development;
        let plain = matches!(self.scatter, Spread::StudentT { .. });
        if here.dose <= 0.0 && !plain {
            let half = -crate::numeric::normal_quantile(tail(level)) * graded;
            let interval = Some(within(grade - half, grade + half));
            return Graded { interval, ..Graded::unsure(here.dose) };
        }
        if let Some((journey, ahead)) = told.filter(|_| here.dose > 0.0) {
            let flour = self.of_flour(terms.flour);
            let common = Common::new(self, machine, journey, ahead, &doses, flour);
            return self.after_grades(&common, batch, stage, level, graded);
        }
        let known = |c: &[f64], by: &[f64]| spread_of(c, by, &mut vec![0.0; by.len()]);
        let known = known(of_rates, &here.by_rates) + known(of_heat, &here.by_heat);
        match &self.scatter {
            // Plain least squares: straight lines in the grade itself.
            Spread::StudentT { sd, dof } => {
                let slope = grade_slope(here.dose);
                let sd = sd.map(|sd| (slope * slope * known + sd * sd).sqrt());
                let interval = sd.map(|sd| {
                    straight(grade, &Law::StudentT { mean: 0.0, sd, dof: *dof as f64 }, level)
                });
                let ln_sd = sd.map(|sd| sd / (slope * here.dose)).filter(|sd| sd.is_finite());
                Graded { interval, ln_sd, ..Graded::unsure(here.dose) }
            }
            Spread::Mixture { nodes } => {
                let minutes = machine.uncertainties.minutes_min;
                let Beside { inputs, share } = beside;
                let shifts = inputs + share * share * mean_square(&machine.scatter);
                let variance = (known
                    + here.by_shift * here.by_shift * shifts
                    + minutes * minutes * here.by_clock)
                    / (here.dose * here.dose)
                    + self.of_flour(terms.flour);
                let law = Law::about_zero(nodes, 1.0, variance);
                let interval = Some(bent(here.dose, &law, graded, level));
                let ln_sd = Some((variance + mean_square(&self.scatter)).sqrt());
                Graded { interval, ln_sd, ..Graded::unsure(here.dose) }
            }
        }
    }

    /// Grade and interval after the readings and grades of earlier stages.
    fn after_grades(
        &self,
        common: &Common<'_>,
        batch: &Batch,
        stage: usize,
        level: f64,
        graded: f64,
    ) -> Graded {
        let grades: Vec<(usize, f64, f64)> = (batch.stages[..stage].iter().enumerate())
            .filter_map(|(i, s)| Some((i, s.reading.development?)))
            .filter_map(|(i, read)| {
                let dose = common.dose(i);
                let off = off(read, grade_of_dose(dose))?;
                (dose > 0.0).then(|| (i, off, grade_slope(dose) * dose))
            })
            .collect();
        let mut slopes = vec![0.0; stage];
        grades.iter().for_each(|&(i, _, slope)| slopes[i] = slope);
        let told = |scatter: f64, noise: f64| {
            let mut told = Innovations::default();
            for &(i, off, by) in &grades {
                let with_taken =
                    |other| by * slopes[other] * (common.covariance(i, other) + scatter);
                told.take(
                    i,
                    with_taken,
                    by * by * (common.covariance(i, i) + scatter) + noise,
                    off,
                );
            }
            let solved = told.solve(|o| slopes[o] * (common.covariance(stage, o) + scatter));
            let left = common.covariance(stage, stage) + scatter - dot(&solved, &solved);
            (told.moves(&solved), left.max(0.0), told)
        };
        match &self.scatter {
            Spread::Mixture { nodes } => {
                let all: Vec<_> =
                    nodes.iter().map(|n| told(n.sd * n.sd, graded * graded)).collect();
                let weights: Vec<f64> = nodes.iter().map(|n| n.weight).collect();
                let likely: Vec<f64> =
                    all.iter().map(|(_, _, told)| told.ln_likelihood()).collect();
                let weights = reweighted(&weights, &likely);
                let parts = all.iter().zip(weights);
                let part = |(&(mean, variance, _), weight): (&(f64, f64, _), f64)| Part {
                    weight,
                    mean,
                    variance,
                };
                let law = Law::Mixture(parts.map(part).collect());
                let dose = common.dose(stage) * law.mean().exp();
                let ln_sd = all.iter().map(|(_, variance, _)| variance).sum::<f64>();
                let ln_sd = Some((ln_sd / all.len() as f64).sqrt());
                let interval = Some(bent(dose, &law, graded, level));
                Graded { interval, ln_sd, ..Graded::unsure(dose) }
            }
            Spread::StudentT { sd, dof } => {
                let noise = sd.map_or(0.0, |sd| sd * sd);
                let (mean, left, told) = told(0.0, noise);
                let dose = common.dose(stage) * mean.exp();
                let grade = grade_of_dose(dose);
                let (dof, taken) = (*dof as f64, told.taken().len() as f64);
                let share = (dof + told.distance()) / (dof + taken);
                let slope = grade_slope(dose) * dose;
                let all = (share * (slope * slope * left + noise)).sqrt();
                let law = Law::StudentT { mean: 0.0, sd: all, dof: dof + taken };
                let interval = sd.map(|_| straight(grade, &law, level));
                let ln_sd = sd.map(|_| all / slope).filter(|sd| sd.is_finite());
                Graded { interval, ln_sd, ..Graded::unsure(dose) }
            }
        }
    }
}

/// By how much a grade is more than its forecast; `None` where "at least full" is met.
fn off(read: f64, forecast: f64) -> Option<f64> {
    if read < LOGGED_AS_FULL {
        Some(read - forecast)
    } else {
        (forecast < FULL_GRADE).then_some(FULL_GRADE - forecast)
    }
}

/// ln X at the stages of a batch after its readings of temperature.
struct Common<'a> {
    doses: &'a [Dosed],
    /// Of each stage: how far the readings move ln X, and what they take of its covariance.
    moved: Vec<(f64, Vec<f64>)>,
    /// Covariance of ln X after them, but for scatter.
    covariance: Vec<f64>,
}

impl<'a> Common<'a> {
    fn new(
        development: &DevelopmentForecaster,
        machine: &Forecaster,
        journey: &Journey<'_>,
        ahead: Option<&Ahead>,
        doses: &'a [Dosed],
        flour: f64,
    ) -> Self {
        let n = doses.len();
        let none = Innovations::default();
        let read = ahead.map_or(&none, |a| &a.typical);
        let scatter = match (&machine.scatter, ahead) {
            (_, Some(ahead)) => ahead.scatter,
            (Spread::StudentT { .. }, None) => 0.0,
            (mixture, None) => mean_square(mixture),
        };
        let per =
            |i: usize, value: f64| if doses[i].dose > 0.0 { value / doses[i].dose } else { 0.0 };
        let moved = (0..n).map(|i| {
            let d = &doses[i];
            let solved = read.solve(|other| {
                let shifts = journey.inputs(i, other) + journey.scattered(i, other, scatter);
                let by_shift = d.by_shift * shifts;
                per(i, dot(&d.by_heat, journey.spread(other)) + by_shift)
            });
            (read.moves(&solved), solved)
        });
        let moved: Vec<(f64, Vec<f64>)> = moved.collect();
        let mut after = vec![0.0; n * n];
        // Clocks and flours are of the model with scatter; a plain fit has all in one sd.
        let minutes = machine.uncertainties.minutes_min;
        let mixed = matches!(development.scatter, Spread::Mixture { .. });
        let (clock, flour) = if mixed { (minutes * minutes, flour) } else { (0.0, 0.0) };
        let spread = |doubted: &Doubted, by: &[f64]| {
            let mut spread = vec![0.0; by.len()];
            if let Some(covariance) = &doubted.covariance {
                spread_of(covariance, by, &mut spread);
            }
            spread
        };
        for i in 0..n {
            let of_rates = spread(&development.rates, &doses[i].by_rates);
            let of_heat = spread(journey.heat(), &doses[i].by_heat);
            for j in 0..=i {
                let other = &doses[j];
                let shifts = journey.inputs(i, j) + journey.scattered(i, j, scatter);
                let all = dot(&other.by_rates, &of_rates)
                    + dot(&other.by_heat, &of_heat)
                    + doses[i].by_shift * other.by_shift * shifts
                    + clock * other.by_clock;
                let covariance = per(i, per(j, all)) + flour - dot(&moved[i].1, &moved[j].1);
                after[i * n + j] = covariance;
                after[j * n + i] = covariance;
            }
        }
        Self { doses, moved, covariance: after }
    }

    fn dose(&self, stage: usize) -> f64 {
        self.doses[stage].dose * self.moved[stage].0.exp()
    }

    fn covariance(&self, a: usize, b: usize) -> f64 {
        self.covariance[a * self.doses.len() + b]
    }
}

/// Bounds of a grade at a dose of which the law is that of ln X about it.
fn bent(dose: f64, law: &Law, graded: f64, level: f64) -> (f64, f64) {
    let Law::Mixture(parts) = law else { return (f64::NAN, f64::NAN) };
    let grade = grade_of_dose(dose);
    let sd = parts.iter().map(|p| p.weight * p.variance).sum::<f64>().sqrt();
    let side = |sign: f64| {
        let x = law.reach(sign, tail(level));
        (grade_of_dose(dose * (sign * x).exp()) - grade).hypot(x / sd * graded)
    };
    within(grade - side(-1.0), grade + side(1.0))
}

fn straight(grade: f64, law: &Law, level: f64) -> (f64, f64) {
    let half = law.reach(1.0, tail(level));
    within(grade - half, grade + half)
}

impl DevelopmentForecaster {
    pub fn coefficients(&self) -> &DevelopmentCoefficients {
        &self.coefficients
    }

    /// The rate of a dough at a speed and 24 °C, full developments a minute, and half of
    /// the interval of its logarithm; `None`: unknown.
    pub fn ln_rate(&self, speed: usize, flour: FlourOf, level: f64) -> (f64, Option<f64>) {
        let rate = self.coefficients.rate_per_min[speed] * self.flour_rate(flour);
        let mut by_natural = vec![0.0; self.rates.natural.len()];
        by_natural[speed] = 1.0 / self.coefficients.rate_per_min[speed];
        if let Some(index) = flour.other() {
            // In the order of `DevelopmentCoefficients::to_vec`: rest and Q10 lie between.
            let first = by_natural.len() - self.coefficients.flour.len();
            by_natural[first + index] = 1.0 / self.coefficients.flour[index];
        }
        let beside = match &self.scatter {
            Spread::Mixture { .. } => self.of_flour(flour),
            Spread::StudentT { .. } => 0.0,
        };
        (rate, half(&self.rates, speed, &by_natural, beside, &self.scatter, level))
    }

    /// Relative rate of a flour; one that is not known counts as the reference flour.
    pub fn flour_rate(&self, flour: FlourOf) -> f64 {
        flour.other().map_or(1.0, |f| self.coefficients.flour[f])
    }
}

/// Bounds within the scale of grades; a grade that reaches full development is logged as
/// 1, "at least full".
fn within(low: f64, high: f64) -> (f64, f64) {
    (low.clamp(0.0, 1.0), if high >= FULL_GRADE { 1.0 } else { high.max(0.0) })
}
