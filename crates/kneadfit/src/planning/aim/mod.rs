//! One plan: what to aim at so that the forecast is what is wanted, the cap is kept and
//! development does not stay behind.

mod judged;

use super::Planner;
use super::bounds::Bounds;
use super::error::PlanError;
use super::minutes::{Free, Search};
use super::path::{Path, PathLeg, Start};
use super::request::{Draft, Wanted};
use super::water::{Poured, Water};
use crate::batch::{Batch, Reading, Stage};
use crate::charge::{Material, Phase};
use crate::thermal::{HeatCoefficients, HeatTerms, Setting};

/// Rounds in which the aim follows the forecast; each gains a digit or more.
const MOST_ROUNDS: usize = 12;
/// A dose is met when it is within this share of what is needed.
const DOSE_MET: f64 = 1e-3;
/// A temperature is met when it is within this, K: finer than any probe reads.
pub(super) const MET_K: f64 = 0.01;
/// Halvings between a programme that keeps the cap and one that does not.
const CAP_HALVINGS: usize = 30;
/// A cap is kept when it is passed by no more than this, K.
const CAP_MET_K: f64 = 0.005;

/// A plan on its way.
pub(super) struct Aim<'a> {
    planner: &'a Planner,
    draft: &'a Draft,
    wanted: &'a Wanted,
    bounds: &'a Bounds,
    setting: Setting,
    ln_q10: f64,
    /// Where the water is planned.
    water: Option<Water>,
    poured: Poured,
    legs: Vec<PathLeg>,
    /// Phases that are over.
    over: usize,
    path: Path,
    /// End of the dough that the water is planned for, °C; less than wanted under a cap.
    aim_c: f64,
    /// Whether a cap had a say.
    capped: bool,
    /// Dose of the path for each that is forecast: other than 1 where a batch on its way was
    /// read to develop otherwise.
    path_dose: f64,
}

impl<'a> Aim<'a> {
    pub fn new(
        planner: &'a Planner,
        draft: &'a Draft,
        wanted: &'a Wanted,
        bounds: &'a Bounds,
    ) -> Result<Self, PlanError> {
        let model = planner.forecaster().model();
        let heat = planner.heat();
        let free = draft.water_is_free();
        // Water that is planned is first at 0 °C, where it holds no heat.
        let poured = Poured {
            water_c: if free { 0.0 } else { draft.water_c.unwrap_or(0.0) },
            ice_kg: if free { 0.0 } else { draft.ice_kg.unwrap_or(0.0) },
        };
        let over = draft.so_far.iter().flat_map(|s| &s.phases).count();
        let mut aim = Self {
            planner,
            draft,
            wanted,
            bounds,
            setting: Setting::default(),
            ln_q10: 0.0,
            water: None,
            poured,
            legs: Vec::new(),
            over,
            path: Path::default(),
            aim_c: wanted.dough_c.unwrap_or(f64::NAN),
            capped: false,
            path_dose: 1.0,
        };
        let batch = aim.batch();
        let terms = planner.forecaster().sums(&batch)?;
        aim.setting = Setting::new(model, heat, &terms);
        let rates = planner.rates(draft);
        aim.ln_q10 = rates.map_or(0.0, |(rates, _)| rates.q10.ln());
        let over = draft.so_far.iter().flat_map(|s| &s.phases);
        let phases = over.map(|p| (&p.speed, p.minutes));
        let phases =
            phases.chain(draft.phases.iter().map(|p| (&p.speed, p.minutes.unwrap_or(0.0))));
        aim.legs = phases
            .map(|(name, minutes)| {
                let speed = planner.speed(name);
                PathLeg {
                    power_w: speed
                        .map_or(0.0, |s| heat.friction_w_per_kg[s] * aim.setting.power_kg),
                    dose_per_min: rates.map_or(0.0, |(rates, flour)| {
                        flour * speed.map_or(rates.rest_per_min, |s| rates.rate_per_min[s])
                    }),
                    minutes,
                }
            })
            .collect();
        if free {
            aim.water = Some(aim.what_there_is(&terms));
        }
        Ok(aim)
    }

    /// The water and ice that may be poured.
    fn what_there_is(&self, terms: &HeatTerms) -> Water {
        let (draft, wanted) = (self.draft, self.wanted);
        let model = self.planner.forecaster().model();
        let mut water = Water {
            heat_kj: self.setting.start_c * self.setting.capacity,
            capacity_kj_per_k: self.setting.capacity,
            water_kg: draft.water_kg,
            ice_c: draft.ice_c,
            water_c: (wanted.coldest_water_c, wanted.warmest_water_c),
            ice_kg: (0.0, wanted.most_ice_share * draft.water_kg),
            constants: model.constants,
        };
        if let Some(ice_kg) = draft.ice_kg {
            water.ice_kg = (ice_kg, ice_kg);
            return water;
        }
        // No more ice than is melted before the end of the first mixing, in its least
        // minutes: the dough is then no colder than 0 °C.
        let first = self.legs.iter().position(|leg| leg.power_w > 0.0);
        let coldest_start_c = first.map_or(0.0, |leg| {
            let least = self.bounds.within.iter().find(|f| f.leg == leg);
            let minutes = least.map_or(self.legs[leg].minutes, |f| f.least);
            let passage = self.setting.flow(self.legs[leg].power_w).pass(0.0, minutes);
            -passage.end_c / passage.by_start
        });
        // Nor more than flour, water and the rest melt without the bowl's help: the batch can
        // then be logged, as readers of logs do not know the bowl.
        let typical = HeatCoefficients::typical(model, 0);
        let typical_kj = terms.heat_kj + typical.wetting_kj_per_kg * terms.dry_flour_kg();
        let most =
            |heat_kj: f64, start_c: f64| Water { heat_kj, ..water }.for_start(start_c).ice_kg;
        let melted_kg = most(water.heat_kj, coldest_start_c).min(most(typical_kj, 0.0));
        // A hair less, and whole steps, so that rounding does not make it more.
        let step_kg = wanted.rounding.ice_kg;
        let mut melted_kg = melted_kg * (1.0 - 1e-9);
        if step_kg > 0.0 {
            melted_kg = (melted_kg / step_kg).floor() * step_kg;
        }
        water.ice_kg.1 = water.ice_kg.1.min(melted_kg).max(0.0);
        water
    }

    /// The batch as it stands.
    fn batch(&self) -> Batch {
        let draft = self.draft;
        let mut charge = draft.charge.clone();
        let water_kg = draft.water_kg - self.poured.ice_kg;
        if water_kg > 0.0 {
            charge = charge.with(Material::Water, water_kg, self.poured.water_c);
        }
        if self.poured.ice_kg > 0.0 {
            charge = charge.with(Material::Ice, self.poured.ice_kg, draft.ice_c);
        }
        let mut stages = draft.so_far.clone();
        stages.push(Stage { phases: self.phases(), reading: Reading::default() });
        Batch { id: draft.id.clone(), date: None, charge, stages }
    }

    /// Phases ahead.
    fn phases(&self) -> Vec<Phase> {
        let ahead = self.legs.get(self.over..).unwrap_or_default();
        let minutes = ahead.iter().map(|leg| leg.minutes);
        let given = self.draft.phases.iter();
        given
            .zip(minutes.chain(std::iter::repeat(0.0)))
            .map(|(phase, minutes)| Phase { speed: phase.speed.clone(), minutes })
            .collect()
    }

    fn start(&self) -> Start {
        match &self.water {
            None => Start::At(self.setting.start_c),
            Some(water) => {
                let (least_c, most_c) = water.start_range_c();
                Start::EndingAt { end_c: self.aim_c, least_c, most_c }
            }
        }
    }

    /// Sets minutes and water for a dose; whether the dose is reached within the bounds.
    fn solve(&mut self, dose: f64, free: &[Free], up: bool) -> bool {
        let mut reached = true;
        if !free.is_empty() {
            let mut search = Search {
                setting: &self.setting,
                ln_q10: self.ln_q10,
                start: self.start(),
                free,
                path: std::mem::take(&mut self.path),
                legs: std::mem::take(&mut self.legs),
                hottest: false,
            };
            reached = search.least_heat(dose) >= dose * (1.0 - 1e-6);
            (self.path, self.legs) = (search.path, search.legs);
            self.round_minutes(free, up);
        }
        self.pour();
        reached
    }

    fn round_minutes(&mut self, free: &[Free], up: bool) {
        let step = self.wanted.rounding.minutes_min;
        if step <= 0.0 {
            return;
        }
        for free in free {
            let minutes = self.legs[free.leg].minutes / step;
            // What is a whole step but for rounding stays.
            let whole = if up { (minutes - 1e-6).ceil() } else { (minutes + 1e-6).floor() };
            self.legs[free.leg].minutes = (whole * step).clamp(free.least, free.most);
        }
    }

    /// Plans the water for the minutes as they stand.
    fn pour(&mut self) {
        let Some(water) = self.water else { return };
        self.path.end_only(&self.setting, 0.0, &self.legs);
        let start_c = (self.aim_c - self.path.end.value) / self.path.end.by_start;
        self.poured = water.for_start(start_c);
        let rounding = self.wanted.rounding;
        if self.poured.ice_kg > water.ice_kg.0 && rounding.ice_kg > 0.0 {
            let ice_kg = (self.poured.ice_kg / rounding.ice_kg - 1e-6).ceil() * rounding.ice_kg;
            self.poured = water.beside_ice(start_c, ice_kg.min(water.ice_kg.1));
        }
        if rounding.water_k > 0.0 {
            let water_c = (self.poured.water_c / rounding.water_k).round() * rounding.water_k;
            self.poured.water_c = water_c.clamp(water.water_c.0, water.water_c.1);
        }
    }

    /// The start as poured, °C.
    fn start_c(&self) -> f64 {
        self.water.map_or(self.setting.start_c, |water| water.start_c(self.poured))
    }

    /// Finds minutes, water and ice.
    pub fn take(&mut self) -> Result<(), PlanError> {
        let mut dose = if self.draft.is_developed(self.wanted) { 0.0 } else { self.wanted.develop };
        let bounds = self.bounds;
        let mut free = &bounds.within;
        if free.is_empty() && self.wanted.cap_c.is_none() {
            self.pour();
            return Ok(());
        }
        let mut wider = bounds.wider.iter();
        let mut capped_by_water = false;
        for _ in 0..MOST_ROUNDS {
            // A little more for surety must not lead beyond the log; full development may.
            while !self.solve(dose.min(self.least_dose(dose)), free, true)
                && let Some(more) = wider.next()
            {
                free = more;
            }
            self.solve(dose, free, true);
            let looked = self.look()?;
            let mut settled = true;
            if let Some(needed) = self.needed(&looked)
                && !free.is_empty()
            {
                // A batch on its way may develop otherwise than its path says.
                self.path.walk(&self.setting, self.ln_q10, Start::At(self.start_c()), &self.legs);
                let said = looked.dose.map_or(1.0, |d| d.dose);
                let path_dose = self.path.dose.value / said;
                if !self.draft.so_far.is_empty() && path_dose.is_finite() {
                    self.path_dose = path_dose;
                }
                let next = needed * path_dose;
                if next.is_finite() && (next - dose).abs() > DOSE_MET * dose {
                    dose = next;
                    settled = false;
                }
            }
            if let Some(excess_k) = looked.above_cap_k
                && self.water.is_some()
                && (excess_k > 1e-4 || (capped_by_water && excess_k < -MET_K))
            {
                capped_by_water = true;
                self.capped = true;
                let aim_c = self.aim_c - excess_k;
                let aim_c = aim_c.min(self.wanted.dough_c.unwrap_or(aim_c));
                settled &= (aim_c - self.aim_c).abs() < 1e-4;
                self.aim_c = aim_c;
            }
            if settled {
                break;
            }
        }
        self.cut(dose, free)
    }

    /// What a dose aimed at must reach even where that leads beyond what was logged.
    fn least_dose(&self, dose: f64) -> f64 {
        dose.min(self.wanted.develop * self.path_dose)
    }

    /// Where the water cannot keep the cap, minutes must.
    fn cut(&mut self, dose: f64, free: &[Free]) -> Result<(), PlanError> {
        if self.wanted.cap_c.is_none() {
            return Ok(());
        }
        let Some(excess_k) = self.look()?.above_cap_k else { return Ok(()) };
        if free.is_empty() || excess_k <= CAP_MET_K {
            return Ok(());
        }
        self.capped = true;
        let (mut keeps, mut passes) = (0.0, dose);
        for _ in 0..CAP_HALVINGS {
            let middle = 0.5 * (keeps + passes);
            self.solve(middle, free, false);
            let kept = self.look()?.above_cap_k.is_none_or(|excess_k| excess_k <= CAP_MET_K);
            if kept { keeps = middle } else { passes = middle }
        }
        self.solve(keeps, free, false);
        Ok(())
    }
}
