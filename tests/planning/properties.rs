//! What must hold of every plan, whatever the dough, the room and the machine.

use std::sync::OnceLock;

use kneadfit::batch::Batch;
use kneadfit::calibration::{Options, calibrate};
use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::planning::{
    Change, Draft, MinutesBounds, Plan, Planner, Rounding, Short, Verdict, Wanted,
};
use kneadfit::profile::{Profile, Provenance};
use proptest::prelude::*;

use crate::support::kitchen::Kitchen;
use crate::support::machines::MachineKind;
use crate::support::rng::Draws;

/// A spiral calibrated on twelve simulated batches.
pub fn profile() -> &'static Profile {
    static PROFILE: OnceLock<Profile> = OnceLock::new();
    PROFILE.get_or_init(|| {
        let mut draws = Draws::seeded(31);
        let kitchen = Kitchen::draw(&mut draws, MachineKind::Spiral);
        let log = kitchen.log(&mut draws, 12);
        let calibration = calibrate(&log, &Options::default()).unwrap();
        Profile::new(&calibration, &Provenance::default())
    })
}

pub fn planner() -> &'static Planner {
    static PLANNER: OnceLock<Planner> = OnceLock::new();
    PLANNER.get_or_init(|| Planner::new(profile()).unwrap())
}

prop_compose! {
    fn dough()(
        flour_kg in 1.0..30.0, hydration in 0.5..0.85, flour_c in 4.0..32.0,
        room_c in 12.0..36.0, salt in 0.0..0.03, low in 1.0..8.0, high in 0.0..12.0,
    ) -> (Draft, f64) {
        let charge = Charge::new(room_c)
            .with(Material::Flour, flour_kg, flour_c)
            .with(Material::Salt, salt * flour_kg, room_c);
        (Draft::new("any", charge, hydration * flour_kg).mixing("low", low).mixing("high", high), room_c)
    }
}

fn water_of(plan: &Plan) -> f64 {
    plan.water_c.unwrap()
}

fn exactly() -> Rounding {
    Rounding { water_k: 0.0, ice_kg: 0.0, minutes_min: 0.0 }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    /// A plan whose verdict is not that it misses is at its target, and `forecast` says the
    /// same of it.
    #[test]
    fn a_plan_is_at_its_target_and_the_forecast_agrees((draft, _) in dough(), wanted_c in 16.0..32.0) {
        let plan = planner().plan(&draft, &Wanted::dough_at(wanted_c)).unwrap();
        let forecast = planner().forecaster().forecast(&plan.batch, 0.95).unwrap();
        let forecast = forecast.last().unwrap();
        prop_assert!((forecast.dough_c - plan.forecast.dough_c).abs() < 1e-9);
        let (low, high) = plan.forecast.dough_interval_c.unwrap();
        let (forecast_low, forecast_high) = forecast.dough_interval_c.unwrap();
        prop_assert!((low - forecast_low).abs() < 1e-9 && (high - forecast_high).abs() < 1e-9);
        let misses = (plan.forecast.dough_c - wanted_c).abs() > 0.01;
        prop_assert_eq!(misses, plan.verdict == Verdict::NotReachable, "{:?}", plan);
        prop_assert_eq!(misses, !plan.short_of.is_empty());
        prop_assert!(water_of(&plan) >= 4.0 && water_of(&plan) <= 40.0);
        prop_assert!((plan.water_kg + plan.ice_kg - draft.water_kg).abs() < 1e-9);
        prop_assert!(plan.ice_kg <= 0.5 * draft.water_kg + 1e-9);
        let chance = plan.chance_within_1c.unwrap();
        prop_assert!((0.0..=1.0).contains(&chance));
    }

    /// More ice never warms: beside the same water, dough with more of it ends colder.
    #[test]
    fn more_ice_never_warms((draft, _) in dough(), ice in 0.01..0.3, more in 1.01..1.5) {
        let with = |share: f64| {
            let fixed = Draft {
                ice_kg: Some(share * draft.water_kg),
                water_c: None,
                ..draft.clone()
            };
            let tap = Wanted {
                coldest_water_c: 12.0,
                warmest_water_c: 12.0,
                rounding: exactly(),
                ..Wanted::dough_at(24.0)
            };
            planner().plan(&fixed, &tap).map(|plan| plan.forecast.dough_c)
        };
        if let (Ok(less), Ok(more)) = (with(ice), with(ice * more)) {
            prop_assert!(more < less, "{} {}", less, more);
        }
    }

    /// A warmer room never asks for warmer water, nor for less ice.
    #[test]
    fn a_warmer_room_never_asks_for_warmer_water((draft, room_c) in dough(), by in 0.1..8.0, free in any::<bool>()) {
        let wanted = Wanted { rounding: exactly(), ..Wanted::dough_at(24.0) };
        let at = |room_c: f64| {
            let mut draft = draft.clone();
            draft.charge.room_c = room_c;
            if free {
                draft.phases[1].minutes = None;
            }
            planner().plan(&draft, &wanted)
        };
        if let (Ok(cool), Ok(warm)) = (at(room_c), at(room_c + by)) {
            prop_assert!(water_of(&warm) <= water_of(&cool) + 1e-6, "{:?} {:?}", cool, warm);
            if cool.verdict != Verdict::NotReachable && warm.verdict != Verdict::NotReachable {
                prop_assert!(warm.ice_kg >= cool.ice_kg - 1e-6);
            }
        }
    }

    /// Remedies of any dough hold when they are followed.
    #[test]
    fn remedies_hold_when_they_are_followed((draft, _) in dough(), wanted_c in 5.0..45.0, free in any::<bool>(), cap in any::<bool>(), given in any::<bool>()) {
        let mut draft = draft;
        if free {
            draft.phases[1].minutes = None;
        }
        if given {
            draft.ice_kg = Some(0.0);
        }
        let cap_c = cap.then_some(wanted_c + 1.0);
        remedies_hold(&draft, &Wanted { cap_c, ..Wanted::dough_at(wanted_c) });
    }

    /// A cap is kept with the chance that was asked for, or the plan says that it is not.
    #[test]
    fn a_cap_is_kept((draft, _) in dough(), cap_c in 20.0..30.0, chance in 0.6..0.99, free in any::<bool>()) {
        let wanted = Wanted { cap_c: Some(cap_c), chance, ..Wanted::dough_at(24.0) };
        let mut draft = draft;
        if free {
            draft.phases[1].minutes = None;
        }
        let plan = planner().plan(&draft, &wanted).unwrap();
        // One-sided: the interval of this level leaves 1 − chance above.
        let level = 2.0 * chance - 1.0;
        let points = planner().check_points(&plan, level.max(0.01)).unwrap();
        let highest = points.iter().filter_map(|p| p.forecast.dough_interval_c).map(|i| i.1);
        let highest = highest.fold(f64::NEG_INFINITY, f64::max);
        let above = plan.short_of.iter().any(|s| matches!(s, Short::AboveCap { .. }));
        prop_assert!(above || highest <= cap_c + 0.1, "{} {:?}", highest, plan);
    }

    /// What one degree of water does is what it does.
    #[test]
    fn a_degree_of_water_does_what_is_said((draft, _) in dough()) {
        let plan = planner().plan(&draft, &Wanted::dough_at(24.0)).unwrap();
        let mut warmer: Batch = plan.batch.clone();
        for i in warmer.charge.ingredients.iter_mut().filter(|i| i.material == Material::Water) {
            i.temperature_c += 1.0;
        }
        let end = |batch: &Batch| planner().forecaster().forecast(batch, 0.95).unwrap()[0].dough_c;
        let does = end(&warmer) - end(&plan.batch);
        prop_assert!((does - plan.dough_k_per_water_k).abs() < 1e-9);
    }

    /// Minutes that are planned lie within their bounds and reach what is wanted.
    #[test]
    fn minutes_lie_within_their_bounds((draft, _) in dough(), least in 0.0..6.0, room in 0.0..10.0, develop in 0.3..1.2) {
        let draft = Draft {
            phases: draft.phases.iter().map(|p| kneadfit::planning::DraftPhase { minutes: None, ..p.clone() }).collect(),
            ..draft
        };
        let bounds = MinutesBounds { speed: "low".into(), least: Some(least), most: Some(least + room) };
        let wanted = Wanted { minutes: vec![bounds], develop, ..Wanted::dough_at(24.0) };
        let plan = planner().plan(&draft, &wanted).unwrap();
        let low = plan.minutes_at("low");
        prop_assert!(low >= least - 1e-9 && low <= least + room + 1e-9, "{}", low);
        let behind = plan.short_of.iter().any(|s| matches!(s, Short::Undeveloped { .. }));
        prop_assert!(behind || plan.dose.unwrap() >= develop * 0.997, "{:?}", plan);
    }
}

/// Every remedy is what it says: the dough so changed, planned anew, ends where it says.
fn remedies_hold(draft: &Draft, wanted: &Wanted) -> usize {
    let wanted_c = wanted.dough_c.unwrap();
    let plan = planner().plan(draft, wanted).unwrap();
    let far = |c: f64| (c - wanted_c).abs();
    for remedy in &plan.remedies {
        let (changed, allowed) = remedy.change.of(draft, wanted);
        let followed = planner().plan(&changed, &allowed).unwrap();
        let end_c = followed.forecast.dough_c;
        assert!((end_c - remedy.dough_c).abs() < 1e-6, "{remedy:?} {end_c}");
        let reached = if remedy.reaches { far(end_c) < 0.01001 } else { far(end_c) > 0.00999 };
        assert!(reached, "{remedy:?} {end_c}");
        let misses = |s: &Short| matches!(s, Short::TooWarm { .. } | Short::TooCold { .. });
        assert_eq!(remedy.reaches, !followed.short_of.iter().any(misses), "{remedy:?}");
        assert!(far(end_c) < far(plan.forecast.dough_c), "{remedy:?}");
    }
    assert!(plan.remedies.windows(2).all(|w| far(w[0].dough_c) <= far(w[1].dough_c) + 0.011));
    plan.remedies.len()
}

#[test]
fn remedies_are_computed_on_the_dough() {
    let charge =
        Charge::new(34.0).with(Material::Flour, 10.0, 33.0).with(Material::Salt, 0.2, 34.0);
    let draft = Draft::new("hot", charge, 6.0).mixing("low", 8.0).mixing("high", 14.0);
    let wanted = Wanted { most_ice_share: 0.1, ..Wanted::dough_at(22.0) };
    assert_eq!(planner().plan(&draft, &wanted).unwrap().verdict, Verdict::NotReachable);
    assert!(remedies_hold(&draft, &wanted) >= 5);
}

/// Ice that was not to be taken is named before anything else.
#[test]
fn ice_that_was_given_is_a_remedy() {
    let charge = Charge::new(28.0).with(Material::Flour, 12.0, 26.0);
    let draft = Draft {
        ice_kg: Some(0.0),
        ..Draft::new("warm", charge, 7.5).mixing("low", 6.0).mixing("high", 8.0)
    };
    let plan = planner().plan(&draft, &Wanted::dough_at(23.0)).unwrap();
    assert_eq!(plan.verdict, Verdict::NotReachable);
    let ice = plan.remedies.iter().find(|r| matches!(r.change, Change::IceKg(_))).unwrap();
    assert!(ice.reaches && remedies_hold(&draft, &Wanted::dough_at(23.0)) > 0);
}

/// A batch on its way: the remedies know what was read.
#[test]
fn remedies_on_the_way_know_the_readings() {
    let charge =
        Charge::new(18.0).with(Material::Flour, 10.0, 20.0).with(Material::Water, 6.5, 15.0);
    let batch = Batch::new("begun", charge, vec![Phase::mixing("low", 6.0)]);
    let expected_c = planner().forecaster().forecast(&batch, 0.9).unwrap()[0].dough_c;
    let read = batch.read_dough(expected_c + 1.5);
    let draft = Draft::on_the_way(read).as_needed("high");
    for wanted_c in [16.0, 20.0, 34.0] {
        remedies_hold(&draft, &Wanted::dough_at(wanted_c));
    }
}

/// A dough whose window was seen is done.
#[test]
fn a_dough_that_is_developed_needs_no_more() {
    let charge =
        Charge::new(24.0).with(Material::Flour, 10.0, 20.0).with(Material::Water, 6.5, 15.0);
    let batch = Batch::new("begun", charge, vec![Phase::mixing("low", 4.0)]);
    let ahead = |grade: f64| {
        let draft = Draft::on_the_way(batch.clone().read_development(grade));
        let plan = planner().plan(&draft.as_needed("high"), &Wanted::default()).unwrap();
        plan.phases.iter().map(|p| p.minutes).sum::<f64>()
    };
    assert!(ahead(0.5) > 0.0);
    assert_eq!(ahead(1.0), 0.0);
}
