//! The folder of cards: a page for each planned dough.

use kneadfit::planning::Wanted;

use super::card::card_html;
use super::planned::{Planned, Row};
use crate::file_name::file_names;
use crate::files::Folder;

/// How the name of a card ends.
const CARD_ENDING: &str = ".card.html";
/// Cards that are held at a time.
const HELD: usize = 32;

/// Writes them, named after their batches.
pub fn write(folder: &Folder, rows: &[Row], machine: &str, wanted: &Wanted) -> anyhow::Result<()> {
    let planned: Vec<(&Row, &Planned)> =
        rows.iter().filter_map(|row| Some((row, row.planned.as_ref()?))).collect();
    let ids: Vec<&str> = planned.iter().map(|(_, planned)| &*planned.draft.id).collect();
    let names = file_names(&ids);
    for (cards, names) in planned.chunks(HELD).zip(names.chunks(HELD)) {
        let files: Vec<(String, String)> = cards
            .iter()
            .zip(names)
            .map(|((row, planned), name)| {
                let date = row.date.as_deref();
                (format!("{name}{CARD_ENDING}"), card_html(planned, date, machine, wanted))
            })
            .collect();
        folder.write_together(&files)?;
    }
    Ok(())
}
