//! The first page: what a baker wants to know of the machine before anything else.

use kneadfit::inference::{Estimate, Status};
use kneadfit_log::Severity;

use super::ReportInput;
use super::bakers::Bakers;
use super::derived::Derived;
use super::gaps::capitalised;
use super::html::Html;
use super::shown::{counted, interval, listed, mass_kg, value};
use crate::bench_table::SAFETY;
use crate::findings::{advice, mistyped, of_reference_flour, parts, untold};
use crate::plots::text::shortened;

/// More speeds than this are left to the table of numbers.
const MOST_SPEEDS: usize = 6;
/// Names of batches that are listed.
const MOST_NAMED: usize = 6;

/// The speeds, and what else moves a dough.
pub fn numbers(page: &mut Html, input: &ReportInput<'_>) {
    speeds(page, input);
    beside_the_speeds(page, input);
}

fn speeds(page: &mut Html, input: &ReportInput<'_>) {
    let calibration = input.calibration;
    let bakers = Bakers::new(calibration, input.level);
    let charge = mass_kg(calibration.model.usual_charge_kg);
    if calibration.speeds.is_empty() {
        let words = format!("A charge of {charge} kg that is never mixed: friction plays no part.");
        page.element("p", &words);
        return;
    }
    let graded = calibration.development.is_some();
    let mut columns = vec!["speed", "friction warms by"];
    if graded {
        columns.extend(["fully developed after", "friction adds by then"]);
    }
    page.raw("<div class=\"speeds\">\n").table_head(&columns);
    for (i, speed) in calibration.speeds.iter().enumerate().take(MOST_SPEEDS) {
        page.raw("<tr><th scope=\"row\">").quoted(&shortened(speed, 40)).raw("</th>");
        let friction = &calibration.heat.estimates[i];
        reading(page, columns[1], bakers.friction_c_per_min(i), "°C/min", friction);
        if let (Some(part), Some(minutes), Some(adds)) =
            (&calibration.development, bakers.full_development_min(i), bakers.full_development_c(i))
        {
            reading(page, columns[2], minutes, "min", &part.estimates[i]);
            reading(page, columns[3], adds, "°C", &part.estimates[i]);
        }
        page.raw("</tr>\n");
    }
    page.end_table().raw("</div>\n");
    let more = calibration.speeds.len().saturating_sub(MOST_SPEEDS);
    let mut words = format!(
        "Of the usual dough of {charge} kg at 24 °C{}. In small print: the interval that holds \
         the true one with {} % confidence.",
        of_reference_flour(calibration),
        input.level_percent()
    );
    if more > 0 {
        let speeds = counted(more, "more speed is", "more speeds are");
        words += &format!(" {speeds} in the table of numbers.");
    }
    page.raw("<p class=\"fine\">").text(&words).raw("</p>\n");
}

/// A cell with a number and, smaller, its interval.
fn reading(page: &mut Html, column: &str, reading: Derived, unit: &str, estimate: &Estimate) {
    page.raw("<td data-column=\"").text(column).raw("\"><span>");
    if estimate.status == Status::Fixed || untold(estimate, reading) {
        page.text("not told by this log");
    } else {
        page.raw("<b>").text(&value(&reading, unit)).raw("</b>");
        let interval = interval(&reading).unwrap_or_else(|| "how surely is not known".into());
        page.raw("<br/><small>").text(&interval).raw("</small>");
    }
    page.raw("</span></td>");
}

fn beside_the_speeds(page: &mut Html, input: &ReportInput<'_>) {
    let calibration = input.calibration;
    let bakers = Bakers::new(calibration, input.level);
    let speeds = calibration.speeds.len();
    let heat = &calibration.heat.estimates;
    let mut all = vec![
        (&heat[speeds + 2], bakers.wetting_c(), "wetting the flour adds {} °C"),
        (&heat[speeds], bakers.exchange_c(), "a room 10 °C off moves it by {} °C in 10 minutes"),
        (&heat[speeds + 1], bakers.bowl_percent(), "the bowl holds {} % of the dough’s heat"),
    ];
    if let (Some(part), Some(q10)) = (&calibration.development, bakers.q10()) {
        let words = "a dough 10 °C warmer develops {} times as fast";
        all.push((&part.estimates[speeds + 1], q10, words));
    }
    let said: Vec<String> = all
        .into_iter()
        .filter(|(estimate, reading, _)| {
            estimate.status != Status::Fixed && !untold(estimate, *reading)
        })
        .map(|(estimate, reading, words)| {
            let usual = if estimate.status == Status::FromPrior { " (as is usual)" } else { "" };
            words.replace("{}", &value(&reading, "")) + usual
        })
        .collect();
    if !said.is_empty() {
        page.element("p", &format!("Beside the speeds: {}.", listed(&said)));
    }
}

/// What is not known, and which batch would tell.
pub fn not_known(page: &mut Html, input: &ReportInput<'_>) {
    let advised = advice(input.calibration, &input.log.log);
    page.element("h3", "Not known, and which batch would tell");
    if advised.all == 0 {
        page.element("p", "Nothing that the model asks for is left open by this log.");
        return;
    }
    page.raw("<ul>\n");
    for advice in &advised.first {
        page.raw("<li>").text(&shortened(&capitalised(&advice.words), 2000)).raw("<br/><b>");
        page.text("To learn it: ").raw("</b>").text(&shortened(&advice.remedy, 2000)).text(".");
        page.raw("</li>\n");
    }
    if advised.more() > 0 {
        page.element("li", &format!("And {} more below.", advised.more()));
    }
    page.raw("</ul>\n");
}

/// Warnings and the first of the cautions.
pub fn to_mind(page: &mut Html, input: &ReportInput<'_>) {
    let calibration = input.calibration;
    page.element("h3", "To mind");
    page.raw("<ul>\n");
    for warning in parts(calibration).flat_map(|part| &part.warnings) {
        page.raw("<li><b>").text("This fit: ").raw("</b>").text(warning).raw("</li>\n");
    }
    let slips = mistyped(&calibration.heat, 1, " °C").len()
        + calibration.development.as_ref().map_or(0, |part| mistyped(part, 2, "").len());
    if slips > 0 {
        let mut names: Vec<String> = Vec::new();
        for batch in parts(calibration).flat_map(|part| part.looks_mistyped()) {
            let name = shortened(&batch.id, 40);
            if !names.contains(&name) {
                names.push(name);
            }
        }
        let more = names.len().saturating_sub(MOST_NAMED);
        names.truncate(MOST_NAMED);
        if more > 0 {
            names.push(format!("{more} more"));
        }
        let readings = counted(slips, "reading looks", "readings look");
        let words = format!("{readings} mistyped and count for little: {}.", listed(&names));
        page.element("li", &words);
    }
    let faults = input.problems.iter().filter(|p| p.severity == Severity::Error).count();
    if faults > 0 {
        let faults = counted(faults, "fault", "faults");
        page.element("li", &format!("{faults} in the log: rows were set aside, see below."));
    }
    page.element(
        "li",
        "The numbers hold for this machine, its bowl and its tool, within what was logged. An \
         interval misses now and then, by its very meaning.",
    );
    page.element("li", SAFETY);
    page.raw("</ul>\n");
}
