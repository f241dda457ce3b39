//! What may be said on the command line, and which values are taken.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use jiff::civil::Date;
use kneadfit::calibration::Options;
use kneadfit::thermal::Uncertainties;

use crate::columns::ColumnsArguments;
use crate::compare::arguments::CompareArguments;
use crate::new_log::NewLogArguments;
use crate::plan::arguments::PlanArguments;
use crate::reading::ReadingArguments;
use crate::tidy::TidyArguments;
use crate::values;

/// Calibrates dough mixers from the batches that a baker logs.
#[derive(Debug, Parser)]
#[command(
    name = "kneadfit",
    version,
    about = "Calibrates dough mixers from the batches that a baker logs",
    long_about = "Calibrates dough mixers from the batches that a baker logs: how fast each \
                  machine warms a dough, how fast it develops it, and how sure that is.\n\n\
                  Results go to standard output, messages to standard error. The exit code is 0 \
                  when the work is done, 1 when there is no usable fit, and 2 when the input or \
                  the command line is at fault. NO_COLOR is respected.",
    after_help = "Example:\n  kneadfit fit kitchen-log.csv --out machines",
    subcommand_required = true,
    arg_required_else_help = true,
    disable_help_subcommand = true
)]
pub struct Arguments {
    #[command(subcommand)]
    pub command: Command,
}

#[derive(Debug, Subcommand)]
pub enum Command {
    /// Make an empty log to fill in, at a screen or printed
    ///
    /// A workbook has a note on every header and asks back where a cell is beyond what the
    /// reader takes; it prints on one page. The example row may stay: it is never read as a
    /// batch.
    #[command(after_help = "Example:\n  kneadfit new-log spiral.xlsx --speeds low,high")]
    NewLog(NewLogArguments),
    /// Guess which columns of a log are which, for headers in other words
    ///
    /// Prints a list in TOML, the log's name = the header in the table, that --columns takes as
    /// it is. What is a guess is marked: confirm or mend it. Columns of which nothing is known,
    /// and those that are missing, stand there as remarks.
    #[command(after_help = "Example:\n  kneadfit columns kitchen.xlsx > columns.toml\n  \
                            kneadfit check kitchen.xlsx --columns columns.toml")]
    Columns(ColumnsArguments),
    /// Say what is wrong with a log, and what it can teach about each machine
    ///
    /// Every problem is named with its row, its column, what was found, what was expected and
    /// what to write instead. The exit code is 0 when every row is usable, doubts or not, and 2
    /// otherwise.
    #[command(after_help = "Example:\n  kneadfit check kitchen-log.csv")]
    Check(CheckArguments),
    /// Write the usable rows of a log anew, in the canonical form
    ///
    /// Whatever the log's dress, the file is CSV in UTF-8 with kg, °C and minutes; notes are
    /// kept. What is wrong with the log stands beside it, in FILE.problems.csv. Tidied again it
    /// is the same, byte for byte. The exit code is 0 when every row is usable, and 2 otherwise.
    #[command(after_help = "Example:\n  kneadfit tidy kitchen.xlsx --out clean.csv")]
    Tidy(TidyArguments),
    /// Calibrate every machine of a log
    ///
    /// Writes three files a machine: MACHINE.profile.json for other programs,
    /// MACHINE.residuals.svg and MACHINE.report.html for people; and prints a short table to
    /// read at the bench. Rows that cannot be used are named and set aside; the others go on.
    #[command(after_help = "Examples:\n  \
        kneadfit fit kitchen-log.csv --out machines\n  \
        kneadfit fit may.csv june.csv --machine spiral --since 2026-05-10 --out machines")]
    Fit(FitArguments),
    /// Forecast the doughs of a log with a calibrated machine
    ///
    /// Prints CSV, one row for each row of the log and in its order. The interval is for the
    /// next reading of a thermometer. `support` is `inside`, or the inputs that lie outside of
    /// what the machine was calibrated with. Rows of another machine, and rows that cannot be
    /// used, have blank cells.
    #[command(
        after_help = "Example:\n  kneadfit forecast machines/spiral.profile.json tomorrow.csv"
    )]
    Forecast(ForecastArguments),
    /// Plan water, ice and minutes of doughs that are to end as wanted
    ///
    /// Write the doughs in the log's columns and leave blank what is wanted: `water_c`, `ice_kg`,
    /// minutes at a speed. `water_kg` is the whole formula water, with the ice that the plan may
    /// make of it. Without any column of minutes all speeds are planned; a speed without a column
    /// beside others has none. Or describe one dough by `--flour` and the options beside it.
    ///
    /// Prints CSV, one row for each row of the file and in its order. `verdict` is ok, with-ice,
    /// outside-log (it reaches beyond what the machine was calibrated with) or not-reachable (it
    /// is the nearest that can be done), and `why` says why and what would help. A batch on its
    /// way has rows with readings as in a log, then one without whose blank minutes are planned;
    /// all minutes are totals.
    #[command(after_help = "Examples:\n  \
        kneadfit plan machines/spiral.profile.json doughs.csv --dough-c 24 --card cards\n  \
        kneadfit plan machines/spiral.profile.json --dough-c 24 --flour 10kg@21 --water 6.6kg \\\n    \
        --salt 200g --room 26 --minutes low=4\n\n\
        Stop the mixer before a probe or a hand goes near the hook. Yeast suffers in water much\n\
        warmer than 40 °C. A forecast is no control of food safety.")]
    Plan(Box<PlanArguments>),
    /// Compare one dough on every machine, fully developed on each
    ///
    /// Prints for each machine the minutes to full development, the dough's temperature then, the
    /// warmth that kneading adds, the heat per full development at each speed, the water that
    /// --dough-c asks for, and whether --cap-c comes first. --out writes a picture a dough: its
    /// temperature against its development, one line a machine with its doubt. Where `water_c` is
    /// blank each machine has the water that it needs.
    #[command(after_help = "Example:\n  \
        kneadfit compare machines/*.profile.json --batch dough.csv --dough-c 24 --cap-c 27 --out out")]
    Compare(CompareArguments),
    /// Tell the friction factor that a calibrated machine has for the doughs of a log
    ///
    /// Prints CSV, one row for each row of the log and in its order, in both conventions of the
    /// trade: `friction_factor_k` is subtracted once (water = n * wanted - the other
    /// temperatures - factor), `rise_k` from the wanted temperature itself (water = n *
    /// (wanted - rise) - the other temperatures); the first is n times the second. They are
    /// differences: the columns in _f are 9/5 of them, without 32. `temperatures` says which
    /// count, n how many they are.
    ///
    /// The columns of the drifts say how far the friction factor moves when the dough is mixed
    /// 2 minutes more or less at its last speed, when the charge halves, and in a room 8 K
    /// warmer or colder. The dough then misses what the rule promises by the drift divided by n.
    ///
    /// The rule cannot know ice. With ice, `water_c` is the temperature at which as much water
    /// would cool the dough as much, and it is this that counts.
    #[command(after_help = "Examples:\n  \
        kneadfit friction-factor machines/spiral.profile.json tomorrow.csv\n  \
        kneadfit friction-factor machines/spiral.profile.json tomorrow.csv --table")]
    FrictionFactor(FrictionFactorArguments),
    /// Print the JSON Schema of a profile
    #[command(after_help = "Example:\n  kneadfit schema > profile.schema.json")]
    Schema,
    /// Print the completions for a shell
    #[command(after_help = "Example:\n  kneadfit completions bash > kneadfit.bash")]
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// Print the manual page of the tool, or of one command
    #[command(after_help = "Examples:\n  kneadfit man > kneadfit.1\n  \
                            kneadfit man fit > kneadfit-fit.1")]
    Man {
        /// The command; left away: the tool as a whole
        command: Option<String>,
    },
}

#[derive(Args, Debug)]
pub struct CheckArguments {
    /// Logs, as CSV or a workbook (.xlsx, .xls, .ods); - is standard input
    #[arg(value_name = "LOG", required = true)]
    pub logs: Vec<PathBuf>,
    /// Print JSON for a program
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub reading: ReadingArguments,
}

#[derive(Args, Debug)]
pub struct FitArguments {
    /// Logs, as CSV or a workbook (.xlsx, .xls, .ods); - is standard input
    #[arg(value_name = "LOG", required = true)]
    pub logs: Vec<PathBuf>,
    /// Folder for the files; it is made where it does not exist
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Confidence of the printed and plotted intervals
    #[arg(
        long, value_name = "LEVEL", value_parser = values::level, allow_negative_numbers = true,
        default_value = "0.95"
    )]
    pub level: f64,
    /// Print JSON for a program
    #[arg(long)]
    pub json: bool,
    /// Only this machine, named as in the log
    #[arg(long, value_name = "ID", help_heading = "Which rows")]
    pub machine: Option<String>,
    /// Only batches from this day on, as 2026-03-14
    #[arg(long, value_name = "DATE", value_parser = values::day, help_heading = "Which rows")]
    pub since: Option<Date>,
    /// Only batches up to this day, as 2026-03-14
    #[arg(long, value_name = "DATE", value_parser = values::day, help_heading = "Which rows")]
    pub until: Option<Date>,
    /// Assume nothing of mixers in general: plain least squares
    #[arg(long, help_heading = "What is known of the machine")]
    pub no_prior: bool,
    /// Usual charge, kg of dough; left away: the largest dough of the log
    #[arg(
        long, value_name = "KG", value_parser = values::usual_charge_kg, allow_negative_numbers = true,
        help_heading = "What is known of the machine"
    )]
    pub usual_charge_kg: Option<f64>,
    /// Heat capacity of bowl and tool, kJ/K; left away: fitted
    #[arg(
        long, value_name = "KJ_PER_K", value_parser = values::bowl_kj_per_k, allow_negative_numbers = true,
        help_heading = "What is known of the machine"
    )]
    pub bowl_kj_per_k: Option<f64>,
    #[command(flatten)]
    pub uncertainties: UncertaintyArguments,
    #[command(flatten)]
    pub reading: ReadingArguments,
}

#[derive(Args, Debug)]
#[command(next_help_heading = "How sure the log is (standard uncertainties)")]
pub struct UncertaintyArguments {
    /// Of a flour temperature, K [default: 0.5]
    #[arg(
        long, value_name = "K", value_parser = values::temperature_k, allow_negative_numbers = true
    )]
    pub flour_k: Option<f64>,
    /// Of a water temperature, K [default: 0.3]
    #[arg(
        long, value_name = "K", value_parser = values::temperature_k, allow_negative_numbers = true
    )]
    pub water_k: Option<f64>,
    /// Of the room's temperature, K [default: 0.7]
    #[arg(
        long, value_name = "K", value_parser = values::temperature_k, allow_negative_numbers = true
    )]
    pub room_k: Option<f64>,
    /// Of a dough temperature, K [default: 0.3]
    #[arg(long, value_name = "K", value_parser = values::dough_k, allow_negative_numbers = true)]
    pub dough_k: Option<f64>,
    /// Of the minutes of one phase, min [default: 0.1]
    #[arg(
        long, value_name = "MIN", value_parser = values::minutes_min, allow_negative_numbers = true
    )]
    pub minutes_min: Option<f64>,
    /// Of a mass of flour or water, as a part of it [default: 0.005]
    #[arg(
        long, value_name = "PART", value_parser = values::scale_relative, allow_negative_numbers = true
    )]
    pub scale_relative: Option<f64>,
}

#[derive(Args, Debug)]
pub struct ForecastArguments {
    /// A profile that `fit` wrote
    pub profile: PathBuf,
    /// The log of the doughs to forecast, `dough_c` blank; - is standard input
    #[arg(value_name = "LOG")]
    pub log: PathBuf,
    /// Which part of the next readings the intervals are to hold
    #[arg(
        long, value_name = "LEVEL", value_parser = values::level, allow_negative_numbers = true,
        default_value = "0.95"
    )]
    pub level: f64,
    /// Print JSON for a program, numbers in full
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub reading: ReadingArguments,
}

#[derive(Args, Debug)]
pub struct FrictionFactorArguments {
    /// A profile that `fit` wrote
    pub profile: PathBuf,
    /// The log of the doughs, `dough_c` blank or not; - is standard input
    #[arg(value_name = "BATCHES")]
    pub log: PathBuf,
    /// Which part of the next doughs is to show a friction factor within the interval
    #[arg(
        long, value_name = "LEVEL", value_parser = values::level, allow_negative_numbers = true,
        default_value = "0.95"
    )]
    pub level: f64,
    /// Print a table to read instead of CSV
    #[arg(long, conflicts_with = "json")]
    pub table: bool,
    /// Print JSON for a program, numbers in full
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub reading: ReadingArguments,
}

impl FitArguments {
    /// The options of the calibration.
    pub fn calibration_options(&self) -> Options {
        let given = &self.uncertainties;
        let usual = Uncertainties::default();
        Options {
            usual_charge_kg: self.usual_charge_kg,
            bowl_kj_per_k: self.bowl_kj_per_k,
            uncertainties: Uncertainties {
                flour_k: given.flour_k.unwrap_or(usual.flour_k),
                water_k: given.water_k.unwrap_or(usual.water_k),
                room_k: given.room_k.unwrap_or(usual.room_k),
                dough_k: given.dough_k.unwrap_or(usual.dough_k),
                minutes_min: given.minutes_min.unwrap_or(usual.minutes_min),
                scale_relative: given.scale_relative.unwrap_or(usual.scale_relative),
                ..usual
            },
            with_prior: !self.no_prior,
            ..Options::default()
        }
    }

    /// The options that shape the files, as they are given, in a fixed order.
    pub fn said(&self) -> Vec<String> {
        let mut said = Vec::new();
        let mut say = |name: &str, value: Option<String>| {
            said.extend(value.map(|value| format!("--{name} {value}")));
        };
        let number = |value: Option<f64>| value.map(|v| v.to_string());
        say("machine", self.machine.clone());
        say("since", self.since.map(|d| d.to_string()));
        say("until", self.until.map(|d| d.to_string()));
        say("usual-charge-kg", number(self.usual_charge_kg));
        say("bowl-kj-per-k", number(self.bowl_kj_per_k));
        say("flour-k", number(self.uncertainties.flour_k));
        say("water-k", number(self.uncertainties.water_k));
        say("room-k", number(self.uncertainties.room_k));
        say("dough-k", number(self.uncertainties.dough_k));
        say("minutes-min", number(self.uncertainties.minutes_min));
        say("scale-relative", number(self.uncertainties.scale_relative));
        say("level", Some(self.level.to_string()));
        if self.no_prior {
            said.push("--no-prior".into());
        }
        said.extend(self.reading.said());
        said
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_definitions_hold_together() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn defaults_that_help_states_are_those_in_use() {
        let u = Uncertainties::default();
        let help = Arguments::command().find_subcommand_mut("fit").unwrap().render_help();
        let help = help.to_string();
        for (option, value) in [
            ("--flour-k", u.flour_k),
            ("--water-k", u.water_k),
            ("--room-k", u.room_k),
            ("--dough-k", u.dough_k),
            ("--minutes-min", u.minutes_min),
            ("--scale-relative", u.scale_relative),
        ] {
            let line = help.lines().find(|line| line.contains(option)).unwrap();
            assert!(line.contains(&format!("[default: {value}]")), "{line}");
        }
    }
}
