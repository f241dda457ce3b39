//! The temperatures of one batch where its dose is integrated, for a heat balance that
//! stays as it is: a fit of development then only raises Q10 to powers.

use super::{DEVELOPMENT_REFERENCE_C, DevelopmentCoefficients, for_each_node};
use crate::thermal::{HeatCoefficients, HeatModel, HeatTerms, HeatWalk, Setting};

/// One point of the integral over a phase.
#[derive(Clone, Copy, Debug)]
struct Node {
    /// Minutes that it stands for.
    minutes: f64,
    /// (T − 24 °C) / 10 K.
    tenths: f64,
}

/// One phase.
#[derive(Clone, Copy, Debug)]
struct PhasePath {
    /// Its rate among the coefficients: a speed's, or after them the rate at rest.
    rate: u32,
    /// Where its nodes end.
    nodes_end: u32,
    /// (T − 24 °C) / 10 K at its end.
    tenths_at_end: f64,
    /// How many stages end with it.
    ends_stages: u32,
}

/// The path of one batch.
#[derive(Clone, Debug)]
pub(crate) struct DosePath {
    /// The batch's flour among [`DevelopmentCoefficients::flour`]; `None`: the reference.
    flour: Option<u32>,
    stages_at_start: u32,
    phases: Box<[PhasePath]>,
    nodes: Box<[Node]>,
}

/// Sums of a path so far.
#[derive(Clone, Debug, Default)]
pub(crate) struct PathDose {
    /// X, full developments.
    pub dose: f64,
    /// Derivative by the natural development coefficients.
    pub by_coefficient: Vec<f64>,
    /// Derivative by a shift of the whole temperature path, 1/K.
    pub by_shift: f64,
    /// Sum over phases of the squared rate at their end, 1/min².
    pub rate_squared: f64,
}

fn tenths(dough_c: f64) -> f64 {
    (dough_c - DEVELOPMENT_REFERENCE_C) / 10.0
}

impl DosePath {
    /// Walks one batch once.
    pub fn new(
        model: &HeatModel,
        heat: &HeatCoefficients,
        terms: &HeatTerms,
        walk: &mut HeatWalk,
    ) -> Self {
        let speeds = heat.friction_w_per_kg.len() as u32;
        let mut nodes = Vec::new();
        let mut phases = Vec::with_capacity(terms.phases.len());
        let setting = Setting::new(model, heat, terms);
        let mut ends = terms.phases.iter().map(|p| p.ends_stages);
        let each = |leg: &crate::thermal::Leg<'_>| {
            for_each_node(leg, |minutes, at| {
                nodes.push(Node { minutes, tenths: tenths(leg.dough_c(at)) });
            });
            phases.push(PhasePath {
                rate: leg.speed.unwrap_or(speeds),
                nodes_end: nodes.len() as u32,
                tenths_at_end: tenths(leg.dough_c(leg.minutes)),
                ends_stages: ends.next().unwrap_or(0),
            });
        };
        walk.travel(&setting, heat, terms, each, |_| ());
        Self {
            flour: terms.flour.other().map(|f| f as u32),
            stages_at_start: terms.stages_at_start,
            phases: phases.into(),
            nodes: nodes.into(),
        }
    }

    /// Calls `at_stage(stage, dose)` at the end of every stage; `sums` is the room for it.
    pub fn linearise(
        &self,
        c: &DevelopmentCoefficients,
        sums: &mut PathDose,
        mut at_stage: impl FnMut(usize, &PathDose),
    ) {
        let speeds = c.rate_per_min.len();
        let ln_q10 = c.q10.ln();
        let flour = self.flour.filter(|&f| (f as usize) < c.flour.len());
        let factor = flour.map_or(1.0, |f| c.flour[f as usize]);
        sums.dose = 0.0;
        sums.by_shift = 0.0;
        sums.rate_squared = 0.0;
        sums.by_coefficient.clear();
        sums.by_coefficient.resize(speeds + 2 + c.flour.len(), 0.0);
        let mut stage = 0;
        for _ in 0..self.stages_at_start {
            at_stage(stage, sums);
            stage += 1;
        }
        let mut from = 0;
        for phase in &self.phases {
            let index = phase.rate as usize;
            let rate = factor * c.rate_per_min.get(index).copied().unwrap_or(c.rest_per_min);
            // Minutes at 24 °C that the phase is worth, and their first moment.
            let (mut equivalent_min, mut moment) = (0.0, 0.0);
            for node in &self.nodes[from..phase.nodes_end as usize] {
                let worth = node.minutes * (ln_q10 * node.tenths).exp();
                equivalent_min += worth;
                moment += worth * node.tenths;
            }
            from = phase.nodes_end as usize;
            let dose = rate * equivalent_min;
            sums.dose += dose;
            sums.by_shift += dose * ln_q10 / 10.0;
            sums.by_coefficient[index] += factor * equivalent_min;
            sums.by_coefficient[speeds + 1] += rate * moment / c.q10;
            let at_end = rate * (ln_q10 * phase.tenths_at_end).exp();
            sums.rate_squared += at_end * at_end;
            if let Some(flour) = flour {
                sums.by_coefficient[speeds + 2 + flour as usize] = sums.dose / factor;
            }
            for _ in 0..phase.ends_stages {
                at_stage(stage, sums);
                stage += 1;
            }
        }
    }
}
