//! What a caller may choose about a solve, with the reasons for the defaults.

/// How the trust region measures a step: each coefficient times its scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Scaling {
    /// The largest norm that the coefficient's Jacobian column has had so far
    /// (Moré's choice): the region cannot open where a column dies away.
    LargestColumnNorms,
    /// The norm of the column at the current point: the region follows
    /// coefficients whose influence changes by orders of magnitude.
    CurrentColumnNorms,
}

/// Choices for [`solve`](super::solve).
///
/// # Examples
///
/// ```
/// use kneadfit::fit::solver::Options;
///
/// let options = Options { iteration_limit: 20, ..Options::default() };
/// assert!(!options.thorough);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// The most iterations a strategy may take; default 1000. An iteration is
    /// one trial point. Well-posed fits take 5 to 30; some published test
    /// problems with starts far away take several hundred.
    pub iteration_limit: u64,
    /// Converged when the undamped step changes no coefficient by more than
    /// this share of itself; default 1e-11.
    pub step_tolerance: f64,
    /// Converged when the undamped step moves the predictions by less than this
    /// share of their standard error (the relative offset of Bates and Watts);
    /// default 1e-9. Smaller is beyond what any reading can tell.
    pub offset_tolerance: f64,
    /// The first trust region, as a multiple of the start's scaled length;
    /// default 100, wide enough for the first step of a linear problem.
    pub first_radius: f64,
    /// The scaling of the first strategy; default
    /// [`LargestColumnNorms`](Scaling::LargestColumnNorms).
    pub scaling: Scaling,
    /// Whether both scalings are always tried and the lower cost kept; default
    /// false: the second is tried only where the first does not converge.
    /// Costs a second solve and finds better minima from bad starts.
    pub thorough: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            iteration_limit: 1000,
            step_tolerance: 1e-11,
            offset_tolerance: 1e-9,
            first_radius: 100.0,
            scaling: Scaling::LargestColumnNorms,
            thorough: false,
        }
    }
}

impl Scaling {
    /// The strategy to try where this one does not converge.
    pub(super) fn other(self) -> Self {
        match self {
            Self::LargestColumnNorms => Self::CurrentColumnNorms,
            Self::CurrentColumnNorms => Self::LargestColumnNorms,
        }
    }
}
