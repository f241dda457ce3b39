//! Batches that are equal in every number: copies, or a kitchen's own coincidences.

use std::collections::BTreeMap;
use std::mem::{Discriminant, discriminant};

use foldhash::{HashMap, HashMapExt};
use kneadfit::batch::Batch;
use kneadfit::charge::Material;

use crate::finish::{Dropped, Sources, of_row};
use crate::machines::Machine;
use crate::problem::{Problem, ProblemKind, Severity};
use crate::result::RowRef;
use crate::whole_degrees;

/// Equal pairs are a coincidence where there are so many pairs that all but coincide to each
/// of them: readings that scatter by half a step or more make several. Copied rows have none,
/// and one pair that happens to be near excuses nobody.
const NEAR_TO_EQUAL: usize = 3;
/// Batches that are compared number by number.
const LOOKED_AT: usize = 20_000;

/// Doubts the batches that are equal in every number to an earlier one: two doughs differ
/// at least in what the thermometer reads, and copies would count as proof. Where a recipe is
/// always the same and thermometers are read to a degree, equal rows are no wonder.
pub(crate) fn doubt_equals(
    machine: &Machine,
    dropped: &Dropped,
    rows: &[RowRef],
    sources: &Sources,
    problems: &mut Vec<Problem>,
) {
    let kept = || (0..machine.facts.len()).filter(|index| dropped.keep(*index));
    let mut seen: HashMap<u64, usize> = HashMap::new();
    let mut equals: Vec<(usize, usize)> = Vec::new();
    let twins =
        Twins::among(machine.facts.len(), || kept().map(|index| machine.facts[index].fingerprint));
    for index in kept().filter(|&index| twins.may_be_one(machine.facts[index].fingerprint)) {
        let first = *seen.entry(machine.facts[index].fingerprint).or_insert(index);
        let (batch, earlier) = (&machine.batches[index], &machine.batches[first]);
        if first != index && batch.charge == earlier.charge && batch.stages == earlier.stages {
            equals.push((first, index));
        }
    }
    if equals.is_empty() {
        return;
    }
    // The beginning of a long log tells as much as all of it.
    let looked_at: Vec<usize> = kept().take(LOOKED_AT).collect();
    let last = looked_at.last().copied().unwrap_or(0);
    let among = equals.iter().filter(|(_, index)| *index <= last).count();
    let batches = || looked_at.iter().map(|&index| &machine.batches[index]);
    if are_coincidences(batches(), among.max(1)) || whole_degrees::are_coincidences(batches) {
        return;
    }
    for (first, index) in equals {
        let at = &rows[machine.facts[first].first_row];
        let kind =
            ProblemKind::EqualBatch { source: sources.names[at.source].clone(), line: at.line };
        let row = &rows[machine.facts[index].first_row];
        problems.push(of_row(row, sources, Severity::Doubt, kind));
    }
}

/// Numbers that may occur twice. Nearly all that do not are told by one bit each, so that a
/// long log needs no table that the cache does not hold.
struct Twins {
    bits: Vec<u64>,
    shift: u32,
}

impl Twins {
    /// Of so many numbers at most.
    fn among<N: Iterator<Item = u64>>(count: usize, numbers: impl Fn() -> N) -> Self {
        // One bit in sixteen at most is set: so many numbers pass for a twin by chance.
        let words = (count / 4).next_power_of_two();
        let shift = u64::BITS - 6 - words.trailing_zeros();
        let (mut once, mut twice) = (vec![0_u64; words], vec![0_u64; words]);
        for number in numbers() {
            let (word, bit) = Self::place(number, shift);
            twice[word] |= once[word] & bit;
            once[word] |= bit;
        }
        Self { bits: twice, shift }
    }

    fn place(number: u64, shift: u32) -> (usize, u64) {
        // The golden ratio's: odd, with its bits well mixed.
        let place = number.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> shift;
        ((place >> 6) as usize, 1 << (place & 63))
    }

    fn may_be_one(&self, number: u64) -> bool {
        let (word, bit) = Self::place(number, self.shift);
        self.bits[word] & bit != 0
    }
}

/// What batches must have in common for their numbers to be compared one by one.
type Shape<'a> = (Vec<Discriminant<Material>>, Vec<&'a str>, bool, Vec<(bool, bool)>);

/// Whether enough pairs of batches all but coincide: they differ in one number alone, whose
/// two values have no other between them in the log.
fn are_coincidences<'a>(batches: impl Iterator<Item = &'a Batch>, equal: usize) -> bool {
    let mut shapes: HashMap<Shape<'a>, Vec<Vec<f64>>> = HashMap::new();
    for batch in batches {
        let (shape, numbers) = numbers_of(batch);
        shapes.entry(shape).or_default().push(numbers);
    }
    let mut near = 0;
    for batches in shapes.into_values() {
        for index in 0..batches[0].len() {
            near += near_pairs(&batches, index);
            if near >= equal * NEAR_TO_EQUAL {
                return true;
            }
        }
    }
    false
}

fn numbers_of(batch: &Batch) -> (Shape<'_>, Vec<f64>) {
    let charge = &batch.charge;
    let mut numbers = vec![charge.room_c];
    numbers.extend(charge.bowl_c);
    numbers.extend(charge.ingredients.iter().flat_map(|i| [i.mass_kg, i.temperature_c]));
    let mut speeds = Vec::new();
    for stage in &batch.stages {
        numbers.extend(stage.phases.iter().map(|phase| phase.minutes));
        speeds.extend(stage.phases.iter().map(|phase| &*phase.speed));
        numbers.extend(stage.reading.dough_c.into_iter().chain(stage.reading.development));
    }
    let materials = charge.ingredients.iter().map(|i| discriminant(&i.material)).collect();
    let read = |r: &kneadfit::batch::Reading| (r.dough_c.is_some(), r.development.is_some());
    let readings = batch.stages.iter().map(|stage| read(&stage.reading)).collect();
    ((materials, speeds, charge.bowl_c.is_some(), readings), numbers)
}

/// Pairs of batches that differ in the number of this index alone, by one step of its values.
fn near_pairs(batches: &[Vec<f64>], index: usize) -> usize {
    let mut values: Vec<f64> = batches.iter().map(|numbers| numbers[index]).collect();
    values.sort_unstable_by(f64::total_cmp);
    values.dedup();
    let step = |value: f64| values.partition_point(|v| *v < value);
    // How many batches have each value, of those that are equal in all else.
    let mut alike: HashMap<Vec<u64>, BTreeMap<usize, usize>> = HashMap::new();
    for numbers in batches {
        let others = numbers.iter().enumerate().filter(|(i, _)| *i != index);
        let others = others.map(|(_, number)| number.to_bits()).collect();
        *alike.entry(others).or_default().entry(step(numbers[index])).or_default() += 1;
    }
    let beside = |counts: &BTreeMap<usize, usize>| -> usize {
        counts.iter().map(|(at, n)| n * counts.get(&(at + 1)).copied().unwrap_or(0)).sum()
    };
    alike.values().map(beside).sum()
}
