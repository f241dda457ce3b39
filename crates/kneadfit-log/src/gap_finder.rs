//! Finds what a log cannot teach, or hardly: what varied too little, or was never read.

use kneadfit::batch::{Batch, BatchLog, Stage};
use kneadfit::charge::{Charge, Material, REST};
use kneadfit::units::PhysicalConstants;

use crate::summary::{Range, Summary};
use crate::untold::Gap;

/// Two speeds whose minutes are correlated more than this are as good as one.
const ALWAYS_TOGETHER: f64 = 0.98;
/// Charges that span less than this part of the largest hardly tell how friction scales.
const CHARGES_ALIKE: f64 = 0.4;
/// Hydrations that span less than ten points hardly tell what stiffness does.
const HYDRATIONS_ALIKE: f64 = 0.0999;
/// And twice as much in fewer batches than this.
const SEVERAL_BATCHES: usize = 10;
/// Water that spans less than this hardly tells how friction falls with warmth, K.
const WATER_ALIKE_K: f64 = 15.0;
/// Graded doughs that span less than this hardly tell what warmth does to development, K.
const GRADED_ALIKE_K: f64 = 10.0;
/// A bowl nearer than this to what is poured into it shows nothing of itself, K.
const BOWL_NEAR_K: f64 = 8.0;
/// A reading after so few minutes is of the wetting alone.
const EARLY_MIN: f64 = 2.0;
/// A rest from which on the room can be seen, minutes.
const REST_SEEN_MIN: f64 = 10.0;
/// Below this, a dough trades heat with the room fast enough to show it while mixed, kg.
const SMALL_DOUGH_KG: f64 = 5.0;
/// But not from fewer batches than this.
const FEW_BATCHES: usize = 6;
/// Grades are coarse: fewer than this hardly tell what warmth does to development.
const FEW_GRADES: usize = 8;
/// A grade from here on says only "at least full".
const FULL: f64 = 0.95;

/// All that a log cannot teach, or hardly; the weightiest first.
pub(crate) fn gaps_of(log: &BatchLog, summary: &Summary) -> Vec<Gap> {
    let mut gaps = Vec::new();
    let with_flour = log.batches.iter().any(|batch| batch.charge.flour_kg() > 0.0);
    if !with_flour {
        gaps.push(Gap::NoFlour);
    }
    let mixed = summary.minutes.iter().any(|usage| &*usage.speed != REST);
    if with_flour && !mixed {
        gaps.push(Gap::NoMinutes);
    }
    if summary.dough_temperatures == 0 {
        gaps.push(Gap::NoDoughTemperatures);
    }
    if with_flour && summary.grades == 0 {
        gaps.push(Gap::NoGrades);
    }
    if summary.batches == 1 {
        gaps.push(Gap::OneBatch);
    }
    minutes(&mut gaps, log, summary);
    if summary.batches > 1 {
        ranges(&mut gaps, summary, with_flour);
    }
    if summary.dough_temperatures > 0 {
        readings(&mut gaps, log, summary, with_flour);
    }
    if with_flour && summary.grades > 0 {
        grades(&mut gaps, log);
    }
    gaps
}

fn minutes(gaps: &mut Vec<Gap>, log: &BatchLog, summary: &Summary) {
    let totals = totals_at_readings(log);
    let mut varied = Vec::new();
    for usage in summary.minutes.iter().filter(|usage| &*usage.speed != REST) {
        let speed = usage.speed.clone();
        let index = log.speeds.iter().position(|known| *known == speed);
        let totals = index.map(|index| &totals[index]);
        let range = totals.and_then(|totals| Range::of(totals.iter().copied()));
        match range {
            _ if usage.used_in == 0 => gaps.push(Gap::SpeedNeverUsed { speed }),
            Some(range) if !range.varies() && range.batches > 1 => {
                gaps.push(Gap::SpeedNeverVaried { speed, minutes: range.least });
            }
            Some(range) if range.varies() => varied.extend(totals.map(|t| (speed, t))),
            _ => {}
        }
    }
    for (index, (one, minutes)) in varied.iter().enumerate() {
        for (other, others) in &varied[index + 1..] {
            let correlation = correlation(minutes, others);
            if correlation > ALWAYS_TOGETHER {
                let (one, other) = (one.clone(), other.clone());
                gaps.push(Gap::AlwaysTogether { one, other, correlation });
            }
        }
    }
}

fn ranges(gaps: &mut Vec<Gap>, summary: &Summary, with_flour: bool) {
    if let Some(Range { least, most, .. }) = summary.dough_kg
        && most - least < CHARGES_ALIKE * most
    {
        gaps.push(Gap::ChargesAlike { least_kg: least, most_kg: most });
    }
    if let Some(Range { least, most, .. }) = summary.hydration
        && (most - least < HYDRATIONS_ALIKE
            || most - least < 2.0 * HYDRATIONS_ALIKE && summary.batches < SEVERAL_BATCHES)
    {
        gaps.push(Gap::HydrationsAlike { least, most });
    }
    if let Some(range) = summary.room_c.filter(|range| !range.varies()) {
        gaps.push(Gap::RoomNeverVaried { room_c: range.least });
    }
    if let Some(Range { least, most, .. }) = summary.water_c
        && with_flour
        && most - least < WATER_ALIKE_K
    {
        gaps.push(Gap::WaterAlike { least_c: least, most_c: most });
    }
}

fn readings(gaps: &mut Vec<Gap>, log: &BatchLog, summary: &Summary, with_flour: bool) {
    let large = summary.dough_kg.is_some_and(|range| range.most >= SMALL_DOUGH_KG);
    let rested = |batch: &Batch| {
        let mut rest = 0.0;
        batch.stages.iter().any(|stage| {
            rest += minutes_of(stage, true);
            stage.reading.dough_c.is_some() && rest >= REST_SEEN_MIN
        })
    };
    let few = summary.batches < FEW_BATCHES;
    if (large || few) && !log.batches.iter().any(rested) {
        gaps.push(Gap::NoRest);
    }
    let near = |batch: &Batch| {
        let bowl_c = batch.charge.bowl_c.unwrap_or(batch.charge.room_c);
        poured_c(&batch.charge).is_none_or(|poured_c| (bowl_c - poured_c).abs() < BOWL_NEAR_K)
    };
    if log.batches.iter().all(near) {
        gaps.push(Gap::BowlNear);
    }
    let early = |batch: &Batch| {
        let mut mixed = 0.0;
        batch.stages.iter().any(|stage| {
            mixed += minutes_of(stage, false);
            stage.reading.dough_c.is_some() && mixed <= EARLY_MIN
        })
    };
    if with_flour && !log.batches.iter().any(early) {
        gaps.push(Gap::NoEarlyReading);
    }
}

fn grades(gaps: &mut Vec<Gap>, log: &BatchLog) {
    let graded = || {
        let stages = log.batches.iter().flat_map(|b| b.stages.iter().map(move |s| (b, s.reading)));
        stages.filter_map(|(batch, reading)| Some((batch, reading, reading.development?)))
    };
    if graded().all(|(.., grade)| grade >= FULL) {
        gaps.push(Gap::AllFull);
    }
    let around_rest = |batch: &Batch| {
        let (mut before, mut rested) = (false, false);
        batch.stages.iter().any(|stage| {
            rested |= before && minutes_of(stage, true) > 0.0;
            before |= stage.reading.development.is_some();
            rested && stage.reading.development.is_some()
        })
    };
    if !log.batches.iter().any(around_rest) {
        gaps.push(Gap::NoGradeAroundRest);
    }
    // A full grade says only "at least": it tells next to nothing of the pace.
    let taught = || graded().filter(|(.., grade)| *grade < FULL);
    let count = taught().count();
    let warmth = Range::of(taught().filter_map(|(_, reading, _)| reading.dough_c));
    if let Some(Range { least, most, batches }) = warmth
        && batches > 1
        && most - least < GRADED_ALIKE_K
    {
        gaps.push(Gap::GradedAlike { least_c: least, most_c: most });
    } else if (1..FEW_GRADES).contains(&count) {
        gaps.push(Gap::FewGrades { grades: count });
    }
    let (_, others) = log.flours();
    for flour in others {
        let of_it = taught().filter(|(batch, ..)| batch.charge.flour_name.as_ref() == Some(&flour));
        if of_it.count() < 2 {
            gaps.push(Gap::FlourHardlyGraded { flour });
        }
    }
}

/// Minutes of rest of a stage, or of mixing.
fn minutes_of(stage: &Stage, rest: bool) -> f64 {
    let phases = stage.phases.iter().filter(|phase| (&*phase.speed == REST) == rest);
    phases.map(|phase| phase.minutes).sum()
}

/// How warm what goes into the bowl is on the whole, °C; `None` with ice, or with nothing.
fn poured_c(charge: &Charge) -> Option<f64> {
    let constants = PhysicalConstants::default();
    let (mut heat, mut capacity) = (0.0, 0.0);
    for ingredient in &charge.ingredients {
        let c = match ingredient.material {
            Material::Ice => return None,
            Material::Flour => constants.flour_kj_per_kg_k,
            Material::Other { specific_heat_kj_per_kg_k } => specific_heat_kj_per_kg_k,
            _ => constants.water_kj_per_kg_k,
        };
        capacity += c * ingredient.mass_kg;
        heat += c * ingredient.mass_kg * ingredient.temperature_c;
    }
    (capacity > 0.0).then(|| heat / capacity)
}

/// For each speed, the minutes so far at every reading of a dough temperature.
fn totals_at_readings(log: &BatchLog) -> Vec<Vec<f64>> {
    let mut totals = vec![Vec::with_capacity(log.reading_count()); log.speeds.len()];
    let mut so_far = vec![0.0; log.speeds.len()];
    for batch in &log.batches {
        so_far.fill(0.0);
        for stage in &batch.stages {
            for phase in &stage.phases {
                if let Some(index) = log.speeds.iter().position(|s| *s == phase.speed) {
                    so_far[index] += phase.minutes;
                }
            }
            if stage.reading.dough_c.is_some() {
                for (totals, &minutes) in totals.iter_mut().zip(&so_far) {
                    totals.push(minutes);
                }
            }
        }
    }
    totals
}

/// Pearson's coefficient of two series of one length, neither constant.
fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let (mean_a, mean_b) = (mean(a), mean(b));
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(b) {
        let (x, y) = (x - mean_a, y - mean_b);
        ab += x * y;
        aa += x * x;
        bb += y * y;
    }
    ab / (aa * bb).sqrt()
}
