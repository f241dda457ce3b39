//! `kneadfit compare`: one dough on every machine, fully developed on each.
//!
//! | module | is about |
//! |---|---|
//! | `arguments` | what may be said |
//! | `doughs` | the doughs of a file, in its order |
//! | `on_machine` | one dough on one machine |
//! | `table`, `json` | what is printed |
//!
//! The picture is of `plots::comparison`.

pub mod arguments;
mod doughs;
mod json;
mod on_machine;
mod table;

use std::path::Path;

use anyhow::{Context, bail};
use kneadfit::charge::REST;
use kneadfit::planning::Planner;
use kneadfit_log::ReadOptions;

use crate::failure::Ended;
use crate::file_name::file_names;
use crate::files::Folder;
use crate::forecast::profile;
use crate::plan::arguments::WishArguments;
use crate::plots::comparison::comparison_svg;
use crate::plots::text::shortened;
use crate::terminal::{error, json_result, message, result, warning};
use arguments::CompareArguments;
use doughs::Dough;
use on_machine::OnMachine;

/// A machine that doughs are compared on.
struct Machine {
    id: String,
    planner: Planner,
}

/// A dough and what it becomes on each machine.
pub struct Compared {
    /// The dough.
    pub dough: Dough,
    /// One a machine, in the order of the profiles.
    pub machines: Vec<OnMachine>,
}

pub fn run(arguments: &CompareArguments) -> anyhow::Result<Ended> {
    let machines: Vec<Machine> =
        arguments.profiles.iter().map(|p| machine(p)).collect::<anyhow::Result<_>>()?;
    told_apart(&machines)?;
    speeds_are_known(&arguments.wishes, &machines)?;
    let paths = std::slice::from_ref(&arguments.batch);
    let read = arguments.reading.read_and_say(paths, ReadOptions::planning(), None)?.read;
    let folder = arguments.out.as_deref().map(Folder::open).transpose()?;
    let (doughs, refused) = doughs::doughs(&read, arguments.wishes.usual_ice_c());
    refused.iter().for_each(|why| error(why));
    say_rest(&arguments.wishes, &machines);
    let mut compared = Vec::with_capacity(doughs.len());
    for dough in doughs {
        let on = machines.iter().map(|m| on_machine(m, &dough, arguments));
        let machines = on.collect::<anyhow::Result<_>>()?;
        compared.push(Compared { dough, machines });
    }
    if arguments.json {
        json_result(&json::doughs(&compared))?;
    } else {
        result(&table::table(&compared, arguments))?;
    }
    let failed = say_refused(&compared);
    if let Some(folder) = folder {
        write(&folder, &compared, arguments)?;
    }
    if compared.iter().all(|c| c.machines.iter().all(|m| m.comparison.is_err())) {
        error(&format!("no dough of {} can be compared", arguments.batch.display()));
        return Ok(Ended::BadInput);
    }
    let faultless = !read.has_errors() && refused.is_empty() && !failed;
    Ok(if faultless { Ended::Done } else { Ended::BadInput })
}

fn machine(path: &Path) -> anyhow::Result<Machine> {
    let profile = profile(path)?;
    let planner = Planner::new(&profile)
        .with_context(|| format!("{} cannot be used as a profile", path.display()))?;
    Ok(Machine { id: profile.machine.id, planner })
}

/// Two lines of one name would not be told apart.
fn told_apart(machines: &[Machine]) -> anyhow::Result<()> {
    for (i, Machine { id, .. }) in machines.iter().enumerate() {
        if machines[..i].iter().any(|other| other.id == *id) {
            bail!("two of the profiles are of {}; give each machine once", shortened(id, 60));
        }
    }
    Ok(())
}

/// Refuses bounds of a speed that no machine has; not each machine needs to have it.
fn speeds_are_known(wishes: &WishArguments, machines: &[Machine]) -> anyhow::Result<()> {
    let mut known: Vec<&str> = Vec::new();
    for speed in machines.iter().flat_map(|m| m.planner.forecaster().speeds()) {
        if !known.contains(&&**speed) {
            known.push(speed);
        }
    }
    for (option, given) in
        [("--least-minutes", &wishes.least_minutes), ("--most-minutes", &wishes.most_minutes)]
    {
        for bound in given {
            if bound.speed != REST && !known.contains(&&*bound.speed) {
                bail!(
                    "{option} {}={}: none of the machines has a speed {:?}; write one of {}",
                    bound.speed,
                    bound.minutes,
                    bound.speed,
                    known.join(", ")
                );
            }
        }
    }
    Ok(())
}

/// Says where rest that may be planned is not.
fn say_rest(wishes: &WishArguments, machines: &[Machine]) {
    if wishes.most_rest > 0.0 {
        for machine in machines.iter().filter(|m| !m.planner.knows_rest()) {
            warning(&format!(
                "{}: no rest is planned, because the machine's log does not tell what rest gives",
                shortened(&machine.id, 60)
            ));
        }
    }
}

fn on_machine(
    machine: &Machine,
    dough: &Dough,
    arguments: &CompareArguments,
) -> anyhow::Result<OnMachine> {
    let speeds = machine.planner.forecaster().speeds();
    // Bounds of minutes are of one machine's speeds: others may not have them.
    let wanted = arguments.wishes.of_speeds(speeds).wanted(arguments.level, speeds)?;
    Ok(OnMachine::new(&machine.id, &machine.planner, &dough.draft, &wanted))
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
    let titles: Vec<String> = compared.iter().map(|c| c.dough.title()).collect();
    let names: Vec<&str> = titles.iter().map(String::as_str).collect();
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
