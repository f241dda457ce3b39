//! What the forecast says of a plan as it stands: what it is short of, and the answer.

use super::{Aim, CAP_MET_K, DOSE_MET, MET_K};
use crate::batch::{BatchError, Reading, Stage};
use crate::development::{dose_of_grade, grade_of_dose};
use crate::forecast::{DoseOutlook, Outlook};
use crate::numeric::normal_quantile;
use crate::planning::answer::{Plan, Short, Verdict};
use crate::planning::error::PlanError;
use crate::planning::planner::by_phase;
use crate::planning::remedies;
use crate::planning::request::Wanted;

/// What the forecast says of a programme.
pub(super) struct Looked {
    pub dough_c: f64,
    pub dose: Option<DoseOutlook>,
    pub within_1c: Option<f64>,
    /// By how many K the dough would have to be colder to keep the cap with the chance
    /// wanted, at its worst moment; negative: it is kept.
    pub above_cap_k: Option<f64>,
}

impl Aim<'_> {
    /// The dose that is needed so that it is as wanted, and surely enough not far behind.
    pub(super) fn needed(&self, looked: &Looked) -> Option<f64> {
        let dose = looked.dose?;
        if self.draft.is_developed(self.wanted) {
            return Some(0.0);
        }
        let wanted = self.wanted.develop;
        let enough = grade_of_dose(wanted) * Wanted::ENOUGH / grade_of_dose(1.0);
        let doubt = normal_quantile(self.wanted.chance) * dose.ln_sd.unwrap_or(0.0);
        Some(wanted.max(dose_of_grade(enough) * doubt.exp()))
    }

    pub(super) fn look(&self) -> Result<Looked, PlanError> {
        let batch = self.batch();
        let forecaster = self.planner.forecaster();
        let Some(cap_c) = self.wanted.cap_c else {
            let outlooks = forecaster.outlook(&batch)?;
            return Ok(self.looked(outlooks.last(), None));
        };
        let (mut batch, over) = by_phase(batch);
        // The dough may be warmest before it is mixed.
        let start = Stage { phases: Vec::new(), reading: Reading::default() };
        if over == 0 {
            batch.stages.insert(0, start);
        }
        let outlooks = forecaster.outlook(&batch)?;
        let mut worst: Option<f64> = None;
        for outlook in outlooks.iter().skip(over) {
            // Without a scatter that is known, the mean must do.
            let high_c = match &outlook.dough {
                Some(dough) => dough.quantile_c(self.wanted.chance),
                None => outlook.dough_c,
            };
            let excess_k = high_c - cap_c;
            worst = Some(worst.map_or(excess_k, |w: f64| w.max(excess_k)));
        }
        Ok(self.looked(outlooks.last(), worst))
    }

    fn looked(&self, outlook: Option<&Outlook<'_>>, above_cap_k: Option<f64>) -> Looked {
        let within_1c = outlook
            .zip(self.wanted.dough_c)
            .and_then(|(outlook, wanted_c)| outlook.probability_within(wanted_c, 1.0));
        Looked {
            dough_c: outlook.map_or(f64::NAN, |o| o.dough_c),
            dose: outlook.and_then(|o| o.dose()),
            within_1c,
            above_cap_k,
        }
    }

    /// Where the dough ends as planned, °C, and what it is short of.
    pub fn outcome(&self) -> Result<(f64, Vec<Short>), PlanError> {
        let looked = self.look()?;
        Ok((looked.dough_c, self.short_of(&looked)))
    }

    /// The most ice that may be planned and melts in time, kg; `None` where no water is
    /// planned.
    pub fn most_ice_kg(&self) -> Option<f64> {
        self.water.map(|water| water.ice_kg.1)
    }

    /// The plan as it stands, forecast and judged.
    pub fn answer(mut self) -> Result<Plan, PlanError> {
        let batch = self.batch();
        let forecaster = self.planner.forecaster();
        let (forecast, outlook) = forecaster
            .foreseen(&batch, self.wanted.level)?
            .pop()
            .ok_or_else(|| BatchError::NoStage { batch: batch.id.clone() })?;
        let looked = match self.wanted.cap_c {
            None => self.looked(Some(&outlook), None),
            Some(_) => self.look()?,
        };
        drop(outlook);
        let short_of = self.short_of(&looked);
        let missed_c =
            short_of.iter().any(|s| matches!(s, Short::TooWarm { .. } | Short::TooCold { .. }));
        let verdict = if !short_of.is_empty() {
            Verdict::NotReachable
        } else if !forecast.outside.is_empty() {
            Verdict::OutsideLog
        } else if self.poured.ice_kg > 0.0 {
            Verdict::WithIce
        } else {
            Verdict::Ok
        };
        self.path.end_only(&self.setting, self.start_c(), &self.legs);
        let water_kg = self.draft.water_kg - self.poured.ice_kg;
        let water_kj_per_k = self.planner.forecaster().model().constants.water_kj_per_kg_k;
        let remedies = match self.wanted.dough_c {
            Some(wanted_c) if missed_c => {
                let ends = (looked.dough_c, wanted_c);
                remedies::of(self.planner, self.draft, &batch, self.wanted, ends, &short_of)
            }
            _ => Vec::new(),
        };
        Ok(Plan {
            phases: self.phases(),
            water_c: (water_kg > 0.0 && (self.water.is_some() || self.draft.water_c.is_some()))
                .then_some(self.poured.water_c),
            water_kg,
            ice_kg: self.poured.ice_kg,
            forecast,
            dose: looked.dose.map(|d| d.dose),
            chance_within_1c: looked.within_1c,
            verdict,
            short_of,
            remedies,
            dough_k_per_water_k: water_kg * water_kj_per_k / self.setting.capacity
                * self.path.end.by_start,
            batch,
        })
    }

    fn short_of(&self, looked: &Looked) -> Vec<Short> {
        let mut short = Vec::new();
        if let Some(wanted_c) = self.wanted.dough_c {
            let off_k = looked.dough_c - wanted_c;
            if off_k > MET_K {
                short.push(Short::TooWarm { by_k: off_k });
            } else if off_k < -MET_K {
                short.push(Short::TooCold { by_k: -off_k });
            }
        }
        let minutes_are_free = !self.bounds.within.is_empty();
        if let Some(dose) = looked.dose
            && minutes_are_free
            && !self.draft.is_developed(self.wanted)
            && dose.dose < self.wanted.develop * (1.0 - 2.0 * DOSE_MET)
        {
            short.push(Short::Undeveloped { wanted: self.wanted.develop, reached: dose.dose });
        }
        if let Some(excess_k) = looked.above_cap_k {
            if excess_k > 2.0 * CAP_MET_K {
                short.push(Short::AboveCap { by_k: excess_k });
            } else if self.capped && !short.is_empty() {
                short.push(Short::Cap { allows_c: looked.dough_c });
            }
        }
        short
    }
}
