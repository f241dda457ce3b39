//! What a log can teach about its machine, and what it cannot.

use std::fmt;
use std::sync::Arc;

use kneadfit::batch::BatchLog;
use kneadfit::charge::{Charge, Material, REST};
use serde::Serialize;

/// Two speeds whose minutes are correlated more than this are as good as one.
const ALWAYS_TOGETHER: f64 = 0.98;

/// A charge that varies by less than this part of its middle does not tell how
/// friction scales with the charge.
const CHARGE_VARIES: f64 = 0.05;

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
    fn of(values: impl Iterator<Item = f64>) -> Option<Self> {
        values.fold(None, |range, value| {
            Some(match range {
                None => Self { least: value, most: value, batches: 1 },
                Some(Self { least, most, batches }) => {
                    Self { least: least.min(value), most: most.max(value), batches: batches + 1 }
                }
            })
        })
    }

    fn varies(&self) -> bool {
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

/// Something that a log cannot teach.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "gap", rename_all = "snake_case")]
#[non_exhaustive]
pub enum Gap {
    /// No dough temperature: the heat side cannot be calibrated.
    NoDoughTemperatures,
    /// No grade: development cannot be calibrated.
    NoGrades,
    /// One batch: mostly what is usual for mixers, little of this one.
    OneBatch,
    /// A speed of the machine that no batch used.
    SpeedNeverUsed {
        /// The speed's name.
        speed: Arc<str>,
    },
    /// Every reading came after the same minutes at a speed.
    SpeedNeverVaried {
        /// The speed's name.
        speed: Arc<str>,
        /// Those minutes.
        minutes: f64,
    },
    /// Minutes at two speeds rose and fell together: what each adds cannot be parted.
    AlwaysTogether {
        /// One speed.
        one: Arc<str>,
        /// The other.
        other: Arc<str>,
        /// Correlation of their minutes over the readings.
        correlation: f64,
    },
    /// Every charge was about as large.
    ChargeNeverVaried {
        /// Its mass, kg.
        charge_kg: f64,
    },
    /// Every dough had the same hydration.
    HydrationNeverVaried {
        /// Water a kg of flour.
        hydration: f64,
    },
    /// The room always had the same temperature.
    RoomNeverVaried {
        /// It, °C.
        room_c: f64,
    },
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
        summary.gaps = summary.find_gaps(log);
        summary
    }

    fn find_gaps(&self, log: &BatchLog) -> Vec<Gap> {
        let mut gaps = Vec::new();
        if self.dough_temperatures == 0 {
            gaps.push(Gap::NoDoughTemperatures);
        }
        if self.grades == 0 {
            gaps.push(Gap::NoGrades);
        }
        if self.batches == 1 {
            gaps.push(Gap::OneBatch);
        }
        let totals = totals_at_readings(log);
        let mut varied = Vec::new();
        for usage in self.minutes.iter().filter(|usage| &*usage.speed != REST) {
            let speed = usage.speed.clone();
            let index = log.speeds.iter().position(|known| *known == speed);
            let totals = index.map(|index| &totals[index]);
            let range = totals.and_then(|totals| Range::of(totals.iter().copied()));
            match range {
                _ if usage.used_in == 0 => gaps.push(Gap::SpeedNeverUsed { speed }),
                Some(range) if !range.varies() && range.batches > 1 => {
                    gaps.push(Gap::SpeedNeverVaried { speed, minutes: range.least });
                }
                Some(range) if range.varies() => varied.extend(totals.map(|t| (speed, t))),
                _ => {}
            }
        }
        for (index, (one, minutes)) in varied.iter().enumerate() {
            for (other, others) in &varied[index + 1..] {
                let correlation = correlation(minutes, others);
                if correlation > ALWAYS_TOGETHER {
                    let (one, other) = (one.clone(), other.clone());
                    gaps.push(Gap::AlwaysTogether { one, other, correlation });
                }
            }
        }
        if self.batches > 1 {
            if let Some(Range { least, most, .. }) = self.dough_kg
                && most - least < CHARGE_VARIES * most
            {
                gaps.push(Gap::ChargeNeverVaried { charge_kg: most });
            }
            if let Some(range) = self.hydration.filter(|range| !range.varies()) {
                gaps.push(Gap::HydrationNeverVaried { hydration: range.least });
            }
            if let Some(range) = self.room_c.filter(|range| !range.varies()) {
                gaps.push(Gap::RoomNeverVaried { room_c: range.least });
            }
        }
        gaps
    }
}

fn temperature_of(charge: &Charge, wanted: Material) -> Option<f64> {
    charge.ingredients.iter().find(|i| i.material == wanted).map(|i| i.temperature_c)
}

/// For each speed, the minutes so far at every reading of a dough temperature.
fn totals_at_readings(log: &BatchLog) -> Vec<Vec<f64>> {
    let mut totals = vec![Vec::with_capacity(log.reading_count()); log.speeds.len()];
    let mut so_far = vec![0.0; log.speeds.len()];
    for batch in &log.batches {
        so_far.fill(0.0);
        for stage in &batch.stages {
            for phase in &stage.phases {
                if let Some(index) = log.speeds.iter().position(|s| *s == phase.speed) {
                    so_far[index] += phase.minutes;
                }
            }
            if stage.reading.dough_c.is_some() {
                for (totals, &minutes) in totals.iter_mut().zip(&so_far) {
                    totals.push(minutes);
                }
            }
        }
    }
    totals
}

/// Pearson's coefficient of two series of one length, neither constant.
fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let (mean_a, mean_b) = (mean(a), mean(b));
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(b) {
        let (x, y) = (x - mean_a, y - mean_b);
        ab += x * y;
        aa += x * x;
        bb += y * y;
    }
    ab / (aa * bb).sqrt()
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

impl fmt::Display for Gap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoDoughTemperatures => {
                write!(f, "no dough temperature was read: how it warms the dough stays unknown")
            }
            Self::NoGrades => {
                write!(f, "no development was graded: how it develops the dough stays unknown")
            }
            Self::OneBatch => write!(f, "one batch alone says little of this machine's own"),
            Self::SpeedNeverUsed { speed } => write!(f, "{speed} was never used"),
            Self::SpeedNeverVaried { speed, minutes } => write!(
                f,
                "minutes at {speed} never varied (always {}): what it adds cannot be told from the rest",
                shown(*minutes)
            ),
            Self::AlwaysTogether { one, other, .. } => write!(
                f,
                "minutes at {one} and at {other} always rose together: which of the two warms the dough cannot be told"
            ),
            Self::ChargeNeverVaried { charge_kg } => write!(
                f,
                "the charge never varied (about {} kg): how a small or a large dough differs stays unknown",
                shown(*charge_kg)
            ),
            Self::HydrationNeverVaried { hydration } => write!(
                f,
                "hydration never varied (always {}): how a stiff or a soft dough differs stays unknown",
                shown(*hydration)
            ),
            Self::RoomNeverVaried { room_c } => write!(
                f,
                "the room never varied (always {} °C): what it takes or gives is hard to tell",
                shown(*room_c)
            ),
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
            write!(f, "\n  what it cannot teach:")?;
        }
        for gap in &self.gaps {
            write!(f, "\n  - {gap}")?;
        }
        Ok(())
    }
}

/// Two decimals at most: finer than any reading.
fn shown(value: f64) -> f64 {
    // A sum of no minutes is −0, which nobody writes.
    (value * 100.0).round() / 100.0 + 0.0
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
