//! `kneadfit schema`, `completions` and `man`: pages that the tool makes of itself.

use anyhow::bail;
use clap::CommandFactory;
use clap_complete::Shell;

use crate::arguments::Arguments;
use crate::failure::Ended;
use crate::terminal::raw_result;

pub fn schema() -> anyhow::Result<Ended> {
    raw_result(kneadfit::profile::json_schema().as_bytes())?;
    Ok(Ended::Done)
}

pub fn completions(shell: Shell) -> anyhow::Result<Ended> {
    let mut page = Vec::new();
    clap_complete::generate(shell, &mut Arguments::command(), "kneadfit", &mut page);
    raw_result(&page)?;
    Ok(Ended::Done)
}

pub fn manual(command: Option<&str>) -> anyhow::Result<Ended> {
    let mut tool = Arguments::command();
    // Fills in the names that the pages of the commands carry.
    tool.build();
    let page_of = match command {
        None => tool,
        Some(name) => match tool.find_subcommand(name) {
            Some(found) => found.clone(),
            None => {
                let names: Vec<&str> = tool.get_subcommands().map(|c| c.get_name()).collect();
                bail!("there is no command {name:?}; there are {}", names.join(", "));
            }
        },
    };
    let mut page = Vec::new();
    clap_mangen::Man::new(page_of).render(&mut page)?;
    raw_result(&page)?;
    Ok(Ended::Done)
}
