//! One dough on one machine.

use kneadfit::batch::Batch;
use kneadfit::charge::{Material, REST};
use kneadfit::planning::{Comparison, Draft, DraftPhase, PlanError, Planner, Wanted};
use kneadfit_log::Gaps;

/// What a dough becomes on a machine.
pub struct OnMachine {
    /// The machine's name.
    pub machine: String,
    /// The dough on it, or why not.
    pub comparison: Result<Comparison, PlanError>,
}

impl OnMachine {
    pub fn new(machine: &str, planner: &Planner, draft: &Draft, wanted: &Wanted) -> Self {
        let mut draft = draft.clone();
        for speed in planner.forecaster().speeds() {
            draft = draft.as_needed(speed.clone());
        }
        // Rest stands where a plan has it: after the first speed.
        if wanted.most_rest_min > 0.0 && planner.knows_rest() {
            let place = draft.phases.len().min(1);
            draft.phases.insert(place, DraftPhase { speed: REST.into(), minutes: None });
        }
        Self { machine: machine.to_owned(), comparison: planner.compare(&draft, wanted) }
    }
}

/// The dough of a row, its minutes left open.
pub fn dough(batch: &Batch, gaps: &Gaps, usual_ice_c: f64) -> Draft {
    let mut charge = batch.charge.clone();
    let find = |wanted: Material| {
        batch.charge.ingredients.iter().find(|i| i.material == wanted).map(|i| i.temperature_c)
    };
    let of = |wanted: Material| batch.charge.mass_of_kg(|m| *m == wanted);
    let ice_kg = of(Material::Ice);
    charge.ingredients.retain(|i| !matches!(i.material, Material::Water | Material::Ice));
    Draft {
        water_c: find(Material::Water).filter(|_| !gaps.water_c),
        ice_kg: (!gaps.ice_kg).then_some(ice_kg),
        ice_c: find(Material::Ice).filter(|_| !gaps.ice_c).unwrap_or(usual_ice_c),
        ..Draft::new(batch.id.clone(), charge, of(Material::Water) + ice_kg)
    }
}
