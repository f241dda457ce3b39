//! The trade's friction-factor rule as a forecaster: what a forecast must beat.

use kneadfit::batch::Batch;
use kneadfit::charge::Material;

/// Which earlier batches the baker's friction factor comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Memory {
    /// The last one.
    Last,
    /// The mean of all.
    Mean,
}

/// The temperatures that the rule adds up: room, flour, water and, where there is
/// one, the preferment. Ice counts as water colder by its latent heat, as the trade's
/// ice formula has it: 80 °C for all of it.
fn temperatures_c(batch: &Batch) -> Vec<f64> {
    let mean_c = |wanted: fn(&Material) -> Option<f64>| {
        let (mut kg, mut sum) = (0.0, 0.0);
        for i in &batch.charge.ingredients {
            if let Some(colder_k) = wanted(&i.material) {
                kg += i.mass_kg;
                sum += i.mass_kg * (i.temperature_c - colder_k);
            }
        }
        (kg > 0.0).then(|| sum / kg)
    };
    let flour = mean_c(|m| matches!(m, Material::Flour).then_some(0.0));
    let water = mean_c(|m| match m {
        Material::Water => Some(0.0),
        Material::Ice => Some(80.0),
        _ => None,
    });
    let preferment = mean_c(|m| matches!(m, Material::Preferment { .. }).then_some(0.0));
    [Some(batch.charge.room_c), flour, water, preferment].into_iter().flatten().collect()
}

/// The rise of one batch by the rule: its friction factor divided by the number of
/// temperatures, so that batches with and without a preferment can be averaged.
///
/// ```text
/// rise = T_dough − ΣT / n = FF / n
/// ```
fn rise_k(batch: &Batch) -> Option<f64> {
    let dough_c = batch.stages.iter().rev().find_map(|s| s.reading.dough_c)?;
    let temperatures = temperatures_c(batch);
    Some(dough_c - temperatures.iter().sum::<f64>() / temperatures.len() as f64)
}

/// What the rule says of the next dough's final temperature, °C; `None` before the
/// first batch whose dough was read.
pub fn forecast_c(previous: &[Batch], next: &Batch, memory: Memory) -> Option<f64> {
    let rises: Vec<f64> = previous.iter().filter_map(rise_k).collect();
    let rise = match memory {
        Memory::Last => *rises.last()?,
        Memory::Mean if rises.is_empty() => return None,
        Memory::Mean => rises.iter().sum::<f64>() / rises.len() as f64,
    };
    let temperatures = temperatures_c(next);
    Some(temperatures.iter().sum::<f64>() / temperatures.len() as f64 + rise)
}
