//! Problems of a log on the terminal: one block each.

use kneadfit_log::{LogRead, Problem, Severity};

use crate::terminal::{BOLD, DOUBT, ERROR, FAINT, message, styled};

/// Problems on standard error beyond this are counted: `check` lists them all.
const MOST_SHOWN: usize = 20;

/// One problem as a block of lines.
pub fn block(problem: &Problem) -> String {
    let (style, word) = match problem.severity {
        Severity::Error => (ERROR, "error"),
        Severity::Doubt => (DOUBT, "doubt"),
    };
    let plain = problem.to_string();
    let mut lines = plain.lines();
    let head = lines.next().unwrap_or_default();
    let mut text = match head.strip_suffix(word) {
        Some(place) => format!("{}{}", styled(BOLD, place), styled(style, word)),
        None => styled(BOLD, head),
    };
    for line in lines {
        text.push('\n');
        match line.split_once(':').filter(|(name, _)| name.len() <= "  expected".len()) {
            Some((name, words)) => {
                text.push_str(&format!("{}{words}", styled(FAINT, &format!("{name}:"))));
            }
            None => text.push_str(line),
        }
    }
    text
}

/// Says the problems on standard error, those that set rows aside first.
pub fn say(problems: &[Problem]) {
    let of = |severity| problems.iter().filter(move |p| p.severity == severity);
    let ordered = of(Severity::Error).chain(of(Severity::Doubt));
    for problem in ordered.take(MOST_SHOWN) {
        message(&block(problem));
        message("");
    }
    if problems.len() > MOST_SHOWN {
        message(&format!(
            "and {}: `kneadfit check` lists all.",
            counted(problems.len() - MOST_SHOWN, "more problem", "more problems")
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
    let plain = problem.to_string();
    let lines: Vec<&str> = plain.lines().map(str::trim).collect();
    let head = lines.first().map_or("", |head| head.trim_end_matches(": error"));
    let part = |name: &str| {
        lines.iter().find_map(|line| line.strip_prefix(name)).unwrap_or_default().trim().to_owned()
    };
    format!("{head}: found {}; expected {}", part("found:"), part("expected:"))
}
