//! The plots with their captions.

use kneadfit::charge::{Charge, Material};

use super::ReportInput;
use super::html::Html;
use crate::findings::of_reference_flour;
use crate::plots::curves::curves;
use crate::plots::development_heat::development_heat_svg;
use crate::plots::measured::{Measured, dough_temperatures, grades};
use crate::plots::residuals::{BAND_SDS, residual_panels};
use crate::plots::text::number;
use crate::plots::{INFLUENCE_TIMES_BATCHES, key_svg};

/// All sections with plots.
pub fn write(page: &mut Html, input: &ReportInput<'_>) {
    measured_section(page, input);
    curves_section(page, input);
    development_section(page, input);
    residuals_section(page, input);
}

fn figure(page: &mut Html, svg: &str) {
    page.raw("<figure>\n").raw(svg).raw("</figure>\n");
}

fn measured_section(page: &mut Html, input: &ReportInput<'_>) {
    page.section("measured", "Measured against forecast");
    let all: Vec<Measured> =
        [dough_temperatures(input), grades(input)].into_iter().flatten().collect();
    if all.is_empty() {
        page.element("p", "The other batches do not say enough to forecast any reading.");
    } else {
        page.element(
            "p",
            &format!(
                "Each batch as the other batches alone forecast it, as if it had not been mixed \
                 yet. On the line, forecast and measurement agree; the bars are the {} % \
                 intervals of the forecasts, and about {} % of them should reach the line.",
                input.level_percent(),
                input.level_percent()
            ),
        );
        page.raw("<div class=\"panels\">\n");
        for measured in &all {
            figure(page, &measured.panel.svg());
        }
        page.raw("</div>\n");
        for measured in &all {
            let mut words = format!(
                "{}: {} of {} readings lie in their interval, those that look mistyped left aside.",
                measured.panel.title, measured.held.0, measured.held.1
            );
            if measured.left_away > 0 {
                words += &format!(
                    " {} readings, evenly spread, are not drawn to keep the others apart.",
                    measured.left_away
                );
            }
            page.raw("<p class=\"fine\">").text(&words).raw("</p>\n");
        }
    }
    page.end_section();
}

fn curves_section(page: &mut Html, input: &ReportInput<'_>) {
    page.section("curves", "How a typical batch warms");
    match curves(input) {
        None => {
            page.element("p", "The middle batch of this log cannot be forecast.");
        }
        Some(curves) => {
            page.element(
                "p",
                &format!(
                    "The middle batch of the log ({}){}, mixed at one speed from the start on. The \
                     band holds the next reading with {} % confidence; the line is broken beyond \
                     the minutes that were logged at that speed. A ring marks full development.",
                    recipe(&curves.batch),
                    of_reference_flour(input.calibration),
                    input.level_percent()
                ),
            );
            page.raw("<div class=\"panels\">\n");
            for panel in &curves.panels {
                figure(page, &panel.svg());
            }
            page.raw("</div>\n");
            if curves.left_out > 0 {
                let words = format!("{} more speeds are not drawn.", curves.left_out);
                page.raw("<p class=\"fine\">").text(&words).raw("</p>\n");
            }
        }
    }
    page.end_section();
}

/// A charge in words.
fn recipe(charge: &Charge) -> String {
    let named = |material: &Material| match material {
        Material::Flour => "flour",
        Material::Water => "water",
        Material::Ice => "ice",
        Material::Preferment { .. } => "preferment",
        Material::Salt => "salt",
        Material::Sugar => "sugar",
        Material::Fat => "fat",
        _ => "other",
    };
    let parts: Vec<String> = charge
        .ingredients
        .iter()
        .map(|i| {
            let kg = number(i.mass_kg, if i.mass_kg < 1.0 { 3 } else { 2 });
            format!("{kg} kg {} at {} °C", named(&i.material), number(i.temperature_c, 1))
        })
        .collect();
    format!("{}; room {} °C", parts.join(", "), number(charge.room_c, 1))
}

fn development_section(page: &mut Html, input: &ReportInput<'_>) {
    page.section("development-heat", "What a full development costs in heat");
    match development_heat_svg(input) {
        None => {
            page.element("p", "Not known: no batch of this log was graded.");
        }
        Some((svg, left_out)) => {
            page.element(
                "p",
                &format!(
                    "What friction adds at each speed until the dough is fully developed, for the \
                     usual charge at 24 °C{}. The less, the warmer the water may be. Dots: best \
                     estimate; bars: {} % intervals.",
                    of_reference_flour(input.calibration),
                    input.level_percent()
                ),
            );
            page.raw("<div class=\"panels\">\n");
            figure(page, &svg);
            page.raw("</div>\n");
            if left_out > 0 {
                let words = format!("{left_out} more speeds are in the table only.");
                page.raw("<p class=\"fine\">").text(&words).raw("</p>\n");
            }
        }
    }
    page.end_section();
}

fn residuals_section(page: &mut Html, input: &ReportInput<'_>) {
    let residuals = residual_panels(input);
    page.section("residuals", "Residuals");
    page.element(
        "p",
        &format!(
            "What the fit says less what was read. A sound fit scatters about zero without any \
             pattern, nearly all of it inside the band of usual noise (±{BAND_SDS} standard \
             deviations of thermometers and batches; where friction warms doughs more, they spread \
             a little wider). A batch is marked for its influence where \
             its Cook’s distance is beyond {INFLUENCE_TIMES_BATCHES} over the number of batches.",
        ),
    );
    page.raw("<figure class=\"key\">\n").raw(&key_svg()).raw("</figure>\n<div class=\"panels\">\n");
    for panel in &residuals.panels {
        figure(page, &panel.svg());
    }
    page.raw("</div>\n");
    for remark in &residuals.remarks {
        page.raw("<p class=\"fine\">").text(remark).raw("</p>\n");
    }
    page.end_section();
}
