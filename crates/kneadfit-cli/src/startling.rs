//! Readings of a batch on its way that are hard to believe.

use kneadfit::batch::Batch;
use kneadfit::forecast::Forecaster;

use crate::plan::words::trimmed;
use crate::plots::text::number;

/// A reading outside of the interval of this level is hard to believe.
const HARD_TO_BELIEVE: f64 = 0.999;

/// A clause for each reading before the last stage that is hard to believe beside what was
/// forecast of it.
pub fn startling(forecaster: &Forecaster, batch: &Batch) -> Vec<String> {
    let Some((_, so_far)) = batch.stages.split_last() else { return Vec::new() };
    if so_far.iter().all(|stage| stage.reading.dough_c.is_none()) {
        return Vec::new();
    }
    let Ok(forecasts) = forecaster.forecast(batch, HARD_TO_BELIEVE) else { return Vec::new() };
    let so_far = so_far.iter().zip(forecasts);
    so_far
        .filter_map(|(stage, forecast)| {
            let read_c = stage.reading.dough_c?;
            let (low, high) = forecast.dough_interval_c?;
            (read_c < low || read_c > high).then(|| {
                format!(
                    "read at {} °C where {} °C ({} to {}) was to be expected: look whether it is \
                     mistyped; what follows believes it the less, the stranger it is",
                    trimmed(read_c, 1),
                    number(forecast.dough_c, 1),
                    number(low, 1),
                    number(high, 1)
                )
            })
        })
        .collect()
}
