//! Facts of the trade (common practice, no source) on typical machines.

use kneadfit::batch::Batch;
use kneadfit::charge::{Charge, Material, Phase};

use crate::support::kitchen::{Kitchen, MixedBatch, Setup, StagePlan};
use crate::support::machines::{Machine, MachineKind};
use crate::support::process::{Truth, mix};
use crate::support::rng::Draws;
use crate::support::rule::{Memory, forecast_c};

/// A lean dough: flour, water and salt.
fn lean(room_c: f64, flour_kg: f64, flour_c: f64, hydration: f64, water_c: f64) -> Truth {
    Truth::plain(
        Charge::new(room_c)
            .with(Material::Flour, flour_kg, flour_c)
            .with(Material::Water, hydration * flour_kg, water_c)
            .with(Material::Salt, 0.025 * flour_kg, room_c),
    )
}

/// Common practice: room at 28 °C, flour at 14, water near 3, 66 % hydration. A domestic
/// planetary's dough stands at 13–15 °C once mixed, at 21 after 12 minutes, at 29 after 5
/// more near top speed, and only then is fully developed.
#[test]
fn planetary_in_a_hot_room() {
    let machine = Machine::typical(MachineKind::Planetary);
    let truth = lean(28.0, 1.0, 14.0, 0.66, 3.0);
    let [mixed, later, full] = mix(
        &machine,
        &truth,
        &[("low", 2.5), ("low", 9.5), ("high", 5.0)].map(|(s, min)| vec![Phase::mixing(s, min)]),
    )[..] else {
        panic!("three stages, three readings")
    };
    assert!((13.0..=15.0).contains(&mixed.dough_c), "{mixed:?}");
    assert!((later.dough_c - 21.0).abs() < 1.0, "{later:?}");
    assert!(later.development < 0.8, "{later:?}");
    assert!((full.dough_c - 29.0).abs() < 1.0, "{full:?}");
    assert!(full.development >= 0.95, "{full:?}");
}

/// Common practice: a spiral reaches full development within 12 minutes at about 25 °C.
#[test]
fn spiral_is_done_within_twelve_minutes() {
    let machine = Machine::typical(MachineKind::Spiral);
    let truth = lean(22.0, 12.0, 20.0, 0.66, 8.0);
    let phases = vec![Phase::mixing("low", 4.0), Phase::mixing("high", 8.0)];
    let dough = mix(&machine, &truth, &[phases])[0];
    assert!((dough.dough_c - 25.0).abs() < 1.0, "{dough:?}");
    assert!(dough.development >= 0.95, "{dough:?}");
}

/// Common practice: kneading by hand adds some 3 °C in all.
#[test]
fn hands_add_three_degrees_in_all() {
    let machine = Machine::typical(MachineKind::Hands);
    let truth = lean(22.0, 1.0, 22.0, 0.66, 22.0);
    let dough = mix(&machine, &truth, &[vec![Phase::mixing("hand", 14.0)]])[0];
    assert!((dough.dough_c - 22.0 - 3.0).abs() < 0.5, "{dough:?}");
    assert!((0.8..0.95).contains(&dough.development), "{dough:?}");
}

/// Heat for one full development: hands, diving arms, spiral, planetary, in that order.
#[test]
fn machines_stand_in_the_order_that_bakers_know() {
    let heat_k = |kind| {
        let machine = Machine::typical(kind);
        let speed = machine.speeds.last().expect("a machine has a speed");
        0.06 * speed.friction_w_per_kg / 2.76 / speed.development_per_min
    };
    let order =
        [MachineKind::Hands, MachineKind::DivingArm, MachineKind::Spiral, MachineKind::Planetary];
    let heats = order.map(heat_k);
    assert!(heats.is_sorted(), "{heats:?}");
}

/// Longer or faster kneading never undoes development, on any machine.
#[test]
fn grades_grow_with_kneading() {
    for kind in MachineKind::ALL {
        for seed in 0..20 {
            let machine = Machine::draw(&mut Draws::seeded(seed), kind);
            let truth = lean(22.0, 0.5 * machine.usual_dough_kg, 20.0, 0.65, 10.0);
            let grade = |speed: &str, minutes: f64| {
                mix(&machine, &truth, &[vec![Phase::mixing(speed, minutes)]])[0].development
            };
            for speed in kind.speeds() {
                let grades = [0.0, 2.0, 5.0, 9.0, 15.0].map(|minutes| grade(speed, minutes));
                assert!(grades.is_sorted(), "{kind:?} {speed} {grades:?}");
                assert!(grades[0] == 0.0 && grades[4] <= 1.0, "{kind:?} {speed} {grades:?}");
            }
            for pair in kind.speeds().windows(2) {
                assert!(grade(pair[0], 5.0) < grade(pair[1], 5.0), "{kind:?} {pair:?}");
            }
        }
    }
}

/// There is something to gain over the trade's rule, and something that nobody can
/// gain: a forecaster who knew the kitchen perfectly still errs by the thermometers
/// and by the dough's own scatter.
#[test]
fn the_rule_leaves_room_for_a_better_forecast() {
    for (kind, least_ratio, errs_k) in [
        (MachineKind::Spiral, 3.2, 0.45..0.75),
        (MachineKind::Planetary, 3.2, 0.5..0.9),
        (MachineKind::Hands, 1.8, 0.35..0.6),
    ] {
        let (mut rule, mut rule_of_last, mut best, mut n) = (0.0, 0.0, 0.0, 0.0);
        for seed in 0..100 {
            let mut draws = Draws::seeded(seed);
            let kitchen = Kitchen::draw(&mut draws, kind);
            let log = kitchen.log(&mut draws, 12);
            for _ in 0..10 {
                let next = kitchen.next_batch(&mut draws);
                let observed = next.observed_dough_c().expect("the end is read");
                let unread = next.unread();
                let by_rule =
                    |memory| forecast_c(&log.batches, &unread, memory).expect("a log of 12");
                rule += (by_rule(Memory::Mean) - observed).powi(2);
                rule_of_last += (by_rule(Memory::Last) - observed).powi(2);
                let at_best = kitchen.best_forecast(&unread);
                best += (at_best[at_best.len() - 1].dough_c - observed).powi(2);
                n += 1.0;
            }
        }
        let (rule_k, best_k) = ((rule / n).sqrt(), (best / n).sqrt());
        // The mean of all batches is the rule at its best: that is the one to beat.
        assert!(rule_of_last > rule, "{kind:?}: {rule_of_last} {rule}");
        assert!(errs_k.contains(&best_k), "{kind:?}: best {best_k}");
        assert!(rule_k > least_ratio * best_k, "{kind:?}: rule {rule_k}, best {best_k}");
    }
}

/// Mixes one new dough for 24 °C with the water, or water and ice, that a planner who
/// knew the kitchen perfectly would take; `None` when no water reaches it.
fn mixed_by_perfect_plan(draws: &mut Draws, kitchen: &Kitchen) -> Option<MixedBatch> {
    let day = draws.uniform(0.0, 365.0);
    let room_c = draws.uniform(16.0, 32.0);
    let intended = kitchen.intend_in_room(draws, day, room_c);
    let setup = kitchen.set_up(draws, &intended, day);
    let plan: Vec<StagePlan> = vec![StagePlan::read(
        kitchen.programme(draws).into_iter().flat_map(|s| s.phases).collect(),
    )];
    let water_kg = setup.noted.mass_of_kg(|m| matches!(m, Material::Water | Material::Ice));
    // From a third of the water as ice, through cold, to warm water: one scale.
    let water = |x: f64| {
        if x < 0.0 { (4.0, -x / 3.0 * water_kg) } else { (4.0 + 36.0 * x, 0.0) }
    };
    let dough_c = |x: f64| {
        let (water_c, ice_kg) = water(x);
        let Setup { noted, .. } =
            kitchen.pour(&mut Draws::seeded(0), &setup, water_c, ice_kg, -5.0);
        let batch = Batch::new("plan", noted, plan[0].phases.clone());
        kitchen.best_forecast(&batch)[0].dough_c
    };
    let (mut cold, mut warm) = (-1.0, 1.0);
    if dough_c(cold) > 24.0 || dough_c(warm) < 24.0 {
        return None;
    }
    for _ in 0..30 {
        let middle = 0.5 * (cold + warm);
        if dough_c(middle) < 24.0 { cold = middle } else { warm = middle }
    }
    let (water_c, ice_kg) = water(0.5 * (cold + warm));
    let poured = kitchen.pour(draws, &setup, water_c, ice_kg, -5.0);
    Some(kitchen.mix(draws, &poured, "planned", &plan))
}

/// What planning can reach at best: the miss that thermometers and scatter leave.
#[test]
fn a_perfect_plan_misses_by_the_kitchens_own_errors() {
    for (kind, most_k) in
        [(MachineKind::Spiral, 0.8), (MachineKind::Planetary, 0.95), (MachineKind::Hands, 0.6)]
    {
        let (mut misses, mut sum, mut squares) = (0, 0.0, 0.0);
        for seed in 0..60 {
            let mut draws = Draws::seeded(seed);
            let kitchen = Kitchen::draw(&mut draws, kind);
            for _ in 0..5 {
                if let Some(mixed) = mixed_by_perfect_plan(&mut draws, &kitchen) {
                    let miss_k = mixed.observed_dough_c().expect("it is read") - 24.0;
                    misses += 1;
                    sum += miss_k;
                    squares += miss_k * miss_k;
                }
            }
        }
        let (mean_k, rms_k) = (sum / f64::from(misses), (squares / f64::from(misses)).sqrt());
        assert!(misses > 200, "{kind:?}: {misses} of 300 could be planned");
        assert!(mean_k.abs() < 0.25, "{kind:?}: {mean_k}");
        assert!((0.3..most_k).contains(&rms_k), "{kind:?}: {rms_k}");
    }
}
