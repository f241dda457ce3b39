//! What the log leaves open, in kitchen words, and which batch would tell.

use std::sync::Arc;

use nalgebra::{DMatrix, SymmetricEigen};

use super::warmth::{self, Doughs};
use crate::batch::BatchLog;
use crate::charge::REST;
use crate::inference::Posterior;
use crate::prior::{Coefficient, FLOUR_FRICTION};

/// A direction among the coefficients of which the log says next to nothing.
#[derive(Clone, Debug, PartialEq)]
pub struct Unknown {
    /// The coefficients that it is made of, with their parts; a unit vector in units of
    /// the priors' spreads, small parts left away.
    pub direction: Vec<(Arc<str>, f64)>,
    /// Share of what is known along it that came from the log, 0 to 1.
    pub log_share: f64,
    /// What is unknown and why, in kitchen words.
    pub words: String,
    /// The batch to mix that would tell.
    pub remedy: String,
}

/// Along a direction of which the log gives less than this share, it says next to nothing.
pub(crate) const NEXT_TO_NOTHING: f64 = 0.3;
/// Parts of a direction below this are left away.
const SMALL_PART: f64 = 0.3;
/// Where all parts are small (a direction along many flours), so many of the largest are kept.
const LARGEST_PARTS: usize = 4;
/// Squares of numbers beyond this come near to what a double holds.
const OVERFLOWS: f64 = 1e100;
/// Two columns of minutes that are correlated beyond this rose together.
const TOGETHER: f64 = 0.95;

/// The directions that the log leaves open, the least known first.
///
/// Of the machine alone: what a flour's doughs rub beside others is known to some per cent
/// beforehand, and how well the log tells it stands beside it in the table.
pub(crate) fn left_open(
    posterior: &mut Posterior,
    table: &[Coefficient],
    log: &BatchLog,
) -> Vec<Unknown> {
    let tau = posterior.typical_scatter();
    let Some(information) = posterior.conditioner.information(&posterior.whitened, tau) else {
        return Vec::new();
    };
    let p = posterior.free.len();
    let errors = posterior.standard_errors();
    let free = posterior.free.clone();
    // As the table of coefficients has it: what the log tells of one, all directions together.
    let told = |index: usize| {
        let place = free.iter().position(|&f| f == index)?;
        Some(1.0 - (errors[place] / table[index].prior.spread).powi(2))
    };
    // The log of an absurd machine tells so much of one coefficient that the decomposition
    // would overflow: it is taken of a smaller matrix with the same directions.
    let largest = information.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    let scale = if largest > OVERFLOWS { largest } else { 1.0 };
    let scaled = DMatrix::from_iterator(p, p, information.iter().map(|value| value / scale));
    let (of_machine, of_flours): (Vec<usize>, Vec<usize>) =
        (0..p).partition(|&k| !table[free[k]].name.starts_with(FLOUR_FRICTION));
    let Some(scaled) = without(scaled, &of_machine, &of_flours, 1.0 / scale) else {
        return Vec::new();
    };
    let p = of_machine.len();
    let eigen = SymmetricEigen::new(scaled);
    let mut order: Vec<usize> = (0..p).collect();
    order.sort_by(|&a, &b| eigen.eigenvalues[a].total_cmp(&eigen.eigenvalues[b]));
    order
        .into_iter()
        .map(|k| (k, scale * eigen.eigenvalues[k].max(0.0)))
        .filter(|&(k, _)| eigen.eigenvectors.column(k).iter().all(|part| part.is_finite()))
        .map(|(k, lambda)| (k, lambda / (1.0 + lambda)))
        .take_while(|&(_, share)| share < NEXT_TO_NOTHING)
        .map(|(k, log_share)| {
            let vector = eigen.eigenvectors.column(k);
            let largest =
                vector.iter().fold(0.0, |a: f64, &b| if b.abs() > a.abs() { b } else { a });
            let mut direction: Vec<(usize, f64)> = of_machine
                .iter()
                .zip(vector.iter())
                .map(|(&k, part)| (free[k], part * largest.signum()))
                .collect();
            direction.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()).then(a.0.cmp(&b.0)));
            let large = direction.iter().take_while(|(_, part)| part.abs() >= SMALL_PART).count();
            direction.truncate(if large == 0 { LARGEST_PARTS } else { large });
            let names: Vec<&str> = direction.iter().map(|&(i, _)| &*table[i].name).collect();
            let in_part = match direction[..] {
                [(only, _)] => told(only).filter(|share| *share >= NEXT_TO_NOTHING),
                _ => None,
            };
            let (words, remedy) = describe(&names, in_part, log);
            Unknown {
                direction: direction
                    .iter()
                    .map(|&(i, part)| (table[i].name.clone(), part))
                    .collect(),
                log_share,
                words,
                remedy,
            }
        })
        .collect()
}

/// The information about the coefficients at `kept`, the others at `left` being unknown beyond
/// their priors: of the precision `unit + information`, the Schur complement of what is left.
fn without(
    information: DMatrix<f64>,
    kept: &[usize],
    left: &[usize],
    unit: f64,
) -> Option<DMatrix<f64>> {
    if left.is_empty() {
        return Some(information);
    }
    let block = |rows: &[usize], columns: &[usize]| {
        DMatrix::from_fn(rows.len(), columns.len(), |i, j| information[(rows[i], columns[j])])
    };
    let with_unit = |i: usize, j: usize| if i == j { unit } else { 0.0 };
    let of_left = block(left, left) + DMatrix::from_fn(left.len(), left.len(), with_unit);
    let across = block(left, kept);
    let taken = across.transpose() * of_left.cholesky()?.solve(&across);
    Some(block(kept, kept) - taken)
}

/// What a coefficient is in the kitchen.
pub(super) fn kitchen_name(name: &str) -> String {
    match name {
        "exchange" => "the exchange with the room".into(),
        "bowl" => "the bowl's share of the heat".into(),
        "wetting" => "the warmth of wetting the flour".into(),
        "charge_exponent" => "what a larger or smaller charge changes".into(),
        "stiffness" => "what a stiffer or wetter dough changes".into(),
        "softening" => "how friction falls as the dough warms".into(),
        "q10" => "what warmth does to development".into(),
        "development_at_rest" => "development at rest".into(),
        _ => {
            if let Some(speed) = name.strip_prefix("friction_") {
                format!("the heat of speed {speed}")
            } else if let Some(speed) = name.strip_prefix("development_") {
                format!("development at speed {speed}")
            } else if let Some(flour) = name.strip_prefix("flour_") {
                format!("the flour {flour}")
            } else {
                name.to_owned()
            }
        }
    }
}

/// What is open in words, and the batch that would tell; `in_part`: the share of the only
/// coefficient that the log tells, where that is more than next to nothing.
fn describe(names: &[&str], in_part: Option<f64>, log: &BatchLog) -> (String, String) {
    let Some((&first, rest)) = names.split_first() else {
        return (String::new(), String::new());
    };
    let speed_of = |name: &str| {
        name.strip_prefix("friction_")
            .or_else(|| name.strip_prefix("development_"))
            .map(str::to_owned)
    };
    let subject = if let Some(share) = in_part {
        let percent = 100.0 * share;
        format!("{} is told only in part by this log ({percent:.0} %)", kitchen_name(first))
    } else if rest.is_empty() {
        format!("{} is not told by this log", kitchen_name(first))
    } else {
        let all: Vec<String> = names.iter().map(|n| kitchen_name(n)).collect();
        format!("{} cannot be told apart", listed(&all))
    };
    let speeds: Vec<String> =
        names.iter().filter_map(|n| speed_of(n)).filter(|s| s != "at_rest").collect();
    if let [a, b, ..] = &speeds[..]
        && a != b
    {
        let why = match minutes_correlation(log, a, b) {
            Some(r) if r > TOGETHER => format!("minutes at {a} and at {b} always rose together"),
            Some(_) => format!("minutes at {a} and at {b} hardly varied apart from each other"),
            None => format!("minutes at {a} or at {b} never varied"),
        };
        let remedy =
            format!("mix one batch long at {a} and short at {b}, and one the other way round");
        return (format!("{subject}: {why}"), remedy);
    }
    (format!("{subject}: {}", reason(first, log)), batch_that_tells(first))
}

/// Which batch would tell a coefficient, by the coefficient's name in the profile.
///
/// One source for whoever advises: what a fit leaves open, and what is seen in a log
/// before there is a fit. A name that is none of the model's is taken as `q10`.
///
/// # Examples
///
/// ```
/// use kneadfit::diagnostics::batch_that_tells;
///
/// assert_eq!(batch_that_tells("charge_exponent"), "mix one batch of half the usual charge");
/// assert!(batch_that_tells("friction_low").contains("mostly at low"));
/// ```
pub fn batch_that_tells(coefficient: &str) -> String {
    if let Some(speed) = coefficient.strip_prefix("friction_") {
        return format!("mix one batch mostly at {speed}, reading the dough before and after");
    }
    if let Some(flour) = coefficient.strip_prefix("flour_") {
        return format!("grade one batch of {flour} before it is fully developed");
    }
    if let Some(speed) = coefficient.strip_prefix("development_").filter(|s| *s != "at_rest") {
        return format!("grade one dough half-way through its minutes at {speed}");
    }
    match coefficient {
        "development_at_rest" => "grade a dough before and after a rest of 20 minutes",
        "exchange" => "leave one finished dough in the bowl for 30 minutes and read it again",
        "bowl" => "mix one batch in a bowl cooled or warmed by 10 °C, its temperature logged",
        "wetting" => "read one dough after the first minute at the slowest speed",
        "charge_exponent" => "mix one batch of half the usual charge",
        "stiffness" => "mix one batch ten points stiffer and one ten points wetter",
        "softening" => "mix one batch with ice-cold water and one with warm water, same minutes",
        _ => "grade one dough mixed cold and one mixed warm, same minutes",
    }
    .into()
}

/// Why a log does not tell a coefficient.
fn reason(name: &str, log: &BatchLog) -> String {
    if let Some(speed) = name.strip_prefix("friction_") {
        let used = log.batches.iter().filter(|b| b.minutes_at(speed) > 0.0).count();
        return match used {
            0 => format!("{speed} was never used"),
            1 => format!("{speed} was used in one batch only"),
            _ => format!("minutes at {speed} hardly varied, or were few"),
        };
    }
    if let Some(flour) = name.strip_prefix("flour_") {
        return format!("few gradeable batches were of {flour}");
    }
    if name == "development_at_rest" {
        return "no grade was given before and after a rest".into();
    }
    if let Some(speed) = name.strip_prefix("development_") {
        return format!("few doughs were graded at less than full after {speed}");
    }
    let range = |values: Vec<f64>| {
        let least = values.iter().copied().fold(f64::INFINITY, f64::min);
        let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        (least, most)
    };
    match name {
        "exchange" => "no dough stood long away from the room's temperature".into(),
        "bowl" => {
            let bowls: Vec<f64> = log.batches.iter().filter_map(|b| b.charge.bowl_c).collect();
            if bowls.is_empty() {
                return "the bowl's temperature was never logged".into();
            }
            let (least, most) = range(bowls);
            format!("bowls were logged at {} °C", span(least, most, 1))
        }
        "wetting" => "no dough was read soon after the water met the flour".into(),
        "charge_exponent" => {
            let (least, most) = range(log.batches.iter().map(|b| b.charge.mass_kg()).collect());
            format!("charges were all {} kg", span(least, most, 1))
        }
        "stiffness" => {
            let hydrations: Vec<f64> =
                log.batches.iter().filter_map(|b| b.charge.hydration()).collect();
            if hydrations.is_empty() {
                return "no batch had flour in it".into();
            }
            let (least, most) = range(hydrations);
            format!("hydrations were all {} %", span(least * 100.0, most * 100.0, 0))
        }
        "softening" => warmth::reason(log, Doughs::Read),
        _ => warmth::reason(log, Doughs::Graded),
    }
}

/// Things in a row, such as `a, b and c`.
fn listed(items: &[String]) -> String {
    match items {
        [first @ .., last] if !first.is_empty() => format!("{} and {last}", first.join(", ")),
        _ => items.concat(),
    }
}

/// `16.7`, or `12.0 to 16.7` where the two differ as they are shown.
pub(super) fn span(least: f64, most: f64, decimals: usize) -> String {
    let (least, most) = (format!("{least:.decimals$}"), format!("{most:.decimals$}"));
    if least == most { most } else { format!("{least} to {most}") }
}

/// Correlation of the minutes at two speeds over the readings of a log; `None` where one
/// of them never varied.
fn minutes_correlation(log: &BatchLog, a: &str, b: &str) -> Option<f64> {
    let name = |s: &str| if s == "at_rest" { REST.to_owned() } else { s.to_owned() };
    let (a, b) = (name(a), name(b));
    let pairs: Vec<(f64, f64)> =
        log.batches.iter().map(|batch| (batch.minutes_at(&a), batch.minutes_at(&b))).collect();
    correlation(&pairs)
}

pub(super) fn correlation(pairs: &[(f64, f64)]) -> Option<f64> {
    let n = pairs.len() as f64;
    let (mx, my) = pairs.iter().fold((0.0, 0.0), |(x, y), p| (x + p.0 / n, y + p.1 / n));
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for (x, y) in pairs {
        xx += (x - mx) * (x - mx);
        yy += (y - my) * (y - my);
        xy += (x - mx) * (y - my);
    }
    (xx > 0.0 && yy > 0.0).then(|| xy / (xx * yy).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::Batch;
    use crate::charge::{Charge, Material};

    #[test]
    fn a_span_of_one_value_is_that_value() {
        assert_eq!(span(16.7, 16.7, 1), "16.7");
        assert_eq!(span(16.69, 16.71, 1), "16.7");
        assert_eq!(span(12.0, 16.7, 1), "12.0 to 16.7");
    }

    /// What the table calls 40 % known is not called untold beside it.
    #[test]
    fn a_number_that_is_told_in_part_is_called_so() {
        let charge = || Charge::new(24.0).with(Material::Flour, 10.0, 21.0);
        let log = BatchLog {
            machine: "spiral".into(),
            speeds: vec![],
            batches: vec![Batch::new("1", charge(), vec![])],
        };
        let (words, _) = describe(&["charge_exponent"], Some(0.4), &log);
        assert_eq!(
            words,
            "what a larger or smaller charge changes is told only in part by this log (40 %): \
             charges were all 10.0 kg"
        );
        let (words, _) = describe(&["charge_exponent"], None, &log);
        assert!(words.contains("is not told by this log"), "{words}");
    }
}
