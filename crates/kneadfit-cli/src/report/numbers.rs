//! The table of a machine's numbers.

use kneadfit::calibration::Calibration;
use kneadfit::inference::{Estimate, Status};

use super::ReportInput;
use super::bakers::Bakers;
use super::derived::Derived;
use super::html::Html;
use super::shown::{change, change_interval, interval, value};
use super::verdict::FROM_THE_LOG;
use crate::findings::{of_reference_flour, with_flour};
use crate::plots::text::{number, shortened};

/// One row: what it is, what it reads, and the coefficient behind it.
struct Row<'a> {
    what: String,
    reads: String,
    interval: Option<String>,
    estimate: &'a Estimate,
}

const COLUMNS: [&str; 4] = ["what", "reads", "interval", "where it comes from"];

/// The section with the tables of heat and of development.
pub fn write(page: &mut Html, input: &ReportInput<'_>) {
    let calibration = input.calibration;
    page.section("numbers", "The machine’s numbers");
    page.element(
        "p",
        &format!(
            "{}All for the usual charge of {} kg ({}) as a plain dough of 65 % hydration at \
             24 °C{}, its bowl along with it. Intervals hold with {} % confidence.",
            if with_flour(calibration) { "" } else { "The log is without flour. " },
            number(calibration.model.usual_charge_kg, 2),
            match calibration.options.usual_charge_kg {
                Some(_) => "as given",
                None => "the largest logged",
            },
            of_reference_flour(calibration),
            input.level_percent()
        ),
    );
    page.element("h3", "Heat");
    let mut rows = heat_rows(input);
    table(page, &rows);
    if calibration.development.is_some() {
        page.element("h3", "Development");
        let development = development_rows(input);
        table(page, &development);
        rows.extend(development);
    }
    keys(page, &rows);
    page.end_section();
}

fn table(page: &mut Html, rows: &[Row<'_>]) {
    page.raw("<div class=\"numbers\">\n").table_head(&COLUMNS);
    for row in rows {
        page.raw("<tr><th scope=\"row\">").quoted(&row.what).raw("</th>");
        page.raw("<td class=\"number\" data-column=\"reads\"><span>").text(&row.reads);
        page.raw("</span></td>");
        page.raw("<td class=\"number\" data-column=\"interval\"><span>");
        page.text(interval_words(row)).raw("</span></td>");
        source(page, row.estimate);
        page.raw("</tr>\n");
    }
    page.end_table().raw("</div>\n");
}

/// The coefficients under the keys of the profile, folded away: programs read them there.
fn keys(page: &mut Html, rows: &[Row<'_>]) {
    page.raw("<details>\n<summary>").text("The same numbers as the profile has them");
    page.raw("</summary>\n<ul class=\"keys\">\n");
    let mut said: Vec<&str> = Vec::new();
    for e in rows.iter().map(|row| row.estimate) {
        if said.contains(&&*e.name) {
            continue;
        }
        said.push(&e.name);
        let unit = if e.unit == "1" { "" } else { e.unit };
        let words = format!("{} = {} {unit}", e.name, significant(e.value));
        page.raw("<li>").quoted(words.trim_end()).raw("</li>\n");
    }
    page.raw("</ul>\n</details>\n");
}

/// The interval; a coefficient without a doubt of its own has none, whatever the reading's
/// other coefficients add.
fn interval_words<'a>(row: &'a Row<'_>) -> &'a str {
    match (&row.interval, row.estimate.status) {
        (_, Status::Fixed) => "–",
        (Some(interval), _) if row.estimate.standard_error.is_some() => interval,
        _ => "not known",
    }
}

/// Status in words, and a bar of the share that came from the log.
fn source(page: &mut Html, estimate: &Estimate) {
    page.raw("<td data-column=\"where it comes from\"><span>").text(&status(estimate));
    if estimate.prior.is_some() {
        let percent = number(100.0 * estimate.log_share, 0);
        page.raw("<br/><span class=\"share\" role=\"img\" aria-label=\"").text(&percent);
        page.raw(" % from the log\"><span style=\"width:").text(&percent);
        page.raw("%\"></span></span><span class=\"percent\">").text(&percent);
        page.raw(" % from the log</span>");
    }
    page.raw("</span></td>");
}

fn status(estimate: &Estimate) -> String {
    match estimate.status {
        Status::Fixed => estimate.without_error.as_deref().unwrap_or("held").to_owned(),
        Status::AtBound => "not told: it ran to the limit of what can be".into(),
        Status::FromPrior => "as is usual; the log adds next to nothing".into(),
        Status::Fitted if estimate.prior.is_none() => match &estimate.without_error {
            Some(why) => why.to_string(),
            None => "from this log alone".into(),
        },
        Status::Fitted if estimate.log_share >= FROM_THE_LOG => "from this log".into(),
        Status::Fitted => "from this log and what is usual".into(),
    }
}

/// A number to four digits.
fn significant(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    number(value, (3 - value.abs().log10().floor() as i32).clamp(0, 8) as usize)
}

fn heat_rows<'a>(input: &ReportInput<'a>) -> Vec<Row<'a>> {
    let calibration = input.calibration;
    let estimates = &calibration.heat.estimates;
    let bakers = Bakers::new(calibration, input.level);
    let mut rows = Vec::with_capacity(estimates.len());
    for (i, speed) in calibration.speeds.iter().enumerate() {
        let speed = shortened(speed, 40);
        let what = format!("Friction at {speed}");
        rows.push(plain(what, bakers.friction_c_per_min(i), "°C/min", &estimates[i]));
    }
    let common = &estimates[calibration.speeds.len()..];
    let exchange = "What the room takes or gives in 10 minutes, 10 °C off the dough";
    rows.push(plain(exchange, bakers.exchange_c(), "°C", &common[0]));
    let bowl = "Heat that the bowl holds, beside that of the dough";
    rows.push(plain(bowl, bakers.bowl_percent(), "%", &common[1]));
    rows.push(plain("Warming from wetting the flour", bakers.wetting_c(), "°C", &common[2]));
    let half = "Friction a kg of dough, at half the charge";
    rows.push(changed(half, bakers.half_charge_percent(), &common[3]));
    let wetter = "Friction, at 10 points more hydration";
    rows.push(changed(wetter, bakers.wetter_percent(), &common[4]));
    let warmer = "Friction, in a dough 10 °C warmer";
    rows.push(changed(warmer, bakers.warmer_percent(), &common[5]));
    let with_prior = calibration.options.with_prior;
    for (i, flour) in calibration.flours.iter().enumerate().filter(|_| with_prior) {
        let beside = beside(calibration);
        let what = format!("Friction of doughs of {}, beside {beside}", shortened(flour, 60));
        rows.push(plain(what, bakers.flour_friction(i), "times", &common[6 + i]));
    }
    rows
}

fn development_rows<'a>(input: &ReportInput<'a>) -> Vec<Row<'a>> {
    let calibration = input.calibration;
    let Some(part) = &calibration.development else { return Vec::new() };
    let bakers = Bakers::new(calibration, input.level);
    let speeds = calibration.speeds.len();
    let mut rows = Vec::new();
    for (i, speed) in calibration.speeds.iter().enumerate() {
        let speed = shortened(speed, 40);
        if let (Some(minutes), Some(heat)) =
            (bakers.full_development_min(i), bakers.full_development_c(i))
        {
            let what = format!("Full development at {speed}");
            rows.push(plain(what, minutes, "min", &part.estimates[i]));
            let what = format!("Friction heat of a full development at {speed}");
            // A reading of two numbers is as good as the worse of them.
            let (rate, friction) = (&part.estimates[i], &calibration.heat.estimates[i]);
            let worse = if rate.log_share < friction.log_share { rate } else { friction };
            rows.push(plain(what, heat, "°C", worse));
        }
    }
    if let Some(minutes) = bakers.full_development_min(speeds) {
        let what = "Rest that does what a full development does";
        rows.push(plain(what, minutes, "min", &part.estimates[speeds]));
    }
    if let Some(q10) = bakers.q10() {
        let what = "Pace of development, in a dough 10 °C warmer";
        rows.push(plain(what, q10, "times", &part.estimates[speeds + 1]));
    }
    for (i, flour) in calibration.flours.iter().enumerate() {
        if let Some(pace) = bakers.flour_pace(i) {
            let beside = beside(calibration);
            let what = format!("Pace of development of {}, beside {beside}", shortened(flour, 60));
            rows.push(plain(what, pace, "times", &part.estimates[speeds + 2 + i]));
        }
    }
    rows
}

/// The flour that others stand beside.
fn beside(calibration: &Calibration) -> String {
    match &calibration.reference_flour {
        Some(reference) => shortened(reference, 60),
        None => "the other flour".into(),
    }
}

fn plain<'a>(what: impl Into<String>, reading: Derived, unit: &str, e: &'a Estimate) -> Row<'a> {
    Row {
        what: what.into(),
        reads: match e.status {
            // Where it stopped is no reading of the machine.
            Status::AtBound => "–".into(),
            _ => value(&reading, unit),
        },
        interval: interval(&reading),
        estimate: e,
    }
}

fn changed<'a>(what: &str, reading: Derived, e: &'a Estimate) -> Row<'a> {
    Row {
        what: what.into(),
        reads: change(&reading, "%"),
        interval: change_interval(&reading),
        estimate: e,
    }
}
