//! The dough temperatures of a log as readings of the heat balance.

use super::linearisation::{Linearisation, Readings, kept, kept_groups, kept_offsets};
use crate::batch::{BatchError, BatchLog};
use crate::prior::{Coefficient, Scale};
use crate::thermal::{
    HeatCoefficients, HeatModel, HeatTerms, HeatWalk, InputErrors, Setting, Uncertainties,
};

/// The logged dough temperatures of one machine, prepared for fitting.
#[derive(Clone, Debug)]
pub struct HeatReadings {
    model: HeatModel,
    uncertainties: Uncertainties,
    scales: Vec<Scale>,
    coefficients: HeatCoefficients,
    natural: Vec<f64>,
    walk: HeatWalk,
    batches: Vec<HeatTerms>,
    /// For each batch with readings, its place in the log.
    in_log: Vec<u32>,
    /// Stage of each reading within its batch.
    stages: Vec<u32>,
    offsets: Vec<u32>,
    observed_c: Vec<f64>,
    errors: InputErrors,
}

impl HeatReadings {
    /// Prepares the batches of `log` in which a dough temperature was read.
    ///
    /// # Errors
    ///
    /// The first batch that cannot be: see [`BatchError`].
    pub fn new(
        model: HeatModel,
        uncertainties: Uncertainties,
        log: &BatchLog,
        table: &[Coefficient],
    ) -> Result<Self, BatchError> {
        let mut readings = Self {
            model,
            uncertainties,
            scales: table.iter().map(|c| c.scale).collect(),
            coefficients: HeatCoefficients::typical(&model, log.speeds.len()),
            natural: vec![0.0; table.len()],
            walk: HeatWalk::new(log.speeds.len()),
            batches: Vec::with_capacity(log.batches.len()),
            in_log: Vec::with_capacity(log.batches.len()),
            stages: Vec::with_capacity(log.batches.len()),
            offsets: vec![0],
            observed_c: Vec::with_capacity(log.batches.len()),
            errors: InputErrors::default(),
        };
        for (index, batch) in log.batches.iter().enumerate() {
            let before = readings.stages.len();
            for (stage, dough_c) in
                batch.stages.iter().enumerate().filter_map(|(i, s)| Some((i, s.reading.dough_c?)))
            {
                readings.stages.push(stage as u32);
                readings.observed_c.push(dough_c);
            }
            if readings.stages.len() > before {
                readings.batches.push(HeatTerms::new(&model, batch, &log.speeds)?);
                readings.in_log.push(index as u32);
                readings.offsets.push(readings.stages.len() as u32);
            }
        }
        Ok(readings)
    }

    /// For each batch that is fitted, its place in the log.
    pub fn in_log(&self) -> &[u32] {
        &self.in_log
    }

    /// Stage within its batch of each reading, and the temperature read, °C.
    pub fn observed(&self) -> impl Iterator<Item = (u32, f64)> + '_ {
        self.stages.iter().copied().zip(self.observed_c.iter().copied())
    }

    /// The sums of each batch that is fitted.
    pub fn terms(&self) -> &[HeatTerms] {
        &self.batches
    }

    fn set(&mut self, fitted: &[f64]) -> bool {
        for ((natural, scale), &value) in self.natural.iter_mut().zip(&self.scales).zip(fitted) {
            *natural = scale.natural(value);
        }
        self.coefficients.set_from(&self.natural);
        self.natural.iter().all(|v| v.is_finite())
    }

    /// Residuals with the Jacobian, the covariance, or both; `false` when a number is not
    /// finite.
    fn walk(&mut self, jacobian: bool, spread: bool, into: &mut Linearisation) -> bool {
        let n = self.scales.len();
        let Self { model, coefficients, natural, scales, walk, errors, .. } = self;
        let slopes: Vec<f64> = scales.iter().zip(&*natural).map(|(s, &v)| s.slope(v)).collect();
        let read = self.uncertainties.dough_k * self.uncertainties.dough_k;
        let mut finite = true;
        for (index, terms) in self.batches.iter().enumerate() {
            let (start, end) = (self.offsets[index] as usize, self.offsets[index + 1] as usize);
            let mut next = start;
            let setting = Setting::new(model, coefficients, terms);
            if spread {
                errors.start(coefficients, terms, &setting);
            }
            walk.travel(
                &setting,
                coefficients,
                terms,
                |_| (),
                |stop| {
                    if next == end || self.stages[next] as usize != stop.stage {
                        return;
                    }
                    if jacobian {
                        into.residuals[next] = stop.dough_c - self.observed_c[next];
                        finite &= stop.dough_c.is_finite();
                        let row = &mut into.jacobian[next * n..(next + 1) * n];
                        for ((to, by), slope) in
                            row.iter_mut().zip(stop.by_coefficient()).zip(&slopes)
                        {
                            *to = by * slope;
                        }
                    }
                    if spread {
                        errors.push(stop, &self.uncertainties);
                    }
                    next += 1;
                },
            );
            if spread {
                let count = end - start;
                let begin = into.blocks[index] as usize;
                let block = &mut into.covariance[begin..begin + count * count];
                block.fill(0.0);
                for i in 0..count {
                    block[i * count + i] = read;
                }
                errors.add_to(block);
            }
        }
        finite
    }
}

impl Readings for HeatReadings {
    fn thinned(&self, every: usize) -> Self {
        let kept = kept(every, self.batches.len());
        Self {
            batches: kept.clone().map(|i| self.batches[i].clone()).collect(),
            in_log: kept.clone().map(|i| self.in_log[i]).collect(),
            stages: kept_groups(&self.stages, &self.offsets, kept.clone()),
            observed_c: kept_groups(&self.observed_c, &self.offsets, kept.clone()),
            offsets: kept_offsets(&self.offsets, kept),
            scales: self.scales.clone(),
            coefficients: self.coefficients.clone(),
            natural: self.natural.clone(),
            walk: self.walk.clone(),
            errors: InputErrors::default(),
            model: self.model,
            uncertainties: self.uncertainties,
        }
    }

    fn shape(&self) -> Linearisation {
        Linearisation::with_shape(
            self.scales.len(),
            self.offsets.windows(2).map(|w| (w[1] - w[0]) as usize),
        )
    }

    fn evaluate(&mut self, fitted: &[f64], with_jacobian: bool, into: &mut Linearisation) -> bool {
        if !self.set(fitted) {
            return false;
        }
        if with_jacobian {
            return self.walk(true, false, into);
        }
        let Self { model, coefficients, walk, .. } = self;
        let mut finite = true;
        for (index, terms) in self.batches.iter().enumerate() {
            let (mut next, end) = (self.offsets[index] as usize, self.offsets[index + 1] as usize);
            walk.forecast(model, coefficients, terms, |stage, dough_c| {
                if next < end && self.stages[next] as usize == stage {
                    into.residuals[next] = dough_c - self.observed_c[next];
                    finite &= dough_c.is_finite();
                    next += 1;
                }
            });
        }
        finite
    }

    fn spread(&mut self, fitted: &[f64], into: &mut Linearisation) {
        self.set(fitted);
        self.walk(false, true, into);
    }

    fn linearise(&mut self, fitted: &[f64], into: &mut Linearisation) -> bool {
        self.set(fitted) && self.walk(true, true, into)
    }
}
