//! All batches of a part together.

use rayon::prelude::*;

use super::misfit::{Disbelief, misfit};
use super::{BatchDiagnostics, LeftOutErrors, LeftOutSums};
use crate::fit::PIECE;
use crate::numeric::normal_quantile;

/// What the batches say together.
pub(crate) struct Survey {
    /// Errors of forecasting each batch from the others.
    pub left_out: Option<LeftOutErrors>,
    /// Root mean square of the residuals of rows that do not look mistyped.
    pub residual_sd: f64,
    /// A warning when a third or more of the readings are disbelieved.
    pub misfit: Option<String>,
    /// A warning when the residuals have a trend.
    pub trend: Option<String>,
}

impl Survey {
    pub fn of(batches: &[BatchDiagnostics]) -> Self {
        // A great many batches are looked through at once, each piece while it is at hand.
        let sums = if batches.len() <= PIECE {
            Sums::of(batches)
        } else {
            let parts: Vec<Sums> = batches.par_chunks(PIECE).map(Sums::of).collect();
            parts.into_iter().reduce(Sums::and).unwrap_or_default()
        };
        Self {
            left_out: sums.left_out.errors(),
            residual_sd: sums.residual_sd(),
            misfit: misfit(sums.disbelief),
            trend: sums.runs.trend(),
        }
    }
}

/// What is counted of batches that follow each other.
#[derive(Default)]
struct Sums {
    left_out: LeftOutSums,
    disbelief: Disbelief,
    /// Of the residuals of rows that do not look mistyped.
    squares: f64,
    count: usize,
    runs: Runs,
}

impl Sums {
    fn of(batches: &[BatchDiagnostics]) -> Self {
        let mut sums = Self::default();
        for batch in batches {
            sums.left_out.add(batch);
            sums.disbelief.add(batch);
            if batch.looks_mistyped() {
                continue;
            }
            sums.squares += batch.readings.iter().map(|r| r.residual * r.residual).sum::<f64>();
            sums.count += batch.readings.len();
            batch.readings.iter().for_each(|r| sums.runs.add(r.residual));
        }
        sums
    }

    /// With the batches that follow.
    fn and(self, next: Self) -> Self {
        Self {
            left_out: self.left_out.and(next.left_out),
            disbelief: self.disbelief.and(next.disbelief),
            squares: self.squares + next.squares,
            count: self.count + next.count,
            runs: self.runs.and(next.runs),
        }
    }

    fn residual_sd(&self) -> f64 {
        if self.count == 0 { 0.0 } else { (self.squares / self.count as f64).sqrt() }
    }
}

/// Fewer residuals in a row than this say nothing of a trend.
const SHORTEST_TREND: usize = 8;

/// Signs of residuals in the order of the log, and within batches in the order of time.
#[derive(Default)]
struct Runs {
    above: usize,
    below: usize,
    /// Stretches of one sign.
    runs: usize,
    /// Whether the first and the last are above nought; `None`: there is none.
    ends: Option<(bool, bool)>,
}

impl Runs {
    fn add(&mut self, residual: f64) {
        if residual == 0.0 {
            return;
        }
        let sign = residual > 0.0;
        *if sign { &mut self.above } else { &mut self.below } += 1;
        self.runs += usize::from(self.ends.is_none_or(|(_, last)| last != sign));
        self.ends = Some((self.ends.map_or(sign, |(first, _)| first), sign));
    }

    /// With the residuals that follow.
    fn and(self, next: Self) -> Self {
        let (ends, meet) = match (self.ends, next.ends) {
            (Some((first, end)), Some((begin, last))) => (Some((first, last)), end == begin),
            (ends, None) | (None, ends) => (ends, false),
        };
        Self {
            above: self.above + next.above,
            below: self.below + next.below,
            runs: self.runs + next.runs - usize::from(meet),
            ends,
        }
    }

    /// Warns when residuals keep their sign for too long: the chance of so few runs or fewer is
    /// below 1 % (Wald–Wolfowitz). The message names what that means.
    fn trend(&self) -> Option<String> {
        let Self { above, below, runs, .. } = *self;
        let n = above + below;
        if n < SHORTEST_TREND || above == 0 || below == 0 {
            return None;
        }
        let (above, below, n) = (above as f64, below as f64, n as f64);
        let mean = 1.0 + 2.0 * above * below / n;
        let variance = (mean - 1.0) * (mean - 2.0) / (n - 1.0);
        let z = (runs as f64 + 0.5 - mean) / variance.sqrt();
        (z < normal_quantile(0.01)).then(|| {
            format!(
                "the residuals have a trend: {runs} runs of one sign where {mean:.0} are \
                 expected; the model misses something that changes slowly"
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Wherever a log is cut in two, both parts together say what the whole says.
    #[test]
    fn runs_are_counted_over_the_edges_of_pieces() {
        let residuals = [0.3, 0.1, 0.0, -0.2, -0.4, 0.5, -0.1, 0.0, -0.3, 0.2];
        let of = |residuals: &[f64]| {
            let mut runs = Runs::default();
            residuals.iter().for_each(|&r| runs.add(r));
            runs
        };
        let whole = of(&residuals);
        assert_eq!((whole.above, whole.below, whole.runs), (4, 4, 5));
        for cut in 0..=residuals.len() {
            let both = of(&residuals[..cut]).and(of(&residuals[cut..]));
            assert_eq!((both.above, both.below, both.runs, both.ends), (4, 4, 5, whole.ends));
        }
    }
}
