//! What a report and its plots are made of.

use crate::mended::IfMended;
use kneadfit::calibration::Calibration;
use kneadfit_log::{MachineLog, Problem};

/// One calibrated machine with its log and how it came about.
#[derive(Clone, Debug)]
pub struct ReportInput<'a> {
    /// The machine.
    pub calibration: &'a Calibration,
    /// The batches that it was calibrated with.
    pub log: &'a MachineLog,
    /// What was wrong or doubtful in the files.
    pub problems: &'a [Problem],
    /// What the fit would be if slips were mended.
    pub mended: &'a [IfMended],
    /// Which part of the next readings an interval holds, such as 0.95.
    pub level: f64,
    /// How the calibration was made.
    pub made: Made,
}

/// How a calibration was made, for whoever wants to make it again.
#[derive(Clone, Debug, Default)]
pub struct Made {
    /// Version of this tool.
    pub tool_version: String,
    /// The files that were read.
    pub logs: Vec<LogFile>,
    /// When, as the caller writes it; `None`: not said, so that equal logs make equal bytes.
    pub when: Option<String>,
    /// The options that were given, as on the command line; empty: none.
    pub options: String,
}

/// A file that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LogFile {
    /// Its name as the user gave it.
    pub name: String,
    /// SHA-256 of its content, in hexadecimal.
    pub sha256: String,
}

impl ReportInput<'_> {
    /// The level in per cent, such as `95`.
    pub fn level_percent(&self) -> String {
        super::shown::percent(self.level)
    }
}
