//! A row whose temperatures were all read on the other scale than its columns'.

use crate::columns::{Header, Number};
use crate::mend::{Mend, MendedCell, Slip};
use crate::problem::ProblemKind;
use crate::row::{Faults, Row};
use crate::unit::Unit;
use kneadfit::units::{celsius_from_fahrenheit, fahrenheit_from_celsius};

/// Temperatures of a row but the water's, with what each is in a kitchen, °C. Water may be
/// anything that runs, so that on which scale it was read the others must tell.
const TELLING: [(Number, f64, f64); 6] = [
    (Number::FlourC, 0.0, 45.0),
    (Number::PrefermentC, 0.0, 45.0),
    (Number::OtherC, 0.0, 45.0),
    (Number::RoomC, 10.0, 45.0),
    (Number::BowlC, 0.0, 45.0),
    (Number::DoughC, 10.0, 45.0),
];
/// Beyond these hardly anything in a bakery is, °C.
const USUAL_C: (f64, f64) = (5.0, 36.0);
/// No more than this is read in °C where the columns are in °F and nothing else is at fault, °C:
/// 36 °F is flour from a refrigerator.
const COLD_SIDE_C: f64 = 35.0;
/// Liquid water, °C.
const WATER_C: (f64, f64) = (-1.0, 60.0);
/// One temperature alone has a fault of its own.
const FEWEST: usize = 2;

/// Says of a row once that it is on the other scale, in place of what its cells are at fault
/// for one by one: to mend those alone would leave the rest of them as they are.
pub(crate) fn check_scale(row: &Row<'_>, header: &Header, faults: &mut Faults) {
    let is_temperature = |column: usize| {
        let numbers = TELLING.iter().map(|(number, ..)| *number).chain([Number::WaterC]);
        numbers.into_iter().any(|number| header.position(number) == Some(column))
    };
    let is_of_scale = |kind: &ProblemKind, column: Option<usize>| {
        use ProblemKind as K;
        matches!(kind, K::NotADoughTemperature { .. } | K::ColderThanEverything { .. })
            && column.is_some_and(is_temperature)
    };
    let at_fault = faults.0.iter().any(|fault| is_of_scale(&fault.kind, fault.column));
    if let Some((mend, read)) = on_other_scale(row, header, at_fault) {
        faults.0.retain(|fault| !is_of_scale(&fault.kind, fault.column));
        faults.error(None, ProblemKind::OtherScale { read, mend });
    }
}

/// The row on the other scale, where every temperature that tells is nothing usual on its
/// column's and usual on the other; and the temperatures as they are written.
fn on_other_scale(row: &Row<'_>, header: &Header, at_fault: bool) -> Option<(Mend, Vec<f64>)> {
    let unit = header.dress[header.position(Number::RoomC)?].unit;
    let in_fahrenheit = unit == Unit::Fahrenheit;
    if !at_fault && !in_fahrenheit {
        return None;
    }
    let written = |number| row.get(number).map(|own| unit.written(own));
    let meant_c = |written: f64| match in_fahrenheit {
        true => written,
        false => celsius_from_fahrenheit(written),
    };
    let mut told = 0;
    for (number, least, most) in TELLING {
        let (Some(own), Some(written)) = (row.get(number), written(number)) else { continue };
        let most = if in_fahrenheit && !at_fault { COLD_SIDE_C } else { most };
        let usual = (USUAL_C.0..=USUAL_C.1).contains(&own);
        if usual || !(least..=most).contains(&meant_c(written)) {
            return None;
        }
        told += 1;
    }
    if told < FEWEST {
        return None;
    }
    let (mut cells, mut read) = (Vec::new(), Vec::new());
    for number in TELLING.map(|(number, ..)| number).into_iter().chain([Number::WaterC]) {
        let Some(written) = written(number) else { continue };
        let meant_c = meant_c(written);
        // Water that would be ice on the other scale is on its own.
        if number == Number::WaterC && !(WATER_C.0..=WATER_C.1).contains(&meant_c) {
            continue;
        }
        let column = header.position(number)?;
        if header.dress[column].unit != unit {
            return None;
        }
        let meant = if in_fahrenheit { fahrenheit_from_celsius(meant_c) } else { meant_c };
        read.push(written);
        cells.push(MendedCell {
            source: "".into(),
            line: 0,
            column: column + 1,
            name: header.meanings[column].clone(),
            value: (10.0 * meant).round() / 10.0,
        });
    }
    let slip = if in_fahrenheit { Slip::Celsius } else { Slip::Fahrenheit };
    Some((Mend { slip, cells }, read))
}
