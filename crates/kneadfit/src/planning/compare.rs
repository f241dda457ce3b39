//! One dough on one machine, for a comparison of machines.

use super::Planner;
use super::answer::Plan;
use super::error::PlanError;
use super::request::{Draft, Wanted};
use crate::batch::{Batch, Reading, Stage};
use crate::charge::Phase;
use crate::forecast::Forecast;

/// What one dough becomes on one machine.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// The dough with its water as it was drafted (or, where that was open, as planned),
    /// kneaded to the development wanted with the least heat.
    pub kneaded: Plan,
    /// The same with the water that the wanted temperature asks for; `None` where no
    /// temperature is wanted or there is no water to plan.
    pub watered: Option<Plan>,
    /// Temperature once everything is wet, °C.
    pub start_c: f64,
    /// The path of [`Self::kneaded`], from the start on.
    pub path: Vec<Waypoint>,
    /// Whether the mean of the dough passes the cap before it is developed as wanted;
    /// `None` without a cap.
    pub cap_first: Option<bool>,
}

/// A moment of kneading.
#[derive(Clone, Debug, PartialEq)]
pub struct Waypoint {
    /// Minutes since the start.
    pub minutes: f64,
    /// What is expected then.
    pub forecast: Forecast,
}

impl Comparison {
    /// Minutes of mixing and rest.
    pub fn minutes(&self) -> f64 {
        self.kneaded.phases.iter().map(|p| p.minutes).sum()
    }

    /// By how much kneading warms the dough, K.
    pub fn warmth_k(&self) -> f64 {
        self.kneaded.forecast.dough_c - self.start_c
    }
}

/// Points of a path, the start beside them.
const WAYPOINTS: usize = 40;

impl Planner {
    /// One dough on this machine: as developed as is wanted, how warm it then is, and what
    /// water it would have taken.
    ///
    /// The cap does not stop the kneading here: whether it comes first is what is asked.
    ///
    /// # Errors
    ///
    /// [`PlanError`], as for [`Planner::plan`].
    pub fn compare(&self, draft: &Draft, wanted: &Wanted) -> Result<Comparison, PlanError> {
        let uncapped = Wanted { cap_c: None, ..wanted.clone() };
        let kneaded = self.plan(draft, &uncapped)?;
        let open = Draft { water_c: None, ..draft.clone() };
        let watered = if wanted.dough_c.is_none() || draft.water_kg <= 0.0 {
            None
        } else if draft.water_c.is_none() {
            Some(kneaded.clone())
        } else {
            Some(self.plan(&open, &uncapped)?)
        };
        let path = self.path(&kneaded.batch, wanted.level)?;
        let start_c = path.first().map_or(f64::NAN, |w| w.forecast.dough_c);
        let cap_first = wanted.cap_c.map(|cap_c| path.iter().any(|w| w.forecast.dough_c > cap_c));
        Ok(Comparison { kneaded, watered, start_c, path, cap_first })
    }

    /// What is expected on the way of a batch, in steps of equal minutes.
    fn path(&self, batch: &Batch, level: f64) -> Result<Vec<Waypoint>, PlanError> {
        let phases: Vec<&Phase> = batch.phases().filter(|p| p.minutes > 0.0).collect();
        let whole: f64 = phases.iter().map(|p| p.minutes).sum();
        let unread = |phases| Stage { phases, reading: Reading::default() };
        let mut stages = vec![unread(Vec::new())];
        let mut minutes = vec![0.0];
        for phase in phases {
            let steps = ((phase.minutes / whole * WAYPOINTS as f64).round() as usize).max(1);
            let step = phase.minutes / steps as f64;
            for _ in 0..steps {
                stages.push(unread(vec![Phase { speed: phase.speed.clone(), minutes: step }]));
                minutes.push(minutes.last().copied().unwrap_or(0.0) + step);
            }
        }
        let cut = Batch { stages, ..batch.clone() };
        let forecasts = self.forecaster().forecast(&cut, level)?;
        let waypoints = minutes.into_iter().zip(forecasts);
        Ok(waypoints.map(|(minutes, forecast)| Waypoint { minutes, forecast }).collect())
    }
}
