//! How logs are read: what the command line says of it, and what the reader found out.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, anyhow};
use clap::Args;
use kneadfit_log::{
    ColumnGuesses, ColumnNames, LogRead, Problem, ReadOptions, StageScale, guess_columns,
};
use serde::Serialize;

use crate::logs::{self, Logs};
use crate::problems;
use crate::system::why;
use crate::terminal::message;

/// What every command that reads logs may be told of them.
#[derive(Args, Debug, Default)]
#[command(next_help_heading = "How the log is written")]
pub struct ReadingArguments {
    /// Sheet of a workbook; left away: the first with a column headed batch
    #[arg(long, value_name = "NAME")]
    pub sheet: Option<String>,
    /// List of columns in TOML, for headers in other words: flour_kg = "Mehl"
    #[arg(long, value_name = "FILE")]
    pub columns: Option<PathBuf>,
    /// Names that stand for grades of development, as short=0.3,improved=0.7,intense=1
    ///
    /// Names alone divide the way to full development evenly: of three the first is a third,
    /// the second two thirds, the last full.
    #[arg(long, value_name = "STAGES", value_parser = stages)]
    pub development_stages: Option<StageScale>,
}

fn stages(text: &str) -> Result<StageScale, String> {
    text.parse().map_err(|fault: kneadfit_log::StageScaleError| fault.to_string())
}

impl ReadingArguments {
    /// Reads logs in their order and says on standard error how they were read, and what is
    /// wrong with them. Rows that name no machine are of `default_machine`, or of the machine
    /// that the file is named after.
    pub fn read_and_say(
        &self,
        logs: &[PathBuf],
        options: ReadOptions,
        default_machine: Option<&str>,
    ) -> anyhow::Result<Logs> {
        let logs = self.read(logs, options, default_machine)?;
        say(&logs.read);
        Ok(logs)
    }

    /// The same without a word.
    pub fn read(
        &self,
        logs: &[PathBuf],
        options: ReadOptions,
        default_machine: Option<&str>,
    ) -> anyhow::Result<Logs> {
        logs::read(logs, self.apply(options)?, default_machine)
    }

    /// Whether anything is said here.
    pub fn is_given(&self) -> bool {
        self.sheet.is_some() || self.columns.is_some() || self.development_stages.is_some()
    }

    /// Guesses which columns of a log are which, where what is said here leaves it open.
    pub fn guess(&self, log: &Path) -> anyhow::Result<Result<ColumnGuesses, Box<Problem>>> {
        let options = self.apply(ReadOptions::default())?;
        let (name, input) = logs::open_one(log)?;
        Ok(guess_columns(&name, input, &options))
    }

    /// Puts into the options what is said here.
    fn apply(&self, mut options: ReadOptions) -> anyhow::Result<ReadOptions> {
        if let Some(sheet) = &self.sheet {
            options = options.from_sheet(sheet.as_str());
        }
        if let Some(path) = &self.columns {
            let shown = path.display();
            let bytes = fs::read(path).map_err(|error| {
                anyhow!("cannot read the list of columns {shown}: {}", why(&error))
            })?;
            let names = ColumnNames::read(&bytes)
                .with_context(|| format!("the list of columns {shown} cannot be used"))?;
            options = options.with_columns(names);
        }
        if let Some(stages) = &self.development_stages {
            options = options.with_stages(stages.clone());
        }
        Ok(options)
    }

    /// The same as it is given, for the files that it shapes.
    pub fn said(&self) -> Vec<String> {
        let mut said = Vec::new();
        said.extend(self.sheet.as_ref().map(|sheet| format!("--sheet {sheet}")));
        if let Some(name) = self.columns.as_ref().and_then(|path| path.file_name()) {
            said.push(format!("--columns {}", name.to_string_lossy()));
        }
        if let Some(stages) = &self.development_stages {
            let stages: Vec<String> =
                stages.stages().map(|(name, grade)| format!("{name}={grade}")).collect();
            said.push(format!("--development-stages {}", stages.join(",")));
        }
        said
    }
}

/// What was read of the logs, for a program.
#[derive(Serialize)]
pub struct ReadJson<'a> {
    rows: usize,
    rows_usable: usize,
    rows_set_aside: usize,
    read_as: Vec<ReadAs<'a>>,
    problems: &'a [Problem],
}

impl<'a> ReadJson<'a> {
    pub fn of(read: &'a LogRead) -> Self {
        Self {
            rows: read.rows_read(),
            rows_usable: read.rows_used(),
            rows_set_aside: read.rows_set_aside(),
            read_as: read_as(read),
            problems: &read.problems,
        }
    }
}

/// How one file was read, for a program.
#[derive(Serialize)]
pub struct ReadAs<'a> {
    source: &'a str,
    sheet: Option<&'a str>,
    notes: Vec<String>,
}

/// How each file was read that is not in the canonical form.
pub fn read_as(read: &LogRead) -> Vec<ReadAs<'_>> {
    read.sources
        .iter()
        .zip(&read.dialects)
        .filter(|(_, dialect)| dialect.sheet.is_some() || !dialect.notes.is_empty())
        .map(|(source, dialect)| ReadAs {
            source,
            sheet: dialect.sheet.as_deref(),
            notes: dialect.notes.iter().map(ToString::to_string).collect(),
        })
        .collect()
}

impl ReadAs<'_> {
    /// The same in a line.
    pub fn line(&self) -> String {
        let sheet = self.sheet.map(|sheet| format!("sheet {sheet}"));
        let said: Vec<String> = sheet.into_iter().chain(self.notes.iter().cloned()).collect();
        crate::plots::text::one_line(&format!("{}: {}", self.source, said.join("; ")))
    }
}

/// Says on standard error how the files were read, and what is wrong with them.
pub fn say(read: &LogRead) {
    for read_as in read_as(read) {
        message(&read_as.line());
    }
    problems::say(&read.problems);
}
