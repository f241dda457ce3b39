//! One dough on one machine, for a comparison of machines.

use super::Planner;
use super::answer::{Plan, Short};
use super::error::PlanError;
use super::request::{Draft, Wanted};
use crate::batch::{Batch, Reading, Stage};
use crate::charge::Phase;
use crate::forecast::{DevelopmentHeat, Forecast};
use crate::numeric::quadrature;
use crate::thermal::Setting;
use crate::units::KJ_PER_MIN_PER_W;

/// What one dough becomes on one machine.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// The dough with its water as it was drafted (or, where that was open, as planned),
    /// kneaded to the development wanted with the least heat, or as near as it comes.
    pub kneaded: Plan,
    /// The same with the water that the wanted temperature asks for; `None` where no
    /// temperature is wanted or there is no water to plan.
    pub watered: Option<Plan>,
    /// Temperature once everything is wet, °C.
    pub start_c: f64,
    /// What the heat of friction alone is worth in dough and bowl, K: the first law's part
    /// of [`Self::warmth_k`] that does not pass between dough and room.
    pub friction_k: f64,
    /// Warmth that friction adds over one full development of this dough, a speed each.
    pub development_heat: Vec<DevelopmentHeat>,
    /// The path of [`Self::kneaded`], from the start on; its last is the plan's forecast.
    pub path: Vec<Waypoint>,
    /// What becomes of the cap; `None` without one.
    pub cap: Option<CapKept>,
}

/// A moment of kneading.
#[derive(Clone, Debug, PartialEq)]
pub struct Waypoint {
    /// Minutes since the start.
    pub minutes: f64,
    /// What is expected then.
    pub forecast: Forecast,
}

/// A temperature that is not to be passed, on the way of a dough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CapKept {
    /// The temperature, °C.
    pub cap_c: f64,
    /// The chance of a reading below it at the worst moment; `None` where the scatter is
    /// unknown.
    pub chance: Option<f64>,
    /// The worst moment, minutes since the start.
    pub minutes: f64,
    /// Whether that chance is no less than the one wanted; without a chance, whether the
    /// forecast stays below the cap.
    pub is_kept: bool,
}

impl Comparison {
    /// Minutes of mixing and rest.
    pub fn minutes(&self) -> f64 {
        self.kneaded.phases.iter().map(|p| p.minutes).sum()
    }

    /// By how much the dough ends warmer than it was once everything was wet, K: by the
    /// heat of friction, and by what the room gives or takes.
    pub fn warmth_k(&self) -> f64 {
        self.kneaded.forecast.dough_c - self.start_c
    }

    /// What passes between room and dough on the way, as warmth of dough and bowl, K;
    /// negative: the room takes it.
    pub fn room_k(&self) -> f64 {
        self.warmth_k() - self.friction_k
    }

    /// By which part of the development wanted the dough stays behind, 0 to 1; 0: it is
    /// reached.
    pub fn behind(&self) -> f64 {
        let behind = |short: &Short| match short {
            Short::Undeveloped { wanted, reached } => Some(1.0 - reached / wanted),
            _ => None,
        };
        self.kneaded.short_of.iter().find_map(behind).unwrap_or(0.0)
    }
}

/// Points of a path, the start beside them.
const WAYPOINTS: usize = 40;

impl Planner {
    /// One dough on this machine: as developed as is wanted, how warm it then is, and what
    /// water it would have taken.
    ///
    /// The cap does not stop the kneading here: whether it is kept, with the chance wanted,
    /// is what is asked.
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
        let (path, cap) = self.path(&kneaded.batch, wanted)?;
        let start_c = path.first().map_or(f64::NAN, |w| w.forecast.dough_c);
        let friction_k = self.friction_k(&kneaded.batch, start_c)?;
        let development_heat = self.forecaster().development_heat(&kneaded.batch, wanted.level)?;
        Ok(Comparison { kneaded, watered, start_c, friction_k, development_heat, path, cap })
    }

    /// What is expected on the way of a batch's last stage, in steps of equal minutes, and
    /// what becomes of the cap.
    fn path(
        &self,
        batch: &Batch,
        wanted: &Wanted,
    ) -> Result<(Vec<Waypoint>, Option<CapKept>), PlanError> {
        let mut path: Vec<Waypoint> = Vec::with_capacity(WAYPOINTS + 1);
        let mut cap: Option<CapKept> = None;
        for (minutes, batch) in on_the_way(batch) {
            let foreseen = self.forecaster().foreseen(&batch, wanted.level)?.pop();
            let Some((forecast, outlook)) = foreseen else { continue };
            if let Some(cap_c) = wanted.cap_c {
                let chance = outlook.dough.as_ref().map(|dough| dough.probability_below(cap_c));
                let is_kept =
                    chance.map_or(forecast.dough_c <= cap_c, |chance| chance >= wanted.chance);
                let here = CapKept { cap_c, chance, minutes, is_kept };
                let worse = cap.is_none_or(|worst| match (chance, worst.chance) {
                    (Some(chance), Some(worst)) => chance < worst,
                    _ => worst.is_kept && !is_kept,
                });
                if worse {
                    cap = Some(here);
                }
            }
            drop(outlook);
            path.push(Waypoint { minutes, forecast });
        }
        Ok((path, cap))
    }

    /// The heat of friction in the last stage, from a dough at `start_c` on, over the
    /// capacity of dough and bowl, K.
    fn friction_k(&self, batch: &Batch, start_c: f64) -> Result<f64, PlanError> {
        let forecaster = self.forecaster();
        let terms = forecaster.sums(batch)?;
        let setting = Setting::new(forecaster.model(), self.heat(), &terms);
        let (mut dough_c, mut heat_kj) = (start_c, 0.0);
        for phase in ahead(batch) {
            let q = self.speed(&phase.speed).map_or(0.0, |s| self.heat().friction_w_per_kg[s]);
            let power_w = q * setting.power_kg;
            let flow = setting.flow(power_w);
            quadrature::for_each_node(flow.rate_per_min * phase.minutes, |at, weight| {
                let warmer_k = flow.pass(dough_c, at * phase.minutes).end_c - setting.reference_c;
                let softened_w = power_w * (1.0 - setting.softening_per_k * warmer_k);
                heat_kj += weight * phase.minutes * KJ_PER_MIN_PER_W * softened_w;
            });
            dough_c = flow.pass(dough_c, phase.minutes).end_c;
        }
        Ok(heat_kj / setting.capacity)
    }
}

/// Phases of the last stage.
fn ahead(batch: &Batch) -> impl Iterator<Item = &Phase> {
    let phases = batch.stages.last().into_iter().flat_map(|stage| &stage.phases);
    phases.filter(|p| p.minutes > 0.0)
}

/// A batch as it would be if its last stage were stopped on the way, with the minutes since
/// the start. Each is mixed in as many phases as were begun: to cut a phase in two would
/// count the error of the timer twice.
fn on_the_way(batch: &Batch) -> Vec<(f64, Batch)> {
    let whole: f64 = ahead(batch).map(|p| p.minutes).sum();
    let over = batch.stages.len().saturating_sub(1);
    let mut minutes: f64 =
        batch.stages[..over].iter().flat_map(|s| &s.phases).map(|p| p.minutes).sum();
    let stopped = |phases: &[Phase]| {
        let mut stages = batch.stages[..over].to_vec();
        stages.push(Stage { phases: phases.to_vec(), reading: Reading::default() });
        Batch { stages, ..batch.clone() }
    };
    let mut begun: Vec<Phase> = Vec::new();
    let mut all = vec![(minutes, stopped(&begun))];
    for phase in ahead(batch) {
        let steps = ((phase.minutes / whole * WAYPOINTS as f64).round() as usize).max(1);
        for step in 1..=steps {
            // The last part is the phase itself, without the rounding of a division.
            let part = phase.minutes * (step as f64 / steps as f64);
            let last = Phase { speed: phase.speed.clone(), minutes: part };
            let phases = [&begun[..], &[last]].concat();
            all.push((minutes + part, stopped(&phases)));
        }
        minutes += phase.minutes;
        begun.push(phase.clone());
    }
    all
}
