//! `kneadfit tidy`: the usable rows of a log in the canonical form, and the problems beside it.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::Args;
use kneadfit_log::{LogRead, Problem, ReadOptions, harmless, write_read};
use serde::Serialize;

use crate::failure::Ended;
use crate::files::Folder;
use crate::mended::add_doubts;
use crate::problems::rows_in_words;
use crate::reading::{self, ReadJson, ReadingArguments};
use crate::terminal::{error, json_result, message};

/// How the name of the problems' file ends.
const PROBLEMS_ENDING: &str = ".problems.csv";

#[derive(Args, Debug)]
pub struct TidyArguments {
    /// A log, as CSV or a workbook (.xlsx, .xls, .ods); - is standard input
    pub log: PathBuf,
    /// The file to write, as CSV; its problems stand beside it, in FILE.problems.csv
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// Print JSON for a program
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub reading: ReadingArguments,
}

/// What a program reads.
#[derive(Serialize)]
struct Tidied<'a> {
    #[serde(flatten)]
    read: ReadJson<'a>,
    files: Vec<String>,
}

pub fn run(arguments: &TidyArguments) -> anyhow::Result<Ended> {
    let problems_path = problems_path(&arguments.out)?;
    refuse_the_log(&arguments.log, [&arguments.out, &problems_path])?;
    let options = ReadOptions::default().with_notes();
    let paths = std::slice::from_ref(&arguments.log);
    let mut logs = arguments.reading.read(paths, options, None)?;
    add_doubts(&mut logs.read);
    reading::say(&logs.read);
    let read = &logs.read;
    let mut files = Vec::new();
    if read.is_empty() {
        error("nothing usable is in the log; nothing was written");
    } else {
        files = write(read, &arguments.out, &problems_path)?;
    }
    if arguments.json {
        json_result(&Tidied { read: ReadJson::of(read), files })?;
    } else {
        message(&format!("{}.", rows_in_words(read)));
        files.iter().for_each(|file| message(&format!("wrote {file}")));
    }
    Ok(if read.has_errors() { Ended::BadInput } else { Ended::Done })
}

/// Writes both files, or none.
fn write(read: &LogRead, out: &Path, problems: &Path) -> anyhow::Result<Vec<String>> {
    let mut clean = Vec::new();
    write_read(read, &mut clean).context("the log cannot be written in the canonical form")?;
    let (folder, name) = Folder::of_file(out)?;
    let beside = problems.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let files = [(name, clean), (beside, problems_csv(&read.problems)?)];
    folder.write_together(&files)?;
    Ok(files.iter().map(|(name, _)| folder.path_of(name).display().to_string()).collect())
}

/// `clean.csv` to `clean.problems.csv`.
fn problems_path(out: &Path) -> anyhow::Result<PathBuf> {
    let ending = out.extension().map(|e| e.to_string_lossy().to_lowercase());
    if let Some(ending @ ("xlsx" | "xls" | "ods")) = ending.as_deref() {
        bail!("{}: the canonical form is CSV, not .{ending}; give a file .csv", out.display());
    }
    let stem = match ending.as_deref() {
        Some("csv") => out.file_stem(),
        _ => out.file_name(),
    };
    let Some(stem) = stem else { bail!("{} is no name for a file", out.display()) };
    let mut name = stem.to_owned();
    name.push(PROBLEMS_ENDING);
    Ok(out.with_file_name(name))
}

/// Refuses to write over the log.
fn refuse_the_log<P: AsRef<Path>>(log: &Path, paths: [P; 2]) -> anyhow::Result<()> {
    for path in paths {
        let path = path.as_ref();
        if is_same_file(path, log) {
            bail!(
                "{} is the log itself: rows that are set aside would be lost; give another file \
                 with --out",
                path.display()
            );
        }
    }
    Ok(())
}

fn is_same_file(one: &Path, other: &Path) -> bool {
    match (fs::canonicalize(one), fs::canonicalize(other)) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    }
}

/// The problems as a table, one a row.
fn problems_csv(problems: &[Problem]) -> anyhow::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record([
        "severity", "file", "sheet", "line", "batch", "column", "letters", "found", "expected",
        "hint", "so",
    ])?;
    for problem in problems {
        let column = problem.column.as_ref();
        let line = problem.place.map(|place| place.line.to_string());
        let letters = column.map(|column| column.letters());
        writer.write_record(
            [
                problem.severity.word(),
                &problem.source,
                problem.sheet.as_deref().unwrap_or_default(),
                line.as_deref().unwrap_or_default(),
                problem.batch.as_deref().unwrap_or_default(),
                column.map_or("", |column| &column.name),
                letters.as_deref().unwrap_or_default(),
                &problem.found_in_words(),
                &problem.expected(),
                &problem.hint().unwrap_or_default(),
                problem.consequence(),
            ]
            .map(|text| harmless(text).into_owned()),
        )?;
    }
    Ok(writer.into_inner()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn problems_are_named_after_the_log_beside_them() {
        let beside = |out: &str| problems_path(Path::new(out)).map(|p| p.display().to_string());
        assert_eq!(beside("out/clean.csv").unwrap(), "out/clean.problems.csv");
        assert_eq!(beside("clean.CSV").unwrap(), "clean.problems.csv");
        assert_eq!(beside("may.2026").unwrap(), "may.2026.problems.csv");
        assert!(beside("clean.xlsx").unwrap_err().to_string().contains("CSV"));
        assert!(beside("..").is_err());
    }
}
