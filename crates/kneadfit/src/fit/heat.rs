//! The dough temperatures of a log as readings of the heat balance.

use std::sync::{Arc, Mutex, PoisonError};

use rayon::prelude::*;

use super::linearisation::{Linearisation, LinearisationPiece, PIECE, Readings, kept};
use super::logged::Logged;
use crate::batch::{BatchError, BatchLog};
use crate::prior::{Coefficient, Scale};
use crate::thermal::{
    FlourOf, HeatCoefficients, HeatModel, HeatTerms, HeatWalk, InputErrors, Setting, Uncertainties,
    input_variance,
};

/// The logged dough temperatures of one machine, prepared for fitting.
#[derive(Clone, Debug)]
pub struct HeatReadings {
    model: HeatModel,
    uncertainties: Uncertainties,
    scales: Vec<Scale>,
    coefficients: HeatCoefficients,
    natural: Vec<f64>,
    /// d(natural)/d(fitted) of each coefficient.
    slopes: Vec<f64>,
    room: Room,
    batches: Vec<HeatTerms>,
    logged: Arc<Logged>,
}

impl HeatReadings {
    /// Prepares the batches of `log` in which a dough temperature was read. `flours` are those
    /// with a friction of their own; every other flour counts as the reference flour.
    ///
    /// # Errors
    ///
    /// The first batch that cannot be: see [`BatchError`].
    pub fn new(
        model: HeatModel,
        uncertainties: Uncertainties,
        log: &BatchLog,
        flours: &[Arc<str>],
        table: &[Coefficient],
    ) -> Result<Self, BatchError> {
        let logged = Logged::temperatures(&log.batches);
        Self::of(model, uncertainties, log, flours, table, logged)
    }

    /// The same, `logged` being the dough temperatures of `log`.
    pub(crate) fn of(
        model: HeatModel,
        uncertainties: Uncertainties,
        log: &BatchLog,
        flours: &[Arc<str>],
        table: &[Coefficient],
        logged: Logged,
    ) -> Result<Self, BatchError> {
        Ok(Self {
            model,
            uncertainties,
            scales: table.iter().map(|c| c.scale).collect(),
            coefficients: HeatCoefficients::typical(&model, log.speeds.len())
                .with_flours(flours.len()),
            natural: vec![0.0; table.len()],
            slopes: Vec::with_capacity(table.len()),
            room: Room::new(log.speeds.len()),
            batches: terms_of(&logged.in_log, &model, log, flours)?,
            logged: Arc::new(logged),
        })
    }

    /// The temperatures that are fitted, and where in the log they stand.
    pub(crate) fn logged(&self) -> &Arc<Logged> {
        &self.logged
    }

    fn set(&mut self, fitted: &[f64]) -> bool {
        for ((natural, scale), &value) in self.natural.iter_mut().zip(&self.scales).zip(fitted) {
            *natural = scale.natural(value);
        }
        self.coefficients.set_from(&self.natural);
        self.natural.iter().all(|v| v.is_finite())
    }

    fn set_slopes(&mut self) {
        self.slopes.clear();
        self.slopes.extend(self.scales.iter().zip(&self.natural).map(|(s, &v)| s.slope(v)));
    }

    /// Room for another thread.
    fn new_room(&self) -> Room {
        Room::new(self.coefficients.friction_w_per_kg.len())
    }

    /// Residuals with the Jacobian, the covariance, or both; `false` when a number is not
    /// finite.
    fn walk(&mut self, jacobian: bool, spread: bool, into: &mut Linearisation) -> bool {
        self.set_slopes();
        let mut room = std::mem::take(&mut self.room);
        let finite = if self.batches.len() <= PIECE {
            self.walk_piece(jacobian, spread, &mut into.whole(), &mut room)
        } else {
            let new = || self.new_room();
            into.pieces()
                .into_par_iter()
                .map_init(new, |room, mut piece| {
                    self.walk_piece(jacobian, spread, &mut piece, room)
                })
                .reduce(|| true, |a, b| a & b)
        };
        self.room = room;
        finite
    }

    /// The same for some batches that follow each other.
    fn walk_piece(
        &self,
        jacobian: bool,
        spread: bool,
        into: &mut LinearisationPiece<'_>,
        room: &mut Room,
    ) -> bool {
        let Self { model, coefficients, slopes, logged, uncertainties, .. } = self;
        let Room { walk, errors } = room;
        let begin = into.begin();
        let LinearisationPiece { batches, residuals, jacobian: rows, covariance, shift, .. } = into;
        let n = self.scales.len();
        let read = uncertainties.dough_k * uncertainties.dough_k;
        let mut blocks = &mut covariance[..];
        let mut finite = true;
        for index in batches.clone() {
            let terms = &self.batches[index];
            let (start, end) = (logged.offsets[index] as usize, logged.offsets[index + 1] as usize);
            let mut next = start;
            let mut variance = 0.0;
            let setting = Setting::new(model, coefficients, terms);
            // Most batches are read once: there every matrix is a number.
            let single = end - start == 1;
            let several = spread && !single;
            if several {
                errors.start(coefficients, terms, &setting);
            }
            walk.travel(
                &setting,
                coefficients,
                terms,
                |_| (),
                |stop| {
                    if next == end || logged.stages[next] as usize != stop.stage {
                        return;
                    }
                    if jacobian {
                        let at = next - begin;
                        residuals[at] = stop.dough_c - logged.values[next];
                        finite &= stop.dough_c.is_finite();
                        let mut row = rows[at * n..(at + 1) * n].iter_mut().zip(slopes);
                        stop.by_coefficient().for_each(|by| {
                            if let Some((to, slope)) = row.next() {
                                *to = by * slope;
                            }
                        });
                    }
                    if several {
                        errors.push(stop, uncertainties);
                    } else if spread {
                        let by_inputs =
                            input_variance(coefficients, terms, &setting, stop, uncertainties);
                        variance = read + by_inputs;
                    }
                    if spread {
                        shift[next - begin] = stop.scatter_share();
                    }
                    next += 1;
                },
            );
            if spread {
                let count = end - start;
                let (block, rest) = blocks.split_at_mut(count * count);
                blocks = rest;
                if single {
                    block[0] = variance;
                    continue;
                }
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

/// The sums of the batches at `in_log`, or the first batch that cannot be.
fn terms_of(
    in_log: &[u32],
    model: &HeatModel,
    log: &BatchLog,
    flours: &[Arc<str>],
) -> Result<Vec<HeatTerms>, BatchError> {
    let terms = |index: &u32| {
        let batch = &log.batches[*index as usize];
        let terms = HeatTerms::new(model, batch, &log.speeds)?;
        Ok(terms.of_flour(FlourOf::among(batch.charge.flour_name.as_ref(), flours)))
    };
    if in_log.len() <= PIECE {
        return in_log.iter().map(terms).collect();
    }
    let first: Mutex<Option<(u32, BatchError)>> = Mutex::new(None);
    let or_fault = |index: &u32| {
        terms(index).unwrap_or_else(|error| {
            let mut first = first.lock().unwrap_or_else(PoisonError::into_inner);
            if first.as_ref().is_none_or(|(before, _)| index < before) {
                *first = Some((*index, error));
            }
            HeatTerms::default()
        })
    };
    let mut all = Vec::new();
    in_log.par_iter().with_min_len(PIECE).map(or_fault).collect_into_vec(&mut all);
    match first.into_inner().unwrap_or_else(PoisonError::into_inner) {
        Some((_, error)) => Err(error),
        None => Ok(all),
    }
}

/// Room to walk batch after batch.
#[derive(Clone, Debug)]
struct Room {
    walk: HeatWalk,
    errors: InputErrors,
}

impl Room {
    fn new(speeds: usize) -> Self {
        Self { walk: HeatWalk::new(speeds), errors: InputErrors::default() }
    }
}

impl Default for Room {
    fn default() -> Self {
        Self::new(0)
    }
}

impl Readings for HeatReadings {
    fn thinned(&self, every: usize) -> Self {
        let kept = kept(every, self.batches.len());
        Self {
            batches: kept.iter().map(|&i| self.batches[i].clone()).collect(),
            logged: Arc::new(self.logged.only(&kept)),
            scales: self.scales.clone(),
            coefficients: self.coefficients.clone(),
            natural: self.natural.clone(),
            slopes: self.slopes.clone(),
            room: self.room.clone(),
            model: self.model,
            uncertainties: self.uncertainties,
        }
    }

    fn shape(&self) -> Linearisation {
        Linearisation::with_shape(self.scales.len(), self.logged.counts())
    }

    fn evaluate(&mut self, fitted: &[f64], with_jacobian: bool, into: &mut Linearisation) -> bool {
        if !self.set(fitted) {
            return false;
        }
        if with_jacobian {
            return self.walk(true, false, into);
        }
        let Self { model, coefficients, room, logged, .. } = self;
        let mut finite = true;
        for (index, terms) in self.batches.iter().enumerate() {
            let (mut next, end) =
                (logged.offsets[index] as usize, logged.offsets[index + 1] as usize);
            room.walk.forecast(model, coefficients, terms, |stage, dough_c| {
                if next < end && logged.stages[next] as usize == stage {
                    into.residuals[next] = dough_c - logged.values[next];
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
