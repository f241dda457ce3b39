//! How a typical batch of the log warms at each speed, from the start on.

use std::sync::Arc;

use kneadfit::batch::{Batch, BatchLog, Reading, Stage};
use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::development::FULL_GRADE;
use kneadfit::forecast::{Forecast, Forecaster};
use kneadfit::profile::{Profile, Provenance};

use super::axis::Axis;
use super::marks::Mark;
use super::panel::{Band, Panel, Point, Stroke};
use super::style::{BLUE, FAINT_INK};
use super::text::{number, shortened};
use crate::report::ReportInput;

/// Speeds beyond this many have no curve, and it is said.
pub const MOST_CURVES: usize = 8;
/// A curve goes on for so much longer than what was logged at its speed.
const BEYOND_LOGGED: f64 = 1.5;
/// Or so much longer than full development takes, but not longer than the longest mixing.
const BEYOND_FULL: f64 = 1.15;
/// It is never shorter than this, minutes.
const LEAST_MIN: f64 = 4.0;
/// Steps of a curve; even, so that a broken line ends where it should.
const STEPS: usize = 48;

/// The curves of a machine.
#[derive(Clone, Debug)]
pub struct Curves {
    /// One panel a speed, all on the same axes.
    pub panels: Vec<Panel>,
    /// The batch that they are of.
    pub batch: Charge,
    /// How many speeds have no panel.
    pub left_out: usize,
}

/// Forecast curves of the typical batch; `None` where it cannot be forecast.
pub fn curves(input: &ReportInput<'_>) -> Option<Curves> {
    let log = &input.log.log;
    let charge = typical_charge(log)?;
    let profile = Profile::new(input.calibration, &Provenance::default());
    let forecaster = Forecaster::new(&profile).ok()?;
    let used: Vec<&Arc<str>> = log
        .speeds
        .iter()
        .filter(|speed| log.batches.iter().any(|b| b.minutes_at(speed) > 0.0))
        .collect();
    let longest = log
        .batches
        .iter()
        .map(|b| b.phases().filter(|p| !p.is_rest()).map(|p| p.minutes).sum::<f64>())
        .fold(0.0, f64::max);
    let paths: Vec<Path> = used
        .iter()
        .take(MOST_CURVES)
        .filter_map(|&speed| {
            let logged = log.batches.iter().map(|b| b.minutes_at(speed)).fold(0.0, f64::max);
            let forecast =
                |minutes| forecaster.forecast(&stepped(&charge, speed, minutes), input.level).ok();
            let whole = forecast(longest)?;
            let full = full_at(&whole).map_or(0.0, |(step, _)| longest * step / STEPS as f64);
            let minutes = (BEYOND_LOGGED * logged)
                .max(BEYOND_FULL * full)
                .min(longest.max(logged))
                .max(LEAST_MIN);
            Some(Path { speed, logged, minutes, forecast: forecast(minutes)? })
        })
        .collect();
    let lines = || paths.iter().flat_map(|path| &path.forecast);
    let y = Axis::over(
        lines().flat_map(|f| {
            let (low, high) = f.dough_interval_c.unwrap_or((f.dough_c, f.dough_c));
            // An interval of a hundred degrees would flatten what is known.
            [low.max(f.dough_c - 15.0), high.min(f.dough_c + 15.0)]
        }),
        0.5,
    );
    let longest_drawn = paths.iter().map(|path| path.minutes).fold(LEAST_MIN, f64::max);
    let x = Axis::between(0.0, 1.14 * longest_drawn, 0.0);
    let panels: Vec<Panel> = paths.iter().map(|path| panel(path, (x.clone(), y.clone()))).collect();
    (!panels.is_empty()).then(|| Curves {
        left_out: used.len() - panels.len(),
        panels,
        batch: charge,
    })
}

/// A forecast path at one speed.
struct Path<'a> {
    speed: &'a str,
    /// The longest that a batch was mixed at it, minutes.
    logged: f64,
    /// How long it is drawn, minutes.
    minutes: f64,
    /// At even steps from the start to the end.
    forecast: Vec<Forecast>,
}

/// The charge at one speed, looked at in even steps.
fn stepped(charge: &Charge, speed: &str, minutes: f64) -> Batch {
    let step = minutes / STEPS as f64;
    let stage = |minutes: f64| Stage {
        phases: vec![Phase::mixing(speed, minutes)],
        reading: Reading::default(),
    };
    Batch {
        id: "a typical batch".into(),
        date: None,
        charge: charge.clone(),
        stages: std::iter::once(stage(0.0)).chain((0..STEPS).map(|_| stage(step))).collect(),
    }
}

fn panel(drawn: &Path<'_>, (x, y): (Axis, Axis)) -> Panel {
    let path = &drawn.forecast;
    let minutes = |i: usize| drawn.minutes * i as f64 / STEPS as f64;
    let points: Vec<(f64, f64)> =
        path.iter().enumerate().map(|(i, f)| (minutes(i), f.dough_c)).collect();
    let cut = points.iter().take_while(|(at, _)| *at <= drawn.logged + 1e-9).count();
    let line = |points: &[(f64, f64)], broken| Stroke {
        points: points.to_vec(),
        colour: BLUE,
        px: 2.4,
        broken,
    };
    let edge: Vec<(f64, f64, f64)> = path
        .iter()
        .enumerate()
        .filter_map(|(i, f)| f.dough_interval_c.map(|(low, high)| (minutes(i), low, high)))
        .collect();
    let full = full_at(path).map(|(step, dough_c)| {
        let at = (drawn.minutes * step / STEPS as f64, dough_c);
        Point {
            at,
            mark: Mark::Full,
            label: Some(format!("full at {} min, {} °C", number(at.0, 0), number(at.1, 1))),
            across: None,
        }
    });
    let last = path.len() - 1;
    let end = path[last].dough_c;
    Panel {
        title: format!("At {}", shortened(drawn.speed, 40)),
        y_name: "forecast dough temperature, °C".into(),
        x_name: "minutes".into(),
        bands: if edge.len() == path.len() {
            vec![Band { edge, colour: (BLUE, 0.14) }]
        } else {
            Vec::new()
        },
        lines: vec![line(&points[..cut], false), line(&points[cut.saturating_sub(1)..], true)],
        notes: if y.holds(end) {
            vec![((minutes(last), end), format!("{} °C", number(end, 1)), FAINT_INK)]
        } else {
            Vec::new()
        },
        points: full.into_iter().collect(),
        x,
        y,
    }
}

/// The step, with its fraction, at which development is full, and the temperature there.
fn full_at(path: &[Forecast]) -> Option<(f64, f64)> {
    let after = path.iter().position(|f| f.development.is_some_and(|d| d >= FULL_GRADE))?;
    let before = after.checked_sub(1)?;
    let (from, to) = (path[before].development?, path[after].development?);
    let part = if to > from { (FULL_GRADE - from) / (to - from) } else { 1.0 };
    let dough_c = path[before].dough_c + part * (path[after].dough_c - path[before].dough_c);
    Some((before as f64 + part, dough_c))
}

/// A material with what it takes to know it from others.
type Kind = fn(&Material) -> bool;

/// The middle batch of a log: of every material its median share and temperature, at the
/// median mass and in the median room. `None` for a log without a batch.
pub fn typical_charge(log: &BatchLog) -> Option<Charge> {
    let charges = || log.batches.iter().map(|b| &b.charge);
    let mass_kg = median(charges().map(Charge::mass_kg).collect())?;
    let mut typical = Charge::new(median(charges().map(|c| c.room_c).collect())?);
    let kinds: [Kind; 8] = [
        |m| matches!(m, Material::Flour),
        |m| matches!(m, Material::Water),
        |m| matches!(m, Material::Ice),
        |m| matches!(m, Material::Preferment { .. }),
        |m| matches!(m, Material::Salt),
        |m| matches!(m, Material::Sugar),
        |m| matches!(m, Material::Fat),
        |m| matches!(m, Material::Other { .. }),
    ];
    for kind in kinds {
        let share = median(charges().map(|c| c.mass_of_kg(kind) / c.mass_kg()).collect())?;
        if share <= 0.0 {
            continue;
        }
        let ingredients = || {
            charges().flat_map(|c| &c.ingredients).filter(|i| i.mass_kg > 0.0 && kind(&i.material))
        };
        let temperature_c = median(ingredients().map(|i| i.temperature_c).collect())?;
        let detail =
            |of: fn(&Material) -> f64| median(ingredients().map(|i| of(&i.material)).collect());
        let material = match ingredients().next()?.material {
            Material::Preferment { .. } => Material::Preferment {
                hydration: detail(|m| match m {
                    Material::Preferment { hydration } => *hydration,
                    _ => 0.0,
                })?,
            },
            Material::Other { .. } => Material::Other {
                specific_heat_kj_per_kg_k: detail(|m| match m {
                    Material::Other { specific_heat_kj_per_kg_k } => *specific_heat_kj_per_kg_k,
                    _ => 0.0,
                })?,
            },
            plain => plain,
        };
        typical = typical.with(material, share, temperature_c);
    }
    // Medians of shares do not add up to one.
    let sum = typical.mass_kg();
    for ingredient in &mut typical.ingredients {
        ingredient.mass_kg *= mass_kg / sum;
    }
    let bowls: Vec<f64> = charges().filter_map(|c| c.bowl_c).collect();
    if 2 * bowls.len() > log.batches.len() {
        typical.bowl_c = median(bowls);
    }
    (sum > 0.0).then_some(typical)
}

/// The middle value; of an even number the mean of the two in the middle.
fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let (n, middle) = (values.len(), values.len() / 2);
    match n {
        0 => None,
        _ if n % 2 == 1 => Some(values[middle]),
        _ => Some(f64::midpoint(values[middle - 1], values[middle])),
    }
}
