//! The doughs of a file, in its order.

use kneadfit::batch::{Reading, Stage};
use kneadfit::planning::Draft;
use kneadfit_log::LogRead;

use super::on_machine::dough;
use crate::plots::text::shortened;

/// A dough of the file, to be compared.
pub struct Dough {
    /// The baker's name for it.
    pub name: String,
    /// The machine of its row, where another row has a dough of the same name.
    pub row_of: Option<String>,
    /// What is in the bowl, its minutes left open.
    pub draft: Draft,
}

impl Dough {
    /// How the dough is called: no two of a file alike.
    pub fn title(&self) -> String {
        match &self.row_of {
            Some(machine) => format!("{}, {machine}", self.name),
            None => self.name.clone(),
        }
    }

    /// What the whole of it weighs, kg.
    pub fn mass_kg(&self) -> f64 {
        self.draft.charge.mass_kg() + self.draft.water_kg
    }
}

/// The doughs of a file in the order of its rows, and why others are none to compare.
pub fn doughs(read: &LogRead, usual_ice_c: f64) -> (Vec<Dough>, Vec<String>) {
    let mut found = Vec::new();
    for log in &read.machines {
        for (index, batch) in log.batches().iter().enumerate() {
            found.push((log.rows_of(index), log.machine(), batch));
        }
    }
    found.sort_by_key(|(rows, ..)| rows.first().copied());
    let (mut doughs, mut refused) = (Vec::new(), Vec::new());
    for (rows, machine, batch) in &found {
        let gaps = rows.last().and_then(|&row| read.gaps.get(row));
        let unread = |s: &Stage| s.reading == Reading::default();
        let fresh = batch.stages.len() == 1 && batch.stages.iter().all(unread);
        let Some(gaps) = gaps.filter(|_| fresh) else {
            refused.push(format!(
                "batch {}: a dough that is mixed already cannot be compared; write it as one row \
                 with dough_c and development blank",
                shortened(&batch.id, 60)
            ));
            continue;
        };
        let alike = found.iter().filter(|(.., other)| other.id == batch.id).count();
        doughs.push(Dough {
            name: batch.id.to_string(),
            row_of: (alike > 1).then(|| machine.to_string()),
            draft: dough(batch, gaps, usual_ice_c),
        });
    }
    (doughs, refused)
}
