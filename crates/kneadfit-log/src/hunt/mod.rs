//! Slips that show only beside the rest of the log: numbers that a kitchen may well have,
//! but not that batch.

mod stuck;
mod suspects;

use kneadfit::calibration::Calibration;

use crate::mend::{Mend, MendedCell, Slip};
use crate::names::{self, Meaning};
use crate::problem::{ColumnRef, Found, Place, Problem, ProblemKind, Severity};
use crate::result::{LogRead, MachineLog};
use crate::unit::Unit;

/// Logs of more batches are not hunted through: each batch would be forecast.
pub const MOST_BATCHES: usize = 20_000;

/// Hydration above this, in a machine whose doughs are far below, has flour and water in each
/// other's place: common practice, no source.
const WET: f64 = 1.1;
/// The two swapped back are as the machine's other doughs within this, kg a kg.
const LIKE_THE_OTHERS: f64 = 0.15;

/// Doubts about the batches of a machine (by its place in the log), by what its calibration
/// foretells of each: a temperature in °F, temperatures or masses in each other's place, a
/// thermometer that is stuck. Nothing is mended: see [`Problem::mend`].
///
/// `calibration` is that of the machine's log; without one only the numbers themselves are
/// looked at.
///
/// # Examples
///
/// ```
/// use kneadfit_log::{ReadOptions, Slip, hunt, read_log};
///
/// let text = "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,dough_c\n\
///             1,10,21,6.5,12,24,8,20.5\n\
///             2,6.5,21,10,12,24,8,19.6\n\
///             3,10,20,6.4,14,24,9,21.4\n";
/// let read = read_log("kitchen.csv", "spiral", text.as_bytes(), &ReadOptions::default());
/// let doubts = hunt(&read, 0, None);
/// assert_eq!(doubts.len(), 1);
/// let mend = doubts[0].mend().unwrap();
/// assert_eq!((mend.slip, mend.cells[0].value), (Slip::FlourAndWaterSwapped, 10.0));
/// ```
///
/// # Panics
///
/// When the log has no machine of that place.
pub fn hunt(read: &LogRead, machine: usize, calibration: Option<&Calibration>) -> Vec<Problem> {
    let finder = Finder { read, machine: &read.machines[machine] };
    let mut doubts = finder.swapped_masses();
    doubts.extend(finder.stuck());
    if finder.machine.batches().len() <= MOST_BATCHES
        && let Some(calibration) = calibration
    {
        let named: Vec<u64> = doubts.iter().filter_map(|d| d.place.map(|p| p.line)).collect();
        let suspects = finder.suspects(calibration);
        let new = |d: &Problem| d.place.is_none_or(|p| !named.contains(&p.line));
        doubts.extend(suspects.into_iter().filter(new));
    }
    doubts
}

/// A machine's log and where its numbers stand.
struct Finder<'a> {
    read: &'a LogRead,
    machine: &'a MachineLog,
}

impl Finder<'_> {
    /// The column in which a batch's row has this quantity, in whatever unit.
    fn column(&self, row: usize, name: &str) -> Option<&ColumnRef> {
        let columns = self.read.columns.get(self.read.rows[row].source)?;
        columns.iter().find(|column| match names::meaning(&column.meaning) {
            Some(Meaning::Number(number, _)) => number.name() == name,
            _ => false,
        })
    }

    /// The unit in which a batch's row has this quantity.
    fn unit(&self, row: usize, name: &str) -> Option<Unit> {
        Some(Unit::of_column(&self.column(row, name)?.meaning))
    }

    /// Whether two cells of a row can have been swapped as they are written.
    fn are_alike(&self, row: usize, one: &str, other: &str) -> bool {
        self.unit(row, one) == self.unit(row, other)
    }

    /// A cell of a row with another value, which is in the log's own unit.
    fn cell(&self, row: usize, name: &str, own: f64) -> Option<MendedCell> {
        let column = self.column(row, name)?;
        let value = Unit::of_column(&column.meaning).written(own);
        let at = &self.read.rows[row];
        Some(MendedCell {
            source: self.read.sources[at.source].clone(),
            line: at.line,
            column: column.number,
            name: column.meaning.clone(),
            value,
        })
    }

    /// A doubt about a cell of a row, which holds a value of the log's own unit.
    fn doubt(&self, row: usize, name: &str, own: f64, kind: ProblemKind) -> Problem {
        let at = &self.read.rows[row];
        let found = self.unit(row, name).unwrap_or_default().written(own);
        Problem {
            severity: Severity::Doubt,
            source: self.read.sources[at.source].clone(),
            sheet: self.read.dialects.get(at.source).and_then(|d| d.sheet.clone()),
            place: Some(Place { line: at.line, row: at.row }),
            batch: at.batch.clone(),
            column: self.column(row, name).cloned(),
            found: Some(Found::new(found.to_string().as_bytes())),
            kind,
        }
    }

    /// Doughs far wetter than the machine's others, which with flour and water in each
    /// other's place would be as they are.
    fn swapped_masses(&self) -> Vec<Problem> {
        let batches = self.machine.batches();
        let mut usual: Vec<f64> = batches.iter().filter_map(|b| b.charge.hydration()).collect();
        if usual.is_empty() {
            return Vec::new();
        }
        let middle = usual.len() / 2;
        let usual = *usual.select_nth_unstable_by(middle, f64::total_cmp).1;
        let mut doubts = Vec::new();
        for (index, batch) in batches.iter().enumerate() {
            let Some(hydration) = batch.charge.hydration().filter(|h| *h > WET && usual < 1.0)
            else {
                continue;
            };
            let flour_kg = batch.charge.mass_of_kg(|m| *m == kneadfit::charge::Material::Flour);
            let water_kg = batch.charge.mass_of_kg(|m| *m == kneadfit::charge::Material::Water);
            let row = self.machine.rows_of(index)[0];
            let mended = water_kg > 0.0
                && self.are_alike(row, "flour_kg", "water_kg")
                && (flour_kg / water_kg - usual).abs() < LIKE_THE_OTHERS;
            let cells = [("flour_kg", water_kg), ("water_kg", flour_kg)]
                .into_iter()
                .map(|(name, kg)| self.cell(row, name, kg))
                .collect::<Option<Vec<_>>>();
            if let Some(cells) = cells.filter(|_| mended) {
                let mend = Mend { slip: Slip::FlourAndWaterSwapped, cells };
                let kind = ProblemKind::TooWet { hydration, usual, mend };
                doubts.push(self.doubt(row, "flour_kg", flour_kg, kind));
            }
        }
        doubts
    }
}
