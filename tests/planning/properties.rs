//! What must hold of every plan, whatever the dough, the room and the machine.

use std::sync::OnceLock;

use kneadfit::batch::Batch;
use kneadfit::calibration::{Options, calibrate};
use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::planning::{Draft, MinutesBounds, Plan, Planner, Rounding, Short, Verdict, Wanted};
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

/// Every remedy is what it says: the dough changed so ends where it says.
#[test]
fn remedies_are_computed_on_the_dough() {
    use kneadfit::planning::Change;

    let charge =
        Charge::new(34.0).with(Material::Flour, 10.0, 33.0).with(Material::Salt, 0.2, 34.0);
    let draft = Draft::new("hot", charge, 6.0).mixing("low", 8.0).mixing("high", 14.0);
    let wanted = Wanted { most_ice_share: 0.1, ..Wanted::dough_at(22.0) };
    let plan = planner().plan(&draft, &wanted).unwrap();
    assert_eq!(plan.verdict, Verdict::NotReachable);
    assert!(plan.remedies.len() >= 5, "{:#?}", plan.remedies);
    for remedy in &plan.remedies {
        let mut batch = plan.batch.clone();
        let parts = &mut batch.charge.ingredients;
        let whole_kg = plan.water_kg + plan.ice_kg;
        match &remedy.change {
            Change::FlourAt(c) => parts
                .iter_mut()
                .filter(|i| i.material == Material::Flour)
                .for_each(|i| i.temperature_c = *c),
            Change::WaterAt(c) => parts
                .iter_mut()
                .filter(|i| i.material == Material::Water)
                .for_each(|i| i.temperature_c = *c),
            Change::ChargeTimes(times) => parts.iter_mut().for_each(|i| i.mass_kg *= times),
            Change::BowlAt(c) => batch.charge.bowl_c = Some(*c),
            Change::IceShare(share) => parts.iter_mut().for_each(|i| match i.material {
                Material::Ice => i.mass_kg = share * whole_kg,
                Material::Water => i.mass_kg = (1.0 - share) * whole_kg,
                _ => {}
            }),
            Change::Rest(minutes) => batch.stages[0].phases.push(Phase::rest(*minutes)),
            Change::Minutes(phases) => batch.stages[0].phases = phases.clone(),
            other => panic!("{other:?}"),
        }
        let end_c = planner().forecaster().forecast(&batch, 0.95).unwrap()[0].dough_c;
        assert!((end_c - remedy.dough_c).abs() < 1e-6, "{remedy:?} {end_c}");
        assert_eq!(remedy.reaches, (end_c - 22.0).abs() <= 0.0101, "{remedy:?}");
        assert!((end_c - 22.0).abs() < (plan.forecast.dough_c - 22.0).abs());
    }
    let far = |c: f64| (c - 22.0).abs();
    assert!(plan.remedies.windows(2).all(|w| far(w[0].dough_c) <= far(w[1].dough_c) + 0.011));
}
