//! What a log can teach about its machine, and what it cannot.

use std::fmt;
use std::sync::Arc;

use kneadfit::batch::BatchLog;
use kneadfit::charge::{Charge, Material, REST};
use serde::Serialize;

use crate::gap_finder::gaps_of;
pub use crate::untold::Gap;

/// The least and the most of one quantity over a log.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Range {
    /// The least.
    pub least: f64,
    /// The most.
    pub most: f64,
    /// In how many batches it was logged.
    pub batches: usize,
}

impl Range {
    pub(crate) fn of(values: impl Iterator<Item = f64>) -> Option<Self> {
        values.fold(None, |range, value| {
            Some(match range {
                None => Self { least: value, most: value, batches: 1 },
                Some(Self { least, most, batches }) => {
                    Self { least: least.min(value), most: most.max(value), batches: batches + 1 }
                }
            })
        })
    }

    pub(crate) fn varies(&self) -> bool {
        self.most > self.least
    }
}

/// How one speed, or rest, was used.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpeedUse {
    /// The speed's name.
    pub speed: Arc<str>,
    /// Total minutes of a batch at it, over all batches, those with none too.
    pub minutes: Range,
    /// How many batches used it.
    pub used_in: usize,
}

/// What one machine's log holds.
///
/// # Examples
///
/// ```
/// use kneadfit::batch::{Batch, BatchLog};
/// use kneadfit::charge::{Charge, Material, Phase};
/// use kneadfit_log::summary::{Gap, Summary};
///
/// let batch = |id: &str, low: f64| {
///     let charge = Charge::new(24.0).with(Material::Flour, 10.0, 21.0).with(Material::Water, 6.5, 12.0);
///     Batch::new(id, charge, vec![Phase::mixing("low", low), Phase::mixing("high", 2.0 * low)])
///         .read_dough(24.0)
/// };
/// let log = BatchLog::new("spiral", ["low", "high"], vec![batch("1", 3.0), batch("2", 4.0)])?;
/// let summary = Summary::of(&log);
/// assert_eq!(summary.minutes[1].minutes.most, 8.0);
/// assert!(summary.gaps.contains(&Gap::NoGrades));
/// assert!(summary.to_string().contains("minutes at low and at high always rose together"));
/// # Ok::<(), kneadfit::batch::BatchError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Summary {
    /// The machine.
    pub machine: Arc<str>,
    /// How many batches.
    pub batches: usize,
    /// How many dough temperatures were read.
    pub dough_temperatures: usize,
    /// How many grades were read.
    pub grades: usize,
    /// The first day and the last; `None`: no batch has a date.
    pub days: Option<(Arc<str>, Arc<str>)>,
    /// Flour temperature, °C; `None`: no flour, as for the others below.
    pub flour_c: Option<Range>,
    /// Water temperature, °C.
    pub water_c: Option<Range>,
    /// Room temperature, °C.
    pub room_c: Option<Range>,
    /// Mass of the dough, kg.
    pub dough_kg: Option<Range>,
    /// Water a kg of flour.
    pub hydration: Option<Range>,
    /// The speeds in their order, then rest where there was any.
    pub minutes: Vec<SpeedUse>,
    /// What the log cannot teach.
    pub gaps: Vec<Gap>,
}

impl Summary {
    /// Looks over a log.
    pub fn of(log: &BatchLog) -> Self {
        let batches = &log.batches;
        let charges = || batches.iter().map(|batch| &batch.charge);
        let temperature = |wanted: Material| {
            Range::of(charges().filter_map(|charge| temperature_of(charge, wanted)))
        };
        let dates = || batches.iter().filter_map(|batch| batch.date.as_ref());
        let readings = || batches.iter().flat_map(|batch| &batch.stages).map(|s| s.reading);
        let rest: Arc<str> = REST.into();
        let minutes = log
            .speeds
            .iter()
            .chain([&rest])
            .filter_map(|speed| {
                let totals = || batches.iter().map(|batch| batch.minutes_at(speed));
                Some(SpeedUse {
                    speed: speed.clone(),
                    minutes: Range::of(totals())?,
                    used_in: totals().filter(|&minutes| minutes > 0.0).count(),
                })
            })
            .filter(|usage| &*usage.speed != REST || usage.used_in > 0)
            .collect();
        let mut summary = Self {
            machine: log.machine.clone(),
            batches: batches.len(),
            dough_temperatures: log.reading_count(),
            grades: readings().filter(|reading| reading.development.is_some()).count(),
            days: dates().min().cloned().zip(dates().max().cloned()),
            flour_c: temperature(Material::Flour),
            water_c: temperature(Material::Water),
            room_c: Range::of(charges().map(|charge| charge.room_c)),
            dough_kg: Range::of(charges().map(Charge::mass_kg)),
            hydration: Range::of(charges().filter_map(Charge::hydration)),
            minutes,
            gaps: Vec::new(),
        };
        summary.gaps = gaps_of(log, &summary);
        summary
    }
}

fn temperature_of(charge: &Charge, wanted: Material) -> Option<f64> {
    charge.ingredients.iter().find(|i| i.material == wanted).map(|i| i.temperature_c)
}

impl fmt::Display for Range {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.varies() {
            write!(f, "{} to {}", shown(self.least), shown(self.most))
        } else {
            write!(f, "always {}", shown(self.least))
        }
    }
}

impl fmt::Display for Summary {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}: {}, {}, {}",
            self.machine,
            counted(self.batches, "batch", "batches"),
            counted(self.dough_temperatures, "dough temperature", "dough temperatures"),
            counted(self.grades, "grade", "grades"),
        )?;
        match &self.days {
            Some((first, last)) if first == last => write!(f, ", on {first}")?,
            Some((first, last)) => write!(f, ", {first} to {last}")?,
            None => write!(f, ", no dates")?,
        }
        let inputs = [
            ("flour", self.flour_c, " °C"),
            ("water", self.water_c, " °C"),
            ("room", self.room_c, " °C"),
            ("dough", self.dough_kg, " kg"),
            ("hydration", self.hydration, ""),
        ];
        for (name, range, unit) in inputs {
            if let Some(range) = range {
                write!(f, "\n  {name:<16} {range}{unit}")?;
            }
        }
        for usage in &self.minutes {
            let name = format!("minutes {}", usage.speed);
            write!(f, "\n  {name:<16} {}", usage.minutes)?;
        }
        if !self.gaps.is_empty() {
            write!(f, "\n  what it can hardly teach, and which batch would tell:")?;
        }
        for (index, gap) in self.gaps.iter().enumerate() {
            write!(f, "\n  - {gap}")?;
            // One batch may tell several things: it is advised once.
            let advised = |remedy: &String| {
                self.gaps[..index].iter().any(|g| g.remedy().as_ref() == Some(remedy))
            };
            if let Some(remedy) = gap.remedy().filter(|remedy| !advised(remedy)) {
                write!(f, "\n    → {remedy}")?;
            }
        }
        Ok(())
    }
}

/// Two decimals at most: finer than any reading.
pub(crate) fn shown(value: f64) -> f64 {
    // A sum of no minutes is −0, which nobody writes.
    (value * 100.0).round() / 100.0 + 0.0
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
