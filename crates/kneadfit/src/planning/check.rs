//! What is asked for must make sense before it is planned.

use super::Planner;
use super::error::PlanError;
use super::request::{Draft, Wanted};
use crate::batch::limits;
use crate::charge::Material;

/// Refuses what contradicts itself or has no answer.
pub(super) fn check(planner: &Planner, draft: &Draft, wanted: &Wanted) -> Result<(), PlanError> {
    wishes(wanted)?;
    let batch = || draft.id.clone();
    for phase in &draft.phases {
        if !planner.knows_speed(&phase.speed) {
            return Err(PlanError::UnknownSpeed {
                batch: batch(),
                speed: phase.speed.clone(),
                known: planner.forecaster().speeds().join(", "),
            });
        }
        if phase.minutes.is_none() {
            let speed = || phase.speed.clone();
            if draft.charge.flour_kg() <= 0.0 {
                return Err(PlanError::NoFlour { batch: batch(), speed: speed() });
            }
            if planner.rates(draft).is_none() {
                return Err(PlanError::NoDevelopment { batch: batch(), speed: speed() });
            }
        }
    }
    let wets = |m: &Material| !matches!(m, Material::Flour | Material::Salt | Material::Sugar);
    if draft.charge.mass_of_kg(|m| matches!(m, Material::Flour)) > 0.0
        && draft.water_kg <= 0.0
        && draft.charge.mass_of_kg(wets) <= 0.0
    {
        return Err(PlanError::DryFlour { batch: batch() });
    }
    if let Some(water_c) = draft.water_c {
        within("water_c", water_c, limits::TEMPERATURE_C)?;
    }
    for phase in &draft.phases {
        if let Some(minutes) = phase.minutes {
            within(&format!("minutes_{}", phase.speed), minutes, limits::MINUTES)?;
        }
    }
    within("water_kg", draft.water_kg, limits::MASS_KG)?;
    within("ice_c", draft.ice_c, (limits::TEMPERATURE_C.0, 0.0))?;
    if let Some(ice_kg) = draft.ice_kg {
        within("ice_kg", ice_kg, limits::MASS_KG)?;
        if ice_kg > draft.water_kg {
            return Err(PlanError::IceBeyondWater {
                batch: batch(),
                ice_kg,
                water_kg: draft.water_kg,
            });
        }
    }
    let minutes_are_free = draft.phases.iter().any(|p| p.minutes.is_none());
    if draft.water_is_free() {
        if wanted.dough_c.is_none() {
            return Err(PlanError::NoTarget { batch: batch() });
        }
    } else if !minutes_are_free {
        return Err(if draft.water_c.is_none() && draft.so_far.is_empty() {
            PlanError::NoWater { batch: batch() }
        } else {
            PlanError::NothingToPlan { batch: batch() }
        });
    }
    Ok(())
}

fn wishes(wanted: &Wanted) -> Result<(), PlanError> {
    let temperature = |name, value: Option<f64>| {
        value.map_or(Ok(()), |value| within(name, value, limits::TEMPERATURE_C))
    };
    temperature("dough_c", wanted.dough_c)?;
    temperature("cap_c", wanted.cap_c)?;
    // Neither nought nor one: no interval is that sure or that unsure.
    within("level", wanted.level, (f64::MIN_POSITIVE, 1.0 - f64::EPSILON))?;
    within("develop", wanted.develop, (0.0, 5.0))?;
    within("chance", wanted.chance, (0.5, 0.999))?;
    within("coldest_water_c", wanted.coldest_water_c, (0.0, 100.0))?;
    within("warmest_water_c", wanted.warmest_water_c, (0.0, 100.0))?;
    within("most_ice_share", wanted.most_ice_share, (0.0, 1.0))?;
    within("most_rest_min", wanted.most_rest_min, limits::MINUTES)?;
    ordered("water_c", wanted.coldest_water_c, wanted.warmest_water_c)?;
    for step in [wanted.rounding.water_k, wanted.rounding.ice_kg, wanted.rounding.minutes_min] {
        within("rounding", step, (0.0, 10.0))?;
    }
    Ok(())
}

pub(super) fn within(
    quantity: &str,
    value: f64,
    (least, most): (f64, f64),
) -> Result<(), PlanError> {
    if value >= least && value <= most {
        return Ok(());
    }
    Err(PlanError::OutOfRange { quantity: quantity.to_owned(), value, least, most })
}

pub(super) fn ordered(quantity: &str, least: f64, most: f64) -> Result<(), PlanError> {
    if least <= most {
        return Ok(());
    }
    Err(PlanError::Contradiction { quantity: quantity.to_owned(), least, most })
}
