//! The files of one calibrated machine, as bytes.

use kneadfit::calibration::Calibration;
use kneadfit::profile::{Profile, Provenance};
use kneadfit_log::{MachineLog, Problem};

use crate::logs::Logs;
use crate::mended::IfMended;
use crate::plots::residuals_svg;
use crate::report::{LogFile, Made, ReportInput, report_html};

/// What is the same for all machines of a run.
pub struct Circumstances<'a> {
    /// What was read.
    pub logs: &'a Logs,
    /// The options that were given.
    pub options: Vec<String>,
    /// When, where it was said from outside.
    pub made: Option<String>,
    /// Level of the report's intervals.
    pub level: f64,
}

/// The texts of a machine's files.
pub struct Outputs {
    /// For other programs.
    pub profile: String,
    /// Residual plots.
    pub residuals_svg: String,
    /// For people.
    pub report_html: String,
}

/// Version of this tool.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");

impl Outputs {
    /// Makes them all. `set_aside` says which rows of the machine are not used and why.
    pub fn new(
        calibration: &Calibration,
        log: &MachineLog,
        (problems, mended): (&[Problem], &[IfMended]),
        set_aside: Vec<String>,
        circumstances: &Circumstances<'_>,
    ) -> Self {
        let files = &circumstances.logs.files;
        let provenance = Provenance {
            tool: format!("kneadfit {VERSION}"),
            made: circumstances.made.clone(),
            logs: files.iter().map(|file| file.name.clone()).collect(),
            log_sha256: circumstances.logs.sha256.clone(),
            options: circumstances.options.clone(),
            set_aside,
            ..Provenance::default()
        };
        let input = ReportInput {
            calibration,
            log,
            problems,
            mended,
            level: circumstances.level,
            made: Made {
                tool_version: VERSION.into(),
                logs: files
                    .iter()
                    .map(|f| LogFile { name: f.name.clone(), sha256: f.sha256.clone() })
                    .collect(),
                when: circumstances.made.clone(),
                options: circumstances.options.join(" "),
            },
        };
        Self {
            profile: Profile::new(calibration, &provenance).to_json(),
            residuals_svg: residuals_svg(&input),
            report_html: report_html(&input),
        }
    }

    /// File names and contents, each name begun by that of the machine.
    pub fn into_files(self, stem: &str) -> [(String, String); 3] {
        [
            (format!("{stem}{PROFILE_ENDING}"), self.profile),
            (format!("{stem}.residuals.svg"), self.residuals_svg),
            (format!("{stem}.report.html"), self.report_html),
        ]
    }
}

/// How the name of a profile ends.
pub const PROFILE_ENDING: &str = ".profile.json";
