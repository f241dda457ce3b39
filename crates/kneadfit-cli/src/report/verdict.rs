//! The head of the page and its verdict: how well doughs are forecast, how sure that is.

use kneadfit::calibration::Part;
use kneadfit::inference::Status;

use super::ReportInput;
use super::html::Html;
use super::shown::{counted, listed};
use super::summary;
use crate::findings::not_forecast;
use crate::plots::measured;
use crate::plots::text::{number, shortened};

/// An error beyond this is that of batches which say nothing of each other.
const NONSENSE_K: f64 = 50.0;
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
    page.raw("<section id=\"verdict\">\n");
    summary::numbers(page, input);
    page.raw("<p class=\"verdict\">").text(&sentences(input).join(" ")).raw("</p>\n");
    summary::not_known(page, input);
    summary::to_mind(page, input);
    page.end_section();
}

fn sentences(input: &ReportInput<'_>) -> Vec<String> {
    let mut all = vec![forecast_error(input)];
    if input.calibration.development.is_none() {
        all.push(
            "No batch was graded, so how fast this machine develops a dough is not known.".into(),
        );
    }
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
         usual, and the tables below say which.",
        counted(shares.len(), "number", "numbers"),
        if mostly == 1 { "1 is".to_owned() } else { format!("{mostly} are") }
    )
}
