//! `kneadfit check`: what is wrong with a log, and what it can teach.

use kneadfit_log::{LogRead, ReadOptions, Severity, Summary};
use serde::Serialize;

use crate::arguments::CheckArguments;
use crate::failure::Ended;
use crate::mended::add_doubts;
use crate::plots::text::one_line;
use crate::problem_groups::grouped;
use crate::problems::{block, counted, rows_in_words};
use crate::reading::{ReadJson, read_as};
use crate::terminal::{BOLD, json_result, result, styled};

/// What a program reads.
#[derive(Serialize)]
struct Checked<'a> {
    #[serde(flatten)]
    read: ReadJson<'a>,
    machines: Vec<Summary>,
}

pub fn run(arguments: &CheckArguments) -> anyhow::Result<Ended> {
    let mut logs = arguments.reading.read(&arguments.logs, ReadOptions::default(), None)?;
    add_doubts(&mut logs.read);
    let read = &logs.read;
    let machines: Vec<Summary> = read.machines.iter().map(|m| Summary::of(&m.log)).collect();
    if arguments.json {
        json_result(&Checked { read: ReadJson::of(read), machines })?;
    } else {
        result(&text(read, &machines))?;
    }
    Ok(if read.has_errors() { Ended::BadInput } else { Ended::Done })
}

fn text(read: &LogRead, machines: &[Summary]) -> String {
    let mut text = String::new();
    for read_as in read_as(read) {
        text.push_str(&read_as.line());
        text.push_str("\n\n");
    }
    for group in grouped(&read.problems) {
        text.push_str(&block(&group));
        text.push_str("\n\n");
    }
    for summary in machines {
        let plain = summary.to_string();
        // Names come from the log, and may hold anything.
        let mut lines = plain.lines().map(one_line);
        text.push_str(&styled(BOLD, &lines.next().unwrap_or_default()));
        text.push('\n');
        for line in lines {
            text.push_str(&line);
            text.push('\n');
        }
        text.push('\n');
    }
    if !machines.is_empty() {
        text.push_str(
            "What can be told only together shows in a fit, which takes all readings at once, \
             and says what it would be if a slip were mended.\n",
        );
    }
    let of = |severity| read.problems.iter().filter(|p| p.severity == severity).count();
    let errors = counted(of(Severity::Error), "error", "errors");
    let doubts = counted(of(Severity::Doubt), "doubt", "doubts");
    text.push_str(&format!("{}; {errors}, {doubts}.\n", rows_in_words(read)));
    if read.is_empty() {
        text.push_str("Nothing here can be used.\n");
    }
    text
}
