//! The distribution of a reading of the dough's temperature.

use std::borrow::Cow;

use super::bound::{Point, Width, bound};
use super::journey::Ahead;
use super::law::{Law, mean_square, tail};
use super::machine::{Beside, Forecaster};
use crate::profile::Spread;
use crate::thermal::{HeatTerms, HeatWalk};

/// What the thermometer will show at the end of a stage, as a distribution.
///
/// Made by [`Forecaster::predictive`]. Its quantiles are the bounds of the module
/// documentation, so that [`Self::interval_c`] is what [`Forecaster::forecast`] gives.
#[derive(Clone, Debug)]
pub struct Predictive<'a> {
    forecaster: &'a Forecaster,
    terms: Cow<'a, HeatTerms>,
    stage: usize,
    start: Point,
    covariance: Cow<'a, [f64]>,
    /// Variance of the reading beside what `covariance` makes of it.
    variance: f64,
    law: Law,
    mean: f64,
}

/// Less than this is no probability.
const NONE: f64 = 1e-18;
/// A temperature is met when the bound misses it by no more than this, °C.
const MET_C: f64 = 1e-10;

impl<'a> Predictive<'a> {
    /// `None` when the profile does not know its covariance or its scatter.
    pub(super) fn new(
        forecaster: &'a Forecaster,
        terms: Cow<'a, HeatTerms>,
        stage: usize,
        beside: Beside,
        ahead: Option<Ahead>,
    ) -> Option<Self> {
        let heat = forecaster.heat_of(terms.flour);
        let covariance = heat.covariance.as_deref()?;
        let places = heat.free.len();
        let known = Known { forecaster, terms: &terms, stage };
        if let Some(ahead) = ahead {
            // The dough itself moves beside the coefficients where scatter is known.
            let own = usize::from(ahead.covariance.len() > places * places);
            let start = Point::new(&vec![0.0; places + own], &ahead.covariance, &mut known.model());
            let mean = ahead.law.mean();
            return Some(Self {
                forecaster,
                stage,
                start,
                covariance: ahead.covariance.into(),
                variance: ahead.variance,
                law: ahead.law,
                mean,
                terms,
            });
        }
        let start = Point::new(&vec![0.0; places], covariance, &mut known.model());
        let Beside { inputs, share } = beside;
        let beside = inputs + forecaster.uncertainties.dough_k * forecaster.uncertainties.dough_k;
        let (law, variance) = match &forecaster.scatter {
            Spread::Mixture { nodes } => {
                let scatter = share * share * mean_square(&forecaster.scatter);
                (Law::about_zero(nodes, share, start.known + beside), beside + scatter)
            }
            Spread::StudentT { sd, dof } => {
                let variance = (*sd)? * (*sd)?;
                let sd = (start.known + variance).sqrt();
                (Law::StudentT { mean: 0.0, sd, dof: *dof as f64 }, variance)
            }
        };
        let covariance = covariance.into();
        Some(Self { forecaster, terms, stage, start, covariance, variance, law, mean: 0.0 })
    }

    /// The forecast, °C.
    pub fn mean_c(&self) -> f64 {
        self.start.value + self.mean
    }

    /// Variance on the tangent of the dough's own temperature, K²: what the thermometer in
    /// the dough would not add. In a profile of plain least squares, what the coefficients
    /// make of it.
    pub fn dough_variance_k2(&self) -> f64 {
        match &self.forecaster.scatter {
            Spread::Mixture { .. } => {
                (self.total() - self.forecaster.uncertainties.dough_k.powi(2)).max(0.0)
            }
            Spread::StudentT { .. } => self.start.known.max(0.0),
        }
    }

    /// Variance on the tangent of the next reading, K².
    pub fn reading_variance_k2(&self) -> f64 {
        self.total()
    }

    /// The law of the reading on the tangent, relative to the forecast that knows of no
    /// reading ([`Self::unread_c`]).
    pub fn law(&self) -> &Law {
        &self.law
    }

    /// What the forecast was before any reading of the batch, °C.
    pub fn unread_c(&self) -> f64 {
        self.start.value
    }

    /// The interval that holds the next reading with a probability of `level`, °C; `None`
    /// where there is no finite one.
    pub fn interval_c(&self, level: f64) -> Option<(f64, f64)> {
        let (low, high) = (self.side(-1.0, tail(level)), self.side(1.0, tail(level)));
        (low.is_finite() && high.is_finite()).then_some((low, high))
    }

    /// The temperature that the next reading is below with this probability, °C.
    pub fn quantile_c(&self, probability: f64) -> f64 {
        if probability < 0.5 {
            self.side(-1.0, probability)
        } else {
            self.side(1.0, 1.0 - probability)
        }
    }

    /// The probability that the next reading is below `dough_c`.
    pub fn probability_below(&self, dough_c: f64) -> f64 {
        let wanted = dough_c - self.mean_c();
        if wanted.is_nan() {
            return f64::NAN;
        }
        let (sign, wanted) = (1_f64.copysign(wanted), wanted.abs());
        let off = |reach: f64| sign * (self.at_reach(sign, reach) - self.mean_c()) - wanted;
        // The bound grows with the reach.
        let most = self.law.reach(sign, NONE);
        let (mut before, mut at_before) = (0.0, -wanted);
        let mut reach = wanted.min(most);
        let mut at = off(reach);
        while at < 0.0 && reach < most {
            (before, at_before) = (reach, at);
            reach = (2.0 * reach).min(most);
            at = off(reach);
        }
        if at.is_nan() || at < 0.0 {
            return if sign > 0.0 { 1.0 } else { 0.0 };
        }
        // False position that halves the end which stays (the Illinois rule).
        for _ in 0..100 {
            let next = reach - at * (reach - before) / (at - at_before);
            if at.abs() <= MET_C || !next.is_finite() {
                break;
            }
            let at_next = off(next);
            if (at_next < 0.0) == (at < 0.0) {
                at_before *= 0.5;
            } else {
                (before, at_before) = (reach, at);
            }
            (reach, at) = (next, at_next);
        }
        self.law.below(self.mean + sign * reach)
    }

    fn total(&self) -> f64 {
        self.start.known + self.variance
    }

    /// The bound beyond which a reading lies with a probability of `tail`.
    fn side(&self, sign: f64, tail: f64) -> f64 {
        self.at_reach(sign, self.law.reach(sign, tail))
    }

    /// The bound that lies `reach` off on the tangent.
    fn at_reach(&self, sign: f64, reach: f64) -> f64 {
        let sd = self.total().sqrt();
        let width = Width { z: reach / sd, variance: self.variance };
        let known = Known { forecaster: self.forecaster, terms: &self.terms, stage: self.stage };
        // Without priors a coefficient may be so little known that a bound runs off.
        let found = (reach > 0.0)
            .then(|| bound(sign, width, &self.covariance, &self.start, known.model()))
            .flatten()
            .filter(|bound| sign * (bound - self.start.value) >= 0.0);
        found.unwrap_or(self.start.value + sign * reach) + self.mean
    }
}

/// The model of one stage.
#[derive(Clone, Copy)]
struct Known<'a> {
    forecaster: &'a Forecaster,
    terms: &'a HeatTerms,
    stage: usize,
}

impl<'a> Known<'a> {
    /// f(θ + δ) with its gradient; a number more than there are coefficients moves the
    /// dough itself.
    fn model(self) -> impl FnMut(&[f64], &mut [f64]) -> f64 + 'a {
        let Self { forecaster, terms, stage } = self;
        let heat = forecaster.heat_of(terms.flour);
        let speeds = forecaster.speeds.len();
        let mut walk = HeatWalk::new(speeds);
        let mut natural = heat.natural.clone();
        let mut coefficients = forecaster.any_coefficients();
        move |delta, gradient| {
            heat.moved(delta, &mut natural);
            coefficients.set_from(&natural);
            let mut dough_c = f64::NAN;
            walk.linearise(&forecaster.model, &coefficients, terms, |s, end_c, by_coefficient| {
                if s == stage {
                    dough_c = end_c;
                    heat.on_fitted_scale(by_coefficient, &natural, gradient);
                }
            });
            if let Some(moved) = delta.get(heat.free.len()) {
                gradient[heat.free.len()] = 1.0;
                dough_c += moved;
            }
            dough_c
        }
    }
}
