//! Equal batches of a kitchen whose thermometers are read to a whole degree.

use std::collections::HashSet;

use kneadfit::batch::Batch;
use kneadfit::units::fahrenheit_from_celsius;

/// So many different doughs tell whether a kitchen's recipes and minutes recur.
const ENOUGH: usize = 3;

/// Whether equal batches are no wonder: every temperature is of whole degrees, °C or °F, and the
/// kitchen's recipes and minutes recur, or its doughs are too few to tell. Two doughs of one
/// recipe then read alike once in four. Where each dough is weighed anew, equal rows are not
/// excused by the thermometer.
pub(crate) fn are_coincidences<'a, I: Iterator<Item = &'a Batch>>(batches: impl Fn() -> I) -> bool {
    let whole = |number: f64| (number - number.round()).abs() < 1e-6;
    let all = |unit: fn(f64) -> f64| batches().all(|b| temperatures(b).all(|c| whole(unit(c))));
    if !all(|celsius| celsius) && !all(fahrenheit_from_celsius) {
        return false;
    }
    let bits = |numbers: Vec<f64>| numbers.into_iter().map(f64::to_bits).collect::<Vec<_>>();
    let mut recipes = HashSet::new();
    let mut doughs = HashSet::new();
    for batch in batches() {
        let recipe = bits(recipe(batch));
        doughs.insert((recipe.clone(), bits(temperatures(batch).collect())));
        recipes.insert(recipe);
    }
    doughs.len() < ENOUGH || recipes.len() < doughs.len()
}

/// All temperatures that were read, °C. What has none of its own has the room's.
fn temperatures(batch: &Batch) -> impl Iterator<Item = f64> {
    let charge = &batch.charge;
    let ingredients = charge.ingredients.iter().map(|i| i.temperature_c);
    let doughs = batch.stages.iter().filter_map(|stage| stage.reading.dough_c);
    ingredients.chain(charge.bowl_c).chain([charge.room_c]).chain(doughs)
}

/// What was weighed and timed.
fn recipe(batch: &Batch) -> Vec<f64> {
    let masses = batch.charge.ingredients.iter().map(|i| i.mass_kg);
    let phases = batch.stages.iter().flat_map(|stage| &stage.phases);
    masses.chain(phases.map(|phase| phase.minutes)).collect()
}
