//! `kneadfit compare`: one dough on every machine, fully developed on each.
//!
//! | module | is about |
//! |---|---|
//! | `arguments` | what may be said |
//! | `on_machine` | one dough on one machine |
//! | `table`, `json` | what is printed |
//!
//! The picture is of `plots::comparison`.

pub mod arguments;
mod json;
mod on_machine;
mod table;

use std::path::Path;

use anyhow::{Context, bail};
use kneadfit::batch::{Reading, Stage};
use kneadfit::planning::Planner;
use kneadfit::profile::Profile;
use kneadfit_log::ReadOptions;

use crate::failure::Ended;
use crate::file_name::file_names;
use crate::files::Folder;
use crate::forecast::profile;
use crate::plots::comparison::comparison_svg;
use crate::plots::text::shortened;
use crate::terminal::{error, json_result, message, result, warning};
use arguments::CompareArguments;
use on_machine::{OnMachine, dough};

/// A machine that doughs are compared on.
struct Machine {
    profile: Profile,
    planner: Planner,
}

/// A dough and what it becomes on each machine.
pub struct Compared {
    /// The baker's name for the dough.
    pub dough: String,
    /// One a machine, in the order of the profiles.
    pub machines: Vec<OnMachine>,
}

pub fn run(arguments: &CompareArguments) -> anyhow::Result<Ended> {
    let machines: Vec<Machine> =
        arguments.profiles.iter().map(|p| machine(p)).collect::<anyhow::Result<_>>()?;
    told_apart(&machines)?;
    let paths = std::slice::from_ref(&arguments.batch);
    let read = arguments.reading.read_and_say(paths, ReadOptions::planning(), None)?.read;
    let folder = arguments.out.as_deref().map(Folder::open).transpose()?;
    let mut compared = Vec::new();
    let mut refused = 0;
    for log in &read.machines {
        for (index, batch) in log.batches().iter().enumerate() {
            let gaps = log.rows_of(index).last().and_then(|&row| read.gaps.get(row));
            let unread = |s: &Stage| s.reading == Reading::default();
            let fresh = batch.stages.len() == 1 && batch.stages.iter().all(unread);
            let Some(gaps) = gaps.filter(|_| fresh) else {
                refused += 1;
                error(&format!(
                    "batch {}: a dough that is mixed already cannot be compared; write it as one \
                     row with dough_c and development blank",
                    shortened(&batch.id, 60)
                ));
                continue;
            };
            let draft = dough(batch, gaps, arguments.wishes.usual_ice_c());
            let on = machines.iter().map(|m| on_machine(m, &draft, arguments));
            compared.push(Compared {
                dough: batch.id.to_string(),
                machines: on.collect::<anyhow::Result<_>>()?,
            });
        }
    }
    if arguments.json {
        json_result(&json::doughs(&compared))?;
    } else {
        result(&table::table(&compared, &arguments.wishes))?;
    }
    let failed = say_refused(&compared);
    if let Some(folder) = folder {
        write(&folder, &compared, arguments)?;
    }
    if compared.iter().all(|c| c.machines.iter().all(|m| m.comparison.is_err())) {
        error(&format!("no dough of {} can be compared", arguments.batch.display()));
        return Ok(Ended::BadInput);
    }
    let faultless = !read.has_errors() && refused == 0 && !failed;
    Ok(if faultless { Ended::Done } else { Ended::BadInput })
}

fn machine(path: &Path) -> anyhow::Result<Machine> {
    let profile = profile(path)?;
    let planner = Planner::new(&profile)
        .with_context(|| format!("{} cannot be used as a profile", path.display()))?;
    Ok(Machine { profile, planner })
}

/// Two lines of one name would not be told apart.
fn told_apart(machines: &[Machine]) -> anyhow::Result<()> {
    for (i, machine) in machines.iter().enumerate() {
        let id = &machine.profile.machine.id;
        if machines[..i].iter().any(|other| other.profile.machine.id == *id) {
            bail!("two of the profiles are of {}; give each machine once", shortened(id, 60));
        }
    }
    Ok(())
}

fn on_machine(
    machine: &Machine,
    draft: &kneadfit::planning::Draft,
    arguments: &CompareArguments,
) -> anyhow::Result<OnMachine> {
    let speeds = machine.planner.forecaster().speeds();
    // Bounds of minutes are of one machine's speeds: others may not have them.
    let wanted = arguments.wishes.of_speeds(speeds).wanted(arguments.level, speeds)?;
    Ok(OnMachine::new(&machine.profile, &machine.planner, draft, &wanted))
}

/// Says which machines cannot be compared, and why; whether there are any.
fn say_refused(compared: &[Compared]) -> bool {
    let mut any = false;
    for dough in compared {
        for machine in &dough.machines {
            if let Err(why) = &machine.comparison {
                any = true;
                let name = shortened(&machine.machine, 60);
                error(&format!("{name}: {why}"));
            }
        }
    }
    any
}

fn write(
    folder: &Folder,
    compared: &[Compared],
    arguments: &CompareArguments,
) -> anyhow::Result<()> {
    let names: Vec<&str> = compared.iter().map(|c| &*c.dough).collect();
    let files: Vec<(String, String)> = file_names(&names)
        .iter()
        .zip(compared)
        .filter_map(|(name, compared)| {
            let picture = comparison_svg(compared, &arguments.wishes)?;
            Some((format!("{name}.comparison.svg"), picture))
        })
        .collect();
    folder.write_together(&files)?;
    for (name, _) in &files {
        message(&format!("wrote {}", folder.path_of(name).display()));
    }
    if files.len() < compared.len() {
        warning("doughs that no machine develops have no picture");
    }
    Ok(())
}
