//! Whether the fit believes the log at all, and whether anybody can believe the fit.

use super::unknown::kitchen_name;
use super::{BatchDiagnostics, LOOKS_MISTYPED};
use crate::prior::{Coefficient, FLOUR_FRICTION};

/// From this share of disbelieved readings on, it is no longer a slip of the pen.
const MANY: f64 = 1.0 / 3.0;
/// Fewer disbelieved readings than this are rather slips than a log of something else.
const FEWEST: usize = 3;

/// How many readings count for little, because they, or their batch, look mistyped.
///
/// # Examples
///
/// ```
/// use kneadfit::diagnostics::disbelieved;
/// assert_eq!(disbelieved(&[]), 0);
/// ```
pub fn disbelieved(batches: &[BatchDiagnostics]) -> usize {
    Disbelief::of(batches).doubted
}

/// How many readings there are, and how many of them count for little.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Disbelief {
    doubted: usize,
    all: usize,
}

impl Disbelief {
    fn of(batches: &[BatchDiagnostics]) -> Self {
        let mut counts = Self::default();
        batches.iter().for_each(|batch| counts.add(batch));
        counts
    }

    pub fn add(&mut self, batch: &BatchDiagnostics) {
        self.doubted += disbelieved_of(batch);
        self.all += batch.readings.len();
    }

    pub fn and(self, next: Self) -> Self {
        Self { doubted: self.doubted + next.doubted, all: self.all + next.all }
    }
}

fn disbelieved_of(batch: &BatchDiagnostics) -> usize {
    if batch.weight < LOOKS_MISTYPED {
        return batch.readings.len();
    }
    batch.readings.iter().filter(|r| r.weight < LOOKS_MISTYPED).count()
}

/// Warns where a third or more of the readings are disbelieved. What is left no longer
/// outvotes them, so that the coefficients may be anybody's.
pub(crate) fn misfit(counts: Disbelief) -> Option<String> {
    let Disbelief { doubted, all } = counts;
    (doubted >= FEWEST && doubted as f64 >= MANY * all as f64).then(|| {
        format!("{doubted} of {all} readings are disbelieved: {WHY}; compare with --no-prior")
    })
}

/// A coefficient this many spreads of its prior from what is usual is no mixer's. Of machines
/// that are as the priors say, one in sixteen thousand is.
const BEYOND_BELIEF: f64 = 4.0;
/// So are batches that scatter by this many times the scale of the scatter's prior.
const SCATTER_BEYOND_BELIEF: f64 = 4.0;
/// What is mostly behind either.
const WHY: &str =
    "the model does not fit this log, or what was logged is of several machines or mistyped";

/// Warns of batches that scatter by far more than one machine's do (`scatter`, with the scale
/// of its prior, in `unit`) and of coefficients far beyond what is usual (`fitted` on their
/// fitted scale).
pub(crate) fn unlike_a_mixer(
    (scatter, scale, unit): (f64, Option<f64>, &str),
    table: &[Coefficient],
    fitted: &[f64],
) -> Option<String> {
    let mut found = Vec::new();
    if let Some(scale) = scale
        && scatter > SCATTER_BEYOND_BELIEF * scale
    {
        found.push(format!(
            "batches scatter by {scatter:.1}{unit} beside what thermometers, scale and clock \
             make, where one machine's scatter by {scale}{unit} or less"
        ));
    }
    let beyond = |c: &Coefficient, fitted: f64| {
        let usual = c.scale.fitted(c.prior.median);
        // A flour may be unlike the others, and is no mixer.
        let of_machine = !c.name.starts_with(FLOUR_FRICTION);
        of_machine
            && c.held_at.is_none()
            && ((fitted - usual) / c.prior.spread).abs() > BEYOND_BELIEF
    };
    let names: Vec<String> = table
        .iter()
        .zip(fitted)
        .filter(|(c, fitted)| beyond(c, **fitted))
        .map(|(c, _)| kitchen_name(&c.name))
        .collect();
    if !names.is_empty() {
        found.push(format!("far beyond what is usual of any mixer: {}", names.join(", ")));
    }
    (!found.is_empty()).then(|| format!("{}; {WHY}", found.join("; ")))
}

/// Whether most readings are disbelieved: the fit then speaks for none of them.
pub(crate) fn mostly_disbelieved(batches: &[BatchDiagnostics]) -> bool {
    let Disbelief { doubted, all } = Disbelief::of(batches);
    doubted >= FEWEST && 2 * doubted > all
}

#[cfg(test)]
mod tests {
    use super::super::ReadingDiagnostics;
    use super::*;

    fn batch(weight: f64, readings: &[f64]) -> BatchDiagnostics {
        let reading = |&weight: &f64| ReadingDiagnostics {
            stage: 0,
            observed: 20.0,
            fitted: 20.0,
            residual: 0.0,
            standardised: 0.0,
            left_out: None,
            left_out_sd: None,
            weight,
        };
        BatchDiagnostics {
            id: "1".into(),
            date: None,
            in_log: 0,
            readings: readings.iter().map(reading).collect(),
            influence: 0.0,
            weight,
        }
    }

    #[test]
    fn a_machine_beyond_belief_is_named_and_an_unusual_one_is_not() {
        let table = crate::prior::heat_coefficients(
            &crate::thermal::HeatModel::new(20.0),
            &["low".into()],
            &[],
        );
        let usual: Vec<f64> = table.iter().map(|c| c.scale.fitted(c.prior.median)).collect();
        let with = |by: f64| -> Vec<f64> {
            usual.iter().zip(&table).map(|(u, c)| u + by * c.prior.spread).collect()
        };
        let said =
            |scatter, fitted: &[f64]| unlike_a_mixer((scatter, Some(0.5), " °C"), &table, fitted);
        assert_eq!(said(1.9, &with(3.9)), None);
        let scatters = said(2.1, &usual).unwrap();
        assert!(scatters.starts_with("batches scatter by 2.1 °C"), "{scatters}");
        let unusual = said(0.3, &with(-4.1)).unwrap();
        assert!(unusual.contains("the exchange with the room, the bowl's share"), "{unusual}");
        // A scatter that is known is the baker's own word.
        assert_eq!(unlike_a_mixer((9.0, None, " °C"), &table, &usual), None);
    }

    #[test]
    fn a_third_of_disbelieved_readings_is_warned_of_and_more_than_half_is_no_fit() {
        let sound = || batch(1.0, &[1.0]);
        let slip = || batch(0.1, &[1.0]);
        let log = |slips: usize, of: usize| -> Vec<BatchDiagnostics> {
            (0..of).map(|i| if i < slips { slip() } else { sound() }).collect()
        };
        let misfit = |batches: Vec<BatchDiagnostics>| misfit(Disbelief::of(&batches));
        assert_eq!(misfit(log(2, 6)), None, "two slips are slips");
        assert_eq!(misfit(log(3, 10)), None);
        let said = misfit(log(3, 9)).unwrap();
        assert!(said.starts_with("3 of 9 readings are disbelieved"), "{said}");
        assert!(!mostly_disbelieved(&log(3, 6)) && mostly_disbelieved(&log(4, 6)));
        // A batch that looks mistyped as a whole takes its readings with it.
        assert_eq!(disbelieved(&[batch(0.1, &[1.0, 1.0]), batch(1.0, &[1.0, 0.2])]), 3);
    }
}
