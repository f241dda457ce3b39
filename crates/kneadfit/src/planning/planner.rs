//! The planner: a profile turned round.

use super::aim::Aim;
use super::answer::{CheckPoint, Plan};
use super::bounds;
use super::check::check;
use super::error::PlanError;
use super::request::{Draft, Wanted};
use crate::batch::{Batch, Reading, Stage};
use crate::charge::REST;
use crate::development::DevelopmentCoefficients;
use crate::diagnostics::NEXT_TO_NOTHING;
use crate::forecast::Forecaster;
use crate::inference::Status;
use crate::profile::{Profile, ProfileError};
use crate::thermal::HeatCoefficients;

/// A profile made ready to plan doughs.
#[derive(Clone, Debug)]
pub struct Planner {
    forecaster: Forecaster,
    heat: HeatCoefficients,
    rest_is_known: bool,
}

impl Planner {
    /// Takes over a profile.
    ///
    /// # Errors
    ///
    /// [`ProfileError`] when the profile, made by hand, does not hold together.
    pub fn new(profile: &Profile) -> Result<Self, ProfileError> {
        let forecaster = Forecaster::new(profile)?;
        let rest = profile.coefficients.iter().find(|c| c.name == "development_at_rest");
        Ok(Self {
            heat: forecaster.heat_coefficients(),
            forecaster,
            rest_is_known: rest
                .is_some_and(|c| c.status == Status::Fitted && c.log_share >= NEXT_TO_NOTHING),
        })
    }

    /// The forecaster of the same profile.
    pub fn forecaster(&self) -> &Forecaster {
        &self.forecaster
    }

    /// Whether the log told what rest gives, so that rest may be planned.
    pub fn knows_rest(&self) -> bool {
        self.rest_is_known
    }

    /// Plans what a draft leaves open.
    ///
    /// Water and ice follow in closed form from the dough's end, which is a straight line
    /// in both. Minutes are those by which the dough takes up the least heat on its way to the
    /// development wanted (the water may then be the warmest), and a little more where the doubt of the rates would otherwise leave more
    /// than `1 − chance` of such doughs behind 0.93 ([`Wanted::ENOUGH`]).
    ///
    /// # Errors
    ///
    /// [`PlanError`] where there is no plan at all. A plan that does not give what is
    /// wanted is the nearest one, and says by how much it misses.
    ///
    /// # Examples
    ///
    /// See [the module](super).
    pub fn plan(&self, draft: &Draft, wanted: &Wanted) -> Result<Plan, PlanError> {
        check(self, draft, wanted)?;
        let bounds = bounds::of(self, draft, wanted)?;
        let mut aim = Aim::new(self, draft, wanted, &bounds)?;
        aim.take()?;
        aim.answer()
    }

    /// What to expect at the end of each phase ahead: a check on the way.
    ///
    /// # Errors
    ///
    /// [`PlanError`], as for [`Self::plan`].
    pub fn check_points(&self, plan: &Plan, level: f64) -> Result<Vec<CheckPoint>, PlanError> {
        let (batch, over) = by_phase(plan.batch.clone());
        let forecasts = self.forecaster.forecast(&batch, level)?;
        Ok(batch
            .stages
            .iter()
            .zip(forecasts)
            .skip(over)
            .flat_map(|(stage, forecast)| {
                stage.phases.first().map(|phase| CheckPoint {
                    speed: phase.speed.clone(),
                    minutes: phase.minutes,
                    forecast,
                })
            })
            .collect())
    }

    pub(super) fn heat(&self) -> &HeatCoefficients {
        &self.heat
    }

    /// Development rates and the flour's own, where this dough can develop.
    pub(super) fn rates(&self, draft: &Draft) -> Option<(&DevelopmentCoefficients, f64)> {
        let rates = self.forecaster.development_rates(draft.charge.flour_name.as_deref())?;
        (draft.charge.flour_kg() > 0.0).then_some(rates)
    }

    pub(super) fn speed(&self, name: &str) -> Option<usize> {
        self.forecaster.speeds().iter().position(|s| **s == *name)
    }

    pub(super) fn knows_speed(&self, name: &str) -> bool {
        name == REST || self.speed(name).is_some()
    }
}

/// A batch whose last stage is cut into one a phase; how many stages come before.
pub(super) fn by_phase(mut batch: Batch) -> (Batch, usize) {
    let last = batch.stages.pop();
    let over = batch.stages.len();
    let unread = |phases| Stage { phases, reading: Reading::default() };
    let phases = last.into_iter().flat_map(|s| s.phases).filter(|p| p.minutes > 0.0);
    batch.stages.extend(phases.map(|phase| unread(vec![phase])));
    if batch.stages.len() == over {
        batch.stages.push(unread(Vec::new()));
    }
    (batch, over)
}
