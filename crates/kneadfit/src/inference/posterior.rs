//! The coefficients that a log and the priors give together, and how well they are known.

use super::conditional::{
    Conditional, Conditioner, ON_GRID, ROUGHLY, SETTLED as REWEIGHTED, Whitened,
};
use super::newton::{Near, Search};
use super::scatter::{self, Node};
use super::score::Score;
use super::skew;
use crate::fit::solver::{Options, Workspace};
use crate::fit::{
    Coordinate, FitError, MistypedRows, Readings, TerminationReason, WhitenedProblem,
};
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
/// More batches than this are a great many: they are first thinned to about [`FEW`], or to
/// one in [`SHARE`] if that is more.
const MANY: usize = 1_000;
const FEW: usize = 400;
const SHARE: usize = 32;
/// Over them the answer is near enough at this many standard errors, far below what anybody
/// can tell. A log that the model fits takes two or three passes, noise alone some twenty.
const NEAR_ENOUGH: f64 = 1e-3;
const MOST_PASSES: usize = 60;
/// The same while the scatter is not yet fitted.
const NEAR: f64 = 1e-3;
/// Turns between the solver and the covariances; each gains one to two digits, but for a
/// log that is torn over whether one of its rows is mistyped.
const MOST_TURNS: usize = 300;
/// After these turns Newton's method is tried, which takes all together; it may take this
/// many passes.
const NEWTON_FROM: usize = 2;
const NEWTON_PASSES: usize = 30;
/// From these turns on, suspicions and coefficients go only this share of the way, so that
/// a log that is torn cannot swing for ever.
const GENTLER: [(usize, f64); 3] = [(100, 0.1), (40, 0.2), (15, 0.5)];
/// The mean over the scatter is settled when it moves by less than this share of a
/// standard error: far below what anybody can tell.
const MEAN_SETTLED: f64 = 1e-3;
const MOST_ROUNDS: usize = 5;
/// A batch this many standard deviations off what the others say starts as suspected.
const STARTLING: f64 = 3.5;
/// Another explanation must be likelier by this much, in ln: less is the same one again.
const CLEARLY: f64 = 1e-6;
/// Up to this many batches, the most startling is set aside one at a time, so that one
/// gross mistake cannot hide another; among more batches mistakes cannot hide.
const ONE_AT_A_TIME: usize = 200;
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
        let coordinates: Vec<Coordinate> = table
            .iter()
            .enumerate()
            .filter(|(_, c)| c.held_at.is_none())
            .map(|(index, c)| Coordinate {
                index,
                centre: c.scale.fitted(c.prior.median),
                spread: c.prior.spread,
            })
            .collect();
        let mut fitted: Vec<f64> = table.iter().map(|c| c.scale.fitted(c.start())).collect();
        let mut w = Whitened { lin: readings.shape(), ..Whitened::default() };
        if w.lin.reading_count() == 0 {
            return Err(FitError::NoReadings);
        }
        w.z = vec![0.0; coordinates.len()];
        let mut c = Conditioner::new(&w, assumptions.loss);
        let tau = match assumptions.scatter {
            ScatterPrior::HalfNormal(scale) => HALF_NORMAL_MEDIAN * scale,
            ScatterPrior::Known(tau) => tau,
        };
        // Every row is first taken at its word: at the priors' medians, any unusual machine
        // would look like a mistake.
        c.loss = None;
        if w.lin.batch_count() > MANY {
            return Self::fit_many(readings, table, assumptions, coordinates, w, c);
        }
        find_mode(readings, &coordinates, tau, NEAR, &mut c, &mut w, &mut fitted)?;
        c.loss = assumptions.loss;
        if c.loss.is_some() {
            find_mode(readings, &coordinates, tau, NEAR, &mut c, &mut w, &mut fitted)?;
            // Two explanations of a startling batch: it is mistyped, or the machine is
            // unusual. Both are followed to their end, and the likelier one stays.
            let mut best = (fitted.clone(), c.suspicion.clone());
            let mut likely = c.ln_evidence(&w, tau).ok_or(FitError::NotFinite)?;
            let startled = suspect_startling(&w, &mut c, tau).ok_or(FitError::NotFinite)?;
            // A gross mistake may bend the whole machine until nothing startles: the
            // third explanation starts from an ordinary machine.
            let ordinary: Vec<f64> = table.iter().map(|c| c.scale.fitted(c.start())).collect();
            for afresh in [false, true] {
                if afresh {
                    fitted.copy_from_slice(&ordinary);
                } else if !startled {
                    continue;
                }
                if find_mode(readings, &coordinates, tau, NEAR, &mut c, &mut w, &mut fitted)
                    .is_err()
                {
                    continue;
                }
                if let Some(otherwise) = c.ln_evidence(&w, tau)
                    && otherwise > likely + CLEARLY
                {
                    best = (fitted.clone(), c.suspicion.clone());
                    likely = otherwise;
                }
            }
            (fitted, c.suspicion) = best;
            linearise(readings, &mut w, &coordinates, &fitted)?;
        }
        let (grid, scale) = match assumptions.scatter {
            ScatterPrior::HalfNormal(scale) => {
                c.settled = ROUGHLY;
                let grid = scatter::place(&mut c, &w, scale).ok_or(FitError::NotFinite)?;
                c.settled = REWEIGHTED;
                (grid, scale)
            }
            ScatterPrior::Known(tau) => (vec![tau.ln()], f64::INFINITY),
        };
        let tau = scatter::middle(&grid).exp();
        let outcome = find_mode(readings, &coordinates, tau, SETTLED, &mut c, &mut w, &mut fitted)?;
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
        let batches = w.lin.batch_count();
        let every = batches.div_ceil(FEW.max(batches / SHARE));
        let few = Self::fit(&mut readings.thinned(every), table, assumptions)?;
        let mut fitted = few.mode.clone();
        let mut tau = few.typical_scatter().max(1e-6);
        drop(few);
        c.loss = assumptions.loss;
        let scale = match assumptions.scatter {
            ScatterPrior::HalfNormal(scale) => Some(scale),
            ScatterPrior::Known(_) => None,
        };
        let search = Search { scale, near: Near::StandardErrors(NEAR_ENOUGH), passes: MOST_PASSES };
        let mut score = Score::new(w.lin.coefficients);
        let met = search.run(
            readings,
            &coordinates,
            &mut c,
            &mut w,
            &mut fitted,
            &mut tau,
            &mut score,
        )?;
        let outcome =
            if met { TerminationReason::ConvergedStep } else { TerminationReason::IterationLimit };
        w.set_rows(&coordinates);
        let covariance = c.rest(&score, &coordinates, tau).ok_or(FitError::NotFinite)?;
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

/// Evaluates the model, its derivatives and its inputs' doubt at `fitted`.
fn linearise(
    readings: &mut impl Readings,
    w: &mut Whitened,
    coordinates: &[Coordinate],
    fitted: &[f64],
) -> Result<(), FitError> {
    if !readings.linearise(fitted, &mut w.lin) {
        return Err(FitError::NotFinite);
    }
    w.set_rows(coordinates);
    w.set_z(coordinates, fitted);
    Ok(())
}

/// The mode at scatter `tau`: by turns the solver, and the covariances and suspicions at
/// the coefficients that it found, until both stay. Leaves `w` linearised there.
fn find_mode(
    readings: &mut impl Readings,
    coordinates: &[Coordinate],
    tau: f64,
    settled: f64,
    c: &mut Conditioner,
    w: &mut Whitened,
    fitted: &mut [f64],
) -> Result<TerminationReason, FitError> {
    let mut workspace = Workspace::new(coordinates.len());
    let mut score = Score::new(w.lin.coefficients);
    let mut outcome = TerminationReason::IterationLimit;
    for turn in 0..MOST_TURNS {
        if turn == NEWTON_FROM {
            let before = (fitted.to_vec(), c.suspicion.clone());
            let search =
                Search { scale: None, near: Near::Spreads(settled), passes: NEWTON_PASSES };
            let mut held = tau;
            let met = search.run(readings, coordinates, c, w, fitted, &mut held, &mut score);
            if met == Ok(true) {
                w.set_rows(coordinates);
                return Ok(TerminationReason::ConvergedStep);
            }
            fitted.copy_from_slice(&before.0);
            c.suspicion = before.1;
        }
        linearise(readings, w, coordinates, fitted)?;
        let share = GENTLER.iter().find(|(from, _)| turn >= *from).map_or(1.0, |g| g.1);
        c.reconsider_here(w, tau, share).ok_or(FitError::NotFinite)?;
        // The first turns only need to come near.
        let options = Options {
            offset_tolerance: if turn < 2 { 1e-4 } else { Options::default().offset_tolerance },
            ..Options::default()
        };
        let mut problem =
            WhitenedProblem::whitened(readings, coordinates, &mut w.lin, fitted, tau, &c.suspicion)
                .ok_or(FitError::NotFinite)?;
        let summary = problem.solve(&options, &mut workspace, fitted);
        let mut moved = 0.0_f64;
        for (x, z) in coordinates.iter().zip(&w.z) {
            let found = (fitted[x.index] - x.centre) / x.spread;
            moved = moved.max((found - z).abs());
            fitted[x.index] = x.centre + x.spread * (z + share * (found - z));
        }
        if !summary.is_success() {
            outcome = summary.reason;
        } else if moved < settled {
            outcome = summary.reason;
            break;
        } else {
            outcome = TerminationReason::IterationLimit;
        }
    }
    linearise(readings, w, coordinates, fitted)?;
    Ok(outcome)
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

/// Suspects, before any robust fit, the batches that are far off what the others say of
/// them; whether any was. Without this a redescending loss may settle on the mistake.
fn suspect_startling(w: &Whitened, c: &mut Conditioner, tau: f64) -> Option<bool> {
    let loss = c.loss?;
    let batches = w.lin.batch_count();
    let one_at_a_time = batches <= ONE_AT_A_TIME;
    let most = if one_at_a_time { batches / 4 + 1 } else { 1 };
    let mut any = false;
    for _ in 0..most {
        let offs = c.left_out(w, tau)?;
        let mut found = false;
        let mut worst = (0.0, 0);
        for (batch, off) in offs.iter().enumerate() {
            if c.suspicion.batch[batch] > loss.spread {
                continue;
            }
            if !one_at_a_time && off.abs() > STARTLING {
                c.suspicion.batch[batch] = loss.spread * loss.spread;
                found = true;
            }
            if off.abs() > worst.0 {
                worst = (off.abs(), batch);
            }
        }
        if one_at_a_time && worst.0 > STARTLING {
            c.suspicion.batch[worst.1] = loss.spread * loss.spread;
            found = true;
        }
        any |= found;
        if !found {
            break;
        }
    }
    Some(any)
}
