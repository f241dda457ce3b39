//! `kneadfit columns`: a list of a table's columns, guessed, for the baker to confirm.

use std::path::PathBuf;
use std::slice;

use clap::Args;
use kneadfit_log::{ColumnGuesses, Sureness};
use serde::Serialize;

use crate::failure::Ended;
use crate::problems::{self, counted};
use crate::reading::ReadingArguments;
use crate::terminal::{json_result, message, raw_result};

#[derive(Args, Debug)]
pub struct ColumnsArguments {
    /// A log, as CSV or a workbook (.xlsx, .xls, .ods); - is standard input
    pub log: PathBuf,
    /// Print JSON for a program
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub reading: ReadingArguments,
}

/// What a program reads.
#[derive(Serialize)]
struct Guessed<'a> {
    #[serde(flatten)]
    guesses: &'a ColumnGuesses,
    missing: Vec<&'static str>,
}

pub fn run(arguments: &ColumnsArguments) -> anyhow::Result<Ended> {
    let guesses = match arguments.reading.guess(&arguments.log)? {
        Ok(guesses) => guesses,
        Err(problem) => {
            problems::say(slice::from_ref(&*problem));
            return Ok(Ended::BadInput);
        }
    };
    if arguments.json {
        json_result(&Guessed { missing: guesses.missing(), guesses: &guesses })?;
        return Ok(Ended::Done);
    }
    raw_result(guesses.to_toml().as_bytes())?;
    let of = |wanted: fn(Sureness) -> bool| {
        guesses.columns.iter().filter(|column| wanted(column.sureness)).count()
    };
    let known = of(|sureness| sureness == Sureness::Known);
    let wanted = of(|sureness| sureness == Sureness::Wanted);
    let none = of(|sureness| sureness == Sureness::None);
    let guessed = guesses.columns.len() - known - wanted - none;
    message(&format!(
        "{}: {known} with the log's own names, {guessed} guessed, {}{none} not known{}",
        counted(guesses.columns.len(), "column", "columns"),
        if wanted > 0 { format!("{wanted} of wanted values, ") } else { String::new() },
        if guessed > 0 { "; confirm what is guessed" } else { "" }
    ));
    let missing = guesses.missing();
    if !missing.is_empty() {
        message(&format!("needed, and not found: {}", missing.join(", ")));
    }
    Ok(Ended::Done)
}
