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
        let mut seen = Seen::nothing(speeds);
        batches.into_iter().for_each(|batch| seen.add(batch));
        seen.domain()
    }

    /// Least and most minutes that were logged at a speed (or of rest); `None`: none at all.
    pub(crate) fn of_minutes(&self, speed: &str) -> Option<(f64, f64)> {
        let named = |r: &&InputRange| r.input.strip_prefix("minutes_") == Some(speed);
        self.ranges.iter().find(named).map(|r| (r.least, r.most))
    }

    /// The most that was logged of an input.
    pub(crate) fn most(&self, input: &str) -> Option<f64> {
        self.ranges.iter().find(|r| r.input == input).map(|r| r.most)
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
        each_charge_input(&batch.charge, |input, value| ask(CHARGE_INPUTS[input], value));
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
            && batch.charge.flour_kg() > 0.0
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

/// Whether two names are one; names of one log are mostly one string in memory.
fn same(a: &Arc<str>, b: &Arc<str>) -> bool {
    Arc::ptr_eq(a, b) || a == b
}

/// What was seen of some batches that follow each other.
#[derive(Clone, Debug)]
pub(crate) struct Seen<'a> {
    speeds: &'a [Arc<str>],
    flours: Vec<&'a Arc<str>>,
    /// As [`CHARGE_INPUTS`].
    inputs: [Span; CHARGE_INPUTS.len()],
    /// Minutes at each speed, then of rest.
    columns: Vec<Span>,
    minutes: Vec<f64>,
    /// How many inputs were met.
    met: usize,
}

impl<'a> Seen<'a> {
    /// Nothing yet, of a machine with these speeds.
    pub fn nothing(speeds: &'a [Arc<str>]) -> Self {
        Self {
            speeds,
            flours: Vec::new(),
            inputs: [Span::default(); CHARGE_INPUTS.len()],
            columns: vec![Span::default(); speeds.len() + 1],
            minutes: vec![0.0; speeds.len() + 1],
            met: 0,
        }
    }

    /// Takes in one more batch.
    pub fn add(&mut self, batch: &'a Batch) {
        let Self { speeds, flours, inputs, columns, minutes, met } = self;
        each_charge_input(&batch.charge, |input, value| inputs[input].widen(value, met));
        minutes.fill(0.0);
        for stage in &batch.stages {
            for phase in &stage.phases {
                let rest = || phase.is_rest().then_some(speeds.len());
                let speed = speeds.iter().position(|s| same(s, &phase.speed));
                if let Some(column) = speed.or_else(rest) {
                    minutes[column] += phase.minutes;
                }
            }
            for (column, minutes) in columns.iter_mut().zip(&*minutes) {
                column.widen(*minutes, met);
            }
        }
        if let Some(flour) = &batch.charge.flour_name
            && !flours.iter().any(|f| same(f, flour))
        {
            flours.push(flour);
        }
    }

    /// With what was seen of the batches that follow.
    pub fn and(mut self, next: &Self) -> Self {
        let mut later: Vec<(&mut Span, &Span)> =
            self.inputs.iter_mut().chain(&mut self.columns).zip(next.spans()).collect();
        // In the order in which those were met.
        later.sort_by_key(|(_, span)| span.first);
        for (span, next) in later.into_iter().filter(|(_, next)| next.least <= next.most) {
            span.widen(next.least, &mut self.met);
            span.widen(next.most, &mut self.met);
        }
        for flour in &next.flours {
            if !self.flours.iter().any(|f| same(f, flour)) {
                self.flours.push(flour);
            }
        }
        self
    }

    fn spans(&self) -> impl Iterator<Item = &Span> {
        self.inputs.iter().chain(&self.columns)
    }

    /// The ranges of what was seen.
    pub fn domain(&self) -> Domain {
        let columns = self.speeds.iter().map(AsRef::as_ref).chain([REST]);
        let names = CHARGE_INPUTS
            .into_iter()
            .map(str::to_owned)
            .chain(columns.map(|name| format!("minutes_{name}")));
        let mut named: Vec<(usize, InputRange)> = self
            .spans()
            .zip(names)
            .filter(|(span, _)| span.least <= span.most)
            .map(|(s, input)| (s.first, InputRange { input, least: s.least, most: s.most }))
            .collect();
        named.sort_by_key(|(first, _)| *first);
        Domain {
            ranges: named.into_iter().map(|(_, range)| range).collect(),
            flours: self.flours.iter().map(|f| f.to_string()).collect(),
        }
    }
}

/// The range of one input so far.
#[derive(Clone, Copy, Debug)]
struct Span {
    least: f64,
    most: f64,
    /// How many others were met before it.
    first: usize,
}

impl Default for Span {
    fn default() -> Self {
        Self { least: f64::INFINITY, most: f64::NEG_INFINITY, first: 0 }
    }
}

impl Span {
    #[inline]
    fn widen(&mut self, value: f64, met: &mut usize) {
        // Most values lie within what was met before them.
        if (self.least..=self.most).contains(&value) {
            return;
        }
        if self.least > self.most {
            self.first = *met;
            *met += 1;
        }
        self.least = self.least.min(value);
        self.most = self.most.max(value);
    }
}

/// The inputs of a charge by name.
const CHARGE_INPUTS: [&str; 10] = [
    "flour_c",
    "water_c",
    "preferment_c",
    "other_c",
    "room_c",
    "bowl_c",
    "dough_kg",
    "hydration",
    "ice_share",
    "preferment_share",
];

/// Calls `at(input, value)` for the inputs that a charge has, numbered as in
/// [`CHARGE_INPUTS`].
fn each_charge_input(charge: &Charge, mut at: impl FnMut(usize, f64)) {
    // Mass, and mass by temperature, of what is of one kind.
    let mut sums = [(0.0, 0.0); 4];
    let (mut flour_kg, mut water_kg, mut ice_kg, mut all_kg) = (0.0, 0.0, 0.0, 0.0);
    for i in &charge.ingredients {
        all_kg += i.mass_kg;
        let kind = match i.material {
            Material::Flour => {
                flour_kg += i.mass_kg;
                0
            }
            Material::Water => {
                water_kg += i.mass_kg;
                1
            }
            Material::Ice => {
                water_kg += i.mass_kg;
                ice_kg += i.mass_kg;
                continue;
            }
            Material::Preferment { hydration } => {
                flour_kg += i.mass_kg / (1.0 + hydration);
                water_kg += i.mass_kg * hydration / (1.0 + hydration);
                2
            }
            Material::Other { .. } => 3,
            Material::Salt | Material::Sugar | Material::Fat => continue,
        };
        sums[kind].0 += i.mass_kg;
        sums[kind].1 += i.mass_kg * i.temperature_c;
    }
    for (kind, (mass, heat)) in sums.into_iter().enumerate() {
        if mass > 0.0 {
            at(kind, heat / mass);
        }
    }
    at(4, charge.room_c);
    if let Some(bowl_c) = charge.bowl_c {
        at(5, bowl_c);
    }
    at(6, all_kg);
    if flour_kg > 0.0 {
        at(7, water_kg / flour_kg);
    }
    if water_kg > 0.0 {
        at(8, ice_kg / water_kg);
    }
    at(9, sums[2].0 / all_kg);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::Reading;
    use crate::charge::Phase;

    /// Wherever a log is cut in two, both parts together say what the whole says, in its order.
    #[test]
    fn what_was_seen_adds_up_over_the_edges_of_pieces() {
        let mix = |i: u32| {
            let warm = 10.0 + f64::from(i * 7 % 5);
            let mut charge = Charge::new(20.0 + warm).with(Material::Flour, 10.0, 2.0 * warm);
            if i > 1 {
                charge =
                    charge.with(Material::Water, 6.0, warm).of_flour(["b", "a"][i as usize % 2]);
            }
            if i > 2 {
                charge = charge.in_bowl_at(warm);
            }
            let phases = vec![Phase::mixing(["low", "high"][i as usize % 2], warm)];
            Batch::new(i.to_string(), charge, phases)
        };
        let (batches, speeds) =
            ((0..6).map(mix).collect::<Vec<_>>(), ["low".into(), "high".into()]);
        let seen = |batches| {
            let mut seen = Seen::nothing(&speeds);
            for batch in batches {
                seen.add(batch);
            }
            seen
        };
        let whole = Domain::of(&batches, &speeds);
        assert_eq!(whole.flours, ["b", "a"]);
        for cut in 0..=batches.len() {
            assert_eq!(seen(&batches[..cut]).and(&seen(&batches[cut..])).domain(), whole, "{cut}");
        }
    }

    /// Minutes are totals: those of a second stage come on top of the first's.
    #[test]
    fn minutes_add_up_over_the_stages_of_a_batch() {
        let charge = Charge::new(24.0).with(Material::Flour, 10.0, 21.0);
        let batch = Batch::new("1", charge, vec![Phase::mixing("low", 4.0)])
            .then(vec![Phase::mixing("low", 3.0), Phase::rest(5.0)], Reading::default());
        let domain = Domain::of(&[batch], &["low".into()]);
        assert_eq!(domain.of_minutes("low"), Some((4.0, 7.0)));
        assert_eq!(domain.of_minutes(REST), Some((0.0, 5.0)));
        assert_eq!(domain.of_minutes("high"), None);
        assert_eq!(domain.most("room_c"), Some(24.0));
    }
}
