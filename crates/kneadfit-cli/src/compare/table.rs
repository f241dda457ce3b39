//! The comparison as a table to read: one dough a block, one machine a line.

use std::fmt::Write;

use kneadfit::domain::Outside;
use kneadfit::planning::{CapKept, Comparison, Plan};

use super::Compared;
use super::arguments::CompareArguments;
use super::on_machine::OnMachine;
use crate::plan::arguments::WishArguments;
use crate::plan::words::{outside, trimmed, weight};
use crate::plots::text::{number, shortened, signed};
use crate::terminal::{BOLD, FAINT, styled};

pub fn table(compared: &[Compared], arguments: &CompareArguments) -> String {
    let mut text = String::new();
    for Compared { dough, machines } in compared {
        let title = shortened(&dough.title(), 60);
        let _ = writeln!(text, "{}, {}", styled(BOLD, &title), weight(dough.mass_kg()));
        for machine in machines {
            block(&mut text, machine, &arguments.wishes);
        }
    }
    if compared.iter().any(|c| c.machines.iter().any(|m| m.comparison.is_ok())) {
        text.push_str(&meaning(arguments));
    }
    text
}

/// What is said after all doughs.
fn meaning(arguments: &CompareArguments) -> String {
    let wishes = &arguments.wishes;
    let cases = trimmed(100.0 * arguments.level, 6);
    let aim = wanted(wishes);
    let mut text = format!(
        "Kneaded to {aim} with the least heat, by the minutes that each machine's log covers, and \
         longer where that is not enough and no bound forbids it.\n\
         Ranges hold the next reading in {cases} of 100 cases. The heat per full development is \
         of this dough kept at 24 °C; its ranges are to hold the truth in {cases} of 100.\n"
    );
    if wishes.cap_c.is_some() {
        let _ = writeln!(
            text,
            "The cap is kept where the chance of a reading below it, at the worst moment, is {} \
             or more.",
            trimmed(wishes.chance, 6)
        );
    }
    text
}

/// The development that is wanted.
fn wanted(wishes: &WishArguments) -> String {
    match wishes.develop {
        1.0 => "full development".into(),
        dose => format!("{} of a full development", trimmed(dose, 3)),
    }
}

fn block(text: &mut String, on: &OnMachine, wishes: &WishArguments) {
    let Ok(comparison) = &on.comparison else { return };
    let plan = &comparison.kneaded;
    let forecast = &plan.forecast;
    let minutes: Vec<String> = (plan.phases.iter())
        .filter(|p| p.minutes > 0.0)
        .map(|p| format!("{} at {}", number(p.minutes, 1), shortened(&p.speed, 30)))
        .collect();
    let name = shortened(&on.machine, 40);
    let _ = writeln!(text, "  {}", styled(BOLD, &name));
    line(text, "minutes", &format!("{} min", number(comparison.minutes(), 1)), &minutes.join(", "));
    if let Some(development) = forecast.development {
        let range = interval(forecast.development_interval, 2);
        line(text, "development then", &number(development, 2), &range);
    }
    if comparison.behind() > 0.0 {
        let behind = format!("{} %", number(100.0 * comparison.behind(), 0));
        let dose = |dose: f64| trimmed(dose, 2);
        let reached = plan.dose.map_or(String::new(), |reached| {
            format!("{} of a full development, {} wanted", dose(reached), dose(wishes.develop))
        });
        line(text, "stays behind by", &behind, &reached);
    }
    let range = interval(forecast.dough_interval_c, 1);
    line(text, "dough then", &degrees(forecast.dough_c), &range);
    let parts = format!(
        "friction {}, room {}",
        signed(comparison.friction_k, 1),
        signed(comparison.room_k(), 1)
    );
    line(text, "warmer than once mixed", &degrees(comparison.warmth_k()), &parts);
    for heat in &comparison.development_heat {
        let label = format!("heat per full development, {}", shortened(&heat.speed, 20));
        line(text, &label, &degrees(heat.heat_k), &interval(heat.interval_k, 1));
    }
    if let (Some(watered), Some(wanted_c)) = (&comparison.watered, wishes.dough_c) {
        let label = format!("water for {}", degrees(wanted_c));
        line(text, &label, &water(watered), &reach(watered, wanted_c));
    }
    if let Some(cap) = &comparison.cap {
        kept(text, comparison, cap);
    }
    beyond(text, "outside of what was logged", plan.outside().iter());
    if let Some(watered) = &comparison.watered {
        let too = |o: &&Outside| plan.outside().iter().all(|other| other.input != o.input);
        let label = format!("outside, with water for {}", degrees(wishes.dough_c.unwrap_or(0.0)));
        beyond(text, &label, watered.outside().iter().filter(too));
    }
}

fn line(text: &mut String, label: &str, value: &str, more: &str) {
    let _ = write!(text, "    {label:<36} {value:>12}");
    if !more.is_empty() {
        let _ = write!(text, "   {}", styled(FAINT, more));
    }
    text.push('\n');
}

/// One line for each input that lies outside of what was logged.
fn beyond<'a>(text: &mut String, label: &str, inputs: impl Iterator<Item = &'a Outside>) {
    for (index, input) in inputs.enumerate() {
        let label = if index == 0 { label } else { "" };
        let _ = writeln!(text, "    {label:<36} {}", outside(input));
    }
}

fn degrees(c: f64) -> String {
    format!("{} °C", number(c, 1))
}

fn interval(interval: Option<(f64, f64)>, decimals: usize) -> String {
    interval.map_or(String::new(), |(low, high)| {
        format!("{} to {}", number(low, decimals), number(high, decimals))
    })
}

/// The water of a plan in words.
fn water(plan: &Plan) -> String {
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

/// Whether the cap is kept, and how surely.
fn kept(text: &mut String, comparison: &Comparison, cap: &CapKept) {
    let verdict = match (cap.is_kept, comparison.behind() > 0.0) {
        (true, false) => "the cap is kept",
        (true, true) => "the cap is kept, but the dough is not developed by then",
        (false, _) => "the cap is not kept",
    };
    let value = match cap.chance {
        Some(chance) => format!("chance {}", number(chance, 2)),
        None if cap.is_kept => "yes".into(),
        None => "no".into(),
    };
    line(text, &format!("stays below {}", degrees(cap.cap_c)), &value, verdict);
}
