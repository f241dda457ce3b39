//! The coefficients that a log and the priors give together, and how well they are known.

use super::conditional::{
    Conditional, Conditioner, ON_GRID, ROUGHLY, SETTLED as REWEIGHTED, Whitened,
};
use super::explanations::{self, NEAR};
use super::guide::{Guide, Share};
use super::mode::{find_mode, linearise};
use super::newton::{Near, Search};
use super::scatter::{self, Node};
use super::skew;
use crate::fit::{Coordinate, FitError, Linearisation, MistypedRows, Readings, TerminationReason};
use crate::prior::Coefficient;

/// What is assumed of a set of readings beside their model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Assumptions {
    /// What is believed of the scatter from batch to batch.
    pub scatter: ScatterPrior,
    /// The loss for mistyped rows; `None`: every row is taken at its word.
    pub loss: Option<MistypedRows>,
}

/// What is believed of the scatter from batch to batch beforehand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ScatterPrior {
    /// Unknown: half-normal with this scale, integrated over.
    HalfNormal(f64),
    /// Known to be this, as when one fit is to be compared with another program's.
    Known(f64),
}

/// One scatter with its share of the posterior.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScatterNode {
    /// Scatter from batch to batch, standard deviation.
    pub scatter: f64,
    /// Its share; all shares sum to 1.
    pub weight: f64,
}

/// Coefficients with their joint doubt, scatter integrated over.
#[derive(Clone, Debug)]
pub struct Posterior {
    /// All coefficients on their fitted scale, held ones included: medians.
    pub fitted: Vec<f64>,
    /// Most probable coefficients at the most probable scatter, on their fitted scale.
    pub mode: Vec<f64>,
    /// Which coefficients are free, in order.
    pub free: Vec<usize>,
    /// Covariance of the free coefficients on their fitted scale, row-major.
    pub covariance: Vec<f64>,
    /// The scatter's posterior.
    pub scatter: Vec<ScatterNode>,
    /// How the fit ended.
    pub outcome: TerminationReason,
    pub(crate) whitened: Whitened,
    pub(crate) conditioner: Conditioner,
}

/// The mode is found when it moves by less than this, in the prior's spreads.
const SETTLED: f64 = 1e-8;
/// More batches than this are a great many: they are first thinned to one in [`SHARE`], or to
/// about [`FEW`] where that would be no great many any more.
const MANY: usize = 1_000;
const FEW: usize = 400;
const SHARE: usize = 32;
/// A share of at least so many tells more of a log's bend than chance does.
const GUIDES: usize = 10_000;
/// Over them the answer is near enough at this many standard errors, far below what anybody
/// can tell. A log that the model fits takes two or three passes, noise alone some twenty.
const NEAR_ENOUGH: f64 = 1e-3;
/// One that it does not fit at all, of two machines say, may take some hundred.
const MOST_PASSES: usize = 200;
/// The mean over the scatter is settled when it moves by less than this share of a
/// standard error: far below what anybody can tell.
const MEAN_SETTLED: f64 = 1e-3;
const MOST_ROUNDS: usize = 5;
/// From so many batches on, the middle one of the residuals says how wide the log scatters; it
/// is taken where it is this many times what scatters usually.
const ENOUGH_TO_TELL: usize = 20;
const PLAINLY: f64 = 2.0;
/// Batches that have less than this share of the largest squared scatter are not asked.
const TELLS: f64 = 0.1;
/// The median of a half-normal variable of scale 1.
const HALF_NORMAL_MEDIAN: f64 = 0.674_489_750_196_082;

impl Posterior {
    /// Fits the free coefficients of `table` to `readings`.
    ///
    /// # Errors
    ///
    /// [`FitError`] when there is no answer at all. A fit that did not settle is an
    /// answer with a named [`TerminationReason`].
    pub fn fit(
        readings: &mut impl Readings,
        table: &[Coefficient],
        assumptions: Assumptions,
    ) -> Result<Self, FitError> {
        let coordinates = coordinates_of(table);
        let mut fitted = start_of(table);
        let (mut w, mut c) = room_for(readings, &coordinates)?;
        if w.lin.batch_count() > MANY {
            return Self::fit_many(readings, table, assumptions, coordinates, w, c);
        }
        let Found { grid, scale, tau, outcome } =
            find(readings, &coordinates, assumptions, SETTLED, &mut c, &mut w, &mut fitted)?;
        let mode = fitted.clone();
        c.settled = ON_GRID;
        let (nodes, covariance) =
            average(readings, &coordinates, scale, &grid, &mut c, &mut w, &mut fitted)?;
        // The grid ends at its largest scatter: come back to the likeliest.
        c.settled = REWEIGHTED;
        c.settle(&w, tau).ok_or(FitError::NotFinite)?;
        let to_median =
            skew::mode_to_median(readings, &c, &mut w, &coordinates, &fitted, &covariance, tau)
                .ok_or(FitError::NotFinite)?;
        for (x, shift) in coordinates.iter().zip(&to_median) {
            fitted[x.index] += x.spread * shift;
        }
        linearise(readings, &mut w, &coordinates, &fitted)?;
        Ok(Self::assemble(fitted, mode, &coordinates, covariance, &nodes, outcome, w, c))
    }

    /// The same for a great many batches: a share of them comes near, Newton's method over
    /// all of them finishes.
    fn fit_many(
        readings: &mut impl Readings,
        table: &[Coefficient],
        assumptions: Assumptions,
        coordinates: Vec<Coordinate>,
        mut w: Whitened,
        mut c: Conditioner,
    ) -> Result<Self, FitError> {
        let mut fitted = start_of(table);
        let (tau, outcome) =
            near_mode(readings, &coordinates, assumptions, &mut c, &mut w, &mut fitted)?;
        w.turn_into_rows(&coordinates);
        let covariance = c.rest(&coordinates, tau).ok_or(FitError::NotFinite)?;
        let conditional =
            Conditional { tau, step: c.step().to_vec(), covariance: Vec::new(), ln_evidence: 0.0 };
        let nodes = [Node { conditional, weight: 1.0 }];
        let mode = fitted.clone();
        Ok(Self::assemble(fitted, mode, &coordinates, covariance, &nodes, outcome, w, c))
    }

    #[expect(clippy::too_many_arguments, reason = "the parts of one struct, each once")]
    fn assemble(
        fitted: Vec<f64>,
        mode: Vec<f64>,
        coordinates: &[Coordinate],
        mut covariance: Vec<f64>,
        nodes: &[Node],
        outcome: TerminationReason,
        whitened: Whitened,
        conditioner: Conditioner,
    ) -> Self {
        let p = coordinates.len();
        for i in 0..p {
            for j in 0..p {
                covariance[i * p + j] *= coordinates[i].spread * coordinates[j].spread;
            }
        }
        Self {
            fitted,
            mode,
            free: coordinates.iter().map(|x| x.index).collect(),
            covariance,
            scatter: nodes
                .iter()
                .map(|n| ScatterNode { scatter: n.conditional.tau, weight: n.weight })
                .collect(),
            outcome,
            whitened,
            conditioner,
        }
    }

    /// Root mean square of the scatter over its posterior.
    pub fn typical_scatter(&self) -> f64 {
        self.scatter.iter().map(|n| n.weight * n.scatter * n.scatter).sum::<f64>().sqrt()
    }

    /// Standard error of each free coefficient on its fitted scale.
    pub fn standard_errors(&self) -> Vec<f64> {
        let p = self.free.len();
        (0..p).map(|i| self.covariance[i * p + i].sqrt()).collect()
    }
}

/// All coefficients as they are before anything is read, on their fitted scale.
fn start_of(table: &[Coefficient]) -> Vec<f64> {
    table.iter().map(|c| c.scale.fitted(c.start())).collect()
}

/// Room for a fit in which every row is taken at its word.
fn room_for(
    readings: &impl Readings,
    coordinates: &[Coordinate],
) -> Result<(Whitened, Conditioner), FitError> {
    let lin = readings.shape();
    if lin.reading_count() == 0 {
        return Err(FitError::NoReadings);
    }
    let w = Whitened { lin, z: vec![0.0; coordinates.len()], ..Whitened::default() };
    let c = Conditioner::new(&w, None);
    Ok((w, c))
}

/// The most probable scatter, where to look at others, and how the search for the mode ended.
struct Found {
    grid: Vec<f64>,
    scale: f64,
    tau: f64,
    outcome: TerminationReason,
}

/// From `fitted` to the mode of the likeliest explanation at the most probable scatter, until no
/// coefficient moves by more than `settled` spreads of its prior.
fn find(
    readings: &mut impl Readings,
    coordinates: &[Coordinate],
    assumptions: Assumptions,
    settled: f64,
    c: &mut Conditioner,
    w: &mut Whitened,
    fitted: &mut Vec<f64>,
) -> Result<Found, FitError> {
    let tau = match assumptions.scatter {
        ScatterPrior::HalfNormal(scale) => HALF_NORMAL_MEDIAN * scale,
        ScatterPrior::Known(tau) => tau,
    };
    // Every row is first taken at its word: at the priors' medians, any unusual machine
    // would look like a mistake.
    let ordinary = fitted.clone();
    c.loss = None;
    find_mode(readings, coordinates, tau, NEAR, c, w, fitted)?;
    c.loss = assumptions.loss;
    let tau = match assumptions.scatter {
        ScatterPrior::HalfNormal(_) => wide_enough(&w.lin, tau),
        ScatterPrior::Known(tau) => tau,
    };
    if assumptions.loss.is_some() {
        explanations::follow(readings, coordinates, tau, &ordinary, c, w, fitted)?;
        // Explanations are compared at modes that are near only, and which of them came
        // nearest is a matter of the order of batches: the grid must not hang on that.
        find_mode(readings, coordinates, tau, settled, c, w, fitted)?;
    }
    let (grid, scale) = match assumptions.scatter {
        ScatterPrior::HalfNormal(scale) => {
            c.settled = ROUGHLY;
            let grid = scatter::place(c, w, scale).ok_or(FitError::NotFinite)?;
            c.settled = REWEIGHTED;
            (grid, scale)
        }
        ScatterPrior::Known(tau) => (vec![tau.ln()], f64::INFINITY),
    };
    let tau = scatter::middle(&grid).exp();
    let outcome = find_mode(readings, coordinates, tau, settled, c, w, fitted)?;
    Ok(Found { grid, scale, tau, outcome })
}

/// From `fitted` to the mode of a great many batches, and the most probable scatter: near enough
/// by a share of them, which themselves begin with a share, then by Newton's method over all.
fn near_mode(
    readings: &mut impl Readings,
    coordinates: &[Coordinate],
    assumptions: Assumptions,
    c: &mut Conditioner,
    w: &mut Whitened,
    fitted: &mut Vec<f64>,
) -> Result<(f64, TerminationReason), FitError> {
    let batches = w.lin.batch_count();
    if batches <= MANY {
        let found = find(readings, coordinates, assumptions, NEAR, c, w, fitted)?;
        return Ok((found.tau, found.outcome));
    }
    let share = batches / SHARE;
    let mut few = readings.thinned(batches.div_ceil(if share > MANY { share } else { FEW }));
    let (mut few_w, mut few_c) = room_for(&few, coordinates)?;
    let near = near_mode(&mut few, coordinates, assumptions, &mut few_c, &mut few_w, fitted)?;
    let times = batches as f64 / few_w.lin.batch_count() as f64;
    let mut guide = Share { readings: few, w: few_w, c: few_c, times };
    let mut tau = near.0.max(1e-6);
    c.loss = assumptions.loss;
    let scale = match assumptions.scatter {
        ScatterPrior::HalfNormal(scale) => Some(scale),
        ScatterPrior::Known(_) => None,
    };
    let search = Search { scale, near: Near::StandardErrors(NEAR_ENOUGH), passes: MOST_PASSES };
    let guide = (guide.w.lin.batch_count() >= GUIDES).then_some(&mut guide as &mut dyn Guide);
    let met = search.guided(guide, readings, coordinates, c, w, fitted, &mut tau)?;
    let outcome =
        if met { TerminationReason::ConvergedStep } else { TerminationReason::IterationLimit };
    Ok((tau, outcome))
}

/// The scatter at which explanations are compared: `tau`, but for a log that the model plainly
/// does not fit. There, every other row would look mistyped, and which of them would be decided
/// by turns without end.
fn wide_enough(lin: &Linearisation, tau: f64) -> f64 {
    let largest = (0..lin.batch_count())
        .filter_map(|batch| lin.batch(batch).shift.last())
        .fold(0.0_f64, |most, shift| most.max(shift * shift));
    let mut squares: Vec<f64> = (0..lin.batch_count())
        .filter_map(|batch| {
            let rows = lin.batch(batch);
            let (residual, shift) = (rows.residuals.last()?, rows.shift.last()?);
            let own = rows.covariance.last()?;
            // A dough that is graded full tells nothing of its dose's scatter, and one that
            // friction has hardly warmed little.
            let tells = shift * shift > TELLS * largest;
            tells
                .then(|| ((residual / HALF_NORMAL_MEDIAN).powi(2) - own).max(0.0) / (shift * shift))
        })
        .collect();
    if squares.len() < ENOUGH_TO_TELL {
        return tau;
    }
    let middle = squares.len() / 2;
    let (_, median, _) = squares.select_nth_unstable_by(middle, f64::total_cmp);
    let seen = median.sqrt();
    if seen > PLAINLY * tau && seen.is_finite() { seen } else { tau }
}

/// The free coefficients of a table, each in units of its prior's spread.
pub(super) fn coordinates_of(table: &[Coefficient]) -> Vec<Coordinate> {
    table
        .iter()
        .enumerate()
        .filter(|(_, c)| c.held_at.is_none())
        .map(|(index, c)| Coordinate {
            index,
            centre: c.scale.fitted(c.prior.median),
            spread: c.prior.spread,
        })
        .collect()
}

/// Moves `fitted` to the mean over the scatter's grid; returns the grid with its weights
/// and the covariance in prior-whitened coordinates. Leaves `w` linearised there.
fn average(
    readings: &mut impl Readings,
    coordinates: &[Coordinate],
    scale: f64,
    grid: &[f64],
    c: &mut Conditioner,
    w: &mut Whitened,
    fitted: &mut [f64],
) -> Result<(Vec<Node>, Vec<f64>), FitError> {
    let p = coordinates.len();
    let mut rounds = 0;
    loop {
        let nodes = scatter::integrate(c, w, scale, grid).ok_or(FitError::NotFinite)?;
        let (step, covariance) = scatter::mixture(&nodes);
        rounds += 1;
        let moved =
            (0..p).map(|i| step[i].abs() / covariance[i * p + i].sqrt()).fold(0.0_f64, f64::max);
        for (x, step) in coordinates.iter().zip(&step) {
            fitted[x.index] += x.spread * step;
        }
        linearise(readings, w, coordinates, fitted)?;
        if moved < MEAN_SETTLED || rounds == MOST_ROUNDS {
            return Ok((nodes, covariance));
        }
    }
}
