//! What would bring a dough to its temperature where water and ice do not, each computed on
//! this dough.

use super::Planner;
use super::aim::MET_K;
use super::answer::{Change, Remedy};
use super::error::PlanError;
use super::minutes::{Free, Search};
use super::path::{Path, PathLeg, Start};
use super::request::Wanted;
use crate::batch::Batch;
use crate::charge::{Material, Phase, REST};
use crate::thermal::{HeatTerms, Setting};

/// What gives less than this is not worth a word, K.
const WORTH_K: f64 = 0.05;
/// Warmest flour and bowl that a kitchen makes, °C; common practice, no source.
const WARM_C: f64 = 35.0;
/// Coldest water before it freezes on the way, °C.
const NEAR_FREEZING_C: f64 = 1.0;
/// Most ice in the water, and smallest and largest charge beside the planned one.
const MOST_ICE_SHARE: f64 = 0.8;
const CHARGES: (f64, f64) = (0.5, 1.5);
/// Longest rest that a dough is let stand for its temperature's sake, minutes.
const LONGEST_REST_MIN: f64 = 60.0;
const HALVINGS: usize = 60;

/// What would help a dough that ends at another temperature than `wanted_c`: those that
/// bring it there first, then by how near they come.
pub(super) fn of(
    planner: &Planner,
    batch: &Batch,
    wanted: &Wanted,
    wanted_c: f64,
) -> Result<Vec<Remedy>, PlanError> {
    let kitchen = Kitchen { planner, batch, wanted_c, now_c: end_c(planner, batch)? };
    let cold_c = wanted.coldest_water_c;
    let too_warm = kitchen.now_c > wanted_c;
    let limit_c = if too_warm { cold_c } else { WARM_C };
    let over = !batch.stages.is_empty() && batch.stages.len() > 1;
    let mut found: Vec<Remedy> = Vec::new();
    if !over {
        if too_warm {
            found.extend(kitchen.colder_water());
            found.extend(kitchen.more_ice(wanted));
        }
        found.extend(kitchen.flour(limit_c));
        found.extend(kitchen.bowl(limit_c));
    }
    found.extend(kitchen.rest());
    found.extend(kitchen.minutes(too_warm));
    if !over {
        found.extend(kitchen.charge());
    }
    let far = |r: &Remedy| if r.reaches { 0.0 } else { (r.dough_c - wanted_c).abs() };
    found.sort_by(|a, b| far(a).total_cmp(&far(b)));
    Ok(found)
}

/// The mean of the dough temperature at the end, °C.
fn end_c(planner: &Planner, batch: &Batch) -> Result<f64, PlanError> {
    let forecaster = planner.forecaster();
    let ends = forecaster.model().forecast_c(planner.heat(), batch, forecaster.speeds())?;
    Ok(ends.last().copied().unwrap_or(f64::NAN))
}

struct Kitchen<'a> {
    planner: &'a Planner,
    batch: &'a Batch,
    wanted_c: f64,
    now_c: f64,
}

impl Kitchen<'_> {
    /// The value between `from` and `limit` that brings the dough where it is wanted, or
    /// `limit` where none does; `None` where it helps too little or cannot be.
    fn towards(
        &self,
        from: f64,
        limit: f64,
        change: impl Fn(f64) -> Change,
        with: impl Fn(&mut Batch, f64),
    ) -> Option<Remedy> {
        let at = |value: f64| {
            let mut batch = self.batch.clone();
            with(&mut batch, value);
            end_c(self.planner, &batch).ok().filter(|c| c.is_finite())
        };
        let off = |dough_c: f64| (dough_c - self.wanted_c) * (self.now_c - self.wanted_c).signum();
        let limit_c = at(limit)?;
        if off(limit_c) > (self.now_c - self.wanted_c).abs() - WORTH_K {
            return None;
        }
        if off(limit_c) > MET_K {
            return Some(Remedy { change: change(limit), dough_c: limit_c, reaches: false });
        }
        let (mut short, mut beyond) = (from, limit);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (short + beyond);
            if off(at(middle)?) > 0.0 { short = middle } else { beyond = middle }
        }
        Some(Remedy { change: change(beyond), dough_c: at(beyond)?, reaches: true })
    }

    fn of_material(&self, wanted: fn(&Material) -> bool) -> Option<(f64, f64)> {
        let parts = self.batch.charge.ingredients.iter().filter(|i| wanted(&i.material));
        let (mass_kg, sum) =
            parts.fold((0.0, 0.0), |(m, s), i| (m + i.mass_kg, s + i.mass_kg * i.temperature_c));
        (mass_kg > 0.0).then(|| (mass_kg, sum / mass_kg))
    }

    fn flour(&self, limit_c: f64) -> Option<Remedy> {
        let (_, from_c) = self.of_material(|m| matches!(m, Material::Flour))?;
        self.helps(from_c, limit_c)?;
        self.towards(from_c, limit_c, Change::FlourAt, |batch, flour_c| {
            set_temperature(batch, |m| matches!(m, Material::Flour), flour_c);
        })
    }

    fn colder_water(&self) -> Option<Remedy> {
        let (_, from_c) = self.of_material(|m| matches!(m, Material::Water))?;
        self.helps(from_c, NEAR_FREEZING_C)?;
        self.towards(from_c, NEAR_FREEZING_C, Change::WaterAt, |batch, water_c| {
            set_temperature(batch, |m| matches!(m, Material::Water), water_c);
        })
    }

    fn bowl(&self, limit_c: f64) -> Option<Remedy> {
        let from_c = self.batch.charge.bowl_c.unwrap_or(self.batch.charge.room_c);
        self.helps(from_c, limit_c)?;
        self.towards(from_c, limit_c, Change::BowlAt, |batch, bowl_c| {
            batch.charge.bowl_c = Some(bowl_c);
        })
    }

    /// Whether going from one temperature to another is in the sense that is wanted.
    fn helps(&self, from_c: f64, to_c: f64) -> Option<()> {
        ((to_c < from_c) == (self.wanted_c < self.now_c) && to_c != from_c).then_some(())
    }

    /// More ice than may be taken, where the share is what stops it.
    fn more_ice(&self, wanted: &Wanted) -> Option<Remedy> {
        let (water_kg, _) = self.of_material(|m| matches!(m, Material::Water))?;
        let (ice_kg, _) = self.of_material(|m| matches!(m, Material::Ice))?;
        let share = ice_kg / (water_kg + ice_kg);
        if share < wanted.most_ice_share - 1e-3 || share >= MOST_ICE_SHARE {
            return None;
        }
        self.towards(share, MOST_ICE_SHARE, Change::IceShare, |batch, share| {
            let whole_kg = water_kg + ice_kg;
            for i in &mut batch.charge.ingredients {
                match i.material {
                    Material::Water => i.mass_kg *= (1.0 - share) * whole_kg / water_kg,
                    Material::Ice => i.mass_kg *= share * whole_kg / ice_kg,
                    _ => {}
                }
            }
        })
    }

    fn rest(&self) -> Option<Remedy> {
        self.towards(0.0, LONGEST_REST_MIN, Change::Rest, |batch, minutes| {
            if let Some(last) = batch.stages.last_mut() {
                last.phases.push(Phase::rest(minutes));
            }
        })
    }

    fn charge(&self) -> Option<Remedy> {
        let most_kg = self.planner.forecaster().domain().most("dough_kg");
        let mass_kg = self.batch.charge.mass_kg();
        let most = most_kg.map_or(CHARGES.1, |kg| (kg / mass_kg).clamp(1.0, CHARGES.1));
        let towards = |limit: f64| {
            self.towards(1.0, limit, Change::ChargeTimes, |batch, times| {
                for i in &mut batch.charge.ingredients {
                    i.mass_kg *= times;
                }
            })
        };
        let (smaller, larger) = (towards(CHARGES.0), towards(most));
        match (smaller, larger) {
            (Some(a), Some(b)) => {
                let off = |r: &Remedy| (r.dough_c - self.wanted_c).abs();
                Some(if off(&a) <= off(&b) { a } else { b })
            }
            (a, b) => a.or(b),
        }
    }

    /// The same development by the minutes that warm least (or most), as far as it takes.
    fn minutes(&self, least: bool) -> Option<Remedy> {
        let forecaster = self.planner.forecaster();
        let model = forecaster.model();
        let charge = &self.batch.charge;
        let (rates, flour) = forecaster.development_rates(charge.flour_name.as_deref())?;
        charge.hydration()?;
        let terms = HeatTerms::new(model, self.batch, forecaster.speeds()).ok()?;
        let setting = Setting::new(model, self.planner.heat(), &terms);
        let over = self.batch.stages.len() - 1;
        let over = self.batch.stages[..over].iter().map(|s| s.phases.len()).sum::<usize>();
        let mut ahead: Vec<Phase> = self.batch.stages.last()?.phases.clone();
        for name in forecaster.speeds() {
            if !ahead.iter().any(|p| p.speed == *name) {
                ahead.push(Phase::mixing(name.clone(), 0.0));
            }
        }
        let order = |p: &Phase| forecaster.speeds().iter().position(|s| *s == p.speed);
        let mut free = Vec::new();
        let of = |phase: &Phase| {
            let speed = order(phase);
            PathLeg {
                power_w: speed
                    .map_or(0.0, |s| self.planner.heat().friction_w_per_kg[s] * setting.power_kg),
                dose_per_min: flour * speed.map_or(rates.rest_per_min, |s| rates.rate_per_min[s]),
                minutes: phase.minutes,
            }
        };
        let mut legs: Vec<PathLeg> = self.batch.phases().take(over).map(of).collect();
        for (i, phase) in ahead.iter().enumerate() {
            legs.push(of(phase));
            if &*phase.speed != REST {
                let (low, high) = forecaster.domain().of_minutes(&phase.speed)?;
                free.push(Free { leg: over + i, least: low, most: high.max(phase.minutes) });
            }
        }
        if free.len() < 2 {
            return None;
        }
        let start = Start::At(setting.start_c);
        let mut path = Path::default();
        let ln_q10 = rates.q10.ln();
        path.walk(&setting, ln_q10, start, &legs);
        let dose = path.dose.value;
        let now: Vec<f64> = legs.iter().map(|l| l.minutes).collect();
        let mut search =
            Search { setting: &setting, ln_q10, start, free: &free, path, legs, hottest: !least };
        if search.least_heat(dose) < dose * (1.0 - 1e-6) {
            return None;
        }
        let far: Vec<f64> = search.legs.iter().map(|l| l.minutes).collect();
        let phases = |share: f64| -> Vec<Phase> {
            let minutes = |i: usize| now[over + i] + share * (far[over + i] - now[over + i]);
            let ahead = ahead.iter().enumerate();
            ahead.map(|(i, p)| Phase { speed: p.speed.clone(), minutes: minutes(i) }).collect()
        };
        let change = |share: f64| Change::Minutes(phases(share));
        self.towards(0.0, 1.0, change, |batch, share| {
            if let Some(last) = batch.stages.last_mut() {
                last.phases = phases(share);
            }
        })
    }
}

fn set_temperature(batch: &mut Batch, of: fn(&Material) -> bool, temperature_c: f64) {
    for i in batch.charge.ingredients.iter_mut().filter(|i| of(&i.material)) {
        i.temperature_c = temperature_c;
    }
}
