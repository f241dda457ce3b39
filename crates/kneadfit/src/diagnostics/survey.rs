//! All batches of a part together.

use super::misfit::misfit;
use super::{BatchDiagnostics, LeftOutErrors};
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
        let left_out = || LeftOutErrors::of(batches);
        let others = || (residual_sd(batches), misfit(batches), trend_in_residuals(batches));
        // A great many batches are looked through at once.
        let (left_out, (residual_sd, misfit, trend)) = if batches.len() > PIECE {
            rayon::join(left_out, others)
        } else {
            (left_out(), others())
        };
        Self { left_out, residual_sd, misfit, trend }
    }
}

fn residual_sd(batches: &[BatchDiagnostics]) -> f64 {
    let (mut squares, mut count) = (0.0, 0_usize);
    for batch in batches.iter().filter(|b| !b.looks_mistyped()) {
        squares += batch.readings.iter().map(|r| r.residual * r.residual).sum::<f64>();
        count += batch.readings.len();
    }
    if count == 0 { 0.0 } else { (squares / count as f64).sqrt() }
}

/// Fewer residuals in a row than this say nothing of a trend.
const SHORTEST_TREND: usize = 8;

/// Warns when residuals, in the order of the log and within batches in the order of time,
/// keep their sign for too long: the chance of so few runs or fewer is below 1 %
/// (Wald–Wolfowitz). The message names what that means.
fn trend_in_residuals(batches: &[BatchDiagnostics]) -> Option<String> {
    let signs = batches
        .iter()
        .filter(|b| !b.looks_mistyped())
        .flat_map(|b| &b.readings)
        .filter(|r| r.residual != 0.0)
        .map(|r| r.residual > 0.0);
    let (mut above, mut below, mut runs, mut last) = (0_usize, 0_usize, 0_usize, None);
    for sign in signs {
        *if sign { &mut above } else { &mut below } += 1;
        runs += usize::from(last != Some(sign));
        last = Some(sign);
    }
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
            "the residuals have a trend: {runs} runs of one sign where {mean:.0} are expected; \
             the model misses something that changes slowly"
        )
    })
}
