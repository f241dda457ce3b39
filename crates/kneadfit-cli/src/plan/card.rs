//! A dough's card: one page for the bench, on paper or a telephone, that needs nothing
//! beside itself.

use kneadfit::charge::{Ingredient, Material};
use kneadfit::planning::{CheckPoint, Plan, Verdict, Wanted};

use super::planned::Planned;
use super::words::{clock, trimmed, weight};
use crate::plots::text::{number, shortened};
use crate::report::html::Html;

const CAUTIONS: [&str; 4] = [
    "Mixers maim. Stop the mixer and let the hook come to rest before a probe, a scraper or a \
     hand goes near it; guards stay on.",
    "The maker’s manual and local codes come first; service is for licensed people, the machine \
     cut off from its supply.",
    "Raw flour and raw dough are not ready to eat: do not taste them.",
    "A forecast is no control of food safety: measure where safety asks for a temperature.",
];

/// Water warmer than this comes with a word on yeast; common practice, no source.
const WARM_WATER_C: f64 = 35.0;

/// The page of one dough.
pub fn card_html(planned: &Planned, date: Option<&str>, machine: &str, wanted: &Wanted) -> String {
    let plan = &planned.plan;
    let mut page = Html::page(
        &format!("{} – dough card", shortened(&planned.draft.id, 120)),
        include_str!("card.css"),
    );
    head(&mut page, planned, date, machine, wanted);
    key_numbers(&mut page, planned, wanted);
    verdict(&mut page, planned);
    page.raw("<div class=\"sides\">\n");
    bowl(&mut page, planned);
    mixing(&mut page, planned, wanted);
    page.raw("</div>\n");
    next_time(&mut page, plan);
    page.section("cautions", "Mind").raw("<ul class=\"warnings\">\n");
    for caution in CAUTIONS {
        page.element("li", caution);
    }
    if plan.water_c.is_some_and(|c| c > WARM_WATER_C) {
        page.element(
            "li",
            "Yeast suffers in water warmer than about 40 °C: let it not stand in this.",
        );
    }
    page.raw("</ul>\n").end_section();
    page.finished()
}

fn head(page: &mut Html, planned: &Planned, date: Option<&str>, machine: &str, wanted: &Wanted) {
    let kind = if planned.draft.so_far.is_empty() { "Dough card" } else { "Dough on the way" };
    page.raw("<header>\n<p class=\"kind\">");
    page.text(&format!("{kind} · {}", shortened(machine, 60))).raw("</p>\n");
    page.element("h1", &shortened(&planned.draft.id, 80));
    let charge = &planned.plan.batch.charge;
    let mut basis: Vec<String> =
        wanted.dough_c.iter().map(|c| format!("wanted {} °C", trimmed(*c, 2))).collect();
    basis.push(format!("{} of dough", weight(charge.mass_kg())));
    if let Some(hydration) = charge.hydration() {
        basis.push(format!("hydration {} %", number(100.0 * hydration, 0)));
    }
    basis.push(format!("room {} °C", trimmed(charge.room_c, 1)));
    if let Some(bowl_c) = charge.bowl_c {
        basis.push(format!("bowl {} °C", trimmed(bowl_c, 1)));
    }
    basis.extend(date.map(str::to_owned));
    page.raw("<p class=\"basis\">").quoted(&basis.join(" · ")).raw("</p>\n</header>\n");
}

/// The numbers to be seen from a step away.
fn key_numbers(page: &mut Html, planned: &Planned, wanted: &Wanted) {
    let plan = &planned.plan;
    page.raw("<dl class=\"key-numbers\">\n");
    let mut fact = |name: &str, value: &str, fine: &str| {
        page.raw("<div>").element("dt", name).raw("<dd><strong>").text(value);
        page.raw("</strong><span>").text(fine).raw("</span></dd></div>\n");
    };
    if let Some(water_c) = plan.water_c.filter(|_| plan.water_kg > 0.0) {
        fact("Water at", &format!("{} °C", number(water_c, 1)), &weight(plan.water_kg));
    }
    if plan.ice_kg > 0.0 {
        fact("Ice", &weight(plan.ice_kg), &format!("at {} °C", number(planned.draft.ice_c, 0)));
    }
    let ahead: f64 = plan.phases.iter().map(|p| p.minutes).sum();
    let name = if planned.draft.so_far.is_empty() { "Minutes" } else { "Minutes more" };
    fact(name, &clock(ahead), "min:s in all");
    let interval = plan.forecast.dough_interval_c.map_or_else(
        || "its range is not known".into(),
        |(low, high)| {
            let percent = trimmed(100.0 * wanted.level, 1);
            format!("{} to {} in {percent} % of such doughs", number(low, 1), number(high, 1))
        },
    );
    fact("Dough at the end", &format!("{} °C", number(plan.forecast.dough_c, 1)), &interval);
    if let Some(grade) = plan.forecast.development {
        let interval = plan.forecast.development_interval.map_or_else(
            || "its range is not known".into(),
            |(low, high)| format!("{} to {}; 1 is full", number(low, 2), number(high, 2)),
        );
        fact("Development at the end", &number(grade, 2), &interval);
    }
    page.raw("</dl>\n");
}

fn verdict(page: &mut Html, planned: &Planned) {
    let (class, words) = match planned.plan.verdict {
        Verdict::Ok => ("good", "As wanted."),
        Verdict::WithIce => ("good", "As wanted, with ice."),
        Verdict::OutsideLog => ("doubtful", "As wanted, but beyond what was logged: probe early."),
        _ => ("missed", "Not as wanted. The nearest that can be done:"),
    };
    page.raw("<p class=\"verdict ").raw(class).raw("\"><strong>").text(words).raw("</strong>");
    if !planned.why.is_empty() {
        page.raw(" ").text(&sentence(&planned.why.join("; ")));
    }
    page.raw("</p>\n");
}

/// Clauses as a sentence; names of speeds may hold anything, and stay.
fn sentence(clauses: &str) -> String {
    let mut characters = clauses.chars();
    let first = characters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", characters.as_str())
}

/// What goes in, in the order in which it is weighed.
fn bowl(page: &mut Html, planned: &Planned) {
    let begun = !planned.draft.so_far.is_empty();
    page.section("bowl", if begun { "In the bowl" } else { "Into the bowl" });
    page.table_head(&["what", "weight", "at"]);
    let charge = &planned.plan.batch.charge;
    let mut parts: Vec<&Ingredient> =
        charge.ingredients.iter().filter(|i| i.mass_kg > 0.0).collect();
    parts.sort_by_key(|i| rank(&i.material));
    for part in parts {
        let (name, tempered) = named(&part.material);
        let name = match (&part.material, &charge.flour_name) {
            (Material::Flour, Some(flour)) => format!("{name}, {}", shortened(flour, 60)),
            _ => name,
        };
        let decimals = usize::from(part.material == Material::Water);
        let at = if tempered { degrees(part.temperature_c, decimals) } else { "room".into() };
        page.raw("<tr><th scope=\"row\">").quoted(&name).raw("</th>");
        page.cell("weight", &weight(part.mass_kg)).cell("at", &at).raw("</tr>\n");
    }
    page.end_table().end_section();
}

fn degrees(c: f64, least_decimals: usize) -> String {
    let text = if least_decimals > 0 { number(c, 1) } else { trimmed(c, 1) };
    format!("{text} °C")
}

fn rank(material: &Material) -> usize {
    match material {
        Material::Flour => 0,
        Material::Water => 1,
        Material::Ice => 2,
        Material::Preferment { .. } => 3,
        Material::Salt => 4,
        Material::Sugar => 5,
        Material::Fat => 6,
        _ => 7,
    }
}

/// A material in words, and whether its temperature counts by itself.
fn named(material: &Material) -> (String, bool) {
    match material {
        Material::Flour => ("Flour".into(), true),
        Material::Water => ("Water".into(), true),
        Material::Ice => ("Ice".into(), true),
        Material::Preferment { hydration } => {
            (format!("Preferment, hydration {} %", number(100.0 * hydration, 0)), true)
        }
        Material::Salt => ("Salt".into(), false),
        Material::Sugar => ("Sugar".into(), false),
        Material::Fat => ("Fat".into(), false),
        _ => ("Other".into(), true),
    }
}

/// Minutes by speed in order, and what the probe shows after each.
fn mixing(page: &mut Html, planned: &Planned, wanted: &Wanted) {
    let begun = !planned.draft.so_far.is_empty();
    page.section("mixing", if begun { "Mix on" } else { "Mix" });
    let steps: Vec<&CheckPoint> =
        planned.check_points.iter().filter(|point| point.minutes > 0.0).collect();
    if steps.is_empty() {
        page.element("p", "No minutes ahead.").end_section();
        return;
    }
    page.table_head(&["speed", "min:s", "then the dough is at"]);
    for point in &steps {
        page.raw("<tr><th scope=\"row\">").quoted(&point.speed).raw("</th>");
        let minutes = format!("{} = {} min", clock(point.minutes), trimmed(point.minutes, 2));
        page.cell("min:s", &minutes);
        let dough = number(point.forecast.dough_c, 1);
        let dough = match point.forecast.dough_interval_c {
            Some((low, high)) => {
                format!("{dough} °C ({}\u{A0}to\u{A0}{})", number(low, 1), number(high, 1))
            }
            None => format!("{dough} °C"),
        };
        page.cell("dough", &dough).raw("</tr>\n");
    }
    page.end_table();
    let so_far: Vec<String> = planned
        .draft
        .so_far
        .iter()
        .filter_map(|stage| stage.reading.dough_c)
        .map(|c| format!("{} °C", trimmed(c, 1)))
        .collect();
    if !so_far.is_empty() {
        page.raw("<p class=\"fine\">");
        page.text(&format!("Read so far: {}. ", so_far.join(", ")));
        page.text("These readings count in what is ahead.");
        page.raw("</p>\n");
    }
    if let Some(cap_c) = wanted.cap_c {
        page.raw("<p class=\"fine\">");
        page.text(&format!("Stop in any case at {} °C.", trimmed(cap_c, 1))).raw("</p>\n");
    }
    page.end_section();
}

/// What to do with the water when the dough came out otherwise.
fn next_time(page: &mut Html, plan: &Plan) {
    let by_k = plan.dough_k_per_water_k;
    if plan.water_c.is_none() || by_k <= 0.0 {
        return;
    }
    page.raw("<p class=\"fine\">");
    page.text(&format!(
        "Water 1 °C warmer makes the dough {} °C warmer. A reading outside of its range: look \
         whether flour, water and minutes were as planned, and log the dough.",
        number(by_k, 2)
    ));
    page.raw("</p>\n");
}
