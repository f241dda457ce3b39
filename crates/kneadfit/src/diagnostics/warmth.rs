//! Why a log does not tell what warmth does.

use super::unknown::{correlation, span};
use crate::batch::BatchLog;

/// Doughs within so many K of each other are about as warm as each other.
const ALIKE_K: f64 = 5.0;
/// Warmth and minutes that are correlated beyond this rose together.
const TOGETHER: f64 = 0.6;

/// Which doughs are asked after.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Doughs {
    /// Those that were graded and read.
    Graded,
    /// All that were read.
    Read,
}

/// The reason, in kitchen words, as it is seen in the log itself.
pub(super) fn reason(log: &BatchLog, doughs: Doughs) -> String {
    let name = match doughs {
        Doughs::Graded => "graded doughs",
        Doughs::Read => "doughs",
    };
    // Warmth at the end of the mixing so far, and its minutes.
    let mut read: Vec<(f64, f64)> = Vec::new();
    for batch in &log.batches {
        let mut minutes = 0.0;
        for stage in &batch.stages {
            let mixed = stage.phases.iter().filter(|p| !p.is_rest());
            minutes += mixed.map(|p| p.minutes).sum::<f64>();
            let wanted = doughs == Doughs::Read || stage.reading.development.is_some();
            if let Some(dough_c) = stage.reading.dough_c.filter(|_| wanted) {
                read.push((dough_c, minutes));
            }
        }
    }
    let least = read.iter().map(|r| r.0).fold(f64::INFINITY, f64::min);
    let most = read.iter().map(|r| r.0).fold(f64::NEG_INFINITY, f64::max);
    if read.len() < 3 {
        return format!("few {name} were read");
    }
    if most - least < ALIKE_K {
        return format!("{name} were all {} °C", span(least, most, 1));
    }
    if correlation(&read).is_some_and(|r| r > TOGETHER) {
        return format!("the warmer {name} were the ones mixed longer");
    }
    format!(
        "{name} were read at {} °C, too little to part it from minutes and speeds",
        span(least, most, 1)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::Batch;
    use crate::charge::{Charge, Material, Phase};

    /// A log of doughs that were mixed for so many minutes and read so warm.
    fn log(doughs: &[(f64, f64)]) -> BatchLog {
        let batch = |&(minutes, dough_c): &(f64, f64)| {
            let charge = Charge::new(24.0).with(Material::Flour, 10.0, 21.0);
            Batch::new("1", charge, vec![Phase::mixing("low", minutes)]).read_dough(dough_c)
        };
        BatchLog::new("m", ["low"], doughs.iter().map(batch).collect()).unwrap()
    }

    #[test]
    fn the_reason_is_what_the_log_shows() {
        let of = |doughs: &[(f64, f64)]| reason(&log(doughs), Doughs::Read);
        assert_eq!(of(&[(5.0, 22.0), (9.0, 22.5), (7.0, 23.0)]), "doughs were all 22.0 to 23.0 °C");
        assert_eq!(
            of(&[(5.0, 19.0), (9.0, 24.0), (12.0, 28.0)]),
            "the warmer doughs were the ones mixed longer"
        );
        // Cold and warm, long and short: nothing is said that is not so.
        let crossed = of(&[(5.0, 28.0), (12.0, 19.0), (5.0, 19.0), (12.0, 28.0)]);
        assert!(crossed.starts_with("doughs were read at 19.0 to 28.0 °C"), "{crossed}");
        assert_eq!(of(&[(5.0, 28.0)]), "few doughs were read");
        let ungraded = log(&[(5.0, 19.0), (9.0, 24.0), (12.0, 28.0)]);
        assert_eq!(reason(&ungraded, Doughs::Graded), "few graded doughs were read");
    }
}
