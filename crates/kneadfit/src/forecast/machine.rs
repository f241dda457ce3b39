//! A profile made ready to forecast.

use std::borrow::Cow;
use std::sync::Arc;

use super::development::DevelopmentForecaster;
use super::journey::Journey;
use super::outlook::Outlook;
use super::predictive::Predictive;
use super::{Forecast, ForecastError};
use crate::batch::{Batch, BatchError, Stage};
use crate::domain::Domain;
use crate::prior::Scale;
use crate::profile::{Profile, ProfileError, Spread};
use crate::thermal::{
    COMMON_COEFFICIENTS, FlourOf, HeatCoefficients, HeatModel, HeatTerms, HeatWalk, InputWalk,
    Uncertainties, add_input_covariance,
};

/// The coefficients of one part of a profile, with their doubt.
#[derive(Clone, Debug)]
pub(super) struct Doubted {
    /// Natural values of all coefficients.
    pub natural: Vec<f64>,
    /// Fitted values of the free ones.
    pub fitted: Vec<f64>,
    /// Which coefficients are free.
    pub free: Vec<usize>,
    /// Scales of the free ones.
    pub scales: Vec<Scale>,
    /// Covariance of the free ones on their fitted scale, row-major; `None`: unknown.
    pub covariance: Option<Vec<f64>>,
}

impl Doubted {
    /// Coefficients `from..from + count` of a profile.
    fn of(profile: &Profile, from: usize, count: usize) -> Self {
        let entries = &profile.coefficients[from..from + count];
        let names = &profile.covariance.coefficients;
        let place = |name: &str| names.iter().position(|n| n == name);
        let free: Vec<usize> = (0..count).filter(|&i| place(&entries[i].name).is_some()).collect();
        let places: Vec<usize> = free.iter().filter_map(|&i| place(&entries[i].name)).collect();
        Self {
            natural: entries.iter().map(|c| c.value).collect(),
            fitted: free.iter().map(|&i| entries[i].fitted).collect(),
            scales: free.iter().map(|&i| entries[i].scale).collect(),
            covariance: profile.covariance.matrix.as_ref().map(|matrix| {
                places.iter().flat_map(|&i| places.iter().map(move |&j| matrix[i][j])).collect()
            }),
            free,
        }
    }

    /// The same doubt of fewer free coefficients, the others being whatever they are.
    fn but_for(&self, left_out: impl Fn(usize) -> bool) -> Self {
        let p = self.free.len();
        let kept: Vec<usize> = (0..p).filter(|&k| !left_out(self.free[k])).collect();
        Self {
            natural: self.natural.clone(),
            fitted: kept.iter().map(|&k| self.fitted[k]).collect(),
            scales: kept.iter().map(|&k| self.scales[k]).collect(),
            covariance: self.covariance.as_ref().map(|matrix| {
                kept.iter().flat_map(|&i| kept.iter().map(move |&j| matrix[i * p + j])).collect()
            }),
            free: kept.iter().map(|&k| self.free[k]).collect(),
        }
    }

    /// Natural values with the free coefficients moved by `delta` on their fitted scale.
    pub fn moved(&self, delta: &[f64], natural: &mut [f64]) {
        natural.copy_from_slice(&self.natural);
        for (k, &i) in self.free.iter().enumerate() {
            if delta[k] != 0.0 {
                natural[i] = self.scales[k].natural(self.fitted[k] + delta[k]);
            }
        }
    }

    /// The gradient by the free coefficients on their fitted scale.
    pub fn on_fitted_scale(&self, by_natural: &[f64], natural: &[f64], gradient: &mut [f64]) {
        for (k, &i) in self.free.iter().enumerate() {
            gradient[k] = by_natural[i] * self.scales[k].slope(natural[i]);
        }
    }
}

/// What moves a dough's temperature beside the coefficients.
#[derive(Clone, Copy, Debug)]
pub(super) struct Beside {
    /// Variance that the inputs make, K².
    pub inputs: f64,
    /// Share of the batch's scatter.
    pub share: f64,
}

/// A profile made ready to forecast batches.
#[derive(Clone, Debug)]
pub struct Forecaster {
    pub(super) model: HeatModel,
    pub(super) speeds: Vec<Arc<str>>,
    pub(super) reference_flour: Option<Arc<str>>,
    /// The other flours.
    pub(super) flours: Vec<Arc<str>>,
    /// Of a dough of the reference flour, then of each other flour: what other flours' doughs
    /// rub says nothing of it.
    heat: Vec<Doubted>,
    pub(super) scatter: Spread,
    pub(super) uncertainties: Uncertainties,
    pub(super) domain: Domain,
    pub(super) development: Option<DevelopmentForecaster>,
}

impl Forecaster {
    /// Takes over a profile.
    ///
    /// # Errors
    ///
    /// [`ProfileError`] when the profile, made by hand, does not hold together; one that
    /// was read by [`Profile::from_json`] does.
    pub fn new(profile: &Profile) -> Result<Self, ProfileError> {
        profile.check()?;
        let speeds: Vec<Arc<str>> =
            profile.machine.speeds.iter().map(|s| s.as_str().into()).collect();
        let flours: Vec<Arc<str>> =
            profile.model.flours.iter().map(|f| f.as_str().into()).collect();
        let heat_count = speeds.len() + COMMON_COEFFICIENTS + flours.len();
        let development = profile.scatter.development.as_ref().map(|scatter| {
            let count = profile.coefficients.len() - heat_count;
            DevelopmentForecaster::new(
                profile,
                Doubted::of(profile, heat_count, count),
                scatter.clone(),
                speeds.len(),
            )
        });
        let heat = Doubted::of(profile, 0, heat_count);
        let of_flours = heat_count - flours.len();
        let own =
            |flour: Option<usize>| heat.but_for(|i| i >= of_flours && Some(i - of_flours) != flour);
        let others = (0..flours.len()).map(|flour| own(Some(flour)));
        Ok(Self {
            model: profile.model.reference,
            heat: std::iter::once(own(None)).chain(others).collect(),
            scatter: profile.scatter.dough.clone(),
            uncertainties: profile.scatter.uncertainties,
            domain: profile.domain.clone(),
            development,
            reference_flour: profile.model.reference_flour.as_deref().map(Into::into),
            flours,
            speeds,
        })
    }

    /// Forecasts a batch at the end of each of its stages, before that stage is read:
    /// readings of earlier stages are used, its own and later ones are not.
    ///
    /// # Errors
    ///
    /// [`ForecastError`].
    pub fn forecast(&self, batch: &Batch, level: f64) -> Result<Vec<Forecast>, ForecastError> {
        if !(level > 0.0 && level < 1.0) {
            return Err(ForecastError::Level { level });
        }
        Ok(self.foreseen(batch, level)?.into_iter().map(|(forecast, _)| forecast).collect())
    }

    /// The forecasts of a batch's stages, and what they are made of.
    pub(crate) fn foreseen(
        &self,
        batch: &Batch,
        level: f64,
    ) -> Result<Vec<(Forecast, Outlook<'_>)>, ForecastError> {
        let outlooks = self.outlooks(batch, level)?.into_iter().enumerate();
        let foreseen = outlooks.map(|(stage, outlook)| {
            let outside = self.domain.outside(batch, stage);
            let forecast = Forecast {
                dough_c: outlook.dough_c,
                dough_interval_c: outlook.dough.as_ref().and_then(|p| p.interval_c(level)),
                development: outlook.development.map(|g| g.grade).filter(|g| g.is_finite()),
                development_interval: outlook
                    .development
                    .and_then(|g| g.interval)
                    .filter(|(low, high)| low.is_finite() && high.is_finite()),
                outside,
            };
            (forecast, outlook)
        });
        Ok(foreseen.collect())
    }

    /// What is expected of a batch at the end of each of its stages.
    pub(super) fn outlooks(
        &self,
        batch: &Batch,
        level: f64,
    ) -> Result<Vec<Outlook<'_>>, ForecastError> {
        let terms = self.terms(batch)?;
        let coefficients = self.coefficients();
        let mut journey = self.journey(batch, &terms);
        let development = self.development.as_ref().filter(|_| terms.hydration.is_some());
        let mut outlooks = Vec::with_capacity(batch.stages.len());
        for stage in 0..batch.stages.len() {
            let beside = self.beside(&terms, &coefficients, stage);
            let ahead = journey.as_mut().and_then(|j| j.ahead(stage));
            let graded = development.map(|d| {
                let any = batch.stages[..stage].iter().any(is_read);
                let told = journey.as_ref().filter(|_| any).map(|j| (j, ahead.as_ref()));
                d.grade(self, &coefficients, &terms, batch, stage, level, beside, told)
            });
            let predictive = Predictive::new(self, Cow::Owned(terms.clone()), stage, beside, ahead);
            let dough_c = match &predictive {
                Some(predictive) => predictive.mean_c(),
                None => self.mean_c(&terms, &coefficients, stage),
            };
            if !dough_c.is_finite() {
                return Err(ForecastError::NotFinite { batch: batch.id.clone() });
            }
            outlooks.push(Outlook { dough_c, dough: predictive, development: graded });
        }
        Ok(outlooks)
    }

    /// The distribution of the dough's temperature as it will be read at the end of a
    /// stage, before it is: readings of earlier stages are used. `None` when the profile
    /// does not know its scatter (in plain least squares alone).
    ///
    /// # Errors
    ///
    /// [`ForecastError`].
    ///
    /// # Examples
    ///
    /// ```
    /// # use kneadfit::batch::{Batch, BatchLog, Reading};
    /// # use kneadfit::calibration::{Options, calibrate};
    /// # use kneadfit::charge::{Charge, Material, Phase};
    /// # use kneadfit::forecast::Forecaster;
    /// # use kneadfit::profile::{Profile, Provenance};
    /// # let charge = Charge::new(24.0)
    /// #     .with(Material::Flour, 10.0, 21.0)
    /// #     .with(Material::Water, 6.5, 12.0);
    /// let batch = Batch::new("1", charge, vec![Phase::mixing("low", 10.0)]);
    /// let log = BatchLog::new("spiral", ["low"], vec![batch.clone().read_dough(22.0)])?;
    /// let profile = Profile::new(&calibrate(&log, &Options::default())?, &Provenance::default());
    /// let forecaster = Forecaster::new(&profile)?;
    /// // Read after 10 minutes and a degree too warm; what will it be after 14?
    /// let more = vec![Phase::mixing("low", 4.0)];
    /// let on_its_way = batch.read_dough(23.0).then(more, Reading::default());
    /// let known = forecaster.predictive(&on_its_way, 1)?.ok_or("no scatter")?;
    /// assert!(known.mean_c() > known.unread_c() + 0.3);
    /// let chance = known.probability_below(25.0) - known.probability_below(23.0);
    /// assert!(chance > 0.5 && chance < 1.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn predictive(
        &self,
        batch: &Batch,
        stage: usize,
    ) -> Result<Option<Predictive<'_>>, ForecastError> {
        let terms = self.terms(batch)?;
        let stages = batch.stages.len();
        if stage >= stages {
            return Err(ForecastError::NoStage { batch: batch.id.clone(), stage, stages });
        }
        let ahead = self.journey(batch, &terms).and_then(|mut j| j.ahead(stage));
        let beside = self.beside(&terms, &self.coefficients(), stage);
        let predictive = Predictive::new(self, Cow::Owned(terms), stage, beside, ahead);
        match predictive {
            Some(p) if !p.mean_c().is_finite() => {
                Err(ForecastError::NotFinite { batch: batch.id.clone() })
            }
            predictive => Ok(predictive),
        }
    }

    /// The names of the machine's speeds, in order.
    pub fn speeds(&self) -> &[Arc<str>] {
        &self.speeds
    }

    /// The sums of a batch, of its flour.
    pub(crate) fn terms(&self, batch: &Batch) -> Result<HeatTerms, ForecastError> {
        match self.sums(batch) {
            Ok(terms) => Ok(terms),
            Err(BatchError::UnknownSpeed { batch, speed }) => {
                Err(ForecastError::UnknownSpeed { batch, speed, known: self.speeds.join(", ") })
            }
            Err(other) => Err(other.into()),
        }
    }

    /// The same, with the fault as the batch has it.
    pub(crate) fn sums(&self, batch: &Batch) -> Result<HeatTerms, BatchError> {
        let flour = self.flour_of(batch.charge.flour_name.as_deref());
        Ok(HeatTerms::new(&self.model, batch, &self.speeds)?.of_flour(flour))
    }

    pub(super) fn flour_of(&self, name: Option<&str>) -> FlourOf {
        FlourOf::named(name, self.reference_flour.as_deref(), &self.flours)
    }

    /// The heat coefficients at θ.
    pub(super) fn coefficients(&self) -> HeatCoefficients {
        let mut coefficients = self.any_coefficients();
        coefficients.set_from(&self.heat[0].natural);
        coefficients
    }

    /// The heat coefficients that matter to a dough of this flour, with their doubt.
    pub(super) fn heat_of(&self, flour: FlourOf) -> &Doubted {
        &self.heat[flour.other().map_or(0, |flour| flour + 1)]
    }

    /// Room for coefficients of this machine.
    pub(super) fn any_coefficients(&self) -> HeatCoefficients {
        HeatCoefficients::typical(&self.model, self.speeds.len()).with_flours(self.flours.len())
    }

    /// `None` where no stage but the last was read, or nothing can be made of it.
    fn journey(&self, batch: &Batch, terms: &HeatTerms) -> Option<Journey<'_>> {
        let (_, earlier) = batch.stages.split_last()?;
        earlier.iter().any(is_read).then(|| Journey::new(self, batch, terms)).flatten()
    }

    /// What moves a stage's dough temperature beside the coefficients.
    pub(super) fn beside(
        &self,
        terms: &HeatTerms,
        coefficients: &HeatCoefficients,
        stage: usize,
    ) -> Beside {
        let (mut inputs, mut shares) = ([0.0], Vec::with_capacity(1));
        add_input_covariance(
            &self.model,
            coefficients,
            terms,
            &self.uncertainties,
            &[stage as u32],
            &mut InputWalk::new(self.speeds.len()),
            &mut inputs,
            &mut shares,
        );
        Beside { inputs: inputs[0], share: shares.first().copied().unwrap_or(0.0) }
    }

    /// The dough temperature at θ at the end of a stage, °C.
    fn mean_c(&self, terms: &HeatTerms, coefficients: &HeatCoefficients, stage: usize) -> f64 {
        let mut dough_c = f64::NAN;
        HeatWalk::new(self.speeds.len()).forecast(&self.model, coefficients, terms, |s, end_c| {
            if s == stage {
                dough_c = end_c;
            }
        });
        dough_c
    }
}

fn is_read(stage: &Stage) -> bool {
    stage.reading.dough_c.is_some() || stage.reading.development.is_some()
}
