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
const LOWEST: f64 = -5.0;
const HIGHEST: f64 = 3.0;

/// Half-normal prior of τ, on the scale of ln τ (the Jacobian is the last τ).
fn ln_prior(ln_tau: f64, scale: f64) -> f64 {
    let tau = ln_tau.exp();
    ln_tau - 0.5 * (tau / scale) * (tau / scale)
}

/// Where the grid's nodes lie.
pub(crate) fn place(c: &mut Conditioner, w: &Whitened, scale: f64) -> Option<Vec<f64>> {
    let mut density =
        |x: f64| -> Option<f64> { Some(c.at(w, x.exp())?.ln_evidence + ln_prior(x, scale)) };
    let middle = scale.ln();
    // Coarse look, then golden section around the best.
    let mut best = (middle, f64::NEG_INFINITY);
    let mut x = LOWEST;
    while x <= HIGHEST {
        let value = density(middle + x)?;
        if value > best.1 {
            best = (middle + x, value);
        }
        x += 1.0;
    }
    let (mut low, mut high) = (best.0 - 1.0, best.0 + 1.0);
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
    let (mut at_a, mut at_b) = (density(a)?, density(b)?);
    while high - low > 0.02 {
        if at_a > at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - GOLDEN * (high - low);
            at_a = density(a)?;
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + GOLDEN * (high - low);
            at_b = density(b)?;
        }
    }
    let (mode, top) = if at_a > at_b { (a, at_a) } else { (b, at_b) };
    // How far to each side until the density falls as a normal one does in one sd.
    let mut side = |sign: f64| -> Option<f64> {
        let mut reach = 0.5;
        for _ in 0..6 {
            let drop = top - density(mode + sign * reach)?;
            if (0.2..1.5).contains(&drop) {
                return Some(reach * (0.5 / drop).sqrt());
            }
            reach *= if drop < 0.2 { 2.0 } else { (0.5 / drop).sqrt().max(0.05) };
            if reach > 3.0 {
                return Some(1.5);
            }
        }
        Some(reach)
    };
    let (left, right) = (side(-1.0)?, side(1.0)?);
    let from = mode + LEFT * left;
    let to = mode + RIGHT * right;
    Some((0..NODES).map(|i| from + (to - from) * i as f64 / (NODES - 1) as f64).collect())
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
