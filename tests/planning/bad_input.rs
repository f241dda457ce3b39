//! Requests that cannot be, contradict themselves or ask for what there is not: an answer
//! each.

use kneadfit::batch::{Batch, BatchLog, Reading};
use kneadfit::calibration::{Options, calibrate};
use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::planning::{
    Draft, MinutesBounds, PlanError, Planner, Rounding, Short, Verdict, Wanted,
};
use kneadfit::profile::{Profile, Provenance};

use crate::properties::planner;

fn charge() -> Charge {
    Charge::new(24.0).with(Material::Flour, 10.0, 21.0)
}

fn draft() -> Draft {
    Draft::new("any", charge(), 6.5).mixing("low", 4.0).as_needed("high")
}

fn refused(draft: &Draft, wanted: &Wanted) -> PlanError {
    planner().plan(draft, wanted).expect_err("this cannot be planned")
}

#[test]
fn without_flour_water_can_be_planned_but_not_minutes() {
    let nothing = Draft::new("water", Charge::new(24.0), 6.5);
    let by_water = planner().plan(&nothing.clone().mixing("low", 4.0), &Wanted::dough_at(24.0));
    assert!((by_water.unwrap().forecast.dough_c - 24.0).abs() < 0.01);
    let error = refused(&nothing.as_needed("high"), &Wanted::dough_at(24.0));
    assert!(matches!(error, PlanError::NoFlour { .. }), "{error}");
}

#[test]
fn without_water_there_is_nothing_to_pour() {
    let dry = Draft::new("dry", charge(), 0.0).mixing("low", 4.0);
    assert!(matches!(refused(&dry, &Wanted::dough_at(24.0)), PlanError::DryFlour { .. }));
    let milk = Material::Other { specific_heat_kj_per_kg_k: 3.9 };
    let milk = Draft::new("milk", charge().with(milk, 6.5, 8.0), 0.0).mixing("low", 4.0);
    assert!(matches!(refused(&milk, &Wanted::dough_at(24.0)), PlanError::NoWater { .. }));
    let empty = Draft::new("empty", Charge::new(24.0), 0.0).mixing("low", 1.0);
    refused(&empty, &Wanted::dough_at(24.0));
}

#[test]
fn where_all_is_given_nothing_is_left_to_plan() {
    let given = Draft::new("given", charge(), 6.5).with_water_at(10.0).mixing("low", 4.0);
    let error = refused(&given, &Wanted::dough_at(24.0));
    assert!(matches!(error, PlanError::NothingToPlan { .. }), "{error}");
}

#[test]
fn water_needs_a_temperature_to_aim_at() {
    assert!(matches!(refused(&draft(), &Wanted::default()), PlanError::NoTarget { .. }));
}

#[test]
fn a_target_above_what_hot_water_gives_is_not_reached_and_says_by_how_much() {
    let plan = planner().plan(&draft(), &Wanted::dough_at(60.0)).unwrap();
    assert_eq!(plan.verdict, Verdict::NotReachable);
    assert_eq!(plan.water_c, Some(40.0));
    let off = 60.0 - plan.forecast.dough_c;
    assert!(
        plan.short_of
            .iter()
            .any(|s| matches!(s, Short::TooCold { by_k } if (by_k - off).abs() < 1e-9))
    );
}

#[test]
fn bounds_that_contradict_each_other_are_named() {
    let wanted = Wanted { coldest_water_c: 20.0, warmest_water_c: 10.0, ..Wanted::dough_at(24.0) };
    let error = refused(&draft(), &wanted);
    assert!(error.to_string().contains("water_c"), "{error}");
    let bounds = MinutesBounds { speed: "high".into(), least: Some(9.0), most: Some(3.0) };
    let wanted = Wanted { minutes: vec![bounds], ..Wanted::dough_at(24.0) };
    let error = refused(&draft(), &wanted);
    assert!(matches!(error, PlanError::Contradiction { .. }), "{error}");
    assert!(error.to_string().contains("minutes_high"), "{error}");
}

#[test]
fn an_unknown_speed_is_named_beside_those_there_are() {
    let error = refused(&draft().as_needed("turbo"), &Wanted::dough_at(24.0));
    assert!(error.to_string().contains("turbo") && error.to_string().contains("low, high"));
    let bounds = MinutesBounds { speed: "turbo".into(), least: None, most: None };
    let wanted = Wanted { minutes: vec![bounds], ..Wanted::dough_at(24.0) };
    assert!(matches!(refused(&draft(), &wanted), PlanError::UnknownSpeed { .. }));
}

#[test]
fn a_profile_without_development_plans_water_but_no_minutes() {
    let batch =
        Batch::new("1", charge().with(Material::Water, 6.5, 12.0), vec![Phase::mixing("low", 8.0)]);
    let log = BatchLog::new("plain", ["low"], vec![batch.read_dough(22.0)]).unwrap();
    let profile =
        Profile::new(&calibrate(&log, &Options::default()).unwrap(), &Provenance::default());
    let planner = Planner::new(&profile).unwrap();
    let given = Draft::new("any", charge(), 6.5).mixing("low", 8.0);
    assert!(planner.plan(&given, &Wanted::dough_at(24.0)).is_ok());
    let free = Draft::new("any", charge(), 6.5).as_needed("low");
    let error = planner.plan(&free, &Wanted::dough_at(24.0)).unwrap_err();
    assert!(matches!(error, PlanError::NoDevelopment { .. }), "{error}");
}

#[test]
fn more_ice_than_water_is_refused() {
    let draft = Draft { ice_kg: Some(7.0), ..draft() };
    assert!(matches!(refused(&draft, &Wanted::dough_at(24.0)), PlanError::IceBeyondWater { .. }));
}

#[test]
fn numbers_that_are_none_are_refused() {
    let good = || Wanted::dough_at(24.0);
    let none = f64::NAN;
    let endless = f64::INFINITY;
    for wanted in [
        Wanted { dough_c: Some(none), ..good() },
        Wanted { dough_c: Some(endless), ..good() },
        Wanted { cap_c: Some(none), ..good() },
        Wanted { develop: none, ..good() },
        Wanted { develop: -1.0, ..good() },
        Wanted { chance: 1.0, ..good() },
        Wanted { chance: none, ..good() },
        Wanted { coldest_water_c: none, ..good() },
        Wanted { warmest_water_c: endless, ..good() },
        Wanted { most_ice_share: 1.5, ..good() },
        Wanted { most_rest_min: -1.0, ..good() },
        Wanted { level: 1.0, ..good() },
        Wanted { level: none, ..good() },
        Wanted { rounding: Rounding { water_k: none, ..Rounding::default() }, ..good() },
        Wanted {
            minutes: vec![MinutesBounds { speed: "high".into(), least: Some(none), most: None }],
            ..good()
        },
    ] {
        refused(&draft(), &wanted);
    }
    for draft in [
        Draft { water_kg: none, ..draft() },
        Draft { water_kg: -1.0, ..draft() },
        Draft { ice_c: 3.0, ..draft() },
        Draft { ice_kg: Some(none), ..draft() },
        draft().with_water_at(none),
        draft().mixing("low", none),
        draft().mixing("low", -1.0),
    ] {
        refused(&draft, &good());
    }
}

/// On the way everything is in the bowl: only what is ahead can be planned.
#[test]
fn a_batch_on_its_way_has_its_minutes_planned() {
    let batch = Batch::new(
        "on the way",
        charge().with(Material::Water, 6.5, 12.0),
        vec![Phase::mixing("low", 4.0)],
    )
    .read_dough(18.0);
    let over = batch.stages.clone();
    let wanted = Wanted { cap_c: Some(30.0), ..Wanted::default() };
    let plan =
        planner().plan(&Draft::on_the_way(batch.clone()).as_needed("high"), &wanted).unwrap();
    assert_eq!(plan.batch.stages[..1], over);
    assert_eq!(plan.water_c, None);
    assert!(plan.minutes_at("high") > 0.0);
    assert!(plan.dose.unwrap() >= 0.997, "{plan:?}");
    // A cap that the dough is above already: stop now.
    let hot = Wanted { cap_c: Some(16.0), ..Wanted::default() };
    let plan = planner().plan(&Draft::on_the_way(batch.clone()).as_needed("high"), &hot).unwrap();
    assert_eq!(plan.verdict, Verdict::NotReachable);
    assert!(plan.minutes_at("high") < 0.01, "{plan:?}");
    assert!(plan.short_of.iter().any(|s| matches!(s, Short::AboveCap { .. })));
    // Nothing ahead: nothing to plan.
    let nothing = Draft::on_the_way(batch.then(Vec::new(), Reading::default()));
    refused(&nothing, &wanted);
}

/// Read to lag behind, a batch on its way is given the minutes that full development takes,
/// though they lead beyond what was logged.
#[test]
fn a_batch_that_was_read_to_lag_is_given_more_minutes() {
    let begun = |grade: f64| {
        let charge = charge().with(Material::Water, 6.5, 12.0);
        let phases = vec![Phase::mixing("low", 4.0), Phase::mixing("high", 2.0)];
        let batch = Batch::new("lags", charge, phases).read_dough(20.0).read_development(grade);
        let draft = Draft::on_the_way(batch).as_needed("high");
        let plan = planner().plan(&draft, &Wanted::default()).unwrap();
        assert!(plan.dose.unwrap() >= 0.997, "{grade}: {plan:?}");
        plan.minutes_at("high")
    };
    let (lags, leads) = (begun(0.1), begun(0.9));
    assert!(lags > leads, "{lags} {leads}");
}
