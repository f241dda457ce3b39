//! Problems of a log on the terminal: one block each.

use kneadfit_log::{LogRead, Problem, Severity};

use crate::plots::text::one_line;
use crate::problem_groups::{Group, grouped};
use crate::terminal::{BOLD, DOUBT, ERROR, FAINT, message, styled};

/// Blocks on standard error beyond this are counted: `check` lists them all.
const MOST_SHOWN: usize = 20;

/// A group of problems as a block of lines.
pub fn block(group: &Group<'_>) -> String {
    let first = group.first;
    let style = match first.severity {
        Severity::Error => ERROR,
        Severity::Doubt => DOUBT,
    };
    let place = styled(BOLD, &format!("{}: ", one_line(&first.whereabouts())));
    let mut text = format!("{place}{}", styled(style, first.severity.word()));
    if group.count() > 1 {
        text.push_str(&format!(", in {} {}", group.count(), group.of_what()));
    }
    for (name, words) in group.parts() {
        let name = styled(FAINT, &format!("  {:<9}", format!("{name}:")));
        text.push_str(&format!("\n{name} {}", one_line(&words)));
    }
    text
}

/// Says the problems on standard error, those that set rows aside first.
pub fn say(problems: &[Problem]) {
    let of = |severity| problems.iter().filter(move |p| p.severity == severity);
    let groups = grouped(of(Severity::Error).chain(of(Severity::Doubt)));
    for group in groups.iter().take(MOST_SHOWN) {
        message(&block(group));
        message("");
    }
    let more: usize = groups.iter().skip(MOST_SHOWN).map(Group::count).sum();
    if more > 0 {
        message(&format!(
            "and {}: `kneadfit check` lists all.",
            counted(more, "more problem", "more problems")
        ));
        message("");
    }
}

/// How the rows of a log fared, in a line.
pub fn rows_in_words(read: &LogRead) -> String {
    let mut words = counted(read.rows_read(), "row", "rows");
    let parts = [
        (read.rows_used(), "usable"),
        (read.rows_set_aside(), "set aside"),
        (read.rows_left_out(), "not asked for"),
    ];
    let said: Vec<String> = parts
        .into_iter()
        .filter(|(count, name)| *count > 0 || *name == "usable")
        .map(|(count, name)| format!("{count} {name}"))
        .collect();
    words.push_str(&format!(": {}", said.join(", ")));
    words
}

/// A number of things.
pub fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// Where a problem lies and what it is, on one line.
pub fn line(problem: &Problem) -> String {
    let (found, expected) = (problem.found_in_words(), problem.expected());
    format!("{}: found {found}; expected {expected}", problem.whereabouts())
}
