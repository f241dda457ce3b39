//! The most probable coefficients at one scatter, suspicions of mistyped rows included.

use super::conditional::{Conditioner, Whitened};
use super::newton::{Near, Search};
use crate::fit::solver::{Options, Workspace};
use crate::fit::{Coordinate, FitError, ProblemRoom, Readings, TerminationReason, WhitenedProblem};

/// Turns between the solver and the covariances; each gains one to two digits, but for a
/// log that is torn over whether one of its rows is mistyped.
const MOST_TURNS: usize = 300;
/// Iterations of the solver in one turn; a log that is noise to the model needs more than
/// one turn.
const LONGEST_TURN: u64 = 100;
/// The first turns only need to come near: to this share of a standard error.
const ROUGH_TURNS: usize = 2;
const OFFSET: f64 = 1e-4;
/// At these turns Newton's method is tried, which takes all together; it may take this many
/// passes.
const NEWTON_AT: [usize; 4] = [2, 8, 20, 50];
const NEWTON_PASSES: usize = 30;
/// From these turns on, suspicions and coefficients go only this share of the way, so that
/// a log that is torn cannot swing for ever.
const GENTLER: [(usize, f64); 3] = [(100, 0.1), (40, 0.2), (15, 0.5)];

/// Evaluates the model, its derivatives and its inputs' doubt at `fitted`.
pub(super) fn linearise(
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

/// The mode at scatter `tau`, covariances and suspicions held as they are at `fitted`.
pub(super) fn mode_as_suspected(
    readings: &mut impl Readings,
    coordinates: &[Coordinate],
    tau: f64,
    c: &Conditioner,
    w: &mut Whitened,
    fitted: &mut [f64],
) -> Result<(), FitError> {
    linearise(readings, w, coordinates, fitted)?;
    let mut room = ProblemRoom::default();
    WhitenedProblem::whitened(readings, coordinates, &mut w.lin, tau, &c.suspicion, &mut room)
        .ok_or(FitError::NotFinite)?
        .solve(&roughly(), &mut Workspace::new(coordinates.len()), fitted);
    Ok(())
}

/// How the solver is asked to come near only.
fn roughly() -> Options {
    Options { offset_tolerance: OFFSET, iteration_limit: LONGEST_TURN, ..Options::default() }
}

/// The mode at scatter `tau`: by turns the solver, and the covariances and suspicions at
/// the coefficients that it found, until both stay. Leaves `w` linearised there.
pub(super) fn find_mode(
    readings: &mut impl Readings,
    coordinates: &[Coordinate],
    tau: f64,
    settled: f64,
    c: &mut Conditioner,
    w: &mut Whitened,
    fitted: &mut [f64],
) -> Result<TerminationReason, FitError> {
    let mut workspace = Workspace::new(coordinates.len());
    let mut room = ProblemRoom::default();
    let mut outcome = TerminationReason::IterationLimit;
    for turn in 0..MOST_TURNS {
        if NEWTON_AT.contains(&turn) {
            let before = (fitted.to_vec(), c.suspicion.clone());
            // A step tells less of what is left than the solver's end does.
            let near = Near::Spreads(0.01 * settled);
            let search = Search { scale: None, near, passes: NEWTON_PASSES };
            let mut held = tau;
            let met = search.run(readings, coordinates, c, w, fitted, &mut held);
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
        let rough = turn < ROUGH_TURNS;
        let options = if rough {
            roughly()
        } else {
            Options { iteration_limit: LONGEST_TURN, ..Options::default() }
        };
        let summary = WhitenedProblem::whitened(
            readings,
            coordinates,
            &mut w.lin,
            tau,
            &c.suspicion,
            &mut room,
        )
        .ok_or(FitError::NotFinite)?
        .solve(&options, &mut workspace, fitted);
        let mut moved = 0.0_f64;
        for (x, z) in coordinates.iter().zip(&w.z) {
            let found = (fitted[x.index] - x.centre) / x.spread;
            moved = moved.max((found - z).abs());
            fitted[x.index] = x.centre + x.spread * (z + share * (found - z));
        }
        if !summary.is_success() {
            outcome = summary.reason;
        } else if moved < settled && (!rough || settled > OFFSET) {
            outcome = summary.reason;
            break;
        } else {
            outcome = TerminationReason::IterationLimit;
        }
    }
    linearise(readings, w, coordinates, fitted)?;
    Ok(outcome)
}
