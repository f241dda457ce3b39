//! `kneadfit plan`: water, ice and minutes for doughs that are to end as wanted.
//!
//! | module | is about |
//! |---|---|
//! | `arguments`, `quantities` | what may be said, and how quantities are written |
//! | `dough` | one dough of the command line as a row of a log |
//! | `draft` | rows to drafts |
//! | `planned` | drafts to plans, row by row |
//! | `why`, `words` | a plan's reasons, and quantities in words |
//! | `table`, `json` | what is printed |
//! | `card`, `cards` | a page for the bench, and the folder of pages |

pub mod arguments;
mod card;
mod cards;
mod dough;
mod draft;
mod json;
mod planned;
mod quantities;
mod table;
mod why;
pub mod words;

use anyhow::bail;
use kneadfit::charge::REST;
use kneadfit::planning::Planner;
use kneadfit_log::{LogRead, ReadOptions};

use crate::failure::Ended;
use crate::files::Folder;
use crate::forecast::{profile, say_other_machines};
use crate::plots::text::shortened;
use crate::terminal::{error, json_result, raw_result, warning};
use arguments::PlanArguments;
use draft::Drafter;
use planned::{Plans, Row};

pub fn run(arguments: &PlanArguments) -> anyhow::Result<Ended> {
    if arguments.batches.is_none() && arguments.dough.flour.is_none() {
        bail!(
            "say what to plan: a file of doughs behind the profile, or one dough as \
             --flour 10kg@21 --water 6.6kg --room 26"
        );
    }
    if arguments.batches.is_none() && arguments.reading.is_given() {
        bail!(
            "--sheet, --columns and --development-stages say how a file is written; the dough of \
             the command line has none"
        );
    }
    let profile = profile(&arguments.profile)?;
    let planner = Planner::new(&profile)?;
    let machine = profile.machine.id.as_str();
    let speeds = planner.forecaster().speeds().to_vec();
    let wanted = arguments.wishes.wanted(arguments.level, &speeds)?;
    let read = read(arguments, machine, &speeds)?;
    // Tried before the work begins.
    let folder = arguments.card.as_deref().map(Folder::open).transpose()?;
    let rest = wanted.most_rest_min > 0.0 && planner.knows_rest();
    if wanted.most_rest_min > 0.0 && !rest {
        warning("no rest is planned: the machine's log does not tell what rest gives");
    }
    let drafter = Drafter { speeds: &speeds, rest, ice_c: arguments.wishes.usual_ice_c() };
    let mut plans = Plans::new(&planner, &wanted, drafter, machine);
    let rows: Vec<Row> = read.rows.iter().zip(&read.gaps).map(|r| plans.row(&read, r)).collect();
    if arguments.json {
        json_result(&json::rows(&rows))?;
    } else {
        raw_result(&table::csv(&rows, &speeds)?)?;
    }
    plans.say_refused(arguments.batches.is_none());
    if arguments.batches.is_some() {
        say_other_machines(&read, machine);
    }
    if let Some(folder) = folder {
        cards::write(&folder, &rows, machine, &wanted)?;
    }
    if rows.iter().all(|row| row.planned.is_none()) {
        let what = match &arguments.batches {
            Some(path) => format!("no row of {}", path.display()),
            None => "the dough".into(),
        };
        let and =
            if arguments.batches.is_some() { " can be planned" } else { " cannot be planned" };
        error(&format!("{what}{and} as a batch of {}", shortened(machine, 60)));
        return Ok(Ended::BadInput);
    }
    let faultless = !read.has_errors() && plans.refused.is_empty();
    Ok(if faultless { Ended::Done } else { Ended::BadInput })
}

/// The rows to plan, from a file or from the command line, what is wrong with them said.
fn read(
    arguments: &PlanArguments,
    machine: &str,
    speeds: &[std::sync::Arc<str>],
) -> anyhow::Result<LogRead> {
    match &arguments.batches {
        Some(path) => {
            let paths = std::slice::from_ref(path);
            let options = ReadOptions::planning();
            Ok(arguments.reading.read_and_say(paths, options, Some(machine))?.read)
        }
        None => {
            let read = dough::read(&arguments.dough, machine, speeds)?;
            dough::say(&read.problems);
            Ok(read)
        }
    }
}

/// The columns of minutes of a machine: its speeds in order, and rest after the first of
/// them where it plays a part.
fn minutes_columns<'a>(rows: &[Row], speeds: &'a [std::sync::Arc<str>]) -> Vec<&'a str> {
    let rests = rows.iter().filter_map(|row| row.planned.as_ref()).any(|planned| {
        planned.plan.phases.iter().chain(planned.plan.batch.phases()).any(|p| p.is_rest())
    });
    let mut columns: Vec<&str> = speeds.iter().map(|s| &**s).collect();
    if rests {
        columns.insert(columns.len().min(1), REST);
    }
    columns
}
