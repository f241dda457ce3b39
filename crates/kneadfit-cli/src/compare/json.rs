//! The comparison for programs, numbers in full.

use kneadfit::domain::Outside;
use kneadfit::forecast::Forecast;
use kneadfit::planning::{CapKept, Comparison, Plan};
use serde_json::{Value, json};

use super::Compared;
use super::on_machine::OnMachine;
use crate::plan::words;

pub fn doughs(compared: &[Compared]) -> Value {
    let doughs = compared.iter().map(|c| {
        let machines: Vec<Value> = c.machines.iter().map(machine).collect();
        json!({
            "dough": c.dough.name,
            "row_of": c.dough.row_of,
            "dough_kg": c.dough.mass_kg(),
            "machines": machines,
        })
    });
    doughs.collect()
}

fn machine(on: &OnMachine) -> Value {
    let mut said = json!({ "machine": on.machine });
    let more = match &on.comparison {
        Err(why) => json!({ "error": why.to_string() }),
        Ok(comparison) => dough(comparison),
    };
    if let (Some(said), Value::Object(more)) = (said.as_object_mut(), more) {
        said.extend(more);
    }
    said
}

fn dough(comparison: &Comparison) -> Value {
    let plan = &comparison.kneaded;
    let phases: Vec<Value> =
        (plan.phases.iter()).map(|p| json!({ "speed": &*p.speed, "minutes": p.minutes })).collect();
    let heat: Vec<Value> = (comparison.development_heat.iter())
        .map(|h| json!({ "speed": &*h.speed, "heat_c": h.heat_k, "interval_c": h.interval_k }))
        .collect();
    let path: Vec<Value> = (comparison.path.iter())
        .map(|w| {
            let mut value = forecast(&w.forecast);
            value["minutes"] = json!(w.minutes);
            value
        })
        .collect();
    let mut value = forecast(&plan.forecast);
    value["minutes"] = json!(comparison.minutes());
    value["phases"] = json!(phases);
    value["dose"] = json!(plan.dose);
    value["behind"] = json!(comparison.behind());
    value["warmth_added_k"] = json!(comparison.warmth_k());
    value["warmth_of_friction_k"] = json!(comparison.friction_k);
    value["warmth_of_room_k"] = json!(comparison.room_k());
    value["heat_per_full_development"] = json!(heat);
    value["cap"] = json!(comparison.cap.as_ref().map(cap));
    value["water"] = json!(comparison.watered.as_ref().map(water));
    value["support"] = json!(support(plan.outside()));
    value["outside"] = outside(plan.outside());
    value["path"] = json!(path);
    value
}

fn forecast(forecast: &Forecast) -> Value {
    json!({
        "dough_c": forecast.dough_c,
        "dough_interval_c": forecast.dough_interval_c,
        "development": forecast.development,
        "development_interval": forecast.development_interval,
    })
}

fn cap(cap: &CapKept) -> Value {
    json!({
        "cap_c": cap.cap_c,
        "chance_below": cap.chance,
        "minutes": cap.minutes,
        "is_kept": cap.is_kept,
    })
}

fn water(plan: &Plan) -> Value {
    json!({
        "water_c": plan.water_c,
        "water_kg": plan.water_kg,
        "ice_kg": plan.ice_kg,
        "dough_c": plan.forecast.dough_c,
        "dough_interval_c": plan.forecast.dough_interval_c,
        "verdict": words::verdict(plan.verdict),
        "support": support(plan.outside()),
        "outside": outside(plan.outside()),
    })
}

/// As a forecast has it: `inside`, or the inputs that are not.
fn support(outside: &[Outside]) -> String {
    let inputs: Vec<&str> = outside.iter().map(|o| &*o.input).collect();
    if inputs.is_empty() { "inside".into() } else { inputs.join(";") }
}

fn outside(outside: &[Outside]) -> Value {
    let of = |o: &Outside| {
        json!({
            "input": o.input, "value": o.value, "nearest": o.nearest, "words": words::outside(o),
        })
    };
    outside.iter().map(of).collect()
}
