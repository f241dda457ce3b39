//! How a solve ended. Stopping is data: only some ways of it are success.

use std::fmt;

/// Why the solver stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum TerminationReason {
    /// The undamped step changes no coefficient any more, relative to itself.
    ConvergedStep,
    /// The undamped step is a negligible part of the standard errors.
    ConvergedOffset,
    /// The undamped steps shrank until rounding kept them from shrinking
    /// further: the point is as good as double precision allows.
    ConvergedToRounding,
    /// The iterations ran out before a minimum was certain.
    IterationLimit,
    /// No smaller step lowers the cost, and yet the point is no certain minimum:
    /// a ridge, a kink, or derivatives that do not belong to the residuals.
    Stalled,
    /// The cost is stationary, but some direction of the coefficients is not
    /// determined by the residuals: there is no unique minimum.
    RankDeficient,
    /// The residuals or derivatives at the start are not all finite.
    NotFiniteAtStart,
    /// There was no residual, or no coefficient.
    NothingToFit,
}

impl TerminationReason {
    /// Whether the solver found a minimum.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::fit::solver::TerminationReason;
    ///
    /// assert!(TerminationReason::ConvergedOffset.is_success());
    /// assert!(!TerminationReason::Stalled.is_success());
    /// ```
    pub fn is_success(self) -> bool {
        matches!(self, Self::ConvergedStep | Self::ConvergedOffset | Self::ConvergedToRounding)
    }
}

impl fmt::Display for TerminationReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::ConvergedStep => "converged: the step no longer changes the coefficients",
            Self::ConvergedOffset => "converged: the step is negligible beside the standard errors",
            Self::ConvergedToRounding => "converged: as far as rounding allows",
            Self::IterationLimit => "not converged: the iterations ran out",
            Self::Stalled => {
                "not converged: no step lowers the cost, yet this is no certain minimum"
            }
            Self::RankDeficient => "not converged: the residuals leave a direction undetermined",
            Self::NotFiniteAtStart => "not started: the residuals at the start are not finite",
            Self::NothingToFit => "not started: there is nothing to fit",
        })
    }
}
