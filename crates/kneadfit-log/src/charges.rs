//! Charges that no mixer takes, or that are quite unlike the machine's others: most likely a
//! row in another unit.

use std::cell::OnceCell;

use kneadfit::charge::Charge;

use crate::finish::{Dropped, Sources, of_row};
use crate::formula::said_of;
use crate::machines::Machine;
use crate::mend::{Mend, MendedCell, Slip};
use crate::names::{self, Meaning};
use crate::plausible::LARGE_CHARGE_KG;
use crate::problem::{Problem, ProblemKind, Severity};
use crate::result::RowRef;
use crate::unit::Unit;

/// A charge so many times the middle one, or so small a part of it, is doubted:
/// grams among kilograms are a factor of a thousand.
const UNLIKE: f64 = 200.0;
/// One that is so many times the middle one at most, once read in another unit, was in that.
const ALIKE: f64 = 10.0;
/// Ounces among pounds are a factor of 16, which a mixer's doughs hardly span: doubted where
/// the mended charge is so many times the middle one at most,
const LIKE: f64 = 4.0;
/// and no other lies between so many times the middle one and as small a part of the odd one.
const BETWEEN: f64 = 2.0;

/// Doubts the charges that are beyond any mixer, or quite unlike the machine's others.
pub(crate) fn doubt_charges(
    machine: &Machine,
    dropped: &Dropped,
    rows: &[RowRef],
    sources: &Sources,
    problems: &mut Vec<Problem>,
) {
    let kept = || machine.facts.iter().enumerate().filter(|(index, _)| dropped.keep(*index));
    let mut masses: Vec<f64> = kept().map(|(_, facts)| facts.charge_kg).collect();
    if masses.is_empty() {
        return;
    }
    let middle = masses.len() / 2;
    let median_kg = *masses.select_nth_unstable_by(middle, f64::total_cmp).1;
    // Sorted once, and only where it is asked for.
    let sorted = OnceCell::new();
    let any_between = |least: f64, most: f64| {
        let sorted: &Vec<f64> = sorted.get_or_init(|| {
            let mut sorted = masses.clone();
            sorted.sort_unstable_by(f64::total_cmp);
            sorted
        });
        sorted.get(sorted.partition_point(|kg| *kg < least)).is_some_and(|kg| *kg < most)
    };
    for (index, facts) in kept() {
        let charge_kg = facts.charge_kg;
        let row = &rows[machine.facts[index].first_row];
        let meant = || in_other_unit(&machine.batches[index].charge, row, sources);
        let mend = |alike: f64| {
            let like = |mended_kg: f64| match median_kg > LARGE_CHARGE_KG {
                true => mended_kg <= LARGE_CHARGE_KG,
                false => (median_kg / alike..=median_kg * alike).contains(&mended_kg),
            };
            let mut mends = meant().into_iter().filter(|(mended_kg, _)| like(*mended_kg));
            // Of two that would do nobody knows.
            mends.next().filter(|_| mends.next().is_none()).map(|(_, mend)| mend)
        };
        let kind = if charge_kg > LARGE_CHARGE_KG {
            ProblemKind::LargeCharge { charge_kg, most_kg: LARGE_CHARGE_KG, mend: mend(ALIKE) }
        } else if charge_kg > UNLIKE * median_kg || charge_kg * UNLIKE < median_kg {
            ProblemKind::UnlikeOtherCharges { charge_kg, median_kg, mend: mend(ALIKE) }
        } else if charge_kg > ALIKE * median_kg
            && let Some(mend) = mend(LIKE).filter(|mend| mend.slip == Slip::Ounces)
            && !any_between(BETWEEN * median_kg, charge_kg / BETWEEN)
        {
            ProblemKind::UnlikeOtherCharges { charge_kg, median_kg, mend: Some(mend) }
        } else {
            continue;
        };
        problems.push(of_row(row, sources, Severity::Doubt, kind));
    }
}

/// The charge as it would be with all masses in another unit than their columns', in kg, for
/// each unit that kitchens mix up with it.
fn in_other_unit(charge: &Charge, row: &RowRef, sources: &Sources) -> Vec<(f64, Mend)> {
    let mut masses = Vec::new();
    for column in &sources.columns[row.source] {
        let Some(Meaning::Number(number, unit)) = names::meaning(&column.meaning) else { continue };
        let mass = number.name().ends_with("_kg").then(|| said_of(charge, number)).flatten();
        if let Some(own) = mass.flatten().filter(|own| *own > 0.0) {
            masses.push((column, unit, unit.written(own)));
        }
    }
    let Some(&(_, unit, _)) = masses.first() else { return Vec::new() };
    if masses.iter().any(|(_, other, _)| *other != unit) {
        return Vec::new();
    }
    let others: &[(Slip, Unit)] = match unit {
        Unit::Own => &[(Slip::Grams, Unit::Grams)],
        Unit::Grams => &[(Slip::Kilograms, Unit::Own)],
        Unit::Pounds => &[(Slip::Grams, Unit::Grams), (Slip::Ounces, Unit::Ounces)],
        Unit::Ounces => &[(Slip::Grams, Unit::Grams), (Slip::Pounds, Unit::Pounds)],
        _ => &[],
    };
    let read_in = |(slip, meant): &(Slip, Unit)| {
        // Of a row in grams, less than one of anything is in the column's own unit.
        let as_it_is = |written: f64| *slip == Slip::Grams && written < 1.0;
        let mut charge_kg = 0.0;
        let mut cells = Vec::new();
        for (column, unit, written) in &masses {
            if as_it_is(*written) {
                charge_kg += unit.to_own(*written);
                continue;
            }
            let own = meant.to_own(*written);
            charge_kg += own;
            cells.push(MendedCell {
                source: sources.names[row.source].clone(),
                line: row.line,
                column: column.number,
                name: column.meaning.clone(),
                value: as_weighed(unit.written(own)),
            });
        }
        (!cells.is_empty()).then_some((charge_kg, Mend { slip: *slip, cells }))
    };
    others.iter().filter_map(read_in).collect()
}

/// A mass as finely as it is weighed.
fn as_weighed(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}
