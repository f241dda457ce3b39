//! The development grades of a log as readings of the dose model.

use std::sync::Arc;

use super::linearisation::{Linearisation, Readings, kept};
use super::logged::Logged;
use crate::batch::{BatchError, BatchLog};
use crate::development::{
    DevelopmentCoefficients, DosePath, FULL_GRADE, LN_20, LOGGED_AS_FULL, PathDose, grade_of_dose,
    grade_slope,
};
use crate::numeric::quantiles::{normal_cdf, normal_density};
use crate::prior::{Coefficient, Scale};
use crate::thermal::{FlourOf, HeatCoefficients, HeatModel, HeatTerms, HeatWalk, Uncertainties};

/// Below this many standard deviations under full, "at least full" is as good as "full".
const FAR_BELOW: f64 = -30.0;
/// A residual of fewer standard deviations than this is none.
const MET: f64 = 1e-9;

/// The logged grades of one machine, prepared for fitting on a heat balance that has
/// been fitted before.
#[derive(Clone, Debug)]
pub struct DevelopmentReadings {
    uncertainties: Uncertainties,
    /// Standard deviation of the dough temperature's forecast, K: how far the path may
    /// be off.
    path_k: f64,
    scales: Vec<Scale>,
    coefficients: DevelopmentCoefficients,
    natural: Vec<f64>,
    sums: PathDose,
    batches: Vec<DosePath>,
    logged: Arc<Logged>,
}

impl DevelopmentReadings {
    /// Prepares the batches of `log` in which a grade was given. `flours` are those with
    /// a relative rate of their own; every other flour counts as the reference flour.
    ///
    /// # Errors
    ///
    /// The first batch that cannot be: see [`BatchError`].
    pub fn new(
        model: HeatModel,
        heat: HeatCoefficients,
        path_k: f64,
        uncertainties: Uncertainties,
        log: &BatchLog,
        flours: &[Arc<str>],
        table: &[Coefficient],
    ) -> Result<Self, BatchError> {
        let speeds = log.speeds.len();
        let mut walk = HeatWalk::new(speeds);
        let mut logged = Logged::default();
        let mut batches = Vec::new();
        for (index, batch) in log.batches.iter().enumerate() {
            // Without flour there is no gluten, whatever was graded.
            if batch.charge.flour_kg() <= 0.0 {
                continue;
            }
            let graded = batch.stages.iter().enumerate();
            let graded = graded.filter_map(|(i, s)| Some((i as u32, s.reading.development?)));
            if logged.push(index as u32, graded) {
                let flour = FlourOf::among(batch.charge.flour_name.as_ref(), flours);
                let terms = HeatTerms::new(&model, batch, &log.speeds)?.of_flour(flour);
                batches.push(DosePath::new(&model, &heat, &terms, &mut walk));
            }
        }
        Ok(Self {
            uncertainties,
            path_k,
            scales: table.iter().map(|c| c.scale).collect(),
            coefficients: DevelopmentCoefficients::typical(speeds, flours.len()),
            natural: vec![0.0; table.len()],
            sums: PathDose::default(),
            batches,
            logged: Arc::new(logged),
        })
    }

    /// The grades that are fitted, and where in the log they stand.
    pub(crate) fn logged(&self) -> &Arc<Logged> {
        &self.logged
    }

    fn set(&mut self, fitted: &[f64]) -> bool {
        for ((natural, scale), &value) in self.natural.iter_mut().zip(&self.scales).zip(fitted) {
            *natural = scale.natural(value);
        }
        self.coefficients.set_from(&self.natural);
        self.natural.iter().all(|v| v.is_finite())
    }
}

/// Residual of a grade, and its derivative by the grade that the model says.
///
/// A grade of 1 says "judged at least full": with judgements that scatter by σ,
///
/// ```text
/// p = Φ(u) / Φ(u₁),   u = (D − 0.95)/σ,   u₁ = (1 − 0.95)/σ
/// residual = −σ √(−2 ln p)
/// ```
///
/// which is `D − 0.95` far below, and fades to nothing as D nears 1. Cut off at 0.95
/// instead, the log's fullest doughs would say nothing at all, and the prior alone would
/// say how far beyond full they were.
fn residual(dose: f64, observed: f64, sd: f64) -> (f64, f64) {
    let predicted = grade_of_dose(dose);
    if observed < LOGGED_AS_FULL {
        return (predicted - observed, 1.0);
    }
    let u = (predicted - FULL_GRADE) / sd;
    if u < FAR_BELOW {
        return (predicted - FULL_GRADE, 1.0);
    }
    let root = (-2.0 * ln_full(dose, u, sd)).max(0.0).sqrt();
    if root < MET {
        return (0.0, 0.0);
    }
    (-sd * root, normal_density(u) / (normal_cdf(u) * root))
}

/// ln p of [`residual`].
fn ln_full(dose: f64, u: f64, sd: f64) -> f64 {
    let most = (1.0 - FULL_GRADE) / sd;
    // How far D is below 1, without the digits that 1 − D would lose.
    let short = (-dose * LN_20).exp() / sd;
    if short >= 1e-2 {
        return (normal_cdf(u) / normal_cdf(most)).ln();
    }
    let middle = most - 0.5 * short;
    let bend = (middle * middle - 1.0) * short * short / 24.0;
    let missing = short * normal_density(middle) * (1.0 + bend);
    (-missing / normal_cdf(most)).ln_1p()
}

/// By how much the row of an "at least full" must grow (and its residual shrink) so that
/// its square is the curvature of its likelihood along the dose: the square of the slope
/// alone, Gauss and Newton's curvature, is too little where the residual fades.
fn curved(dose: f64, sd: f64) -> f64 {
    let grade = grade_of_dose(dose);
    let slope = grade_slope(dose);
    let u = (grade - FULL_GRADE) / sd;
    let (off, by_grade) = residual(dose, 1.0, sd);
    let flat = by_grade * slope;
    if u < FAR_BELOW || flat <= MET * slope || dose <= 0.0 {
        return 1.0;
    }
    let pull = normal_density(u) / normal_cdf(u);
    // L = −σ² ln p:  L' = off · flat,  L'' = pull (pull + u) D'² + σ pull ln 20 · D';
    // and on the logarithm of the dose, on which rates are fitted, L'' + L'/X.
    let curvature = pull * (pull + u) * slope * slope + sd * pull * LN_20 * slope;
    ((curvature + off * flat / dose) / (flat * flat)).max(1.0).sqrt()
}

impl Readings for DevelopmentReadings {
    fn thinned(&self, every: usize) -> Self {
        let kept = kept(every, self.batches.len());
        Self {
            batches: kept.iter().map(|&i| self.batches[i].clone()).collect(),
            logged: Arc::new(self.logged.only(&kept)),
            scales: self.scales.clone(),
            coefficients: self.coefficients.clone(),
            natural: self.natural.clone(),
            sums: self.sums.clone(),
            path_k: self.path_k,
            uncertainties: self.uncertainties,
        }
    }

    fn shape(&self) -> Linearisation {
        Linearisation::with_shape(self.scales.len(), self.logged.counts())
    }

    fn evaluate(&mut self, fitted: &[f64], _: bool, into: &mut Linearisation) -> bool {
        if !self.set(fitted) {
            return false;
        }
        let n = self.scales.len();
        let Self { coefficients, natural, scales, sums, logged, uncertainties, .. } = self;
        let Logged { stages, values: observed, offsets, .. } = &**logged;
        let mut finite = true;
        for (index, path) in self.batches.iter().enumerate() {
            let (start, end) = (offsets[index] as usize, offsets[index + 1] as usize);
            let mut next = start;
            path.linearise(coefficients, sums, |stage, d| {
                if next == end || stages[next] as usize != stage {
                    return;
                }
                finite &= d.dose.is_finite();
                let row = &mut into.jacobian[next * n..(next + 1) * n];
                let (off, by_grade) = residual(d.dose, observed[next], uncertainties.development);
                let slope = by_grade * grade_slope(d.dose);
                into.residuals[next] = off;
                into.shift[next] = slope * d.dose;
                for (((to, &by), scale), &value) in
                    row.iter_mut().zip(&d.by_coefficient).zip(&*scales).zip(&*natural)
                {
                    *to = slope * by * scale.slope(value);
                }
                next += 1;
            });
        }
        finite
    }

    fn spread(&mut self, fitted: &[f64], into: &mut Linearisation) {
        self.set(fitted);
        into.covariance.fill(0.0);
        let Self { coefficients, sums, logged, uncertainties, path_k, .. } = self;
        let Logged { stages, values: observed, offsets, .. } = &**logged;
        let n = self.scales.len();
        let graded = uncertainties.development * uncertainties.development;
        let minutes = uncertainties.minutes_min * uncertainties.minutes_min;
        let mut by_path = Vec::new();
        let mut by_clock = Vec::new();
        for (index, path) in self.batches.iter().enumerate() {
            let rows = offsets[index] as usize..offsets[index + 1] as usize;
            by_path.clear();
            by_clock.clear();
            let wanted = &stages[rows.clone()];
            path.linearise(coefficients, sums, |stage, d| {
                if let Some(reading) = wanted.iter().position(|&s| s as usize == stage) {
                    let reading = rows.start + reading;
                    if observed[reading] >= LOGGED_AS_FULL {
                        let more = curved(d.dose, uncertainties.development);
                        into.residuals[reading] /= more;
                        into.shift[reading] *= more;
                        for by in &mut into.jacobian[reading * n..(reading + 1) * n] {
                            *by *= more;
                        }
                    }
                    let slope = grade_slope(d.dose);
                    by_path.push(slope * d.by_shift * *path_k);
                    by_clock.push(slope * (d.rate_squared * minutes).sqrt());
                }
            });
            let count = rows.len();
            let begin = into.blocks[index] as usize;
            for i in 0..count {
                for j in 0..=i {
                    into.covariance[begin + i * count + j] =
                        by_path[i] * by_path[j] + by_clock[i] * by_clock[j];
                }
                into.covariance[begin + i * count + i] += graded;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The slope against differences of the residual, from a shaggy dough to one far beyond
    /// full, over both forms of ln p.
    #[test]
    fn a_full_grade_pulls_as_its_likelihood_does() {
        for sd in [0.02, 0.05, 0.3] {
            for dose in [0.01, 0.2, 0.6, 0.9, 1.0, 1.3, 1.6, 1.9, 2.2, 3.0, 5.0] {
                let step = 1e-5;
                let at = |dose: f64| residual(dose, 1.0, sd).0;
                let by_difference = (at(dose + step) - at(dose - step)) / (2.0 * step);
                let exact = residual(dose, 1.0, sd).1 * grade_slope(dose);
                assert!(
                    (by_difference - exact).abs() < 1e-6 * exact.abs(),
                    "{sd} {dose}: {by_difference} {exact}"
                );
                assert!(at(dose) <= 0.0 && curved(dose, sd) >= 1.0);
            }
        }
        assert!((residual(0.1, 1.0, 0.05).0 - (grade_of_dose(0.1) - FULL_GRADE)).abs() < 0.03);
    }
}
