//! A batch's first row to its charge.

use std::sync::Arc;

use kneadfit::charge::{Charge, Ingredient, Material};

use crate::columns::{Column, Header, Number};
use crate::problem::{ProblemKind, Severity};
use crate::row::{Fault, Faults, Row};

/// An ingredient's columns. Where it has none for the temperature, it is at the room's.
struct Part {
    mass: Number,
    temperature: Option<Number>,
}

const PARTS: [Part; 8] = [
    Part { mass: Number::FlourKg, temperature: Some(Number::FlourC) },
    Part { mass: Number::WaterKg, temperature: Some(Number::WaterC) },
    Part { mass: Number::IceKg, temperature: Some(Number::IceC) },
    Part { mass: Number::PrefermentKg, temperature: Some(Number::PrefermentC) },
    Part { mass: Number::SaltKg, temperature: None },
    Part { mass: Number::SugarKg, temperature: None },
    Part { mass: Number::FatKg, temperature: None },
    Part { mass: Number::OtherKg, temperature: Some(Number::OtherC) },
];

/// Equal masses of flour and water: the usual liquid starter.
const USUAL_PREFERMENT_HYDRATION: f64 = 1.0;

/// How a batch's first row is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum As {
    /// As in a log.
    Logged,
    /// As in a log, in a file of doughs to plan: the batch is on its way.
    Begun,
    /// As a dough to plan: `water_kg` is the whole formula water, and `water_c` may be blank.
    Planned,
}

/// Ice as it melts, where its temperature was not logged.
const MELTING_ICE_C: f64 = 0.0;

/// The charge of a row; `None`, with the faults said, where it has none.
pub(crate) fn charge_of(
    row: &Row<'_>,
    header: &Header,
    flour_name: Option<Arc<str>>,
    written: As,
    faults: &mut Faults,
) -> Option<Charge> {
    let room_c = row.get(Number::RoomC);
    if room_c.is_none() && !already_at_fault(faults, header, Number::RoomC) {
        faults.error(header.position(Number::RoomC), ProblemKind::Blank { needed_by: None });
    }
    let kept = PARTS.iter().filter(|part| row.get(part.mass).is_some_and(|kg| kg > 0.0)).count();
    let mut ingredients = Vec::with_capacity(kept);
    for part in &PARTS {
        let Some(mut mass_kg) = row.get(part.mass) else {
            // Flour's is doubted with a word of its own: it changes what the batch is.
            if part.mass != Number::FlourKg
                && let Some(temperature) = part.temperature
                && row.get(temperature).is_some()
                // Ice of that temperature, as much as the plan says.
                && !(written == As::Planned && part.mass == Number::IceKg)
                && !already_at_fault(faults, header, part.mass)
            {
                let kind = ProblemKind::MassMissing { mass: part.mass.name() };
                faults.doubt(header.position(temperature), kind);
            }
            continue;
        };
        if mass_kg == 0.0 {
            continue;
        }
        if written == As::Planned && part.mass == Number::WaterKg {
            mass_kg -= row.get(Number::IceKg).unwrap_or(0.0).min(mass_kg);
            if mass_kg == 0.0 {
                continue;
            }
        }
        let needed = |number: Number, faults: &mut Faults| {
            let value = row.get(number);
            if value.is_none() && !already_at_fault(faults, header, number) {
                let kind = match (written, number) {
                    (As::Begun, Number::WaterC) => ProblemKind::WaterOfReadDough,
                    _ => ProblemKind::Blank { needed_by: Some(part.mass.name()) },
                };
                faults.error(header.position(number), kind);
            }
            value
        };
        let temperature_c = match part.temperature {
            None => room_c,
            Some(Number::WaterC) if written == As::Planned && row.get(Number::WaterC).is_none() => {
                room_c
            }
            Some(Number::IceC) => Some(row.get(Number::IceC).unwrap_or(MELTING_ICE_C)),
            Some(number) => needed(number, faults),
        };
        let material = match part.mass {
            Number::FlourKg => Material::Flour,
            Number::WaterKg => Material::Water,
            Number::IceKg => Material::Ice,
            Number::PrefermentKg => Material::Preferment {
                hydration: row
                    .get(Number::PrefermentHydration)
                    .unwrap_or(USUAL_PREFERMENT_HYDRATION),
            },
            Number::SaltKg => Material::Salt,
            Number::SugarKg => Material::Sugar,
            Number::FatKg => Material::Fat,
            _ => match needed(Number::OtherKjPerKgK, faults) {
                Some(specific_heat_kj_per_kg_k) => Material::Other { specific_heat_kj_per_kg_k },
                None => continue,
            },
        };
        if let Some(temperature_c) = temperature_c {
            ingredients.push(Ingredient { material, mass_kg, temperature_c });
        }
    }
    let (ice_kg, water_kg) = (row.get(Number::IceKg), row.get(Number::WaterKg).unwrap_or(0.0));
    if written == As::Planned && ice_kg.is_some_and(|ice_kg| ice_kg > water_kg) {
        faults.error(header.position(Number::IceKg), ProblemKind::IceBeyondWater { water_kg });
    }
    if ingredients.is_empty() && !faults.any_error() {
        faults.error(None, ProblemKind::EmptyBowl);
    }
    if faults.0.iter().any(|fault| touches_charge(fault, header)) {
        return None;
    }
    Some(Charge { ingredients, room_c: room_c?, bowl_c: row.get(Number::BowlC), flour_name })
}

/// Whether an error leaves the charge unknown; one in a date or a reading does not.
fn touches_charge(fault: &Fault, header: &Header) -> bool {
    fault.severity == Severity::Error
        && fault.column.is_none_or(|column| match header.columns[column] {
            Column::Number(number) => !matches!(number, Number::DoughC | Number::Development),
            _ => false,
        })
}

/// Whether a cell is blank to us only because what is in it cannot be read.
fn already_at_fault(faults: &Faults, header: &Header, number: Number) -> bool {
    let position = header.position(number);
    position.is_some() && faults.0.iter().any(|fault| fault.column == position)
}

/// What a batch's charge says in a column, as a later row may repeat it.
///
/// The outer `None`: the charge does not tell, as the temperature of an
/// ingredient that is not in it; anything goes.
pub(crate) fn said_of(charge: &Charge, number: Number) -> Option<Option<f64>> {
    let find = |wanted: fn(&Material) -> bool| {
        charge.ingredients.iter().find(|ingredient| wanted(&ingredient.material))
    };
    let part: fn(&Material) -> bool = match number {
        Number::FlourKg | Number::FlourC => |m| matches!(m, Material::Flour),
        Number::WaterKg | Number::WaterC => |m| matches!(m, Material::Water),
        Number::IceKg | Number::IceC => |m| matches!(m, Material::Ice),
        Number::PrefermentKg | Number::PrefermentC | Number::PrefermentHydration => {
            |m| matches!(m, Material::Preferment { .. })
        }
        Number::SaltKg => |m| matches!(m, Material::Salt),
        Number::SugarKg => |m| matches!(m, Material::Sugar),
        Number::FatKg => |m| matches!(m, Material::Fat),
        Number::OtherKg | Number::OtherC | Number::OtherKjPerKgK => {
            |m| matches!(m, Material::Other { .. })
        }
        Number::RoomC => return Some(Some(charge.room_c)),
        Number::BowlC => return Some(charge.bowl_c),
        Number::DoughC | Number::Development => return None,
    };
    let ingredient = find(part);
    if number.name().ends_with("_kg") {
        return Some(ingredient.map(|i| i.mass_kg));
    }
    let ingredient = ingredient?;
    Some(Some(match (number, ingredient.material) {
        (Number::PrefermentHydration, Material::Preferment { hydration }) => hydration,
        (Number::OtherKjPerKgK, Material::Other { specific_heat_kj_per_kg_k }) => {
            specific_heat_kj_per_kg_k
        }
        _ => ingredient.temperature_c,
    }))
}
