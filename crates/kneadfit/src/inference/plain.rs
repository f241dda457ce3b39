//! Plain least squares: no priors, no weights, every row at its word.

use super::estimate::{Estimate, Status, held};
use crate::fit::solver::{Options, Workspace};
use crate::fit::{
    Coordinate, FitError, Linearisation, ProblemRoom, Readings, TerminationReason, WhitenedProblem,
};
use crate::numeric::RankAnalysis;
use crate::prior::{Coefficient, Scale};

/// A plain fit: coefficients, their covariance and the residual scatter.
#[derive(Clone, Debug)]
pub struct PlainFit {
    /// All coefficients on their fitted scale, held ones included.
    pub fitted: Vec<f64>,
    /// Which coefficients were fitted, in order.
    pub free: Vec<usize>,
    /// Covariance of those on their fitted scale, row-major; `None` where no reading is
    /// left over to tell the scatter.
    pub covariance: Option<Vec<f64>>,
    /// Residual sum of squares.
    pub rss: f64,
    /// Readings less fitted coefficients.
    pub dof: usize,
    /// How the fit ended.
    pub outcome: TerminationReason,
    /// Estimates of all coefficients.
    pub estimates: Vec<Estimate>,
    /// Residuals (predicted − observed) and derivatives at the result.
    pub(crate) lin: Linearisation,
}

impl PlainFit {
    /// Residual standard deviation; `None` where no reading is left over.
    pub fn residual_sd(&self) -> Option<f64> {
        (self.dof > 0).then(|| (self.rss / self.dof as f64).sqrt())
    }
}

/// A positive coefficient is physically possible within this many e-foldings of its
/// prior's median; beyond, it has run away along a direction that the log leaves open.
const FARTHEST: f64 = 7.0;

/// Why a coefficient is not fitted.
#[derive(Clone, Copy, PartialEq)]
enum Hold {
    Given,
    Silent,
    Bound(f64),
}

/// Fits the free coefficients of `table` by plain least squares. Coefficients that the
/// log says nothing of are held at their priors' medians and named.
///
/// # Errors
///
/// [`FitError`] when there is no answer at all.
pub fn fit_plain(
    readings: &mut impl Readings,
    table: &[Coefficient],
) -> Result<PlainFit, FitError> {
    let mut lin = readings.shape();
    if lin.reading_count() == 0 {
        return Err(FitError::NoReadings);
    }
    let mut holds: Vec<Option<Hold>> =
        table.iter().map(|c| c.held_at.map(|_| Hold::Given)).collect();
    let start: Vec<f64> = table.iter().map(|c| c.scale.fitted(c.start())).collect();
    loop {
        let mut fitted = start.clone();
        for (value, hold) in fitted.iter_mut().zip(&holds) {
            if let Some(Hold::Bound(at)) = hold {
                *value = *at;
            }
        }
        if !readings.evaluate(&fitted, true, &mut lin) {
            return Err(FitError::NotFinite);
        }
        let silent = silent_columns(&lin, &holds);
        if !silent.is_empty() {
            for index in silent {
                holds[index] = Some(Hold::Silent);
            }
            continue;
        }
        let coordinates: Vec<Coordinate> = (0..table.len())
            .filter(|&i| holds[i].is_none())
            .map(|index| Coordinate { index, centre: 0.0, spread: 1.0 })
            .collect();
        let mut workspace = Workspace::new(coordinates.len());
        // A log that leaves a direction open sends the solver along a ridge; there is no
        // use in following it far.
        let options = Options { iteration_limit: 300, ..Options::default() };
        let mut room = ProblemRoom::default();
        let summary = WhitenedProblem::plain(readings, &coordinates, &mut lin, &mut room).solve(
            &options,
            &mut workspace,
            &mut fitted,
        );
        if coordinates.is_empty() {
            return finish(readings, table, &holds, fitted, lin, summary.reason, None);
        }
        let ran_away = (0..table.len()).find(|&i| {
            holds[i].is_none()
                && table[i].scale == Scale::Logarithm
                && (fitted[i] - start[i]).abs() > FARTHEST
        });
        if let Some(index) = ran_away {
            let at = start[index] + FARTHEST.copysign(fitted[index] - start[index]);
            holds[index] = Some(Hold::Bound(at));
            continue;
        }
        let analysis = RankAnalysis::new(workspace.factor());
        if analysis.is_full_rank() {
            if let Some(place) = untold(&analysis, coordinates.len()) {
                holds[coordinates[place].index] = Some(Hold::Silent);
                continue;
            }
            return finish(readings, table, &holds, fitted, lin, summary.reason, Some(&analysis));
        }
        // Of the coefficients that cannot be told apart, the last in the table (the finer
        // points of the model) gives way first.
        let undetermined = analysis.undetermined();
        let last = undetermined.last().copied().unwrap_or(coordinates.len() - 1);
        holds[coordinates[last].index] = Some(Hold::Silent);
    }
}

/// A variance, in units of the readings' own, that no reading of a kitchen could bring
/// down to anything: the column is nought but for rounding.
const UNTOLD: f64 = 1e24;

/// The last coefficient of which the readings say as good as nothing, if there is one.
fn untold(analysis: &RankAnalysis, count: usize) -> Option<usize> {
    let covariance = analysis.covariance()?;
    // Not a number counts as untold too.
    (0..count).rev().find(|&i| {
        let variance = covariance[i * count + i];
        variance.is_nan() || variance > UNTOLD
    })
}

/// Free coefficients on which no reading depends.
fn silent_columns(lin: &Linearisation, holds: &[Option<Hold>]) -> Vec<usize> {
    (0..holds.len())
        .filter(|&i| {
            holds[i].is_none()
                && lin.jacobian.chunks_exact(lin.coefficients).all(|row| row[i] == 0.0)
        })
        .collect()
}

fn finish(
    readings: &mut impl Readings,
    table: &[Coefficient],
    holds: &[Option<Hold>],
    fitted: Vec<f64>,
    mut lin: Linearisation,
    outcome: TerminationReason,
    analysis: Option<&RankAnalysis>,
) -> Result<PlainFit, FitError> {
    if !readings.evaluate(&fitted, true, &mut lin) {
        return Err(FitError::NotFinite);
    }
    let free: Vec<usize> = (0..table.len()).filter(|&i| holds[i].is_none()).collect();
    let rss = crate::numeric::sum::sum_of_squares(&lin.residuals);
    let dof = lin.reading_count().saturating_sub(free.len());
    let variance = if dof > 0 { rss / dof as f64 } else { f64::NAN };
    let covariance = match analysis.and_then(RankAnalysis::covariance) {
        Some(unscaled) if dof > 0 => Some(unscaled.iter().map(|v| v * variance).collect()),
        _ if free.is_empty() => Some(Vec::new()),
        _ => None,
    };
    let mut fit =
        PlainFit { fitted, free, covariance, rss, dof, outcome, estimates: Vec::new(), lin };
    fit.estimates = table
        .iter()
        .enumerate()
        .map(|(index, c)| {
            let value = c.scale.natural(fit.fitted[index]);
            match holds[index] {
                Some(Hold::Given) => held(
                    c,
                    c.held_at.unwrap_or(value),
                    Status::Fixed,
                    "held at the value that was given",
                ),
                Some(Hold::Silent) => {
                    held(c, value, Status::Fixed, "no reading of the log depends on it alone")
                }
                Some(Hold::Bound(_)) => {
                    held(c, value, Status::AtBound, "ran to the limit of what is possible")
                }
                None => free_estimate(c, index, value, &fit),
            }
        })
        .collect();
    Ok(fit)
}

fn free_estimate(c: &Coefficient, index: usize, value: f64, fit: &PlainFit) -> Estimate {
    let p = fit.free.len();
    let place = fit.free.iter().position(|&f| f == index);
    let error = match (&fit.covariance, place) {
        (Some(covariance), Some(i)) => Some(covariance[i * p + i].sqrt()),
        _ => None,
    };
    let interval_95 = error.map(|error| {
        let t = crate::numeric::quantiles::student_t_for_level(0.95, fit.dof as f64);
        let fitted = fit.fitted[index];
        (c.scale.natural(fitted - t * error), c.scale.natural(fitted + t * error))
    });
    Estimate {
        name: c.name.clone(),
        unit: c.unit,
        scale: c.scale,
        value,
        standard_error: error,
        without_error: error
            .is_none()
            .then(|| "as many coefficients as readings: none is left to tell the scatter".into()),
        interval_95,
        status: Status::Fitted,
        prior: None,
        log_share: 1.0,
    }
}
