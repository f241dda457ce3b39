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
    /// The most iterations a strategy may take; default 2000. An iteration is
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
    /// default 1: no first step longer than the coefficients are. Wider regions
    /// save a step on easy problems and jump onto ridges of hard ones.
    pub first_radius: f64,
    /// The scaling of the first strategy; default
    /// [`LargestColumnNorms`](Scaling::LargestColumnNorms).
    pub scaling: Scaling,
    /// Whether a second strategy, with a tenth of the region, runs even where the
    /// first converged, and the lower cost is kept; default false. Doubles the
    /// time or worse, and guards against a minimum that is not the lowest.
    pub thorough: bool,
}

/// One way of descending; see [`Options`] for when another is tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strategy {
    /// How the region measures a step.
    pub scaling: Scaling,
    /// As [`Options::first_radius`].
    pub first_radius: f64,
}

/// How much narrower the region of the second strategy starts.
const NARROWER: f64 = 0.1;

impl Options {
    pub(super) fn first_strategy(&self) -> Strategy {
        Strategy { scaling: self.scaling, first_radius: self.first_radius }
    }

    /// What is tried, in this order, while nothing has converged.
    pub(super) fn further_strategies(&self) -> [Strategy; 2] {
        let other = match self.scaling {
            Scaling::LargestColumnNorms => Scaling::CurrentColumnNorms,
            Scaling::CurrentColumnNorms => Scaling::LargestColumnNorms,
        };
        [
            Strategy { first_radius: NARROWER * self.first_radius, ..self.first_strategy() },
            Strategy { scaling: other, ..self.first_strategy() },
        ]
    }
}

impl Default for Options {
    fn default() -> Self {
        Self {
            iteration_limit: 2000,
            step_tolerance: 1e-11,
            offset_tolerance: 1e-9,
            first_radius: 1.0,
            scaling: Scaling::LargestColumnNorms,
            thorough: false,
        }
    }
}
