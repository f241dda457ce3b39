//! One dough on one machine.

use kneadfit::batch::Batch;
use kneadfit::charge::Material;
use kneadfit::planning::{Comparison, Draft, PlanError, Planner, Wanted};
use kneadfit::profile::Profile;
use kneadfit_log::Gaps;

/// What a dough becomes on a machine.
pub struct OnMachine {
    /// The machine's name.
    pub machine: String,
    /// Heat of one full development at each speed, °C, with its 95 % interval.
    pub development_heat: Vec<DevelopmentHeat>,
    /// The dough on it, or why not.
    pub comparison: Result<Comparison, PlanError>,
}

/// What one full development at a speed adds.
pub struct DevelopmentHeat {
    pub speed: String,
    /// °C.
    pub heat_c: f64,
    /// 95 % interval, °C.
    pub interval_c: Option<[f64; 2]>,
}

impl OnMachine {
    pub fn new(profile: &Profile, planner: &Planner, draft: &Draft, wanted: &Wanted) -> Self {
        let mut draft = draft.clone();
        for speed in planner.forecaster().speeds() {
            draft = draft.as_needed(speed.clone());
        }
        Self {
            machine: profile.machine.id.clone(),
            development_heat: profile
                .machine
                .speeds
                .iter()
                .filter_map(|s| heat(profile, s))
                .collect(),
            comparison: planner.compare(&draft, wanted),
        }
    }
}

/// The profile's own reading of a speed.
fn heat(profile: &Profile, speed: &str) -> Option<DevelopmentHeat> {
    let name = format!("friction_{speed}");
    let coefficient = profile.coefficients.iter().find(|c| c.name == name)?;
    let says = format!("heat of one full development at {speed}");
    let reading = coefficient.readings.iter().find(|r| r.says == says)?;
    Some(DevelopmentHeat {
        speed: speed.to_owned(),
        heat_c: reading.value,
        interval_c: reading.interval_95,
    })
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
