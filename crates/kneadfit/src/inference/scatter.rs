//! Scatter from batch to batch, integrated over.
//!
//! The scatter τ is unknown and matters most when batches are few; plugging in one
//! estimate makes intervals too narrow. Its posterior is evaluated on a grid that is
//! evenly spaced in ln τ around its mode, and everything else is a mixture over the
//! grid.

use super::conditional::{Conditional, Conditioner, Whitened};

/// One scatter on the grid with its share of the posterior.
#[derive(Clone, Debug)]
pub(crate) struct Node {
    pub conditional: Conditional,
    pub weight: f64,
}

/// Nodes of the grid: spacing under a standard deviation of ln τ from −4 to +3.5 of them.
const NODES: usize = 9;
const LEFT: f64 = -4.0;
const RIGHT: f64 = 3.5;
/// ln τ is looked for between these, relative to the prior's scale.
const LOWEST: f64 = -4.5;
const HIGHEST: f64 = 3.0;
/// Spacing of the first look.
const COARSE: f64 = 1.5;
/// Parabolas around the best of it, at least one more than the first of these.
const FEWEST_PARABOLAS: usize = 2;
const MOST_PARABOLAS: usize = 12;
/// From so many batches on, a density that bends up only has its peak farther off. In a log of
/// fewer it may have two: one where a row is mistyped, and one where all scatter so.
const STEEP: usize = 100;
/// A standard deviation of ln τ on either side is taken to be no more than this: the
/// half-normal prior's own is 1.1 to the left.
const WIDEST: f64 = 1.5;

/// Half-normal prior of τ, on the scale of ln τ (the Jacobian is the last τ).
fn ln_prior(ln_tau: f64, scale: f64) -> f64 {
    let tau = ln_tau.exp();
    ln_tau - 0.5 * (tau / scale) * (tau / scale)
}

/// Where the grid's nodes lie, in ln τ; the middle one is near the mode.
pub(crate) fn place(c: &mut Conditioner, w: &Whitened, scale: f64) -> Option<Vec<f64>> {
    let mut density =
        |x: f64| -> Option<f64> { Some(c.ln_evidence(w, x.exp())? + ln_prior(x, scale)) };
    // A coarse look, then parabolas through three points around the best.
    let mut best = (scale.ln(), f64::NEG_INFINITY);
    let mut x = scale.ln() + LOWEST;
    while x <= scale.ln() + HIGHEST {
        let value = density(x)?;
        if value > best.1 {
            best = (x, value);
        }
        x += COARSE;
    }
    let (mut mode, mut top) = best;
    let mut reach = COARSE;
    let mut sd = COARSE;
    for round in 0..MOST_PARABOLAS {
        let (below, above) = (density(mode - reach)?, density(mode + reach)?);
        let bend = below + above - 2.0 * top;
        let moved = if bend < 0.0 { 0.5 * reach * (below - above) / bend } else { 0.0 };
        let farther = top < below.max(above) && (bend >= 0.0 || moved.abs() > reach);
        if farther && w.lin.batch_count() > STEEP {
            // The peak is farther than that (and far from it the density of many batches bends
            // up): uphill with longer steps.
            mode += reach.copysign(above - below);
            top = below.max(above);
            reach = (2.0 * reach).min(COARSE);
            continue;
        }
        let moved = moved.clamp(-reach, reach);
        mode += moved;
        top = density(mode)?;
        sd = if bend < 0.0 { (reach * reach / -bend).sqrt().min(WIDEST) } else { WIDEST };
        // Many batches hold the scatter so fast that a parabola through points far apart
        // misses its peak.
        if round >= FEWEST_PARABOLAS && reach <= 2.0 * sd && moved.abs() < 0.3 * sd {
            break;
        }
        reach = sd.min(0.5 * reach);
    }
    // How far to each side until the density falls as a normal one does in one sd.
    let mut side = |sign: f64| -> Option<f64> {
        let drop = top - density(mode + sign * sd)?;
        Some(if drop > 0.0 { (sd * (0.5 / drop).sqrt()).clamp(0.3 * sd, 3.0 * sd) } else { sd })
    };
    let from = mode + LEFT * side(-1.0)?.min(WIDEST);
    let to = mode + RIGHT * side(1.0)?.min(WIDEST);
    Some((0..NODES).map(|i| from + (to - from) * i as f64 / (NODES - 1) as f64).collect())
}

/// The mode that a grid was placed around, in ln τ.
pub(crate) fn middle(grid: &[f64]) -> f64 {
    // The grid reaches LEFT and RIGHT standard deviations from the mode.
    match grid {
        [first, .., last] => first + (last - first) * LEFT.abs() / (LEFT.abs() + RIGHT),
        _ => grid.first().copied().unwrap_or(0.0),
    }
}

/// The posterior on a grid of ln τ, its weights summing to 1.
pub(crate) fn integrate(
    c: &mut Conditioner,
    w: &Whitened,
    scale: f64,
    grid: &[f64],
) -> Option<Vec<Node>> {
    let mut nodes = Vec::with_capacity(grid.len());
    let mut ln_weights = Vec::with_capacity(grid.len());
    for &x in grid {
        let conditional = c.at(w, x.exp())?;
        ln_weights.push(conditional.ln_evidence + ln_prior(x, scale));
        nodes.push(Node { conditional, weight: 0.0 });
    }
    let most = ln_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = ln_weights.iter().map(|l| (l - most).exp()).sum();
    for (node, ln_weight) in nodes.iter_mut().zip(&ln_weights) {
        node.weight = (ln_weight - most).exp() / total;
    }
    Some(nodes)
}

/// Mean step and covariance of the mixture, in `z`.
pub(crate) fn mixture(nodes: &[Node]) -> (Vec<f64>, Vec<f64>) {
    let p = nodes.first().map_or(0, |n| n.conditional.step.len());
    let mut mean = vec![0.0; p];
    for node in nodes {
        for (sum, step) in mean.iter_mut().zip(&node.conditional.step) {
            *sum += node.weight * step;
        }
    }
    let mut covariance = vec![0.0; p * p];
    for node in nodes {
        for i in 0..p {
            for j in 0..p {
                let (a, b) =
                    (node.conditional.step[i] - mean[i], node.conditional.step[j] - mean[j]);
                covariance[i * p + j] +=
                    node.weight * (node.conditional.covariance[i * p + j] + a * b);
            }
        }
    }
    (mean, covariance)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::{Linearisation, MistypedRows};
    use crate::numeric::normal_quantile;

    /// Outside value: residuals that lie as a normal sample's should, of variance `v + τ²`, have
    /// their likelihood's peak at this τ, and `(v + τ²) / (τ² √(2n))` is the standard deviation of
    /// ln τ there.
    #[test]
    fn the_grid_lies_around_the_peak_however_steep_it_is() {
        for (batches, tau, variance) in [
            (300, 0.4, 0.15),
            (600, 0.4, 0.15),
            (900, 0.42, 0.2),
            (1000, 0.2, 0.1),
            (1000, 1.5, 0.3),
        ] {
            let mut lin = Linearisation::with_shape(0, std::iter::repeat_n(1, batches));
            let sd = f64::sqrt(variance + tau * tau);
            for (i, residual) in lin.residuals.iter_mut().enumerate() {
                *residual = sd * normal_quantile((i as f64 + 0.5) / batches as f64);
            }
            lin.covariance.fill(variance);
            lin.shift.fill(1.0);
            let w = Whitened { lin, ..Whitened::default() };
            let mut c = Conditioner::new(&w, Some(MistypedRows::TEMPERATURES));
            let grid = place(&mut c, &w, 0.5).unwrap();
            let wide = sd * sd / (tau * tau * (2.0 * batches as f64).sqrt());
            let off = (middle(&grid) - tau.ln()) / wide;
            assert!(off.abs() < 1.0, "{batches} {tau}: {off}");
            let reach = (grid[NODES - 1] - grid[0]) / wide;
            assert!(reach > 5.0 && reach < 11.0, "{batches} {tau}: {reach}");
        }
    }
}
