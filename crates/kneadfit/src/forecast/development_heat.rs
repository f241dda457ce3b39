//! What friction adds over one full development, of one dough at each speed.

use std::sync::Arc;

use super::ForecastError;
use super::bound::spread_of;
use super::law::tail;
use super::machine::{Doubted, Forecaster};
use crate::batch::Batch;
use crate::numeric::normal_quantile;
use crate::numeric::quantiles::student_t_for_level;
use crate::profile::Spread;
use crate::thermal::{COMMON_COEFFICIENTS, FlourOf, HeatTerms, Setting};
use crate::units::KJ_PER_MIN_PER_W;

/// What friction adds over one full development at a speed, by which machines are compared.
#[derive(Clone, Debug, PartialEq)]
pub struct DevelopmentHeat {
    /// The speed's name.
    pub speed: Arc<str>,
    /// Warmth of friction over one full development, K.
    pub heat_k: f64,
    /// Its interval, K; `None` where the doubt of the speed's friction or of its rate is
    /// unknown.
    pub interval_k: Option<(f64, f64)>,
}

impl Forecaster {
    /// Warmth that friction adds to this dough over one full development, at each speed.
    ///
    /// The dough stays at the reference temperature, so that neither softening nor Q10 has a
    /// say; its charge, its hydration, its flour and the bowl do:
    ///
    /// ```text
    /// ΔT = 0.06 q_s ψ m (m/m_ref)^β e^(−γ(H−H_ref)) / (C κ_s f)
    /// ln ΔT ± z √(gᵀΣg),   g: the gradient of ln ΔT by the fitted coefficients
    /// ```
    ///
    /// The interval holds the truth with a probability of `level`; a flour that is named but
    /// not in the profile widens it. What the batch is mixed for does not matter.
    ///
    /// Empty where the profile knows no development, and for a batch without flour.
    ///
    /// # Errors
    ///
    /// [`ForecastError`] as for [`Forecaster::forecast`].
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::batch::{Batch, BatchLog};
    /// use kneadfit::calibration::{Options, calibrate};
    /// use kneadfit::charge::{Charge, Material, Phase};
    /// use kneadfit::forecast::Forecaster;
    /// use kneadfit::profile::{Profile, Provenance};
    ///
    /// let dough = |kg: f64| {
    ///     let charge = Charge::new(24.0)
    ///         .with(Material::Flour, kg, 21.0)
    ///         .with(Material::Water, 0.65 * kg, 12.0);
    ///     Batch::new("1", charge, vec![Phase::mixing("low", 10.0)])
    /// };
    /// let batch = dough(10.0).read_dough(22.0).read_development(0.8);
    /// let log = BatchLog::new("spiral", ["low"], vec![batch])?;
    /// let profile = Profile::new(&calibrate(&log, &Options::default())?, &Provenance::default());
    /// let forecaster = Forecaster::new(&profile)?;
    /// let usual = &forecaster.development_heat(&dough(10.0), 0.95)?[0];
    /// // A small dough in the same bowl has more metal to warm.
    /// let small = &forecaster.development_heat(&dough(2.0), 0.95)?[0];
    /// assert!(small.heat_k < usual.heat_k);
    /// let (low_k, high_k) = usual.interval_k.ok_or("no doubt is known")?;
    /// assert!(low_k < usual.heat_k && usual.heat_k < high_k);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn development_heat(
        &self,
        batch: &Batch,
        level: f64,
    ) -> Result<Vec<DevelopmentHeat>, ForecastError> {
        if !(level > 0.0 && level < 1.0) {
            return Err(ForecastError::Level { level });
        }
        let terms = self.terms(batch)?;
        let Some(development) = self.development.as_ref().filter(|_| terms.hydration.is_some())
        else {
            return Ok(Vec::new());
        };
        let coefficients = self.coefficients();
        let setting = Setting::new(&self.model, &coefficients, &terms);
        let speeds = self.speeds.iter().enumerate();
        let heats = speeds.map(|(index, speed)| {
            let power_w = coefficients.friction_w_per_kg[index] * setting.power_kg;
            let warming = KJ_PER_MIN_PER_W * power_w / setting.capacity;
            let (rate, of_rate) = development.ln_rate(index, terms.flour, level);
            let heat_k = warming / rate;
            let of_warming = self.ln_warming_half(index, &terms, &setting, level);
            let interval_k = of_warming.zip(of_rate).map(|(a, b)| {
                let factor = a.hypot(b).exp();
                (heat_k / factor, heat_k * factor)
            });
            let finite = |(low, high): &(f64, f64)| low.is_finite() && high.is_finite();
            let interval_k = interval_k.filter(finite);
            DevelopmentHeat { speed: speed.clone(), heat_k, interval_k }
        });
        Ok(heats.collect())
    }

    /// Half of the interval of ln(friction power / capacity) at a speed; `None`: unknown.
    fn ln_warming_half(
        &self,
        speed: usize,
        terms: &HeatTerms,
        setting: &Setting,
        level: f64,
    ) -> Option<f64> {
        let speeds = self.speeds.len();
        let heat = self.heat_of(terms.flour);
        let mut by_natural = vec![0.0; heat.natural.len()];
        by_natural[speed] = 1.0 / heat.natural[speed];
        // In the order of `HeatCoefficients::to_vec`: exchange, bowl, wetting, then these.
        by_natural[speeds + 1] = -1.0 / setting.capacity;
        by_natural[speeds + 3] = terms.ln_charge_ratio;
        by_natural[speeds + 4] = -terms.hydration_offset;
        if let Some(flour) = terms.flour.other() {
            let place = speeds + COMMON_COEFFICIENTS + flour;
            by_natural[place] = 1.0 / heat.natural[place];
        }
        let beside = match (terms.flour, &self.scatter) {
            (FlourOf::Unknown, Spread::Mixture { .. }) => self.uncertainties.flour_friction.powi(2),
            _ => 0.0,
        };
        half(heat, speed, &by_natural, beside, &self.scatter, level)
    }
}

/// Half of the interval of a function with this gradient by natural coefficients, `beside`
/// its further variance. `None` where the doubt is unknown or `main` is held.
pub(super) fn half(
    doubted: &Doubted,
    main: usize,
    by_natural: &[f64],
    beside: f64,
    scatter: &Spread,
    level: f64,
) -> Option<f64> {
    let covariance = doubted.covariance.as_ref().filter(|_| doubted.free.contains(&main))?;
    let mut gradient = vec![0.0; doubted.free.len()];
    doubted.on_fitted_scale(by_natural, &doubted.natural, &mut gradient);
    let variance = spread_of(covariance, &gradient, &mut vec![0.0; gradient.len()]) + beside;
    let z = match scatter {
        Spread::Mixture { .. } => -normal_quantile(tail(level)),
        Spread::StudentT { sd, dof } => sd.map(|_| student_t_for_level(level, *dof as f64))?,
    };
    (variance > 0.0).then(|| z * variance.sqrt()).filter(|half| half.is_finite())
}
