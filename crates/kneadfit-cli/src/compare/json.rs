//! The comparison for programs, numbers in full.

use serde_json::{Value, json};

use super::Compared;
use super::on_machine::OnMachine;

pub fn doughs(compared: &[Compared]) -> Value {
    let doughs = compared.iter().map(|c| {
        let machines: Vec<Value> = c.machines.iter().map(machine).collect();
        json!({ "dough": c.dough, "machines": machines })
    });
    doughs.collect()
}

fn machine(on: &OnMachine) -> Value {
    let heat: Vec<Value> = (on.development_heat.iter())
        .map(|h| json!({ "speed": h.speed, "heat_c": h.heat_c, "interval_95_c": h.interval_c }))
        .collect();
    let mut said = json!({ "machine": on.machine, "heat_per_full_development": heat });
    match &on.comparison {
        Err(why) => said["error"] = json!(why.to_string()),
        Ok(comparison) => {
            let plan = &comparison.kneaded;
            let minutes: Vec<Value> = (plan.phases.iter())
                .map(|p| json!({ "speed": &*p.speed, "minutes": p.minutes }))
                .collect();
            let path: Vec<Value> = (comparison.path.iter())
                .map(|w| {
                    json!({
                        "minutes": w.minutes,
                        "dough_c": w.forecast.dough_c,
                        "dough_interval_c": w.forecast.dough_interval_c,
                        "development": w.forecast.development,
                        "development_interval": w.forecast.development_interval,
                    })
                })
                .collect();
            said["minutes"] = json!(comparison.minutes());
            said["phases"] = json!(minutes);
            said["dough_c"] = json!(plan.forecast.dough_c);
            said["dough_interval_c"] = json!(plan.forecast.dough_interval_c);
            said["development"] = json!(plan.forecast.development);
            said["dose"] = json!(plan.dose);
            said["warmth_added_k"] = json!(comparison.warmth_k());
            said["cap_first"] = json!(comparison.cap_first);
            said["water"] = json!(comparison.watered.as_ref().map(|w| {
                json!({
                    "water_c": w.water_c,
                    "ice_kg": w.ice_kg,
                    "dough_c": w.forecast.dough_c,
                })
            }));
            said["path"] = json!(path);
        }
    }
    said
}
