//! Whether the fit believes the log at all.

use super::{BatchDiagnostics, LOOKS_MISTYPED};

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
    batches.iter().map(disbelieved_of).sum()
}

fn disbelieved_of(batch: &BatchDiagnostics) -> usize {
    if batch.weight < LOOKS_MISTYPED {
        return batch.readings.len();
    }
    batch.readings.iter().filter(|r| r.weight < LOOKS_MISTYPED).count()
}

/// Warns where a third or more of the readings are disbelieved. What is left no longer
/// outvotes them, so that the coefficients may be anybody's.
pub(crate) fn misfit(batches: &[BatchDiagnostics]) -> Option<String> {
    let all: usize = batches.iter().map(|b| b.readings.len()).sum();
    let doubted = disbelieved(batches);
    (doubted >= FEWEST && doubted as f64 >= MANY * all as f64).then(|| {
        format!(
            "{doubted} of {all} readings are disbelieved: the model does not fit this log, or \
             what was logged is of several machines or mistyped; compare with --no-prior"
        )
    })
}

/// Whether most readings are disbelieved: the fit then speaks for none of them.
pub(crate) fn mostly_disbelieved(batches: &[BatchDiagnostics]) -> bool {
    let all: usize = batches.iter().map(|b| b.readings.len()).sum();
    let doubted = disbelieved(batches);
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
    fn a_third_of_disbelieved_readings_is_warned_of_and_more_than_half_is_no_fit() {
        let sound = || batch(1.0, &[1.0]);
        let slip = || batch(0.1, &[1.0]);
        let log = |slips: usize, of: usize| -> Vec<BatchDiagnostics> {
            (0..of).map(|i| if i < slips { slip() } else { sound() }).collect()
        };
        assert_eq!(misfit(&log(2, 6)), None, "two slips are slips");
        assert_eq!(misfit(&log(3, 10)), None);
        let said = misfit(&log(3, 9)).unwrap();
        assert!(said.starts_with("3 of 9 readings are disbelieved"), "{said}");
        assert!(!mostly_disbelieved(&log(3, 6)) && mostly_disbelieved(&log(4, 6)));
        // A batch that looks mistyped as a whole takes its readings with it.
        assert_eq!(disbelieved(&[batch(0.1, &[1.0, 1.0]), batch(1.0, &[1.0, 0.2])]), 3);
    }
}
