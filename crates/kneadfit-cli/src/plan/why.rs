//! Why a plan is as it is, in plain words.

use kneadfit::charge::Phase;
use kneadfit::planning::{
    Change, Draft, DraftPhase, Plan, Planner, Remedy, Short, Verdict, Wanted,
};

use super::words::{outside, trimmed, weight};
use crate::plots::text::{number, shortened};
use crate::report::shown::listed;
use crate::startling::startling;

/// Remedies that are named; the rest is in the JSON.
const MOST_REMEDIES: usize = 3;
/// Less than this is no minute, min.
const NO_MINUTES: f64 = 1e-6;

/// The reasons, a clause each.
pub fn why(planner: &Planner, draft: &Draft, wanted: &Wanted, plan: &Plan) -> Vec<String> {
    let mut why = Vec::new();
    if !draft.so_far.is_empty() {
        why.extend(startling(planner.forecaster(), &plan.batch));
        why.push(what_is_left(wanted, plan));
    }
    why.extend(plan.short_of.iter().map(|short| short_of(short, wanted, plan)));
    if plan.short_of.iter().any(|s| matches!(s, Short::TooWarm { .. } | Short::TooCold { .. })) {
        why.extend(remedies(wanted, plan));
    }
    why.extend(behind(draft, plan));
    why.extend(plan.outside().iter().map(outside));
    why.extend(ice(planner, draft, wanted, plan));
    why
}

/// Minutes that were given and leave the dough behind.
fn behind(draft: &Draft, plan: &Plan) -> Option<String> {
    let given = draft.phases.iter().all(|p| p.minutes.is_some());
    let grade = plan.forecast.development.filter(|grade| given && *grade < Wanted::ENOUGH)?;
    Some(format!("with these minutes it is developed to {} %", number(100.0 * grade, 0)))
}

/// Of a batch on its way: how much more at which speed.
fn what_is_left(wanted: &Wanted, plan: &Plan) -> String {
    let ahead = plan.phases.iter().filter(|p| p.minutes > NO_MINUTES);
    let more: Vec<String> = ahead
        .map(|p| {
            let at = if p.is_rest() { "of rest".into() } else { format!("at {}", speed(p)) };
            format!("{} more min {at}", trimmed(p.minutes, 2))
        })
        .collect();
    match (more.is_empty(), capped(plan), wanted.cap_c) {
        (true, true, Some(cap_c)) => {
            format!(
                "stop now: with more mixing the dough passes its cap of {} °C",
                trimmed(cap_c, 1)
            )
        }
        (true, ..) => "stop now: the dough needs no more minutes".into(),
        (false, true, Some(cap_c)) => {
            format!(
                "{}, then stop: the cap of {} °C allows no more",
                listed(&more),
                trimmed(cap_c, 1)
            )
        }
        (false, ..) => listed(&more),
    }
}

/// Whether the cap is what is in the way.
fn capped(plan: &Plan) -> bool {
    plan.short_of.iter().any(|s| matches!(s, Short::Cap { .. } | Short::AboveCap { .. }))
}

fn speed(phase: &Phase) -> String {
    shortened(&phase.speed, 40)
}

fn short_of(short: &Short, wanted: &Wanted, plan: &Plan) -> String {
    let cap = trimmed(wanted.cap_c.unwrap_or(f64::NAN), 1);
    match short {
        Short::TooWarm { by_k } => format!("{} °C too warm", off(*by_k)),
        Short::TooCold { by_k } => format!("{} °C too cold", off(*by_k)),
        Short::Undeveloped { wanted, reached } => {
            let percent = number((100.0 * reached / wanted).floor(), 0);
            let limit = if capped(plan) { "" } else { " within the minutes that are allowed" };
            format!("developed to {percent} % of what is wanted{limit}")
        }
        Short::Cap { allows_c } => format!(
            "to keep the cap of {cap} °C with a chance of {} %, it may be aimed at {} °C at most",
            trimmed(100.0 * wanted.chance, 1),
            number(*allows_c, 1)
        ),
        Short::AboveCap { by_k } => format!(
            "{} °C too warm to keep the cap of {cap} °C with a chance of {} %",
            off(*by_k),
            trimmed(100.0 * wanted.chance, 1)
        ),
        _ => "not as wanted".into(),
    }
}

/// A difference in K that is never shown as nought.
fn off(by_k: f64) -> String {
    number(by_k, if by_k < 0.1 { 2 } else { 1 })
}

/// The best remedies with their numbers.
fn remedies(wanted: &Wanted, plan: &Plan) -> Vec<String> {
    let allowed_c = plan.short_of.iter().find_map(|s| match s {
        Short::Cap { allows_c } => Some(*allows_c),
        _ => None,
    });
    if let Some(allows_c) = allowed_c
        && let (Some(dough_c), Some(cap_c)) = (wanted.dough_c, wanted.cap_c)
        && allows_c < dough_c
        && !plan.remedies.iter().any(|r| r.reaches)
    {
        let (dough, cap) = (trimmed(dough_c, 1), trimmed(cap_c, 1));
        return vec![format!("{dough} °C and a cap of {cap} °C contradict each other here")];
    }
    if plan.remedies.is_empty() {
        return vec!["nothing that was tried brings it nearer".into()];
    }
    plan.remedies.iter().take(MOST_REMEDIES).map(|r| remedy(r, plan)).collect()
}

/// A remedy with what it gives.
pub fn remedy(remedy: &Remedy, plan: &Plan) -> String {
    let what = change(&remedy.change, plan);
    if remedy.reaches {
        format!("{what} would do")
    } else {
        format!("{what} gives {} °C", number(remedy.dough_c, 1))
    }
}

fn change(change: &Change, plan: &Plan) -> String {
    match change {
        Change::FlourAt(c) => format!("flour at {} °C", number(*c, 1)),
        Change::BowlAt(c) => format!("a bowl at {} °C", number(*c, 1)),
        Change::WaterAt(c) => format!("water at {} °C", number(*c, 1)),
        Change::IceKg(kg) => format!("{} of ice in the water", weight(*kg)),
        Change::Rest(minutes) => format!("a rest of {} min at the end", number(*minutes, 0)),
        Change::ChargeTimes(times) => {
            let whole = weight(round_to_grams(times * plan.batch.charge.mass_kg()));
            format!("{} times the charge, {whole} of dough,", number(*times, 2))
        }
        Change::Minutes(phases) => {
            let some = phases.iter().filter(|p| p.minutes > 0.05);
            let each: Vec<String> =
                some.map(|p| format!("{} min at {}", number(p.minutes, 1), speed(p))).collect();
            format!("mixing {}", listed(&each))
        }
        _ => "another change".into(),
    }
}

fn round_to_grams(mass_kg: f64) -> f64 {
    if mass_kg > 10.0 {
        (10.0 * mass_kg).round() / 10.0
    } else {
        (1000.0 * mass_kg).round() / 1000.0
    }
}

/// Why there is ice.
fn ice(planner: &Planner, draft: &Draft, wanted: &Wanted, plan: &Plan) -> Option<String> {
    if plan.ice_kg <= 0.0 || plan.verdict == Verdict::NotReachable || !draft.so_far.is_empty() {
        return None;
    }
    if draft.ice_kg.is_some() {
        return Some("ice as it was given".into());
    }
    // The same minutes without ice: planned anew they would be others, cut by a cap.
    let given = |p: &Phase| DraftPhase { speed: p.speed.clone(), minutes: Some(p.minutes) };
    let phases = plan.phases.iter().map(given).collect();
    let without = Draft { ice_kg: Some(0.0), phases, ..draft.clone() };
    let without = planner.plan(&without, &Wanted { cap_c: None, ..wanted.clone() }).ok()?;
    let too_warm_k = without.forecast.dough_c - wanted.dough_c?;
    let water_c = trimmed(without.water_c?, 1);
    (too_warm_k > 0.0).then(|| {
        format!("with water at {water_c} °C and no ice it ends {} °C too warm", off(too_warm_k))
    })
}
