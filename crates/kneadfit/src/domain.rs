//! The range of everything that was logged: where a forecast is supported by batches.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::batch::Batch;
use crate::charge::{Charge, Material, REST};

/// The range of one input.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct InputRange {
    /// Its name: a column of the log where there is one (`flour_c`, `minutes_low`), else
    /// `dough_kg`, `hydration`, `ice_share` (of the formula's water), `preferment_share`
    /// (of the dough).
    pub input: String,
    /// Least logged value, in the unit that the name carries.
    pub least: f64,
    /// Largest logged value.
    pub most: f64,
}

/// What was logged of one machine.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Domain {
    /// Ranges of the inputs, in a fixed order.
    pub ranges: Vec<InputRange>,
    /// Names of the flours that were logged.
    pub flours: Vec<String>,
}

/// An input of a batch that lies outside what was logged.
#[derive(Clone, Debug, PartialEq)]
pub struct Outside {
    /// Its name, as in [`InputRange::input`], or `flour`.
    pub input: String,
    /// The batch's value; `None` for a flour.
    pub value: Option<f64>,
    /// The nearest value that was logged; `None` where there is none at all.
    pub nearest: Option<f64>,
}

impl Domain {
    /// The ranges over the batches of a log.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::batch::Batch;
    /// use kneadfit::charge::{Charge, Material, Phase};
    /// use kneadfit::domain::Domain;
    ///
    /// let mix = |room_c| {
    ///     let charge = Charge::new(room_c)
    ///         .with(Material::Flour, 10.0, 21.0)
    ///         .with(Material::Water, 6.5, 12.0);
    ///     Batch::new("1", charge, vec![Phase::mixing("low", 4.0)])
    /// };
    /// let domain = Domain::of(&[mix(20.0), mix(24.0)], &["low".into()]);
    /// assert!(domain.outside(&mix(22.0), 0).is_empty());
    /// let outside = domain.outside(&mix(28.0), 0);
    /// assert_eq!(outside[0].input, "room_c");
    /// assert_eq!(outside[0].nearest, Some(24.0));
    /// ```
    pub fn of<'a>(batches: impl IntoIterator<Item = &'a Batch>, speeds: &[Arc<str>]) -> Self {
        let mut domain = Self::default();
        let columns: Vec<(&str, String)> = speeds
            .iter()
            .map(AsRef::as_ref)
            .chain([REST])
            .map(|name| (name, format!("minutes_{name}")))
            .collect();
        for batch in batches {
            for (input, value) in charge_inputs(&batch.charge) {
                domain.widen(input, value);
            }
            for (name, column) in &columns {
                let mut minutes = 0.0;
                for stage in &batch.stages {
                    minutes += minutes_at(&stage.phases, name);
                    domain.widen(column, minutes);
                }
            }
            if let Some(flour) = &batch.charge.flour_name
                && !domain.flours.iter().any(|f| **f == **flour)
            {
                domain.flours.push(flour.to_string());
            }
        }
        domain
    }

    fn widen(&mut self, input: &str, value: f64) {
        match self.ranges.iter_mut().find(|r| r.input == input) {
            Some(range) => {
                range.least = range.least.min(value) + 0.0;
                range.most = range.most.max(value) + 0.0;
            }
            None => {
                // The sum of no minutes is −0.0, which nobody writes; with 0.0 it is 0.0.
                let value = value + 0.0;
                self.ranges.push(InputRange { input: input.to_owned(), least: value, most: value });
            }
        }
    }

    /// The inputs of a batch, mixed until the end of `stage`, that lie outside what was
    /// logged. Rounding by 1e-9 of the value does not count.
    pub fn outside(&self, batch: &Batch, stage: usize) -> Vec<Outside> {
        let mut found = Vec::new();
        let mut ask = |input: &str, value: f64| {
            let range = self.ranges.iter().find(|r| r.input == input);
            let slack = 1e-9 * value.abs().max(1.0);
            let nearest = match range {
                Some(r) if value < r.least - slack => Some(r.least),
                Some(r) if value > r.most + slack => Some(r.most),
                Some(_) => return,
                None => None,
            };
            found.push(Outside { input: input.to_owned(), value: Some(value), nearest });
        };
        for (input, value) in charge_inputs(&batch.charge) {
            ask(input, value);
        }
        let mut names: Vec<&str> = Vec::new();
        for phase in batch.stages.iter().take(stage + 1).flat_map(|s| &s.phases) {
            if phase.minutes > 0.0 && !names.contains(&&*phase.speed) {
                names.push(&phase.speed);
            }
        }
        // A speed that was logged with minutes in every batch is missing when it has none.
        for range in &self.ranges {
            if let Some(name) = range.input.strip_prefix("minutes_")
                && !names.contains(&name)
                && range.least > 0.0
            {
                names.push(name);
            }
        }
        for name in names {
            let minutes =
                batch.stages.iter().take(stage + 1).map(|s| minutes_at(&s.phases, name)).sum();
            ask(&format!("minutes_{name}"), minutes);
        }
        if let Some(flour) = &batch.charge.flour_name
            && !self.flours.is_empty()
            && !self.flours.iter().any(|f| **f == **flour)
        {
            found.push(Outside { input: "flour".into(), value: None, nearest: None });
        }
        found
    }
}

fn minutes_at(phases: &[crate::charge::Phase], name: &str) -> f64 {
    phases.iter().filter(|p| &*p.speed == name).map(|p| p.minutes).sum()
}

/// The inputs that a charge has, by name.
fn charge_inputs(charge: &Charge) -> Vec<(&'static str, f64)> {
    let mut inputs = Vec::new();
    // Temperature of all that is of one kind: the mean by mass.
    let mut temperature = |name, wanted: fn(&Material) -> bool| {
        let of = charge.ingredients.iter().filter(|i| wanted(&i.material) && i.mass_kg > 0.0);
        let (mass, heat) =
            of.fold((0.0, 0.0), |(m, h), i| (m + i.mass_kg, h + i.mass_kg * i.temperature_c));
        if mass > 0.0 {
            inputs.push((name, heat / mass));
        }
    };
    temperature("flour_c", |m| matches!(m, Material::Flour));
    temperature("water_c", |m| matches!(m, Material::Water));
    temperature("preferment_c", |m| matches!(m, Material::Preferment { .. }));
    temperature("other_c", |m| matches!(m, Material::Other { .. }));
    inputs.push(("room_c", charge.room_c));
    if let Some(bowl_c) = charge.bowl_c {
        inputs.push(("bowl_c", bowl_c));
    }
    inputs.push(("dough_kg", charge.mass_kg()));
    if let Some(hydration) = charge.hydration() {
        inputs.push(("hydration", hydration));
    }
    let water_kg = charge.water_kg();
    if water_kg > 0.0 {
        inputs.push(("ice_share", charge.mass_of_kg(|m| matches!(m, Material::Ice)) / water_kg));
    }
    let preferment_kg = charge.mass_of_kg(|m| matches!(m, Material::Preferment { .. }));
    inputs.push(("preferment_share", preferment_kg / charge.mass_kg()));
    inputs
}
