//! Within what the minutes of a plan may lie.

use super::Planner;
use super::check::{ordered, within};
use super::error::PlanError;
use super::minutes::Free;
use super::request::{Draft, Wanted};
use crate::batch::limits;
use crate::charge::REST;

/// Bounds of the free legs of a draft; a leg counts the phases that are over too.
#[derive(Clone, Debug)]
pub(super) struct Bounds {
    /// As asked for, and within what was logged where nothing was asked.
    pub within: Vec<Free>,
    /// The same with more and more room beyond what was logged: for a dough that else
    /// stays behind.
    pub wider: [Vec<Free>; WIDER.len()],
}

/// How far beyond the most that was logged minutes may go where nobody bounds them: no
/// farther than it takes, as a profile knows what was logged best.
const WIDER: [f64; 6] = [1.1, 1.25, 1.5, 2.0, 3.0, 5.0];
/// The most where nothing was logged and nobody says, minutes.
const UNHEARD_MIN: f64 = 20.0;

/// The bounds of a draft's free minutes.
pub(super) fn of(planner: &Planner, draft: &Draft, wanted: &Wanted) -> Result<Bounds, PlanError> {
    for asked in &wanted.minutes {
        if !planner.knows_speed(&asked.speed) {
            return Err(PlanError::UnknownSpeed {
                batch: draft.id.clone(),
                speed: asked.speed.clone(),
                known: planner.forecaster().speeds().join(", "),
            });
        }
        let name = format!("minutes_{}", asked.speed);
        for minutes in [asked.least, asked.most].into_iter().flatten() {
            within(&name, minutes, limits::MINUTES)?;
        }
        ordered(&name, asked.least.unwrap_or(0.0), asked.most.unwrap_or(f64::INFINITY))?;
    }
    let over = draft.so_far.iter().flat_map(|s| &s.phases).count();
    let mut inside = Vec::new();
    let mut wider: [Vec<Free>; WIDER.len()] = Default::default();
    for (i, phase) in draft.phases.iter().enumerate() {
        if phase.minutes.is_some() {
            continue;
        }
        let speed = &*phase.speed;
        let asked = wanted.minutes.iter().rfind(|m| *m.speed == *speed);
        let (least, most) = (asked.and_then(|a| a.least), asked.and_then(|a| a.most));
        let logged = planner.forecaster().domain().of_minutes(speed);
        let (low, high, farthest) = if speed == REST {
            // Of rest no more than was logged, unless there must be.
            let far = most.unwrap_or(wanted.most_rest_min);
            let most = logged.map_or(far, |l| far.min(l.1.max(least.unwrap_or(0.0))));
            (least.unwrap_or(0.0).min(far), most, far)
        } else {
            // A dough that needs no more gets no more.
            let usual = logged.map(|l| l.0).filter(|_| !draft.is_developed(wanted));
            let low = least.or(usual).unwrap_or(0.0);
            let high = most.or(logged.map(|l| l.1)).unwrap_or(UNHEARD_MIN);
            // Where only one side was asked for, the other gives way.
            let low = if least.is_none() { low.min(high) } else { low };
            let high = if most.is_none() { high.max(low) } else { high };
            (low, high, if most.is_some() { high } else { f64::INFINITY })
        };
        let already: f64 = minutes_elsewhere(draft, i);
        let leg = over + i;
        let less = |minutes: f64| (minutes - already).max(0.0);
        inside.push(Free { leg, least: less(low), most: less(high) });
        for (room, times) in wider.iter_mut().zip(WIDER) {
            let far = (times * high).min(farthest).max(high);
            room.push(Free { leg, least: less(low), most: less(far) });
        }
    }
    Ok(Bounds { within: inside, wider })
}

/// Minutes at the same speed that are over or given.
fn minutes_elsewhere(draft: &Draft, phase: usize) -> f64 {
    let speed = &draft.phases[phase].speed;
    let over = draft.so_far.iter().flat_map(|s| &s.phases).filter(|p| p.speed == *speed);
    let given = draft.phases.iter().filter(|p| p.speed == *speed).filter_map(|p| p.minutes);
    over.map(|p| p.minutes).sum::<f64>() + given.sum::<f64>()
}
