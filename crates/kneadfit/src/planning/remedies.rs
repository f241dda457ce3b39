//! What would bring a dough to its temperature where water and ice do not, each planned
//! anew on this dough.

use super::Planner;
use super::aim::{Aim, MET_K};
use super::answer::{Remedy, Short};
use super::bounds;
use super::change::Change;
use super::check::check;
use super::minutes::{Free, Search};
use super::path::{Path, PathLeg, Start};
use super::request::{Draft, Wanted};
use crate::batch::Batch;
use crate::charge::{Material, Phase, REST};
use crate::thermal::Setting;

/// What gives less than this is not worth a word, K.
const WORTH_K: f64 = 0.1;
/// Warmest flour and bowl that a kitchen makes, °C; common practice, no source.
const WARM_C: f64 = 35.0;
/// Coldest water before it freezes on the way, °C.
const NEAR_FREEZING_C: f64 = 1.0;
/// Most ice in the water, and smallest and largest charge beside the planned one.
const MOST_ICE_SHARE: f64 = 0.8;
const CHARGES: (f64, f64) = (0.5, 1.5);
/// Longest rest that a dough is let stand for its temperature's sake, minutes.
const LONGEST_REST_MIN: f64 = 60.0;
/// A change is found to this many halvings of its range, then rounded to what a kitchen can
/// set: temperatures, °C; ice, kg; rest, min; charge, times.
const HALVINGS: usize = 12;
const STEP_C: f64 = 0.1;
const STEP_KG: f64 = 0.001;
const STEP_MIN: f64 = 1.0;
const STEP_TIMES: f64 = 0.01;

/// What would help a dough that ends at `now_c` instead of `wanted_c`: those that bring it
/// there first, then by how near they come.
pub(super) fn of(
    planner: &Planner,
    draft: &Draft,
    batch: &Batch,
    wanted: &Wanted,
    (now_c, wanted_c): (f64, f64),
    short: &[Short],
) -> Vec<Remedy> {
    let kitchen = Kitchen { planner, draft, batch, wanted, wanted_c, now_c, short };
    let too_warm = now_c > wanted_c;
    let limit_c = if too_warm { wanted.coldest_water_c } else { WARM_C };
    let begun = !draft.so_far.is_empty();
    let mut found: Vec<Remedy> = Vec::new();
    if !begun {
        found.extend(kitchen.water());
        if too_warm {
            found.extend(kitchen.more_ice());
        }
        found.extend(kitchen.flour(limit_c));
        found.extend(kitchen.bowl(limit_c));
    }
    found.extend(kitchen.rest());
    found.extend(kitchen.minutes(too_warm));
    if !begun {
        found.extend(kitchen.charge());
    }
    let far = |r: &Remedy| if r.reaches { 0.0 } else { (r.dough_c - wanted_c).abs() };
    found.sort_by(|a, b| far(a).total_cmp(&far(b)));
    found
}

struct Kitchen<'a> {
    planner: &'a Planner,
    draft: &'a Draft,
    /// The draft as planned.
    batch: &'a Batch,
    wanted: &'a Wanted,
    wanted_c: f64,
    now_c: f64,
    /// What it is short of as planned.
    short: &'a [Short],
}

/// From where to where a change may go, and in which steps.
#[derive(Clone, Copy)]
struct Range {
    from: f64,
    limit: f64,
    step: f64,
}

impl Range {
    /// The next step on, so that what was enough stays enough.
    fn set(self, value: f64) -> f64 {
        let steps = value / self.step;
        let steps = if self.limit > self.from {
            (steps - 1e-9).ceil().min((self.limit / self.step).floor())
        } else {
            (steps + 1e-9).floor().max((self.limit / self.step).ceil())
        };
        steps * self.step
    }
}

impl Kitchen<'_> {
    /// Where the dough ends with a change, everything that is free planned anew, °C, and what
    /// it is short of.
    fn planned(&self, change: &Change) -> Option<(f64, Vec<Short>)> {
        let (draft, wanted) = change.of(self.draft, self.wanted);
        check(self.planner, &draft, &wanted).ok()?;
        let bounds = bounds::of(self.planner, &draft, &wanted).ok()?;
        let mut aim = Aim::new(self.planner, &draft, &wanted, &bounds).ok()?;
        aim.take().ok()?;
        aim.outcome().ok().filter(|(end_c, _)| end_c.is_finite())
    }

    fn end_c(&self, change: &Change) -> Option<f64> {
        self.planned(change).map(|(end_c, _)| end_c)
    }

    /// Whether a plan is not further behind in development, nor farther above the cap, than
    /// without a change.
    fn costs_nothing_else(&self, short: &[Short]) -> bool {
        let else_short = |short: &[Short]| -> (f64, f64) {
            short.iter().fold((0.0, 0.0), |(behind, above), s| match s {
                Short::Undeveloped { wanted, reached } => (wanted - reached, above),
                Short::AboveCap { by_k } => (behind, *by_k),
                _ => (behind, above),
            })
        };
        let (now, then) = (else_short(self.short), else_short(short));
        then.0 <= now.0 + 1e-2 && then.1 <= now.1 + MET_K
    }

    /// The value within a range that brings the dough where it is wanted, or its limit where
    /// none does; `None` where it helps too little or cannot be.
    fn towards(&self, range: Range, change: impl Fn(f64) -> Change) -> Option<Remedy> {
        let off = |dough_c: f64| (dough_c - self.wanted_c) * (self.now_c - self.wanted_c).signum();
        let remedy = |value: f64| {
            let change = change(value);
            let (dough_c, short) = self.planned(&change)?;
            // What helps one wish at the cost of another is no remedy.
            self.costs_nothing_else(&short).then_some(())?;
            let reaches = (dough_c - self.wanted_c).abs() <= MET_K;
            Some(Remedy { change, dough_c, reaches })
        };
        let farthest = remedy(range.limit)?;
        if off(farthest.dough_c) > (self.now_c - self.wanted_c).abs() - WORTH_K {
            return None;
        }
        if off(farthest.dough_c) > MET_K {
            return Some(farthest);
        }
        let (mut short, mut enough) = (range.from, range.limit);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (short + enough);
            if off(self.end_c(&change(middle))?) > MET_K { short = middle } else { enough = middle }
        }
        // What a kitchen can set, then what is exact; water and ice that are planned meet the
        // temperature in either case.
        let set = remedy(range.set(enough)).filter(|r| r.reaches);
        let found = set.or_else(|| remedy(enough))?;
        // A change that goes too far in its least step is none.
        (off(found.dough_c).abs() < (self.now_c - self.wanted_c).abs()).then_some(found)
    }

    fn flour(&self, limit_c: f64) -> Option<Remedy> {
        let flour = |m: &Material| matches!(m, Material::Flour);
        let mass_kg = self.draft.charge.mass_of_kg(flour);
        let parts = self.draft.charge.ingredients.iter().filter(|i| flour(&i.material));
        let from = parts.map(|i| i.mass_kg * i.temperature_c).sum::<f64>() / mass_kg;
        let range = self.helps(Range { from, limit: limit_c, step: STEP_C })?;
        self.towards(range, Change::FlourAt)
    }

    /// Colder water than there is said to be; of water that is given, other water.
    fn water(&self) -> Option<Remedy> {
        let free = self.draft.water_is_free();
        let too_warm = self.now_c > self.wanted_c;
        if free && !too_warm || self.draft.water_kg <= 0.0 {
            return None;
        }
        let from = if free { self.wanted.coldest_water_c } else { self.draft.water_c? };
        let limit = if too_warm { NEAR_FREEZING_C } else { self.wanted.warmest_water_c };
        self.towards(self.helps(Range { from, limit, step: STEP_C })?, Change::WaterAt)
    }

    fn bowl(&self, limit_c: f64) -> Option<Remedy> {
        let from = self.draft.charge.bowl_c.unwrap_or(self.draft.charge.room_c);
        let range = self.helps(Range { from, limit: limit_c, step: STEP_C })?;
        self.towards(range, Change::BowlAt)
    }

    /// Whether going from one temperature to another is in the sense that is wanted.
    fn helps(&self, range: Range) -> Option<Range> {
        let right = (range.limit < range.from) == (self.wanted_c < self.now_c);
        (right && range.limit != range.from && range.from.is_finite()).then_some(range)
    }

    /// More ice than was given or than may be taken, up to what melts in time.
    fn more_ice(&self) -> Option<Remedy> {
        let from = self.batch.charge.mass_of_kg(|m| matches!(m, Material::Ice));
        let free = Draft { ice_kg: None, water_c: None, ..self.draft.clone() };
        let wanted = Wanted { most_ice_share: MOST_ICE_SHARE, ..self.wanted.clone() };
        let bounds = bounds::of(self.planner, &free, &wanted).ok()?;
        let limit = Aim::new(self.planner, &free, &wanted, &bounds).ok()?.most_ice_kg()?;
        (limit > from).then_some(())?;
        self.towards(Range { from, limit, step: STEP_KG }, Change::IceKg)
    }

    fn rest(&self) -> Option<Remedy> {
        // Minutes that are planned count on what rest develops: only where the log told it.
        let planned = self.draft.phases.iter().any(|p| p.minutes.is_none());
        if planned && !self.planner.knows_rest() {
            return None;
        }
        let range = Range { from: 0.0, limit: LONGEST_REST_MIN, step: STEP_MIN };
        self.towards(range, Change::Rest)
    }

    fn charge(&self) -> Option<Remedy> {
        let most_kg = self.planner.forecaster().domain().most("dough_kg");
        let mass_kg = self.batch.charge.mass_kg();
        let most = most_kg.map_or(CHARGES.1, |kg| (kg / mass_kg).clamp(1.0, CHARGES.1));
        let towards = |limit: f64| {
            self.towards(Range { from: 1.0, limit, step: STEP_TIMES }, Change::ChargeTimes)
        };
        match (towards(CHARGES.0), towards(most)) {
            (Some(a), Some(b)) => {
                let off = |r: &Remedy| (r.dough_c - self.wanted_c).abs();
                Some(if off(&a) <= off(&b) { a } else { b })
            }
            (a, b) => a.or(b),
        }
    }

    /// The same development by the minutes that warm least (or most), as far as it takes;
    /// minutes that are planned warm least as they are.
    fn minutes(&self, least: bool) -> Option<Remedy> {
        if least && self.draft.phases.iter().any(|p| p.minutes.is_none()) {
            return None;
        }
        let forecaster = self.planner.forecaster();
        let model = forecaster.model();
        let charge = &self.batch.charge;
        let (rates, flour) = forecaster.development_rates(charge.flour_name.as_deref())?;
        charge.hydration()?;
        let terms = forecaster.sums(self.batch).ok()?;
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
            let tenth = |minutes: f64| (10.0 * minutes).round() / 10.0;
            let ahead = ahead.iter().enumerate();
            ahead
                .map(|(i, p)| Phase { speed: p.speed.clone(), minutes: tenth(minutes(i)) })
                .collect()
        };
        let range = Range { from: 0.0, limit: 1.0, step: 1e-3 };
        self.towards(range, |share| Change::Minutes(phases(share)))
    }
}
