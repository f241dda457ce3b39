//! Integrals over a phase in which something relaxes exponentially.

/// Nodes and weights of 6-point Gauss–Legendre quadrature on [0, 1].
///
/// Abramowitz & Stegun, *Handbook of Mathematical Functions*, table 25.4, n = 6,
/// mapped from [−1, 1].
const NODES: [(f64, f64); 6] = [
    (0.033_765_242_898_423_975, 0.085_662_246_189_585_18),
    (0.169_395_306_766_867_7, 0.180_380_786_524_069_3),
    (0.380_690_406_958_401_5, 0.233_956_967_286_345_52),
    (0.619_309_593_041_598_5, 0.233_956_967_286_345_52),
    (0.830_604_693_233_132_2, 0.180_380_786_524_069_3),
    (0.966_234_757_101_576, 0.085_662_246_189_585_18),
];

/// A phase is cut into panels over which it relaxes by at most a factor e.
const MOST_PANELS: usize = 64;

/// Calls `at_node(at, weight)` for each node of a phase that relaxes by `decays` factors
/// of e: `at` is the share of its minutes that has passed, and the weights add up to 1.
///
/// # Examples
///
/// ```
/// // ∫₀¹ e^(−3t) dt = (1 − e^(−3)) / 3
/// let mut sum = 0.0;
/// kneadfit::numeric::quadrature::for_each_node(3.0, |at, weight| sum += weight * (-3.0 * at).exp());
/// assert!((sum - (1.0 - (-3.0_f64).exp()) / 3.0).abs() < 1e-14);
/// ```
#[inline]
pub fn for_each_node(decays: f64, mut at_node: impl FnMut(f64, f64)) {
    // Cut off before it is counted: a coefficient that ran away makes it infinite.
    let panels = (decays.abs().min(MOST_PANELS as f64) as usize + 1).min(MOST_PANELS);
    let width = 1.0 / panels as f64;
    for panel in 0..panels {
        for (node, weight) in NODES {
            at_node((panel as f64 + node) * width, weight * width);
        }
    }
}
