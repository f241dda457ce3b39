//! Batches that the others contradict, and the slips that would explain them.

use kneadfit::batch::{Batch, Reading};
use kneadfit::calibration::Calibration;
use kneadfit::charge::{Ingredient, Material};
use kneadfit::forecast::Forecaster;
use kneadfit::profile::{Profile, Provenance};
use kneadfit::units::celsius_from_fahrenheit;

use super::Finder;
use crate::mend::{Mend, MendedCell, Slip};
use crate::names::{self, Meaning};
use crate::problem::{Problem, ProblemKind};
use crate::unit::Unit;

/// A dough so many standard deviations off what the others foretell is looked into.
const STARTLING: f64 = 5.0;
/// A slip explains it where it is no farther off than this with it mended.
const EXPLAINED: f64 = 2.0;
/// Temperatures that a mended cell may have, °C: those of a kitchen.
const KITCHEN_C: (f64, f64) = (-1.0, 45.0);

/// A slip and the batch as it would be without it.
struct Candidate {
    slip: Slip,
    batch: Batch,
    cells: Vec<MendedCell>,
}

impl Finder<'_> {
    pub(super) fn suspects(&self, calibration: &Calibration) -> Vec<Problem> {
        let profile = Profile::new(calibration, &Provenance::default());
        let Ok(forecaster) = Forecaster::new(&profile) else { return Vec::new() };
        let suspects = calibration.heat.looks_mistyped();
        suspects.filter_map(|suspect| self.explained(&forecaster, suspect.in_log)).collect()
    }

    /// The slip that explains a batch best, if one does.
    fn explained(&self, forecaster: &Forecaster, index: usize) -> Option<Problem> {
        let batch = &self.machine.batches()[index];
        let now = offs(forecaster, batch)?;
        if worst(&now) < STARTLING {
            return None;
        }
        let (best, _) = self
            .candidates(index)
            .into_iter()
            .filter_map(|candidate| {
                let mended = offs(forecaster, &candidate.batch)?;
                let off = worst(&mended);
                (off <= EXPLAINED).then_some((candidate, off))
            })
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        let (stage, read_c) = last_reading(batch)?;
        let unread = unread(batch);
        let predictive = forecaster.predictive(&unread, stage).ok().flatten()?;
        let expected_c = predictive.interval_c(0.95)?;
        let cell = best.cells.first()?;
        let name = match names::meaning(&cell.name)? {
            Meaning::Number(number, _) => number.name(),
            _ => return None,
        };
        let found = said(batch, name)?;
        let row = self.row_of(index, cell.line)?;
        let mend = Mend { slip: best.slip, cells: best.cells };
        let kind = ProblemKind::Contradicted { read_c, expected_c, mend };
        Some(self.doubt(row, name, found, kind))
    }

    fn row_of(&self, batch: usize, line: u64) -> Option<usize> {
        let rows = self.machine.rows_of(batch);
        rows.iter().copied().find(|&row| self.read.rows[row].line == line)
    }

    /// A temperature as it is where its cell was read on the other scale, °C, if a kitchen has
    /// it; to a tenth, as a baker writes it.
    fn on_other_scale(&self, row: usize, name: &str, logged_c: f64) -> Option<(Slip, f64)> {
        let (slip, celsius) = match self.unit(row, name)? {
            Unit::Fahrenheit => (Slip::Celsius, Unit::Fahrenheit.written(logged_c)),
            _ => (Slip::Fahrenheit, (10.0 * celsius_from_fahrenheit(logged_c)).round() / 10.0),
        };
        (KITCHEN_C.0..=KITCHEN_C.1).contains(&celsius).then_some((slip, celsius))
    }

    /// What may have gone wrong in writing a batch down.
    fn candidates(&self, index: usize) -> Vec<Candidate> {
        let batch = &self.machine.batches()[index];
        let rows = self.machine.rows_of(index);
        let first = rows[0];
        let mut found = Vec::new();
        let mut push = |slip, batch: Batch, cells: Vec<Option<MendedCell>>| {
            if let Some(cells) = cells.into_iter().collect() {
                found.push(Candidate { slip, batch, cells });
            }
        };
        // The other scale, of whatever has a temperature of its own.
        for name in ["flour_c", "water_c", "preferment_c", "other_c", "room_c", "bowl_c"] {
            let Some(logged) = said(batch, name) else { continue };
            let Some((slip, celsius)) = self.on_other_scale(first, name, logged) else { continue };
            let mut mended = batch.clone();
            set(&mut mended, name, celsius);
            push(slip, mended, vec![self.cell(first, name, celsius)]);
        }
        let (flour, water) = (said(batch, "flour_c"), said(batch, "water_c"));
        if let (Some(flour_c), Some(water_c)) = (flour, water)
            && flour_c != water_c
            && self.are_alike(first, "flour_c", "water_c")
        {
            let mut mended = batch.clone();
            set(&mut mended, "flour_c", water_c);
            set(&mut mended, "water_c", flour_c);
            let cells =
                vec![self.cell(first, "flour_c", water_c), self.cell(first, "water_c", flour_c)];
            push(Slip::FlourAndWaterTemperaturesSwapped, mended, cells);
        }
        for (stage, &row) in rows.iter().enumerate() {
            let Some(dough_c) = batch.stages[stage].reading.dough_c else { continue };
            if let Some((slip, celsius)) = self.on_other_scale(row, "dough_c", dough_c) {
                let mut mended = batch.clone();
                mended.stages[stage].reading.dough_c = Some(celsius);
                push(slip, mended, vec![self.cell(row, "dough_c", celsius)]);
            }
            // Room and dough stand beside each other on the first row only.
            let beside = stage == 0 && self.are_alike(row, "room_c", "dough_c");
            if beside && dough_c != batch.charge.room_c {
                let room_c = batch.charge.room_c;
                let mut mended = batch.clone();
                set(&mut mended, "room_c", dough_c);
                mended.stages[stage].reading.dough_c = Some(room_c);
                let cells =
                    vec![self.cell(row, "room_c", dough_c), self.cell(row, "dough_c", room_c)];
                push(Slip::RoomAndDoughSwapped, mended, cells);
            }
        }
        found
    }
}

fn is_of(name: &str, part: &Ingredient) -> bool {
    matches!(
        (name, part.material),
        ("flour_c", Material::Flour)
            | ("water_c", Material::Water)
            | ("preferment_c", Material::Preferment { .. })
            | ("other_c", Material::Other { .. })
    )
}

/// The temperature that a batch's first row has under a name, or its last reading.
fn said(batch: &Batch, name: &str) -> Option<f64> {
    match name {
        "room_c" => Some(batch.charge.room_c),
        "bowl_c" => batch.charge.bowl_c,
        "dough_c" => last_reading(batch).map(|(_, dough_c)| dough_c),
        _ => batch.charge.ingredients.iter().find(|i| is_of(name, i)).map(|i| i.temperature_c),
    }
}

fn set(batch: &mut Batch, name: &str, celsius: f64) {
    match name {
        "room_c" => {
            // Salt, sugar and fat stand in the room.
            let room_c = batch.charge.room_c;
            for part in &mut batch.charge.ingredients {
                let stands =
                    matches!(part.material, Material::Salt | Material::Sugar | Material::Fat);
                if stands && part.temperature_c == room_c {
                    part.temperature_c = celsius;
                }
            }
            batch.charge.room_c = celsius;
        }
        "bowl_c" => batch.charge.bowl_c = Some(celsius),
        _ => batch
            .charge
            .ingredients
            .iter_mut()
            .filter(|i| is_of(name, i))
            .for_each(|i| i.temperature_c = celsius),
    }
}

fn last_reading(batch: &Batch) -> Option<(usize, f64)> {
    let read = |(stage, s): (usize, &kneadfit::batch::Stage)| Some((stage, s.reading.dough_c?));
    batch.stages.iter().enumerate().rev().find_map(read)
}

/// The batch as it is foretold before anything is read.
fn unread(batch: &Batch) -> Batch {
    let mut unread = batch.clone();
    unread.stages.iter_mut().for_each(|s| s.reading = Reading::default());
    unread
}

/// How many standard deviations each reading is off what is foretold of it; `None`: it cannot
/// be foretold.
fn offs(forecaster: &Forecaster, batch: &Batch) -> Option<Vec<f64>> {
    let unread = unread(batch);
    let mut offs = Vec::new();
    for (stage, s) in batch.stages.iter().enumerate() {
        let Some(read_c) = s.reading.dough_c else { continue };
        let predictive = forecaster.predictive(&unread, stage).ok()??;
        offs.push((read_c - predictive.mean_c()) / predictive.reading_variance_k2().sqrt());
    }
    (!offs.is_empty()).then_some(offs)
}

fn worst(offs: &[f64]) -> f64 {
    offs.iter().fold(0.0, |worst, off| off.abs().max(worst))
}
