//! The command-line tool.
//!
//! | module | is about |
//! |---|---|
//! | `arguments`, `values` | what may be said on the command line, and which values are taken |
//! | `new_log`, `columns`, `check`, `tidy`, `fit`, `forecast`, `plan`, `compare`, `friction_factor`, `pages` | the commands |
//! | `logs` | logs opened, read and hashed |
//! | `reading` | how logs are written: said, and found out |
//! | `problems`, `problem_groups`, `machine_problems` | what is wrong with a log, and whose rows it is |
//! | `bench_table`, `fit_json` | what `fit` prints |
//! | `outputs` | a machine's files as bytes |
//! | `plots`, `report` | pictures and pages as text |
//! | `files`, `file_name` | the one place that writes files, and how they are called |
//! | `terminal`, `progress`, `failure` | standard output and error, bars, exit codes |
//! | `system` | what the operating system refuses, in sentences |

mod arguments;
mod bench_table;
mod check;
mod columns;
mod compare;
mod failure;
mod file_name;
mod files;
mod findings;
mod fit;
mod fit_json;
mod forecast;
mod friction_factor;
mod logs;
mod machine_problems;
mod mended;
mod new_log;
mod outputs;
mod pages;
mod plan;
mod plots;
mod problem_groups;
mod problems;
mod progress;
mod reading;
mod report;
mod startling;
mod system;
mod terminal;
mod tidy;
mod values;

use std::process::ExitCode;

use clap::Parser;

use arguments::{Arguments, Command};
use failure::{Ended, ReaderGone};

fn main() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(said) => {
            let ended = if said.use_stderr() { Ended::BadInput } else { Ended::Done };
            let plain = said.render().to_string();
            let short = terminal::cut(&plain);
            if short == plain {
                // Where it cannot be printed there is nobody to tell.
                let _ = said.print();
            } else {
                terminal::message(short.trim_end());
            }
            return ended.into();
        }
    };
    match run(&arguments.command) {
        Ok(ended) => ended.into(),
        Err(stopped) if stopped.is::<ReaderGone>() => Ended::Done.into(),
        Err(stopped) => {
            terminal::error(&format!("{stopped:#}"));
            Ended::BadInput.into()
        }
    }
}

fn run(command: &Command) -> anyhow::Result<Ended> {
    match command {
        Command::NewLog(arguments) => new_log::run(arguments),
        Command::Columns(arguments) => columns::run(arguments),
        Command::Check(arguments) => check::run(arguments),
        Command::Tidy(arguments) => tidy::run(arguments),
        Command::Fit(arguments) => fit::run(arguments),
        Command::Forecast(arguments) => forecast::run(arguments),
        Command::Plan(arguments) => plan::run(arguments),
        Command::Compare(arguments) => compare::run(arguments),
        Command::FrictionFactor(arguments) => friction_factor::run(arguments),
        Command::Schema => pages::schema(),
        Command::Completions { shell } => pages::completions(*shell),
        Command::Man { command } => pages::manual(command.as_deref()),
    }
}
