//! The closed loop in kitchens that are richer than the model: calibrated on ten batches,
//! planned, poured and mixed with the errors of every thermometer, scale and timer.

use kneadfit::calibration::{Options, calibrate};
use kneadfit::charge::{Charge, Material};
use kneadfit::planning::{Draft, Plan, Planner, Short, Verdict, Wanted};
use kneadfit::profile::{Profile, Provenance};

use crate::support::kitchen::{Kitchen, MixedBatch, StagePlan};
use crate::support::machines::MachineKind;
use crate::support::rng::Draws;

const WANTED_C: f64 = 24.0;
const KITCHENS: usize = 100;
const DOUGHS: usize = 10;
const LOGGED: usize = 10;

/// What is on the bench but for the formula water, and how much of that there is to be.
pub fn draft(noted: &Charge) -> Draft {
    let is_water = |m: &Material| matches!(m, Material::Water | Material::Ice);
    let water_kg = noted.mass_of_kg(is_water);
    let mut charge = noted.clone();
    charge.ingredients.retain(|i| !is_water(&i.material));
    Draft { ice_c: -5.0, ..Draft::new("next", charge, water_kg) }
}

/// A plan and the dough that was mixed by it.
struct Mixed {
    plan: Plan,
    mixed: MixedBatch,
    coldest_c: f64,
    /// What somebody who knew the kitchen perfectly would have forecast of it, °C.
    best_c: f64,
}

impl Mixed {
    fn reached(&self) -> bool {
        self.plan.verdict != Verdict::NotReachable
    }

    /// The reading at the end beside what was wanted, °C.
    fn miss_k(&self) -> f64 {
        self.mixed.observed_dough_c().unwrap() - WANTED_C
    }

    /// The part of it that is the batch's own: nobody could have planned it away, °C.
    fn luck_k(&self) -> f64 {
        self.mixed.observed_dough_c().unwrap() - self.best_c
    }
}

/// Whose minutes a plan keeps.
#[derive(Clone, Copy, PartialEq)]
enum Minutes {
    /// The baker's own programme: water and ice are planned.
    Given,
    /// Those that reach full development are planned too.
    Planned,
}

/// What the baker logs before the first plan.
#[derive(Clone, Copy)]
enum Logged {
    /// So many batches of the usual production, most of them read once.
    Usual(usize),
    /// So many of the README's for a new mixer, read at each change of speed.
    AsAdvised(usize),
}

/// Doughs planned on what is logged and mixed in many kitchens, over rooms of 16 to 32 °C.
fn mixed_as_planned(kind: MachineKind, minutes: Minutes, logged: Logged) -> Vec<Mixed> {
    let mut draws = Draws::seeded(4_100 + kind.name().len() as u64);
    let mut all = Vec::new();
    for _ in 0..KITCHENS {
        let kitchen = Kitchen::draw(&mut draws, kind);
        let log = match logged {
            Logged::Usual(batches) => kitchen.log(&mut draws, batches),
            Logged::AsAdvised(batches) => kitchen.calibration_log(&mut draws, batches),
        };
        let Ok(calibration) = calibrate(&log, &Options::default()) else { continue };
        if calibration.development.is_none() {
            continue;
        }
        let profile = Profile::new(&calibration, &Provenance::default());
        let planner = Planner::new(&profile).unwrap();
        let coldest_c = kitchen.place.fridge_c;
        let wanted = Wanted { coldest_water_c: coldest_c, ..Wanted::dough_at(WANTED_C) };
        for _ in 0..DOUGHS {
            let room_c = draws.uniform(16.0, 32.0);
            let day = 365.0 * draws.unit();
            let intended = kitchen.intend_in_room(&mut draws, day, room_c);
            let setup = kitchen.set_up(&mut draws, &intended, day);
            let mut draft = draft(&setup.noted);
            if minutes == Minutes::Planned {
                for speed in kind.speeds() {
                    draft = draft.as_needed(*speed);
                }
            } else {
                for phase in kitchen.programme(&mut draws).iter().flat_map(|s| &s.phases) {
                    draft = draft.mixing(phase.speed.clone(), phase.minutes);
                }
            }
            let plan = planner.plan(&draft, &wanted).unwrap();
            let Some(water_c) = plan.water_c else { continue };
            let poured = kitchen.pour(&mut draws, &setup, water_c, plan.ice_kg, draft.ice_c);
            let stages = [StagePlan::read(plan.phases.clone())];
            let mixed = kitchen.mix(&mut draws, &poured, "next", &stages);
            let best_c = kitchen.best_forecast(&mixed.logged)[0].dough_c;
            all.push(Mixed { plan, mixed, coldest_c, best_c });
        }
    }
    all
}

fn share<'a>(mixed: impl Iterator<Item = &'a Mixed>, of: impl Fn(&Mixed) -> bool) -> f64 {
    mean(mixed, |m| f64::from(u8::from(of(m))))
}

fn mean<'a>(mixed: impl Iterator<Item = &'a Mixed>, of: impl Fn(&Mixed) -> f64) -> f64 {
    let (sum, count) = mixed.fold((0.0, 0.0), |(s, n), m| (s + of(m), n + 1.0));
    sum / count
}

/// Root mean square of the miss, °C.
fn miss<'a>(mixed: impl Iterator<Item = &'a Mixed>) -> f64 {
    mean(mixed, |m| m.miss_k().powi(2)).sqrt()
}

/// Root mean square of what nobody could plan away, °C.
fn luck<'a>(mixed: impl Iterator<Item = &'a Mixed>) -> f64 {
    mean(mixed, |m| m.luck_k().powi(2)).sqrt()
}

fn never_colder_than_there_is(all: &[Mixed]) {
    for m in all {
        let coldest = m.plan.water_c.is_none_or(|c| c >= m.coldest_c);
        assert!(coldest, "water at {:?} °C, coldest {}", m.plan.water_c, m.coldest_c);
        if m.plan.verdict == Verdict::Ok {
            assert!((m.plan.forecast.dough_c - WANTED_C).abs() <= 0.01);
        }
    }
}

/// Chance within 1 °C as said, over all plans, and how often it was kept.
fn chance(all: &[Mixed]) -> (f64, f64) {
    let said = mean(all.iter(), |m| m.plan.chance_within_1c.unwrap());
    (said, share(all.iter(), |m| m.miss_k().abs() <= 1.0))
}

#[test]
fn doughs_end_where_they_were_planned_to() {
    for kind in [MachineKind::Spiral, MachineKind::Planetary, MachineKind::Hands] {
        let name = kind.name();
        let all = mixed_as_planned(kind, Minutes::Given, Logged::Usual(LOGGED));
        never_colder_than_there_is(&all);
        let reached = || all.iter().filter(|m| m.reached());
        let inside =
            || all.iter().filter(|m| matches!(m.plan.verdict, Verdict::Ok | Verdict::WithIce));
        let (said, kept) = chance(&all);
        println!(
            "{name:<9}: {} plans, {} reach: miss {:.2} °C, {:.2} °C of it luck; {} inside the log: miss {:.2} °C; within 1 °C said {said:.3}, kept {kept:.3}",
            all.len(),
            reached().count(),
            miss(reached()),
            luck(reached()),
            inside().count(),
            miss(inside()),
        );
        assert!(all.len() >= 200 && inside().count() >= 100, "{name}");
        assert!(miss(inside()) < 1.0, "{name}: {}", miss(inside()));
        // Ten batches of any kind tell little of three speeds: a planetary's doughs that lie
        // outside what was logged, most of them with much ice, miss by more, and say so. Luck
        // alone is 0.7 °C there. Ten as the README asks for do better, see below.
        let most_k = if kind == MachineKind::Planetary { 1.25 } else { 1.0 };
        assert!(miss(reached()) < most_k, "{name}: {}", miss(reached()));
        let true_to = if kind == MachineKind::Hands { 0.08 } else { 0.05 };
        assert!((said - kept).abs() < true_to, "{name}: said {said}, kept {kept}");
    }
}

/// What a planetary's plans on ten batches lack is batches: on three times as many they miss by
/// hardly more than one who knew the kitchen would.
#[test]
fn more_batches_bring_a_planetarys_doughs_near() {
    let misses = [LOGGED, 3 * LOGGED].map(|logged| {
        let all = mixed_as_planned(MachineKind::Planetary, Minutes::Given, Logged::Usual(logged));
        let reached = || all.iter().filter(|m| m.reached());
        println!(
            "planetary on {logged} batches: miss {:.2} °C, {:.2} °C of it luck",
            miss(reached()),
            luck(reached())
        );
        miss(reached())
    });
    assert!(misses[1] < 1.0 && misses[1] < 0.85 * misses[0], "{misses:?}");
}

/// Ten batches of a new mixer, mixed and read as the README asks for: doughs over all rooms come
/// out within a degree (root mean square), nearer than after ten of the usual production, and as
/// often within 1 °C as was said.
#[test]
fn after_ten_batches_as_advised_doughs_end_within_a_degree() {
    for kind in [MachineKind::Spiral, MachineKind::Planetary, MachineKind::Hands] {
        let name = kind.name();
        let [usual, advised] = [Logged::Usual(LOGGED), Logged::AsAdvised(LOGGED)]
            .map(|logged| mixed_as_planned(kind, Minutes::Given, logged));
        never_colder_than_there_is(&advised);
        let reached = || advised.iter().filter(|m| m.reached());
        let missed = |all: &[Mixed]| miss(all.iter().filter(|m| m.reached()));
        let (said, kept) = chance(&advised);
        println!(
            "{name:<9} on ten batches: miss {:.2} °C, as advised {:.2} °C of {} ({:.2} °C of it luck); within 1 °C said {said:.3}, kept {kept:.3}",
            missed(&usual),
            missed(&advised),
            reached().count(),
            luck(reached()),
        );
        assert!(reached().count() >= 750, "{name}");
        assert!(missed(&advised) < missed(&usual) && missed(&advised) < 1.0, "{name}");
        let true_to = if kind == MachineKind::Hands { 0.08 } else { 0.05 };
        assert!((said - kept).abs() < true_to, "{name}: said {said}, kept {kept}");
    }
}

#[test]
fn doughs_are_as_developed_as_they_were_planned_to_be() {
    for kind in [MachineKind::Spiral, MachineKind::Planetary, MachineKind::Hands] {
        let name = kind.name();
        let all = mixed_as_planned(kind, Minutes::Planned, Logged::Usual(LOGGED));
        never_colder_than_there_is(&all);
        let stays_behind =
            |m: &Mixed| m.plan.short_of.iter().any(|s| matches!(s, Short::Undeveloped { .. }));
        let planned = || all.iter().filter(|m| !stays_behind(m));
        let full = share(planned(), |m| m.mixed.at_end().development >= Wanted::ENOUGH);
        let minutes = mean(planned(), |m| m.plan.phases.iter().map(|p| p.minutes).sum());
        let dose = mean(planned(), |m| m.plan.dose.unwrap());
        let reached = || all.iter().filter(|m| m.reached());
        let (said, kept) = chance(&all);
        println!(
            "{name:<9}: {} of {} plans develop fully, in {minutes:.1} min, dose {dose:.2}: {full:.3} do; {} reach 24 °C: miss {:.2} °C; within 1 °C said {said:.3}, kept {kept:.3}",
            planned().count(),
            all.len(),
            reached().count(),
            miss(reached()),
        );
        assert!(planned().count() >= 200, "{name}");
        assert!(full >= 0.9, "{name}: {full}");
        assert!((said - kept).abs() < 0.05, "{name}: said {said}, kept {kept}");
    }
}
