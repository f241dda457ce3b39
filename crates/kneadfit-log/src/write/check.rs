//! What a log cannot say so that it reads back.

use kneadfit::batch::{Batch, BatchLog};
use kneadfit::charge::Material;

use super::error::WriteError;
use crate::example::is_example;
use crate::row::is_date;
use crate::totals::heads_totals;

/// Refuses what a log cannot say of a batch.
pub(super) fn check(log: &BatchLog, batch: &Batch) -> Result<(), WriteError> {
    let texts = [
        ("batch", Some(&batch.id)),
        ("machine", Some(&log.machine)),
        ("date", batch.date.as_ref()),
        ("flour", batch.charge.flour_name.as_ref()),
    ];
    for (column, text) in texts {
        let Some(text) = text else { continue };
        let plain = !text.is_empty() && text.trim() == &**text;
        // Names that mark a row as none.
        let none = column == "batch" && (is_example(text) || heads_totals(text));
        if !plain || none || (column == "date" && !is_date(text)) {
            return Err(WriteError::Text { batch: batch.id.clone(), column, text: text.clone() });
        }
    }
    let mut seen = Vec::new();
    for ingredient in batch.charge.ingredients.iter().filter(|i| i.mass_kg != 0.0) {
        let column = mass_column(&ingredient.material);
        let batch_id = || batch.id.clone();
        if seen.contains(&column) {
            return Err(WriteError::IngredientTwice { batch: batch_id(), column });
        }
        seen.push(column);
        let without_column = matches!(column, "salt_kg" | "sugar_kg" | "fat_kg");
        let temperature_c = ingredient.temperature_c;
        if without_column && temperature_c != batch.charge.room_c {
            let batch = batch_id();
            return Err(WriteError::NotAtRoomTemperature { batch, column, temperature_c });
        }
    }
    if batch.stages.is_empty() {
        return Err(WriteError::NoStage { batch: batch.id.clone() });
    }
    match batch.phases().find(|phase| !phase.is_rest() && !log.speeds.contains(&phase.speed)) {
        Some(phase) => {
            let (batch, speed) = (batch.id.clone(), phase.speed.clone());
            Err(WriteError::UnknownSpeed { batch, speed })
        }
        None => Ok(()),
    }
}

fn mass_column(material: &Material) -> &'static str {
    match material {
        Material::Flour => "flour_kg",
        Material::Water => "water_kg",
        Material::Ice => "ice_kg",
        Material::Preferment { .. } => "preferment_kg",
        Material::Salt => "salt_kg",
        Material::Sugar => "sugar_kg",
        Material::Fat => "fat_kg",
        _ => "other_kg",
    }
}
