//! Whether what a row says can be, in a kitchen.
//!
//! The rule: what physics or any dough rules out is an error and the row is set
//! aside, since a fit would believe it; what is merely unlikely is a doubt, said
//! and used. Most rules hold for batches with flour only. A batch without, water
//! or a block of metal, is an experiment in physics: it may be at the boil.

use kneadfit::batch::{Reading, limits};
use kneadfit::charge::{Charge, Material};
use kneadfit::units::PhysicalConstants;

use crate::columns::{Header, Number};
use crate::ice::short_of_melting_kj;
use crate::mend::{Mend, MendedCell, Slip};
use crate::problem::ProblemKind;
use crate::row::{Faults, Row};
use crate::unit::Unit;

/// Temperatures that go with flour, °C: above, starch gelatinises and the heat
/// model no longer holds; below, the kitchen is a freezer. Liquid water just
/// below zero is a thermometer's error. 60 °F and more in a °C column fall
/// outside wherever the true range ends lower.
const WITH_FLOUR_C: [(Number, f64, f64); 7] = [
    (Number::FlourC, -30.0, 50.0),
    (Number::WaterC, -1.0, 60.0),
    (Number::PrefermentC, -30.0, 50.0),
    (Number::OtherC, -30.0, 70.0),
    (Number::RoomC, -20.0, 50.0),
    (Number::BowlC, -30.0, 60.0),
    (Number::DoughC, -5.0, 60.0),
];

/// Water a kg of flour: from the driest pasta dough to a thin batter.
const HYDRATION: (f64, f64) = (0.3, 2.0);

/// Salt a kg of flour: ten times a usual dough's.
const MOST_SALT: f64 = 0.2;

/// How far below all its ingredients a dough may read: two thermometers' errors, K.
const COLDER_BY_K: f64 = 1.0;

/// Dough beyond which grams are suspected, kg: the largest mixers of the trade take some
/// hundreds (common practice, no source).
pub(crate) const LARGE_CHARGE_KG: f64 = 1000.0;

/// A total of minutes at one speed beyond which seconds are suspected.
pub(crate) const LONG_MIXING_MIN: f64 = 120.0;

/// What the reader takes in a column without a word.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Range {
    /// In the log's own unit.
    pub(crate) least: f64,
    pub(crate) most: f64,
    /// Whether nothing beyond is taken in any row. Else it is a matter of what else is in
    /// the row, or a doubt.
    pub(crate) binding: bool,
}

/// What is taken of a number.
pub(crate) fn range_of(number: Number) -> Range {
    let (least, most) = number.limits();
    match WITH_FLOUR_C.iter().find(|(known, ..)| *known == number) {
        Some(&(_, with_flour, at_most)) => {
            Range { least: least.max(with_flour), most: most.min(at_most), binding: false }
        }
        // Grams among kilograms are asked about as they are written.
        None if number.name().ends_with("_kg") => {
            Range { least, most: most.min(LARGE_CHARGE_KG), binding: false }
        }
        None => Range { least, most, binding: true },
    }
}

/// What is taken of total minutes at a speed, or of rest.
pub(crate) fn minutes_range(resting: bool) -> Range {
    let (least, most) = limits::MINUTES;
    match resting {
        true => Range { least, most, binding: true },
        false => Range { least, most: most.min(LONG_MIXING_MIN), binding: false },
    }
}

/// Looks over a batch's first row.
pub(crate) fn check_charge(row: &Row<'_>, charge: &Charge, header: &Header, faults: &mut Faults) {
    // Whether water that is still to be planned melts the ice, the plan will tell.
    let to_plan =
        charge.mass_of_kg(|m| *m == Material::Water) > 0.0 && row.get(Number::WaterC).is_none();
    if charge.ingredients.iter().any(|i| i.material == Material::Ice)
        && !to_plan
        && let Some(short_kj) = short_of_melting_kj(charge, &PhysicalConstants::default())
    {
        faults.error(header.position(Number::IceKg), ProblemKind::IceNotMelted { short_kj });
    }
    let flour_kg = charge.flour_kg();
    if flour_kg <= 0.0 {
        if row.get(Number::FlourC).is_some() && row.get(Number::FlourKg).unwrap_or(0.0) == 0.0 {
            faults.doubt(header.position(Number::FlourC), ProblemKind::NoFlour);
        }
        return;
    }
    for (number, least_c, most_c) in WITH_FLOUR_C {
        if number == Number::DoughC {
            continue;
        }
        if row.get(number).is_some_and(|value| !(least_c..=most_c).contains(&value)) {
            let kind = ProblemKind::NotADoughTemperature { least_c, most_c };
            faults.error(header.position(number), kind);
        }
    }
    let hydration = charge.water_kg() / flour_kg;
    let (least, most) = HYDRATION;
    // Milk and eggs are logged as other: their water is not known here.
    let other = charge.ingredients.iter().any(|i| matches!(i.material, Material::Other { .. }));
    let fat = charge.ingredients.iter().any(|i| i.material == Material::Fat);
    if hydration == 0.0 {
        if !other && !fat {
            faults.doubt(header.position(Number::WaterKg), ProblemKind::NoWater);
        }
    } else if hydration > most || (hydration < least && !other) {
        let mend = meant_masses(row, header, hydration);
        // One cell alone is at fault; of two that were swapped, none.
        let cell = mend.as_ref().and_then(|m| (m.cells.len() == 1).then(|| m.cells[0].column - 1));
        faults.error(cell, ProblemKind::Hydration { hydration, least, most, mend });
    }
    let share = charge.mass_of_kg(|m| *m == Material::Salt) / flour_kg;
    if share > MOST_SALT {
        let kind = ProblemKind::Salt { share, most: MOST_SALT };
        faults.error(header.position(Number::SaltKg), kind);
    }
}

/// Hydrations that a mended row may have.
const MENDED_HYDRATION: std::ops::RangeInclusive<f64> = 0.4..=1.2;

/// Flour and water in each other's place, or one of them in grams, where that makes a dough of
/// a row that is none. Of which file and line the cells are, the report says.
fn meant_masses(row: &Row<'_>, header: &Header, hydration: f64) -> Option<Mend> {
    let (flour_kg, water_kg) = (row.get(Number::FlourKg)?, row.get(Number::WaterKg)?);
    let unit = |number| header.position(number).map(|column| header.dress[column].unit);
    let cell = |number, own| cell(header, number, own);
    let in_kg = |number| unit(number) == Some(Unit::Own);
    let (slip, cells) = if MENDED_HYDRATION.contains(&hydration.recip())
        && unit(Number::FlourKg) == unit(Number::WaterKg)
    {
        let cells = [cell(Number::FlourKg, water_kg), cell(Number::WaterKg, flour_kg)];
        (Slip::FlourAndWaterSwapped, cells.into_iter().collect::<Option<_>>()?)
    } else if MENDED_HYDRATION.contains(&(hydration / 1000.0)) && in_kg(Number::WaterKg) {
        (Slip::Grams, vec![cell(Number::WaterKg, water_kg / 1000.0)?])
    } else if MENDED_HYDRATION.contains(&(hydration * 1000.0)) && in_kg(Number::FlourKg) {
        (Slip::Grams, vec![cell(Number::FlourKg, flour_kg / 1000.0)?])
    } else {
        return None;
    };
    Some(Mend { slip, cells })
}

/// A cell of a row with another value, which is in the log's own unit.
fn cell(header: &Header, number: Number, own: f64) -> Option<MendedCell> {
    let column = header.position(number)?;
    Some(MendedCell {
        source: "".into(),
        line: 0,
        column: column + 1,
        name: header.meanings[column].clone(),
        value: header.dress[column].unit.written(own),
    })
}

/// Looks over what a row read of a batch.
pub(crate) fn check_reading(
    reading: &Reading,
    minutes: &[Option<f64>],
    charge: &Charge,
    header: &Header,
    faults: &mut Faults,
) {
    let with_flour = charge.flour_kg() > 0.0;
    if with_flour {
        for (speed, total) in minutes.iter().enumerate() {
            let resting = &*header.speeds[speed] == kneadfit::charge::REST;
            if !resting && total.is_some_and(|minutes| minutes > LONG_MIXING_MIN) {
                let kind = ProblemKind::LongMixing { most_min: LONG_MIXING_MIN };
                faults.doubt(Some(header.speed_columns[speed]), kind);
            }
        }
    }
    let Some(dough_c) = reading.dough_c else { return };
    let column = header.position(Number::DoughC);
    let (_, least_c, most_c) = WITH_FLOUR_C[WITH_FLOUR_C.len() - 1];
    if with_flour && !(least_c..=most_c).contains(&dough_c) {
        faults.error(column, ProblemKind::NotADoughTemperature { least_c, most_c });
    } else if let Some(coldest_c) = coldest_possible_c(charge)
        && dough_c < coldest_c - COLDER_BY_K
    {
        faults.error(column, ProblemKind::ColderThanEverything { coldest_c });
    }
}

/// The coldest that a dough can be, °C: as the coldest of ingredients, bowl and
/// room, less what salt and sugar take up as they dissolve. `None` with ice in it.
fn coldest_possible_c(charge: &Charge) -> Option<f64> {
    let constants = PhysicalConstants::default();
    let mut coldest_c = charge.room_c.min(charge.bowl_c.unwrap_or(charge.room_c));
    let (mut dissolving_kj, mut capacity_kj_per_k) = (0.0, 0.0);
    for ingredient in &charge.ingredients {
        coldest_c = coldest_c.min(ingredient.temperature_c);
        let m = ingredient.mass_kg;
        match ingredient.material {
            Material::Ice => return None,
            Material::Salt => dissolving_kj += m * constants.salt_solution_kj_per_kg,
            Material::Sugar => dissolving_kj += m * constants.sugar_solution_kj_per_kg,
            Material::Water => capacity_kj_per_k += m * constants.water_kj_per_kg_k,
            // The rest holds heat too: left out, the limit is on the generous side.
            _ => {}
        }
    }
    let drop_k = if capacity_kj_per_k > 0.0 { dissolving_kj / capacity_kj_per_k } else { 0.0 };
    Some(coldest_c - drop_k)
}
