//! `kneadfit new-log`: an empty log to fill in.

use std::path::PathBuf;

use anyhow::{Context, bail};
use clap::Args;
use kneadfit_log::{BlankLog, Extent};

use crate::failure::Ended;
use crate::files::Folder;
use crate::terminal::message;

#[derive(Args, Debug)]
pub struct NewLogArguments {
    /// The file to make, .xlsx or .csv, named after the mixer; one that is there is not
    /// overwritten
    pub file: PathBuf,
    /// The mixer's speeds in their order, as low,high; hands are one speed
    #[arg(long, value_name = "SPEEDS", value_delimiter = ',', required = true)]
    pub speeds: Vec<String>,
    /// All columns that a log can have; left away: those that most doughs need
    #[arg(long)]
    pub full: bool,
}

pub fn run(arguments: &NewLogArguments) -> anyhow::Result<Ended> {
    let shown = arguments.file.display();
    let ending = arguments.file.extension().map(|e| e.to_string_lossy().to_lowercase());
    let workbook = match ending.as_deref() {
        Some("xlsx") => true,
        Some("csv") => false,
        _ => bail!("{shown}: an empty log is a workbook, .xlsx, or a text, .csv"),
    };
    let extent = if arguments.full { Extent::Full } else { Extent::Usual };
    let blank = BlankLog::new(&arguments.speeds, extent).context("--speeds cannot be used")?;
    let content = if workbook { blank.to_xlsx()? } else { blank.to_csv().into_bytes() };
    let (folder, name) = Folder::of_file(&arguments.file)?;
    folder.write_new(&name, &content)?;
    message(&format!("wrote {shown}"));
    Ok(Ended::Done)
}
