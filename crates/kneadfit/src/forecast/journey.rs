//! A batch on its way: what its earlier readings say of its later stages.

use super::innovations::{Innovations, dot, reweighted};
use super::law::{Law, Part};
use super::machine::{Doubted, Forecaster};
use crate::batch::Batch;
use crate::fit::MistypedRows;
use crate::profile::Spread;
use crate::thermal::{HeatCoefficients, HeatTerms, HeatWalk, InputWalk, add_input_covariance};

/// The stages of a batch on the tangent at θ, and the readings that were taken up to one
/// of them.
#[derive(Clone, Debug)]
pub(super) struct Journey<'a> {
    forecaster: &'a Forecaster,
    /// The coefficients that matter to its flour.
    heat: &'a Doubted,
    covariance: &'a [f64],
    /// Of each stage: f, its gradient by the fitted coefficients, Σ times that.
    dough_c: Vec<f64>,
    gradients: Vec<f64>,
    spreads: Vec<f64>,
    /// What the inputs make of the covariance of two stages, K².
    inputs: Vec<f64>,
    /// The share of the batch's scatter that each stage has.
    shares: Vec<f64>,
    read: Vec<Option<f64>>,
    /// The first takes every reading at its word; in a profile with scatter each further one
    /// has one reading mistyped.
    explanations: Vec<Explanation>,
    reached: usize,
}

/// The readings so far, one of them perhaps mistyped.
#[derive(Clone, Debug)]
struct Explanation {
    /// The stage whose reading is mistyped.
    mistyped: Option<usize>,
    /// One a scatter node (one in all for plain least squares).
    by_node: Vec<Innovations>,
}

/// One reading in fifty is mistyped, as in the fit.
const MISTYPED: MistypedRows = MistypedRows::TEMPERATURES;

impl Explanation {
    /// How likely it is before any reading, beside that which takes each at its word.
    fn odds(&self) -> f64 {
        self.mistyped.map_or(1.0, |_| MISTYPED.share / (1.0 - MISTYPED.share))
    }

    /// The variance of a stage's reading about the dough, `noise` that of one at its word.
    fn noise(&self, stage: usize, noise: f64) -> f64 {
        if self.mistyped == Some(stage) { noise + MISTYPED.spread * MISTYPED.spread } else { noise }
    }
}

/// What a [`Journey`] says of a stage.
#[derive(Clone, Debug)]
pub(super) struct Ahead {
    /// Of the reading less f at θ.
    pub law: Law,
    /// Covariance of the fitted coefficients and, in a profile with scatter, of what is
    /// common to the batch's readings: its inputs and its scatter.
    pub covariance: Vec<f64>,
    /// Variance of the reading beside that.
    pub variance: f64,
    /// The readings as the likeliest explanation takes them, at its typical scatter.
    pub typical: Innovations,
    /// Mean of the squared scatter of that explanation, K², at a share of 1.
    pub scatter: f64,
}

impl<'a> Journey<'a> {
    /// `None` when the profile does not know its covariance or its scatter.
    pub fn new(forecaster: &'a Forecaster, batch: &Batch, terms: &HeatTerms) -> Option<Self> {
        let heat = forecaster.heat_of(terms.flour);
        let covariance = heat.covariance.as_deref()?;
        let p = heat.free.len();
        let stages = batch.stages.len();
        let coefficients = forecaster.coefficients();
        let mut journey = Self {
            forecaster,
            heat,
            covariance,
            dough_c: Vec::with_capacity(stages),
            gradients: vec![0.0; stages * p],
            spreads: vec![0.0; stages * p],
            inputs: vec![0.0; stages * stages],
            shares: Vec::with_capacity(stages),
            read: batch.stages.iter().map(|s| s.reading.dough_c).collect(),
            explanations: Vec::new(),
            reached: 0,
        };
        let count = match &forecaster.scatter {
            Spread::Mixture { nodes } => {
                journey.add_inputs(terms, &coefficients);
                nodes.len()
            }
            Spread::StudentT { sd, .. } => {
                // Its readings share the coefficients alone.
                journey.shares.resize(stages, 0.0);
                sd.map(|_| 1)?
            }
        };
        let by_node = vec![Innovations::default(); count];
        journey.explanations = vec![Explanation { mistyped: None, by_node }];
        HeatWalk::new(forecaster.speeds.len()).linearise(
            &forecaster.model,
            &coefficients,
            terms,
            |stage, dough_c, by_coefficient| {
                journey.dough_c.push(dough_c);
                let here = stage * p..(stage + 1) * p;
                let gradient = &mut journey.gradients[here.clone()];
                heat.on_fitted_scale(by_coefficient, &heat.natural, gradient);
                super::bound::spread_of(covariance, gradient, &mut journey.spreads[here]);
            },
        );
        Some(journey)
    }

    fn add_inputs(&mut self, terms: &HeatTerms, coefficients: &HeatCoefficients) {
        let n = self.read.len();
        let stages: Vec<u32> = (0..n as u32).collect();
        add_input_covariance(
            &self.forecaster.model,
            coefficients,
            terms,
            &self.forecaster.uncertainties,
            &stages,
            &mut InputWalk::new(self.forecaster.speeds.len()),
            &mut self.inputs,
            &mut self.shares,
        );
        for i in 0..n {
            for j in 0..i {
                self.inputs[j * n + i] = self.inputs[i * n + j];
            }
        }
    }

    /// The coefficients that matter to its flour, with their doubt.
    pub fn heat(&self) -> &'a Doubted {
        self.heat
    }

    fn gradient(&self, stage: usize) -> &[f64] {
        let p = self.heat.free.len();
        &self.gradients[stage * p..(stage + 1) * p]
    }

    /// Σ times the gradient of a stage.
    pub fn spread(&self, stage: usize) -> &[f64] {
        let p = self.heat.free.len();
        &self.spreads[stage * p..(stage + 1) * p]
    }

    /// What the inputs make of the covariance of two stages, K².
    pub fn inputs(&self, a: usize, b: usize) -> f64 {
        self.inputs[a * self.read.len() + b]
    }

    /// What scatter of the variance `scatter` makes of the covariance of two stages, K².
    pub fn scattered(&self, a: usize, b: usize, scatter: f64) -> f64 {
        self.shares[a] * self.shares[b] * scatter
    }

    /// Covariance of the dough temperatures of two stages, but for scatter.
    fn common(&self, a: usize, b: usize) -> f64 {
        dot(self.gradient(a), self.spread(b)) + self.inputs(a, b)
    }

    fn take(&self, into: &mut Innovations, stage: usize, scatter: f64, noise: f64) {
        let Some(read) = self.read[stage] else { return };
        let covariance = |other| self.common(stage, other) + self.scattered(stage, other, scatter);
        let variance = covariance(stage) + noise;
        into.take(stage, covariance, variance, read - self.dough_c[stage]);
    }

    /// What the readings of the stages before `stage` say of it; stages are asked for in
    /// their order. `None`: nothing was read.
    pub fn ahead(&mut self, stage: usize) -> Option<Ahead> {
        let forecaster = self.forecaster;
        let mut explanations = std::mem::take(&mut self.explanations);
        for earlier in self.reached..stage {
            match &forecaster.scatter {
                Spread::Mixture { nodes } => {
                    if self.read[earlier].is_some() {
                        let mistyped = Some(earlier);
                        explanations.push(Explanation { mistyped, ..explanations[0].clone() });
                    }
                    let noise = forecaster.uncertainties.dough_k.powi(2);
                    for explanation in &mut explanations {
                        let noise = explanation.noise(earlier, noise);
                        for (node, into) in nodes.iter().zip(&mut explanation.by_node) {
                            self.take(into, earlier, node.sd * node.sd, noise);
                        }
                    }
                }
                Spread::StudentT { sd, .. } => {
                    let noise = sd.map_or(0.0, |sd| sd * sd);
                    self.take(&mut explanations[0].by_node[0], earlier, 0.0, noise);
                }
            }
        }
        self.reached = self.reached.max(stage);
        self.explanations = explanations;
        if self.read[..stage].iter().all(Option::is_none) {
            return None;
        }
        Some(match &forecaster.scatter {
            Spread::Mixture { nodes } => {
                let parts = || self.explanations.iter().flat_map(|e| e.by_node.iter().zip(nodes));
                let weights: Vec<f64> = (self.explanations.iter())
                    .flat_map(|e| nodes.iter().map(|n| n.weight * e.odds()))
                    .collect();
                let likely: Vec<f64> = parts().map(|(told, _)| told.ln_likelihood()).collect();
                let weights = reweighted(&weights, &likely);
                let noise = forecaster.uncertainties.dough_k.powi(2);
                let law = parts().zip(&weights).map(|((told, node), &weight)| {
                    let scatter = node.sd * node.sd;
                    let covariance =
                        |other| self.common(stage, other) + self.scattered(stage, other, scatter);
                    let solved = told.solve(covariance);
                    let known = covariance(stage) - dot(&solved, &solved);
                    let mean = told.moves(&solved);
                    Part { weight, mean, variance: known.max(0.0) + noise }
                });
                let law = Law::Mixture(law.collect());
                // On the tangent, by the likeliest explanation alone.
                let by_explanation = || weights.chunks_exact(nodes.len()).zip(&self.explanations);
                let sum = |weights: &[f64]| weights.iter().sum::<f64>();
                let (weights, likeliest) = by_explanation()
                    .reduce(|best, next| if sum(next.0) > sum(best.0) { next } else { best })?;
                let scatter = nodes.iter().zip(weights).map(|(n, w)| w * n.sd * n.sd).sum::<f64>()
                    / sum(weights);
                let mut typical = Innovations::default();
                for earlier in 0..stage {
                    self.take(&mut typical, earlier, scatter, likeliest.noise(earlier, noise));
                }
                let covariance = self.covariance_after(stage, &typical, Some(scatter));
                Ahead { law, covariance, variance: noise, typical, scatter }
            }
            Spread::StudentT { sd, dof } => {
                let told = &self.explanations[0].by_node[0];
                let solved = told.solve(|other| self.common(stage, other));
                let (dof, taken) = (*dof as f64, told.taken().len() as f64);
                let share = (dof + told.distance()) / (dof + taken);
                let mut covariance = self.covariance_after(stage, told, None);
                covariance.iter_mut().for_each(|c| *c *= share);
                let noise = share * sd.map_or(0.0, |sd| sd * sd);
                let known = share * (self.common(stage, stage) - dot(&solved, &solved)).max(0.0);
                let law = Law::StudentT {
                    mean: told.moves(&solved),
                    sd: (known + noise).sqrt(),
                    dof: dof + taken,
                };
                Ahead { law, covariance, variance: noise, typical: told.clone(), scatter: 0.0 }
            }
        })
    }

    /// Covariance of the coefficients and, with `scatter`, of what is common to the batch
    /// at a stage, after the readings.
    fn covariance_after(&self, stage: usize, told: &Innovations, scatter: Option<f64>) -> Vec<f64> {
        let p = self.heat.free.len();
        let n = p + usize::from(scatter.is_some());
        let own =
            |other, scatter| self.inputs(stage, other) + self.scattered(stage, other, scatter);
        let solved: Vec<Vec<f64>> = (0..n)
            .map(|i| {
                told.solve(|other| match scatter {
                    Some(scatter) if i == p => own(other, scatter),
                    _ => self.spread(other)[i],
                })
            })
            .collect();
        let mut covariance = vec![0.0; n * n];
        for i in 0..n {
            for j in 0..n {
                let before = match scatter {
                    Some(scatter) if i == p && j == p => own(stage, scatter),
                    _ if i < p && j < p => self.covariance[i * p + j],
                    _ => 0.0,
                };
                covariance[i * n + j] = before - dot(&solved[i], &solved[j]);
            }
        }
        covariance
    }
}
