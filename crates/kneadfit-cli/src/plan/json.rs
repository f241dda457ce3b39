//! Plans as JSON, numbers in full.

use kneadfit::charge::Phase;
use kneadfit::forecast::Forecast;
use kneadfit::planning::{Change, Short};
use serde_json::{Value, json};

use super::planned::{Planned, Row};
use super::why;
use super::words;

/// One object for each row of the file, in its order.
pub fn rows(rows: &[Row]) -> Vec<Value> {
    rows.iter()
        .map(|row| {
            let mut value = json!({ "batch": row.batch, "machine": row.machine });
            let fields = match &row.planned {
                Some(planned) => plan(planned),
                None => json!({ "verdict": null, "over": row.over }),
            };
            if let (Some(value), Value::Object(fields)) = (value.as_object_mut(), fields) {
                value.extend(fields);
            }
            value
        })
        .collect()
}

fn plan(planned: &Planned) -> Value {
    let (plan, draft) = (&planned.plan, &planned.draft);
    let begun = !draft.so_far.is_empty();
    let mut value = forecast(&plan.forecast);
    let more = json!({
        "verdict": words::verdict(plan.verdict),
        "why": planned.why,
        "on_the_way": begun,
        "water_c": plan.water_c,
        "water_kg": (!begun).then_some(plan.water_kg),
        "ice_kg": (!begun).then_some(plan.ice_kg),
        "ice_c": (!begun && plan.ice_kg > 0.0).then_some(draft.ice_c),
        "phases": phases(&plan.phases),
        "minutes": minutes(planned),
        "dose": plan.dose,
        "chance_within_1c": plan.chance_within_1c,
        "dough_k_per_water_k": plan.dough_k_per_water_k,
        "short_of": plan.short_of.iter().map(short).collect::<Vec<_>>(),
        "remedies": plan.remedies.iter().map(|remedy| {
            let mut value = change(&remedy.change);
            value["dough_c"] = remedy.dough_c.into();
            value["reaches"] = remedy.reaches.into();
            value["words"] = why::remedy(remedy, plan).into();
            value
        }).collect::<Vec<_>>(),
        "outside": plan.outside().iter().map(|o| json!({
            "input": o.input, "value": o.value, "nearest": o.nearest,
        })).collect::<Vec<_>>(),
        "check_points": planned.check_points.iter().map(|point| {
            let mut value = forecast(&point.forecast);
            value["speed"] = (&*point.speed).into();
            value["minutes"] = point.minutes.into();
            value
        }).collect::<Vec<_>>(),
    });
    if let (Some(value), Value::Object(more)) = (value.as_object_mut(), more) {
        value.extend(more);
    }
    value
}

fn forecast(forecast: &Forecast) -> Value {
    let (low_c, high_c) = forecast.dough_interval_c.unzip();
    let (low, high) = forecast.development_interval.unzip();
    json!({
        "dough_c": forecast.dough_c,
        "dough_low_c": low_c,
        "dough_high_c": high_c,
        "development": forecast.development,
        "development_low": low,
        "development_high": high,
    })
}

fn phases(phases: &[Phase]) -> Vec<Value> {
    phases.iter().map(|p| json!({ "speed": &*p.speed, "minutes": p.minutes })).collect()
}

/// Totals at each speed, those that are over included.
fn minutes(planned: &Planned) -> Value {
    let plan = &planned.plan;
    let all = plan.batch.phases().chain(&plan.phases);
    Value::Object(all.map(|p| (p.speed.to_string(), plan.minutes_at(&p.speed).into())).collect())
}

fn short(short: &Short) -> Value {
    match short {
        Short::TooWarm { by_k } => json!({ "what": "too_warm", "by_k": by_k }),
        Short::TooCold { by_k } => json!({ "what": "too_cold", "by_k": by_k }),
        Short::Undeveloped { wanted, reached } => {
            json!({ "what": "undeveloped", "wanted": wanted, "reached": reached })
        }
        Short::Cap { allows_c } => json!({ "what": "cap", "allows_c": allows_c }),
        Short::AboveCap { by_k } => json!({ "what": "above_cap", "by_k": by_k }),
        _ => json!({ "what": "other" }),
    }
}

fn change(change: &Change) -> Value {
    match change {
        Change::FlourAt(c) => json!({ "change": "flour", "flour_c": c }),
        Change::BowlAt(c) => json!({ "change": "bowl", "bowl_c": c }),
        Change::WaterAt(c) => json!({ "change": "water", "water_c": c }),
        Change::IceKg(kg) => json!({ "change": "ice", "ice_kg": kg }),
        Change::Rest(minutes) => json!({ "change": "rest", "minutes_rest": minutes }),
        Change::ChargeTimes(times) => json!({ "change": "charge", "charge_times": times }),
        Change::Minutes(all) => json!({ "change": "minutes", "phases": phases(all) }),
        _ => json!({ "change": "other" }),
    }
}
