//! `kneadfit columns`: a list of a table's columns, guessed, for the baker to confirm.

use std::path::PathBuf;
use std::slice;

use clap::Args;
use kneadfit_log::Sureness;

use crate::failure::Ended;
use crate::problems::{self, counted};
use crate::reading::ReadingArguments;
use crate::terminal::{message, raw_result};

#[derive(Args, Debug)]
pub struct ColumnsArguments {
    /// A log, as CSV or a workbook (.xlsx, .xls, .ods); - is standard input
    pub log: PathBuf,
    #[command(flatten)]
    pub reading: ReadingArguments,
}

pub fn run(arguments: &ColumnsArguments) -> anyhow::Result<Ended> {
    let guesses = match arguments.reading.guess(&arguments.log)? {
        Ok(guesses) => guesses,
        Err(problem) => {
            problems::say(slice::from_ref(&*problem));
            return Ok(Ended::BadInput);
        }
    };
    raw_result(guesses.to_toml().as_bytes())?;
    let of = |wanted: fn(Sureness) -> bool| {
        guesses.columns.iter().filter(|column| wanted(column.sureness)).count()
    };
    let known = of(|sureness| sureness == Sureness::Known);
    let none = of(|sureness| sureness == Sureness::None);
    let guessed = guesses.columns.len() - known - none;
    message(&format!(
        "{}: {known} with the log's own names, {guessed} guessed, {none} not known{}",
        counted(guesses.columns.len(), "column", "columns"),
        if guessed > 0 { "; confirm what is guessed" } else { "" }
    ));
    Ok(Ended::Done)
}
