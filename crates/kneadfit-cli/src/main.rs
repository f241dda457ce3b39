//! The command-line tool.

mod plots;
mod report;

use std::fs::File;

use anyhow::{Context, bail};
use kneadfit::calibration::{Options, calibrate};
use kneadfit_log::{ReadOptions, read_log};

/// Prints the residual plots (`svg`) or the report (`html`) of the first machine of a log.
fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [what, log, rest @ ..] = &arguments[..] else { bail!("expected: svg|html LOG [MACHINE]") };
    let file = File::open(log).with_context(|| format!("cannot open {log}"))?;
    let read = read_log(log, "mixer", file, &ReadOptions::default());
    let wanted = |machine: &str| rest.first().is_none_or(|m| m == machine);
    let Some(machine) = read.machines.iter().find(|m| wanted(m.machine())) else {
        bail!("{log}: nothing usable")
    };
    let options = Options { with_prior: rest.get(1).is_none(), ..Options::default() };
    let calibration = calibrate(&machine.log, &options)?;
    let input = report::ReportInput {
        calibration: &calibration,
        log: machine,
        problems: &read.problems,
        level: 0.95,
        made: report::Made {
            tool_version: env!("CARGO_PKG_VERSION").into(),
            logs: vec![report::LogFile { name: log.clone(), sha256: "0".repeat(64) }],
            ..report::Made::default()
        },
    };
    match what.as_str() {
        "svg" => println!("{}", plots::residuals_svg(&input)),
        _ => println!("{}", report::report_html(&input)),
    }
    Ok(())
}
