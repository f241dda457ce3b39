//! Plans as CSV, a row for each row of the file.

use std::sync::Arc;

use kneadfit_log::harmless;

use super::minutes_columns;
use super::planned::Row;
use super::words;
use crate::forecast::{DECIMALS_C, DECIMALS_GRADE, plain_number};

/// A tenth of a gram, and a thousandth of a minute: as finely as anything is given.
const DECIMALS_KG: usize = 4;
const DECIMALS_MIN: usize = 3;

pub fn csv(rows: &[Row], speeds: &[Arc<str>]) -> anyhow::Result<Vec<u8>> {
    let minutes = minutes_columns(rows, speeds);
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut header: Vec<String> =
        ["batch", "water_c", "water_kg", "ice_kg"].map(String::from).into();
    header.extend(minutes.iter().map(|speed| format!("minutes_{speed}")));
    header.extend(
        [
            "dough_c",
            "dough_low_c",
            "dough_high_c",
            "chance_within_1c",
            "development",
            "development_low",
            "development_high",
            "verdict",
            "why",
        ]
        .map(String::from),
    );
    writer.write_record(&header)?;
    for row in rows {
        let mut cells = vec![harmless(row.batch.as_deref().unwrap_or_default()).into_owned()];
        match &row.planned {
            Some(planned) => {
                let plan = &planned.plan;
                let c = |value: Option<f64>| shown(value, DECIMALS_C);
                let grade = |value: Option<f64>| shown(value, DECIMALS_GRADE);
                // What is in the bowl already is not planned.
                let begun = !planned.draft.so_far.is_empty();
                let kg = |kg: f64| if begun { String::new() } else { plain(kg, DECIMALS_KG) };
                cells.extend([c(plan.water_c), kg(plan.water_kg), kg(plan.ice_kg)]);
                cells.extend(minutes.iter().map(|s| plain(plan.minutes_at(s), DECIMALS_MIN)));
                let forecast = &plan.forecast;
                let (low_c, high_c) = forecast.dough_interval_c.unzip();
                let (low, high) = forecast.development_interval.unzip();
                cells.extend([c(Some(forecast.dough_c)), c(low_c), c(high_c)]);
                cells.extend([plan.chance_within_1c, forecast.development, low, high].map(grade));
                cells.extend([words::verdict(plan.verdict).into(), planned.why.join("; ")]);
            }
            None => {
                cells.resize(header.len() - 1, String::new());
                cells.push(if row.over { "over".into() } else { String::new() });
            }
        }
        writer.write_record(&cells)?;
    }
    Ok(writer.into_inner()?)
}

fn shown(value: Option<f64>, decimals: usize) -> String {
    value.map(|value| plain_number(value, decimals)).unwrap_or_default()
}

/// Without zeros at its end.
fn plain(value: f64, decimals: usize) -> String {
    let text = plain_number(value, decimals);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
