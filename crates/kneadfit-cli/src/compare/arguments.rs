//! What may be said to `kneadfit compare`.

use std::path::PathBuf;

use clap::Args;

use crate::plan::arguments::WishArguments;
use crate::reading::ReadingArguments;
use crate::values::level;

#[derive(Args, Debug)]
pub struct CompareArguments {
    /// Profiles that `fit` wrote, one a machine
    #[arg(value_name = "PROFILE", required = true)]
    pub profiles: Vec<PathBuf>,
    /// The dough in the log's columns, or several; its minutes do not matter; - is standard
    /// input
    #[arg(long, value_name = "FILE")]
    pub batch: PathBuf,
    /// Folder for a picture a dough; it is made where it does not exist
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Which part of the next readings the intervals are to hold
    #[arg(
        long, value_name = "LEVEL", value_parser = level, allow_negative_numbers = true,
        default_value = "0.95"
    )]
    pub level: f64,
    /// Print JSON for a program, numbers in full
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub wishes: WishArguments,
    #[command(flatten)]
    pub reading: ReadingArguments,
}
