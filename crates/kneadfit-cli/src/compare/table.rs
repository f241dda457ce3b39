//! The comparison as a table to read: one dough a block, one machine a line.

use std::fmt::Write;

use kneadfit::planning::{Comparison, Plan};

use super::Compared;
use super::on_machine::OnMachine;
use crate::plan::arguments::WishArguments;
use crate::plots::text::{number, shortened};
use crate::terminal::{BOLD, FAINT, styled};

/// What is said after all doughs.
const MEANING: &str = "\
Kneaded to full development with the least heat, by the minutes that each machine's log \
covers. Ranges hold the next reading; those of the heat per full development hold the truth \
in 95 of 100 cases.
";

pub fn table(compared: &[Compared], wishes: &WishArguments) -> String {
    let mut text = String::new();
    for dough in compared {
        let _ = writeln!(text, "{}", styled(BOLD, &shortened(&dough.dough, 60)));
        for machine in &dough.machines {
            block(&mut text, machine, wishes);
        }
    }
    text.push_str(MEANING);
    text
}

fn block(text: &mut String, on: &OnMachine, wishes: &WishArguments) {
    let Ok(comparison) = &on.comparison else { return };
    let plan = &comparison.kneaded;
    let minutes: Vec<String> = (plan.phases.iter())
        .filter(|p| p.minutes > 0.0)
        .map(|p| format!("{} at {}", number(p.minutes, 1), shortened(&p.speed, 30)))
        .collect();
    let name = shortened(&on.machine, 40);
    let _ = writeln!(text, "  {}", styled(BOLD, &name));
    line(text, "minutes", &format!("{} min", number(comparison.minutes(), 1)), &minutes.join(", "));
    line(
        text,
        "dough then",
        &degrees(plan.forecast.dough_c),
        &interval(plan.forecast.dough_interval_c),
    );
    line(text, "warmth that kneading adds", &degrees(comparison.warmth_k()), "");
    for heat in &on.development_heat {
        line(
            text,
            &format!("heat per full development, {}", shortened(&heat.speed, 20)),
            &degrees(heat.heat_c),
            &interval(heat.interval_c.map(|[low, high]| (low, high))),
        );
    }
    if let (Some(watered), Some(wanted_c)) = (&comparison.watered, wishes.dough_c) {
        let label = format!("water for {}", degrees(wanted_c));
        line(text, &label, &water(watered), &reach(watered, wanted_c));
    }
    if let (Some(first), Some(cap_c)) = (comparison.cap_first, wishes.cap_c) {
        line(text, &format!("cap of {}", degrees(cap_c)), cap(comparison, first), "");
    }
}

fn line(text: &mut String, label: &str, value: &str, more: &str) {
    let _ = writeln!(text, "    {label:<36} {value:>12}   {}", styled(FAINT, more));
}

fn degrees(c: f64) -> String {
    format!("{} °C", number(c, 1))
}

fn interval(interval: Option<(f64, f64)>) -> String {
    interval
        .map_or(String::new(), |(low, high)| format!("{} to {}", number(low, 1), number(high, 1)))
}

/// The water of a plan in words.
pub fn water(plan: &Plan) -> String {
    plan.water_c.map_or("none".into(), degrees)
}

/// What goes with the water, or what it does not reach.
fn reach(plan: &Plan, wanted_c: f64) -> String {
    let ice = if plan.ice_kg > 0.0 {
        format!("and {} g of ice", number(1000.0 * plan.ice_kg, 0))
    } else {
        String::new()
    };
    let off = plan.forecast.dough_c - wanted_c;
    if off.abs() <= 0.05 {
        return ice;
    }
    let ends = format!("does not reach: the dough ends at {}", degrees(plan.forecast.dough_c));
    if ice.is_empty() { ends } else { format!("{ice}; {ends}") }
}

fn cap(comparison: &Comparison, first: bool) -> &'static str {
    match first {
        true => "comes first",
        false if comparison.kneaded.short_of.is_empty() => "is kept",
        false => "is kept until then",
    }
}
