//! `kneadfit fit`: every machine of a log calibrated, written and told.

use std::collections::HashSet;
use std::sync::Mutex;

use anyhow::{Context, bail};
use kneadfit::calibration::{Calibration, Options, calibrate};
use kneadfit::diagnostics;
use kneadfit::profile::Profile;
use kneadfit_log::summary::Gap;
use kneadfit_log::{
    LeftOut, LogRead, MachineLog, MendedCell, Outcome, Problem, ReadOptions, RowRef, Summary, hunt,
};
use rayon::prelude::*;

use crate::arguments::FitArguments;
use crate::bench_table::{SAFETY, bench_table, wrapped};
use crate::failure::Ended;
use crate::file_name::file_names;
use crate::files::Folder;
use crate::fit_json::{Doubts, Fitted, MachineJson};
use crate::machine_problems::MachineProblems;
use crate::mended::{Again, IfMended, if_mended};
use crate::outputs::{Circumstances, Outputs, PROFILE_ENDING};
use crate::plots::text::{one_line, shortened};
use crate::problems::{self, rows_in_words};
use crate::progress::Progress;
use crate::terminal::{BOLD, error, json_result, message, result, styled};

/// Machines whose files are held in memory at a time.
const AT_A_TIME: usize = 32;

/// What is missing is named as far as one reads.
const MOST_GAPS: usize = 3;

/// A machine's calibration with its files and what only a fit shows of its rows, or why there
/// is none.
type Made = Result<Fit, String>;

struct Fit {
    calibration: Calibration,
    outputs: Outputs,
    doubts: Vec<Problem>,
    mended: Vec<IfMended>,
}

pub fn run(arguments: &FitArguments) -> anyhow::Result<Ended> {
    let made = made()?;
    let options = read_options(arguments)?;
    let logs = arguments.reading.read_and_say(&arguments.logs, options, None)?;
    let read = &logs.read;
    if read.is_empty() {
        error(&nothing_usable(read, arguments));
        return Ok(Ended::BadInput);
    }
    if read.rows_used() < read.rows_read() {
        message(&format!("{}.\n", rows_in_words(read)));
    }
    let folder = Folder::open(&arguments.out)?;
    let circumstances =
        Circumstances { logs: &logs, options: arguments.said(), made, level: arguments.level };
    let whose = MachineProblems::of(read);
    let names: Vec<&str> = read.machines.iter().map(|m| &**m.machine()).collect();
    let stems = file_names(&names);
    let options = arguments.calibration_options();
    let standard_input = arguments.logs.iter().any(|path| path.as_os_str() == "-");
    let again = |cells: Vec<MendedCell>| {
        let options = read_options(arguments).ok().filter(|_| !standard_input)?;
        let mended = options.with_mends(cells);
        arguments.reading.read(&arguments.logs, mended, None).ok().map(|logs| logs.read)
    };
    let first_of = |machine: &MachineLog| {
        read.machines.iter().position(|m| m.machine() == machine.machine()).unwrap_or(0)
    };
    let progress = Mutex::new(Progress::of_machines(names.len() as u64));
    let mut told = Told::default();
    for (chunk, stems) in read.machines.chunks(AT_A_TIME).zip(stems.chunks(AT_A_TIME)) {
        let made: Vec<Made> = chunk
            .par_iter()
            .map(|machine| {
                let place = first_of(machine);
                let made = make(place, &options, &whose, &circumstances, &again);
                if let Ok(mut progress) = progress.lock() {
                    progress.advance(1);
                }
                made
            })
            .collect();
        for ((machine, stem), made) in chunk.iter().zip(stems).zip(made) {
            let name = machine.machine();
            match made {
                Ok(fit) => match write(&folder, name, stem, fit.outputs) {
                    Ok(files) => {
                        let aside = whose.rows_set_aside(name);
                        problems::say(&fit.doubts);
                        let doubts = Doubts { doubts: fit.doubts, mended: fit.mended };
                        told.fitted(&fit.calibration, machine, arguments, aside, files, doubts);
                    }
                    Err(stopped) => {
                        // Machines before this one are written: they are told first.
                        told.say(arguments.json)?;
                        return Err(stopped);
                    }
                },
                Err(why) => told.without_fit(name, why),
            }
        }
    }
    drop(progress);
    told.say(arguments.json)
}

/// When, from outside, so that the same log and options give the same bytes; `None`: not
/// said.
fn made() -> anyhow::Result<Option<String>> {
    let Some(seconds) = std::env::var_os("SOURCE_DATE_EPOCH").filter(|s| !s.is_empty()) else {
        return Ok(None);
    };
    let seconds = seconds.to_string_lossy().into_owned();
    let when = seconds.parse().ok().and_then(|s: i64| jiff::Timestamp::from_second(s).ok());
    match when {
        Some(when) => Ok(Some(when.to_string())),
        None => bail!("SOURCE_DATE_EPOCH is {seconds:?}, expected seconds since 1970"),
    }
}

fn read_options(arguments: &FitArguments) -> anyhow::Result<ReadOptions> {
    let mut options = ReadOptions::default();
    if let Some(machine) = &arguments.machine {
        options = options.only_machine(machine.as_str());
    }
    if let (Some(since), Some(until)) = (arguments.since, arguments.until)
        && since > until
    {
        bail!("--since {since} is after --until {until}: no batch lies between");
    }
    options.since = arguments.since;
    options.until = arguments.until;
    Ok(options)
}

/// Why nothing is left to fit, and what to do.
fn nothing_usable(read: &LogRead, arguments: &FitArguments) -> String {
    let left_out = |wanted: fn(LeftOut) -> bool| {
        read.rows.iter().any(|row| matches!(row.outcome, Outcome::LeftOut(why) if wanted(why)))
    };
    if let Some(machine) = &arguments.machine
        && read.rows.iter().all(|row| row.machine.as_deref() != Some(machine))
        && !read.rows.is_empty()
    {
        let mut seen = HashSet::new();
        let names: Vec<String> = read
            .rows
            .iter()
            .filter_map(|row| row.machine.as_deref())
            .filter(|name| seen.insert(*name))
            .take(10)
            .map(|name| shortened(name, 60))
            .collect();
        return format!(
            "no row is of the machine {:?}; the log has {}",
            shortened(machine, 60),
            names.join(", ")
        );
    }
    if left_out(|why| !matches!(why, LeftOut::OtherMachine)) {
        return format!("no usable batch lies between the days asked for{}", span(read));
    }
    "nothing usable is left in the log; mend what is named above and try again".into()
}

/// From when to when the log goes.
fn span(read: &LogRead) -> String {
    let asked = |row: &&RowRef| row.outcome != Outcome::LeftOut(LeftOut::OtherMachine);
    let days = || read.rows.iter().filter(asked).filter_map(|row| row.date.as_deref());
    // Days written in full sort as texts do.
    match (days().min(), days().max()) {
        (Some(first), Some(last)) if first == last => format!("; the log is all of {first}"),
        (Some(first), Some(last)) => format!("; the log goes from {first} to {last}"),
        _ => "; no row of the log has a date".into(),
    }
}

fn make(
    place: usize,
    options: &Options,
    whose: &MachineProblems<'_>,
    circumstances: &Circumstances<'_>,
    again: &Again<'_>,
) -> Made {
    let read = &circumstances.logs.read;
    let machine = &read.machines[place];
    if machine.log.speeds.is_empty()
        && let Some(gap) = Summary::of(&machine.log).gaps.iter().find(|g| **g == Gap::NoMinutes)
    {
        let remedy = gap.remedy().map(|remedy| format!("; {remedy}"));
        return Err(format!("{gap}{}", remedy.unwrap_or_default()));
    }
    let calibration = calibrate(&machine.log, options).map_err(|error| error.to_string())?;
    if !calibration.converged() {
        return Err(not_converged(&calibration, machine));
    }
    if !calibration.is_usable() {
        return Err(disbelieved(&calibration));
    }
    let name = machine.machine();
    let mut problems = whose.of_machine(name);
    let doubts = hunt(read, place, Some(&calibration));
    problems.extend(doubts.iter().cloned());
    let mended = if_mended(&problems, read, &calibration, circumstances.level, again);
    let set_aside = whose.set_aside(name);
    let outputs =
        Outputs::new(&calibration, machine, (&problems, &mended), set_aside, circumstances);
    Ok(Fit { calibration, outputs, doubts, mended })
}

/// Why a fit that believes less than half of the log is none.
fn disbelieved(calibration: &Calibration) -> String {
    let parts = std::iter::once((&calibration.heat, "dough temperatures"))
        .chain(calibration.development.iter().map(|part| (part, "grades")));
    let counts: Vec<String> = parts
        .filter(|(part, _)| part.is_mostly_disbelieved())
        .map(|(part, what)| {
            format!("{} of {} {what}", diagnostics::disbelieved(&part.batches), part.readings)
        })
        .collect();
    format!(
        "{} are far from what mixers usually do, and are disbelieved: the log \
         is of something else, or much of it is mistyped. Look it over with `kneadfit check`; if \
         it is right, fit it with --no-prior",
        counts.join(" and ")
    )
}

/// Why a fit cannot be trusted, in kitchen words, and what to do.
fn not_converged(calibration: &Calibration, machine: &MachineLog) -> String {
    if !calibration.options.with_prior {
        let gaps = Summary::of(&machine.log).gaps;
        let missing: Vec<String> = gaps.iter().take(MOST_GAPS).map(ToString::to_string).collect();
        let missing = match missing.is_empty() {
            true => "the batches are too few or too much alike for it".to_owned(),
            false => missing.join("; "),
        };
        let remedy =
            gaps.iter().find_map(Gap::remedy).map(|r| format!("{r}, or ")).unwrap_or_default();
        return format!(
            "with --no-prior the log must tell every number itself, and \
             it does not: {missing}. What to do: {remedy}leave --no-prior away"
        );
    }
    let heat = &calibration.heat.outcome;
    let what = match &calibration.development {
        Some(_) if heat.is_success() => "grades",
        _ => "dough temperatures",
    };
    format!(
        "the {what} contradict each other so that no one set of numbers explains them; one of \
         them may be mistyped. Look the log over with `kneadfit check`, and log one batch more"
    )
}

/// Writes a machine's files and returns their paths.
fn write(
    folder: &Folder,
    machine: &str,
    stem: &str,
    outputs: Outputs,
) -> anyhow::Result<Vec<String>> {
    let profile = format!("{stem}{PROFILE_ENDING}");
    // Where the file system takes two names for one, a profile of another machine is there.
    let there = folder.text_of(&profile).and_then(|text| Profile::from_json(&text).ok());
    if let Some(there) = there
        && there.machine.id != machine
    {
        bail!(
            "{} is the profile of another machine, {:?}: choose another folder",
            folder.path_of(&profile).display(),
            shortened(&there.machine.id, 60)
        );
    }
    let files = outputs.into_files(stem);
    folder
        .write_together(&files)
        .with_context(|| format!("no file of {} was written", shortened(machine, 60)))?;
    Ok(files.iter().map(|(name, _)| folder.path_of(name).display().to_string()).collect())
}

/// What the fit would be if slips were mended, for the bench.
fn mended_text(mended: &[IfMended]) -> String {
    let mut text = String::new();
    if !mended.is_empty() {
        text.push_str(&format!("{}\n", styled(BOLD, "  If it were mended in the log")));
    }
    for slip in mended {
        let words = format!("{}: {}", one_line(&slip.whereabouts), one_line(&slip.words));
        text.push_str(&format!("{}\n", wrapped(&words, "  - ", "    ")));
    }
    if !mended.is_empty() {
        text.push('\n');
    }
    text
}

/// What is said of the machines, in their order.
#[derive(Default)]
struct Told {
    text: String,
    json: Vec<MachineJson>,
    failed: usize,
}

impl Told {
    fn fitted(
        &mut self,
        calibration: &Calibration,
        machine: &MachineLog,
        arguments: &FitArguments,
        rows_set_aside: usize,
        files: Vec<String>,
        doubts: Doubts,
    ) {
        if arguments.json {
            self.json.push(MachineJson::fitted(
                calibration,
                arguments.level,
                rows_set_aside,
                files,
                doubts,
            ));
            return;
        }
        self.text.push_str(&bench_table(
            calibration,
            &machine.log,
            arguments.level,
            rows_set_aside,
        ));
        self.text.push_str(&mended_text(&doubts.mended));
        self.text.push_str("  Written:\n");
        for file in files {
            self.text.push_str(&format!("    {file}\n"));
        }
        self.text.push('\n');
    }

    fn without_fit(&mut self, machine: &str, why: String) {
        self.failed += 1;
        error(&format!("{}: no usable fit, nothing is written: {why}", shortened(machine, 60)));
        self.json.push(MachineJson::without_fit(machine, why));
    }

    fn say(self, json: bool) -> anyhow::Result<Ended> {
        if json {
            json_result(&Fitted { machines: self.json, safety: SAFETY })?;
        } else if !self.text.is_empty() {
            result(&format!("{}{SAFETY}\n", self.text))?;
        }
        Ok(if self.failed > 0 { Ended::NoFit } else { Ended::Done })
    }
}
