//! The short table that is read at the bench: one machine on one screen.

use std::fmt::Write;

use kneadfit::batch::BatchLog;
use kneadfit::calibration::{Calibration, Part};
use kneadfit::inference::{Estimate, Status};

use crate::findings::{Advice, advice, mistyped, not_forecast, parts, untold, with_flour};
use crate::plots::text::{number, one_line, shortened, signed};
use crate::report::bakers::Bakers;
use crate::report::derived::Derived;
use crate::report::shown::{change, change_interval, counted, interval, mass_kg, percent, value};
use crate::terminal::{BOLD, DOUBT, FAINT, styled};

/// More speeds than this are left to the report.
const MOST_SPEEDS: usize = 8;
/// More flours than this are left to the report.
const MOST_FLOURS: usize = 4;
/// Longest sentence of what is not known, characters. Those of kitchens are shorter and never
/// cut; a name in it may be a whole cell of a log.
const LONGEST: usize = 2000;
/// More readings that look mistyped than this are left to the report.
const MOST_MISTYPED: usize = 5;
/// Longest line, characters.
const WIDTH: usize = 88;
/// How far a continued line is moved in.
const INDENT: &str = "    ";

/// What is said once, after all tables.
pub const SAFETY: &str =
    "Stop the mixer and let the hook come to rest before a probe or a hand goes near it.";

/// Where the log, without priors, says nothing of a number.
const NOT_TOLD: &str = "not told";
/// That a number is held, in place of its interval.
const HELD: &str = "held";

/// One line of the table.
struct Line {
    what: String,
    reads: String,
    interval: String,
    from: String,
}

/// The table of one machine.
pub fn bench_table(
    calibration: &Calibration,
    log: &BatchLog,
    level: f64,
    rows_set_aside: usize,
) -> String {
    let mut text = heading(calibration);
    let lines = lines(calibration, level);
    table(&mut text, &lines, level);
    forecast_errors(&mut text, calibration);
    unknown(&mut text, calibration, &lines, log);
    warnings(&mut text, calibration, rows_set_aside);
    text
}

fn heading(calibration: &Calibration) -> String {
    let grades = calibration.development.as_ref().map_or(0, |d| d.readings);
    let mut basis = vec![
        counted(calibration.batches, "batch", "batches"),
        counted(calibration.heat.readings, "dough temperature", "dough temperatures"),
        counted(grades, "grade", "grades"),
    ];
    if let Some((first, last)) = &calibration.period {
        basis.push(if first == last { first.to_string() } else { format!("{first} to {last}") });
    }
    let name = styled(BOLD, &shortened(&calibration.machine, 60));
    let chosen = match calibration.options.usual_charge_kg {
        Some(_) => "usual charge: as given",
        None => "usual charge: the largest logged",
    };
    let charge = mass_kg(calibration.model.usual_charge_kg);
    let flour = match &calibration.reference_flour {
        Some(flour) if !calibration.flours.is_empty() => format!(", of {}", shortened(flour, 24)),
        _ => String::new(),
    };
    let dough = format!("a plain dough of {charge} kg ({chosen}), 65 % water, at 24 °C{flour}");
    // Batches without flour tell of heat; what a dough would do with it is a guess.
    let of = if with_flour(calibration) {
        format!("For {dough}:")
    } else {
        format!("Logged without flour. What follows is reckoned for {dough}:")
    };
    format!("{name}  {}\n{}\n", basis.join(", "), wrapped(&of, "", INDENT))
}

fn lines(calibration: &Calibration, level: f64) -> Vec<Line> {
    let bakers = Bakers::new(calibration, level);
    let speeds = calibration.speeds.len();
    let heat = &calibration.heat.estimates;
    let development = calibration.development.as_ref().map(|d| &d.estimates);
    let mut lines = Vec::new();
    for (i, speed) in calibration.speeds.iter().take(MOST_SPEEDS).enumerate() {
        let speed = shortened(speed, 24);
        let warming = bakers.friction_c_per_min(i);
        lines.push(plain(format!("{speed}: warms the dough"), warming, "°C a minute", &heat[i]));
        if let (Some(minutes), Some(adds), Some(estimates)) =
            (bakers.full_development_min(i), bakers.full_development_c(i), development)
        {
            let rate = &estimates[i];
            // A reading of two numbers is as good as the worse of them.
            let worse = if rate.log_share < heat[i].log_share { rate } else { &heat[i] };
            lines.push(plain(format!("{speed}: full development in"), minutes, "min", rate));
            lines.push(plain(format!("{speed}: which adds"), adds, "°C", worse));
        }
    }
    let room = "room 10 °C off: moves it in 10 min by";
    lines.push(plain(room, bakers.exchange_c(), "°C", &heat[speeds]));
    let bowl = "bowl: holds, of the dough's heat";
    let mut bowl = plain(bowl, bakers.bowl_percent(), "%", &heat[speeds + 1]);
    if calibration.options.bowl_kj_per_k.is_some() {
        bowl.from = "given".into();
        bowl.interval = String::new();
    }
    lines.push(bowl);
    lines.push(plain("wetting the flour: adds", bakers.wetting_c(), "°C", &heat[speeds + 2]));
    let half = bakers.half_charge_percent();
    lines.push(changed("half the charge: friction a kg", half, &heat[speeds + 3]));
    let wetter = bakers.wetter_percent();
    lines.push(changed("10 points more water: friction", wetter, &heat[speeds + 4]));
    let warmer = bakers.warmer_percent();
    lines.push(changed("10 °C warmer: friction", warmer, &heat[speeds + 5]));
    let beside = match &calibration.reference_flour {
        Some(reference) => shortened(reference, 18),
        None => "the other flour".into(),
    };
    // Plain least squares has all flours alike.
    let own = if calibration.options.with_prior { MOST_FLOURS } else { 0 };
    for (i, flour) in calibration.flours.iter().take(own).enumerate() {
        let what = format!("{} beside {beside}", shortened(flour, 18));
        let (friction, estimate) = (bakers.flour_friction(i), &heat[speeds + 6 + i]);
        lines.push(plain(what, friction, "times the friction", estimate));
    }
    let Some(estimates) = development else { return lines };
    if let Some(minutes) = bakers.full_development_min(speeds) {
        lines.push(plain("rest: full development in", minutes, "min", &estimates[speeds]));
    }
    if let Some(q10) = bakers.q10() {
        lines.push(plain("10 °C warmer: development", q10, "times", &estimates[speeds + 1]));
    }
    for (i, flour) in calibration.flours.iter().take(MOST_FLOURS).enumerate() {
        if let Some(pace) = bakers.flour_pace(i) {
            let what = format!("{} beside {beside}", shortened(flour, 18));
            lines.push(plain(what, pace, "times as fast", &estimates[speeds + 2 + i]));
        }
    }
    lines
}

fn plain(what: impl Into<String>, reading: Derived, unit: &str, estimate: &Estimate) -> Line {
    Line {
        what: what.into(),
        // Where it stopped is no reading of the machine.
        reads: if untold(estimate, reading) { "–".into() } else { value(&reading, unit) },
        interval: doubt(interval(&reading), estimate),
        from: from(estimate, reading),
    }
}

fn changed(what: &str, reading: Derived, estimate: &Estimate) -> Line {
    Line {
        what: what.into(),
        reads: if untold(estimate, reading) { "–".into() } else { change(&reading, "%") },
        interval: doubt(change_interval(&reading), estimate),
        from: from(estimate, reading),
    }
}

/// The interval, or in a word why there is none.
fn doubt(interval: Option<String>, estimate: &Estimate) -> String {
    match (estimate.standard_error, interval) {
        (Some(_), Some(interval)) => interval,
        (None, _) if estimate.status == Status::Fixed => HELD.into(),
        _ => "not known".into(),
    }
}

/// Where a number comes from.
fn from(estimate: &Estimate, reading: Derived) -> String {
    let without_prior = estimate.prior.is_none();
    match estimate.status {
        Status::Fixed => "not from this log".into(),
        _ if untold(estimate, reading) => NOT_TOLD.into(),
        Status::AtBound => "at its limit".into(),
        Status::FromPrior => "as is usual".into(),
        Status::Fitted if without_prior => "this log".into(),
        Status::Fitted => format!("{} % this log", number(100.0 * estimate.log_share, 0)),
    }
}

fn table(text: &mut String, lines: &[Line], level: f64) {
    let held = format!("{} % between", percent(level));
    let head = ["", "", &held, "known from"].map(str::to_owned);
    let cells: Vec<[String; 4]> = std::iter::once(head)
        .chain(
            lines
                .iter()
                .map(|l| [l.what.clone(), l.reads.clone(), l.interval.clone(), l.from.clone()]),
        )
        .collect();
    let width = |column: usize| cells.iter().map(|row| row[column].chars().count()).max();
    let widths: Vec<usize> = (0..4).map(|column| width(column).unwrap_or(0)).collect();
    // Values stand with their units apart, the numbers ending in one column.
    let unit_of = |reads: &str| reads.split_once(' ').map_or(0, |(_, unit)| unit.chars().count());
    let widest_unit = lines.iter().map(|l| unit_of(&l.reads)).max().unwrap_or(0);
    for (index, [what, reads, interval, from]) in cells.iter().enumerate() {
        let pad = " ".repeat(widest_unit - unit_of(reads).min(widest_unit));
        let reads = format!("{reads}{pad}");
        let line = format!(
            "  {what:<w0$}  {reads:>w1$}   {interval:<w2$}   {from}",
            w0 = widths[0],
            w1 = widths[1].max(widest_unit + 5),
            w2 = widths[2]
        );
        let line = line.trim_end();
        let _ = match index {
            0 => writeln!(text, "{}", styled(FAINT, line)),
            _ => writeln!(text, "{line}"),
        };
    }
}

fn forecast_errors(text: &mut String, calibration: &Calibration) {
    let mut say = |what: &str, part: &Part, unit: &str, decimals: usize| {
        let mut line = match part.left_out {
            Some(e) if calibration.batches > 1 => format!(
                "{what}: off by {}{unit} (root mean square of {}), on the whole {}{unit}, at worst {}{unit}",
                number(e.rms, decimals),
                e.readings,
                signed(e.bias, decimals),
                signed(e.worst, decimals)
            ),
            Some(e) => format!(
                "{what}: off by {}{unit} before this batch was known",
                number(e.rms, decimals)
            ),
            None => format!("{what}: not known, as no batch can be forecast from the others"),
        };
        if let Some(words) = not_forecast(part) {
            line += &format!("; {words}");
        }
        let _ = writeln!(text, "{}", wrapped(&line, "  ", INDENT));
    };
    say("Forecast without the batch itself", &calibration.heat, " °C", 2);
    if let Some(development) = &calibration.development {
        say("Its grade likewise", development, "", 2);
    }
    if let Some(notes) = speeds_left_away(calibration) {
        let _ = writeln!(text, "  {notes}");
    }
}

fn speeds_left_away(calibration: &Calibration) -> Option<String> {
    let speeds = calibration.speeds.len().saturating_sub(MOST_SPEEDS);
    let flours = calibration.flours.len().saturating_sub(MOST_FLOURS);
    let parts: Vec<String> =
        [(speeds, "more speed", "more speeds"), (flours, "more flour", "more flours")]
            .into_iter()
            .filter(|(count, ..)| *count > 0)
            .map(|(count, one, many)| counted(count, one, many))
            .collect();
    (!parts.is_empty()).then(|| format!("{} in the report", parts.join(" and ")))
}

/// What is not known, and which batch would tell.
fn unknown(text: &mut String, calibration: &Calibration, lines: &[Line], log: &BatchLog) {
    let untold: Vec<&str> = lines
        .iter()
        .filter(|line| line.from == NOT_TOLD || line.interval == HELD)
        .map(|line| &*line.what)
        .collect();
    let with_prior = calibration.options.with_prior;
    let advice = advice(calibration, log);
    if (with_prior && advice.all == 0) || (!with_prior && untold.is_empty()) {
        return;
    }
    let heading = match with_prior {
        true => "  Not known, and which batch would tell",
        false => "  Not told by this log, and which batch would tell",
    };
    let _ = writeln!(text, "{}", styled(BOLD, heading));
    if !with_prior {
        let names = shortened(&untold.join("; "), LONGEST);
        let _ = writeln!(text, "{}", wrapped(&names, "  - ", INDENT));
    }
    for Advice { words, remedy } in &advice.first {
        let _ = writeln!(text, "{}", wrapped(&shortened(words, LONGEST), "  - ", INDENT));
        let _ = writeln!(text, "{}", wrapped(&shortened(remedy, LONGEST), "    → ", "      "));
    }
    if advice.more() > 0 {
        let _ = writeln!(text, "  - {} more in the report", advice.more());
    }
}

fn warnings(text: &mut String, calibration: &Calibration, rows_set_aside: usize) {
    let mut warn = |words: &str| {
        let plain = wrapped(words, "  ", INDENT);
        // The first word is the one that is coloured.
        let styled = plain.replacen("Mind:", &styled(DOUBT, "Mind:"), 1);
        let _ = writeln!(text, "{styled}");
    };
    if rows_set_aside > 0 {
        warn(&format!("Mind: {} set aside", counted(rows_set_aside, "row is", "rows are")));
    }
    for warning in parts(calibration).flat_map(|part| &part.warnings) {
        warn(&format!("Mind: {warning}"));
    }
    let heat = mistyped(&calibration.heat, 1, " °C");
    let grades = calibration.development.as_ref().map(|part| mistyped(part, 2, ""));
    let all: Vec<String> = heat.into_iter().chain(grades.into_iter().flatten()).collect();
    for one in all.iter().take(MOST_MISTYPED) {
        warn(&format!("Mind: {one}"));
    }
    if all.len() > MOST_MISTYPED {
        warn(&format!(
            "Mind: {} more look mistyped, {} readings in all; the report lists them",
            all.len() - MOST_MISTYPED,
            all.len()
        ));
    }
}

/// A text broken between words so that lines are not too long.
pub fn wrapped(words: &str, first: &str, others: &str) -> String {
    let mut text = String::new();
    let mut line = first.to_owned();
    let mut begun = false;
    // Names in it come from the log, and may hold anything.
    for word in one_line(words).split_whitespace() {
        if begun && line.chars().count() + 1 + word.chars().count() > WIDTH {
            text.push_str(&line);
            text.push('\n');
            line = others.to_owned();
        } else if begun {
            line.push(' ');
        }
        line.push_str(word);
        begun = true;
    }
    text + &line
}
