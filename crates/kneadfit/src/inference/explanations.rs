//! Explanations of a startling batch: it is mistyped, or the machine is unusual.
//!
//! A redescending loss has a minimum for each of them. Every row is first taken at its word;
//! then the batches that startle the others are set aside, an ordinary machine is tried, and
//! of a short log each batch is set aside in turn. Each is followed to its end, and the
//! likeliest one stays.

use super::conditional::{Conditioner, Whitened};
use super::mode::{find_mode, linearise, mode_as_suspected};
use crate::fit::{Coordinate, FitError, Readings, Suspicion};

/// An explanation's mode is near enough to be compared when it moves by less than this, in
/// the prior's spreads.
pub(super) const NEAR: f64 = 1e-3;
/// A batch this many standard deviations off what the others say starts as suspected.
const STARTLING: f64 = 3.5;
/// Odd is a batch this many standard deviations off what the others say of it.
const ODD: f64 = 2.0;
/// Another explanation must be likelier by this much, in ln: less is the same one again.
const CLEARLY: f64 = 1e-6;
/// Up to this many batches, the most startling is set aside one at a time, so that one
/// gross mistake cannot hide another; among more batches mistakes cannot hide.
const ONE_AT_A_TIME: usize = 200;
/// Up to this many batches each odd one is set aside in turn.
const EACH_IN_TURN: usize = 30;

/// From `fitted`, found with every row at its word, moves to the likeliest explanation at
/// scatter `tau`. Leaves `w` linearised there and `c` suspecting accordingly.
pub(super) fn follow(
    readings: &mut impl Readings,
    coordinates: &[Coordinate],
    tau: f64,
    ordinary: &[f64],
    c: &mut Conditioner,
    w: &mut Whitened,
    fitted: &mut Vec<f64>,
) -> Result<(), FitError> {
    let Some(loss) = c.loss else { return Ok(()) };
    // Where each begins, and who is set aside before anybody is asked.
    let mut starts: Vec<(Vec<f64>, Option<Suspicion>)> = Vec::new();
    // From here on the loss may settle where it doubts all that is sound.
    let at_their_word = c.suspicion.clone();
    if suspect_startling(w, c, tau).ok_or(FitError::NotFinite)? {
        let startling = std::mem::replace(&mut c.suspicion, at_their_word);
        starts.push((fitted.clone(), Some(startling)));
    }
    find_mode(readings, coordinates, tau, NEAR, c, w, fitted)?;
    let believing = fitted.clone();
    let mut best = (fitted.clone(), c.suspicion.clone());
    let mut likely = c.ln_evidence(w, tau).ok_or(FitError::NotFinite)?;
    let trusting = c.suspicion.clone();
    let offs = c.left_out(w, tau);
    if suspect_startling(w, c, tau).ok_or(FitError::NotFinite)?
        && starts.iter().all(|(_, aside)| aside.as_ref() != Some(&c.suspicion))
    {
        starts.push((believing.clone(), Some(c.suspicion.clone())));
    }
    // A gross mistake may bend the whole machine until nothing startles.
    starts.push((ordinary.to_vec(), None));
    let batches = w.lin.batch_count();
    if batches <= EACH_IN_TURN {
        // A batch as the others foretell it can gain nothing by being doubted.
        let odd = |b: usize| {
            offs.as_ref().is_none_or(|o| o[b].abs() > ODD) && trusting.batch[b] < loss.spread
        };
        starts.extend((0..batches).filter(|&b| odd(b)).map(|batch| {
            let mut suspicion = trusting.clone();
            suspicion.batch[batch] = loss.spread * loss.spread;
            (believing.clone(), Some(suspicion))
        }));
    }
    for (from, aside) in starts {
        *fitted = from;
        let mut found = Ok(());
        if let Some(aside) = aside {
            c.suspicion = aside;
            found = mode_as_suspected(readings, coordinates, tau, c, w, fitted);
        }
        if found.and_then(|()| find_mode(readings, coordinates, tau, NEAR, c, w, fitted)).is_err() {
            continue;
        }
        if let Some(otherwise) = c.ln_evidence(w, tau)
            && otherwise > likely + CLEARLY
        {
            best = (fitted.clone(), c.suspicion.clone());
            likely = otherwise;
        }
    }
    (*fitted, c.suspicion) = best;
    linearise(readings, w, coordinates, fitted)
}

/// Suspects, before the loss is asked, the batches that are far off what the others say of
/// them; whether any was. Without this a redescending loss may settle on the mistake.
fn suspect_startling(w: &Whitened, c: &mut Conditioner, tau: f64) -> Option<bool> {
    let loss = c.loss?;
    let batches = w.lin.batch_count();
    let one_at_a_time = batches <= ONE_AT_A_TIME;
    let most = if one_at_a_time { batches / 2 + 1 } else { 1 };
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
