//! The machine in a paragraph: what it does, how well it is forecast, how sure that is.

use kneadfit::calibration::Part;
use kneadfit::inference::Status;

use super::ReportInput;
use super::bakers::Bakers;
use super::html::Html;
use super::shown::{both, counted, listed, mass_kg, value};
use crate::bench_table::not_forecast;
use crate::plots::measured;
use crate::plots::text::{number, shortened};

/// An error beyond this is that of batches which say nothing of each other.
const NONSENSE_K: f64 = 50.0;
/// More speeds than this are left to the table.
const SPEEDS_NAMED: usize = 4;
/// A coefficient with at least this share from the log is the log's.
pub const FROM_THE_LOG: f64 = 0.7;

/// Title and verdict.
pub fn write(page: &mut Html, input: &ReportInput<'_>) {
    let calibration = input.calibration;
    page.raw("<header>\n<p class=\"kind\">Mixer calibration</p>\n");
    page.element("h1", &shortened(&calibration.machine, 120));
    let mut basis = vec![counted(calibration.batches, "batch", "batches")];
    basis.push(counted(calibration.heat.readings, "dough temperature", "dough temperatures"));
    if let Some(part) = &calibration.development {
        basis.push(counted(part.readings, "grade of development", "grades of development"));
    }
    let mut line = format!("From {}", listed(&basis));
    if let Some((first, last)) = &calibration.period {
        line += &if first == last { format!(", {first}") } else { format!(", {first} to {last}") };
    }
    page.raw("<p class=\"basis\">").quoted(&line).raw("</p>\n</header>\n");
    page.raw("<section id=\"verdict\">\n<p class=\"verdict\">");
    page.text(&sentences(input).join(" ")).raw("</p>\n");
    page.raw("<p class=\"fine\">");
    page.text(&format!(
        "In brackets: the interval that holds the true number with {} % confidence.",
        input.level_percent()
    ));
    page.raw("</p>\n").end_section();
}

fn sentences(input: &ReportInput<'_>) -> Vec<String> {
    let mut all = vec![warming(input)];
    all.extend(development(input));
    all.push(forecast_error(input));
    all.push(how_sure(input));
    if !input.calibration.converged() {
        all.push(
            "The fit did not come to an end that can be trusted: take no number here as \
             known before the log has been looked over."
                .into(),
        );
    }
    all
}

fn warming(input: &ReportInput<'_>) -> String {
    let calibration = input.calibration;
    let bakers = Bakers::new(calibration, input.level);
    let speeds = &calibration.speeds;
    let charge = mass_kg(calibration.model.usual_charge_kg);
    if speeds.is_empty() {
        return format!("A charge of {charge} kg that is never mixed: friction plays no part.");
    }
    let each: Vec<String> = speeds
        .iter()
        .take(SPEEDS_NAMED)
        .enumerate()
        .map(|(i, speed)| {
            let warming = bakers.friction_c_per_min(i);
            format!("{} a minute at {}", both(&warming, "°C"), shortened(speed, 30))
        })
        .collect();
    let rest = speeds.len().saturating_sub(SPEEDS_NAMED);
    let rest =
        if rest > 0 { format!("; {rest} more speeds are in the table") } else { String::new() };
    format!("Friction warms the usual dough of {charge} kg by {}{rest}.", listed(&each))
}

fn development(input: &ReportInput<'_>) -> Option<String> {
    let calibration = input.calibration;
    let bakers = Bakers::new(calibration, input.level);
    if calibration.development.is_none() {
        return Some(
            "No batch was graded, so how fast this machine develops a dough is not known.".into(),
        );
    }
    let each: Vec<String> = calibration
        .speeds
        .iter()
        .enumerate()
        .take(SPEEDS_NAMED)
        .filter_map(|(i, speed)| {
            let minutes = both(&bakers.full_development_min(i)?, "min");
            let heat = value(&bakers.full_development_c(i)?, "°C");
            let speed = shortened(speed, 30);
            Some(format!("{minutes} at {speed}, in which friction adds {heat}"))
        })
        .collect();
    (!each.is_empty())
        .then(|| format!("A dough at 24 °C is fully developed after {}.", each.join("; after ")))
}

fn forecast_error(input: &ReportInput<'_>) -> String {
    let calibration = input.calibration;
    let unknown = "No batch of this log can be forecast from the others, so how far a forecast is \
                   off is not known.";
    let alone = calibration.batches == 1 && !calibration.options.with_prior;
    let Some(errors) = calibration.heat.left_out.filter(|e| !alone && e.rms < NONSENSE_K) else {
        return unknown.into();
    };
    let readings = counted(errors.readings, "reading", "readings");
    let mut words = if calibration.batches == 1 {
        format!(
            "From what is usual alone, the batch would have been forecast {}\u{A0}°C off \
             ({readings}, root mean square).",
            number(errors.rms, 1)
        )
    } else {
        format!(
            "Forecast from the other batches alone, a dough temperature was off by {}\u{A0}°C \
             (root mean square of {readings}; at worst {}; on the whole {}).",
            number(errors.rms, 1),
            off(errors.worst),
            off(errors.bias)
        )
    };
    if let Some(untold) = not_forecast(&calibration.heat) {
        words += &format!(" {untold}.");
    }
    if let Some(measured) = measured::dough_temperatures(input)
        && measured.held.1 > 1
    {
        words += &format!(
            " {} of {} lay in the interval forecast for them.",
            measured.held.0, measured.held.1
        );
    }
    words
}

/// An error of a forecast in words.
fn off(error_k: f64) -> String {
    match number(error_k.abs(), 1).as_str() {
        "0.0" => "right".into(),
        size if error_k > 0.0 => format!("{size}\u{A0}°C too warm"),
        size => format!("{size}\u{A0}°C too cold"),
    }
}

fn how_sure(input: &ReportInput<'_>) -> String {
    let calibration = input.calibration;
    if !calibration.options.with_prior {
        return "All numbers are from this log alone: nothing was assumed of mixers in general."
            .into();
    }
    let parts = || std::iter::once(&calibration.heat).chain(&calibration.development);
    let fitted = |part: &'_ Part| -> Vec<f64> {
        let free = part.estimates.iter().filter(|e| e.status != Status::Fixed);
        free.map(|e| e.log_share).collect()
    };
    let shares: Vec<f64> = parts().flat_map(fitted).collect();
    let mostly = shares.iter().filter(|s| **s >= FROM_THE_LOG).count();
    format!(
        "Of {}, {} from this log for the most part; the others lean on what is \
         usual, and the table says which.",
        counted(shares.len(), "number", "numbers"),
        if mostly == 1 { "1 is".to_owned() } else { format!("{mostly} are") }
    )
}
