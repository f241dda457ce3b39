//! Rows that were set aside or doubted, and readings that look mistyped.

use kneadfit::calibration::Part;
use kneadfit::diagnostics::LOOKS_MISTYPED;
use kneadfit_log::{Problem, Severity};

use super::ReportInput;
use super::html::Html;
use super::shown::counted;
use crate::plots::text::{number, shortened, signed};
use crate::problem_groups::{Group, grouped};

/// More problems than this are counted, not listed.
const MOST_LISTED: usize = 100;

/// The section.
pub fn write(page: &mut Html, input: &ReportInput<'_>) {
    page.section("rows", "Rows set aside, and rows that look mistyped");
    let aside: Vec<&Problem> = of(input.problems, Severity::Error);
    let doubted: Vec<&Problem> = of(input.problems, Severity::Doubt);
    if aside.is_empty() {
        page.element("p", "No row was set aside.");
    } else {
        page.element("h3", &counted(aside.len(), "fault", "faults"));
        problems(page, &aside);
    }
    if !doubted.is_empty() {
        page.element(
            "h3",
            &format!("{}, used as they stand", counted(doubted.len(), "doubt", "doubts")),
        );
        problems(page, &doubted);
    }
    mended(page, input);
    mistyped(page, input);
    page.end_section();
}

fn of(problems: &[Problem], severity: Severity) -> Vec<&Problem> {
    problems.iter().filter(|p| p.severity == severity).collect()
}

fn problems(page: &mut Html, problems: &[&Problem]) {
    page.raw("<ul class=\"problems\">\n");
    let groups = grouped(problems.iter().copied());
    for group in groups.iter().take(MOST_LISTED) {
        let first = group.first;
        page.raw("<li><b>").quoted(&first.whereabouts()).raw("</b> ");
        page.text(first.severity.word());
        if group.count() > 1 {
            page.text(&format!(", in {} {}", group.count(), group.of_what()));
        }
        for (name, words) in group.parts() {
            page.raw("<br/><i>").text(name).raw("</i> ").quoted(&words);
        }
        page.raw("</li>\n");
    }
    page.raw("</ul>\n");
    let more: usize = groups.iter().skip(MOST_LISTED).map(Group::count).sum();
    if more > 0 {
        page.element("p", &format!("And {more} more."));
    }
}

/// What the fit would be if slips were mended.
fn mended(page: &mut Html, input: &ReportInput<'_>) {
    if input.mended.is_empty() {
        return;
    }
    page.element("h3", "If it were mended in the log");
    page.element("p", "Only you can tell what was meant. As the log stands, none of this counts.");
    page.raw("<ul class=\"problems\">\n");
    for slip in input.mended {
        page.raw("<li><b>").quoted(&slip.whereabouts).raw("</b> ");
        page.quoted(&slip.words).raw("</li>\n");
    }
    page.raw("</ul>\n");
}

/// One reading that looks mistyped.
struct Doubtful {
    batch: String,
    read: String,
    forecast: String,
    off: String,
}

fn mistyped(page: &mut Html, input: &ReportInput<'_>) {
    let calibration = input.calibration;
    let mut rows = doubtful(&calibration.heat, 1, " °C");
    if let Some(part) = &calibration.development {
        rows.extend(doubtful(part, 2, " (grade)"));
    }
    if rows.is_empty() {
        page.element("p", "No reading looks mistyped.");
        return;
    }
    page.element("h3", "Look mistyped");
    page.element(
        "p",
        "Far from what the other batches say. They stay in the log and count for little in the \
         fit: look them up in the kitchen’s book.",
    );
    page.table_head(&["batch", "read", "the fit says", "apart"]);
    for row in rows.iter().take(MOST_LISTED) {
        page.raw("<tr><th scope=\"row\">").quoted(&row.batch).raw("</th>");
        page.cell("read", &row.read);
        page.cell("the fit says", &row.forecast);
        page.cell("apart", &row.off);
        page.raw("</tr>\n");
    }
    page.end_table();
    if rows.len() > MOST_LISTED {
        page.element("p", &format!("And {} more.", rows.len() - MOST_LISTED));
    }
}

fn doubtful(part: &Part, decimals: usize, unit: &str) -> Vec<Doubtful> {
    let batches = part.looks_mistyped();
    batches
        .flat_map(|batch| {
            let whole = batch.weight < LOOKS_MISTYPED;
            let readings =
                batch.readings.iter().filter(move |r| whole || r.weight < LOOKS_MISTYPED);
            readings.map(move |r| Doubtful {
                batch: match &batch.date {
                    Some(date) => format!("{} ({date})", shortened(&batch.id, 60)),
                    None => shortened(&batch.id, 60),
                },
                read: format!("{}{unit}", number(r.observed, decimals)),
                forecast: format!("{}{unit}", number(r.fitted, decimals)),
                off: signed(r.residual, decimals),
            })
        })
        .collect()
}
