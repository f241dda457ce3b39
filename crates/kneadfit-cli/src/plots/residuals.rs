//! Residuals, predicted − observed, against everything that they should not depend on.

use std::collections::HashSet;

use kneadfit::calibration::Part;
use kneadfit::charge::REST;
use kneadfit::numeric::normal_quantile;

use super::axis::Axis;
use super::marks::Mark;
use super::panel::{Band, Panel, Point, Stroke, straight};
use super::readings::{Readings, Shown};
use super::style::{BAND, FAINT_INK, INK};
use super::text::{shortened, signed};
use crate::report::ReportInput;

/// Panels of minutes beyond this many are left out, and said so.
pub const MOST_SPEEDS: usize = 12;
/// Marks over all panels of one plot: at some 100 bytes a mark, the file stays well
/// under 1.5 MB.
const MARKS: usize = 11_000;
/// Marks in one panel, at most; more would hide one another.
const MARKS_A_PANEL: usize = 1_000;
/// The band of usual noise: so many standard deviations to either side.
pub const BAND_SDS: f64 = 2.0;

/// The residual panels of a calibration, with what must be said of them.
#[derive(Clone, Debug)]
pub struct ResidualPanels {
    /// The panels in their order.
    pub panels: Vec<Panel>,
    /// Sentences on what is drawn and what is not.
    pub remarks: Vec<String>,
}

/// All residual panels of a calibration.
pub fn residual_panels(input: &ReportInput<'_>) -> ResidualPanels {
    let calibration = input.calibration;
    let batches = &input.log.log.batches;
    let heat = Readings::of(&calibration.heat, batches);
    let development = calibration.development.as_ref().map(|part| Readings::of(part, batches));
    let mut remarks = Vec::new();

    let used: Vec<&str> = calibration
        .speeds
        .iter()
        .map(AsRef::as_ref)
        .chain([REST])
        .filter(|speed| batches.iter().any(|b| b.minutes_at(speed) > 0.0))
        .collect();
    let (drawn, left) = used.split_at(used.len().min(MOST_SPEEDS));
    if !left.is_empty() {
        let names: Vec<String> = left.iter().take(6).map(|s| shortened(s, 24)).collect();
        let more =
            if left.len() > 6 { format!(" and {} more", left.len() - 6) } else { String::new() };
        remarks.push(format!(
            "Of {} speeds, the first {MOST_SPEEDS} have a panel; left out: {}{more}.",
            used.len(),
            names.join(", ")
        ));
    }

    let panel_count = 4 + drawn.len() + if development.is_some() { 2 } else { 0 };
    let most = (MARKS / panel_count).min(MARKS_A_PANEL);
    let shown = heat.thinned(most);
    if shown.left_away > 0 {
        remarks.push(format!(
            "Of {} readings, {} are drawn: evenly through the log, and \
             the foremost of those that are marked.",
            heat.all.len(),
            shown.readings.len()
        ));
    }

    let view = View::of(&calibration.heat, &heat, &shown, "°C");
    let mut panels = vec![
        view.panel("Residual by forecast", "forecast dough temperature, °C", 0.5, |r| r.fitted),
        view.panel("Residual by batch order", "place of the batch in the log", 1.0, |r| {
            (r.in_log + 1) as f64
        }),
    ];
    panels.extend(drawn.iter().map(|speed| {
        let name = shortened(speed, 40);
        let title = if *speed == REST {
            "Residual by minutes of rest".to_owned()
        } else {
            format!("Residual by minutes at {name}")
        };
        let across = if *speed == REST {
            "minutes of rest".to_owned()
        } else {
            format!("minutes at {name}")
        };
        view.panel(&title, &across, 0.1, |r| {
            let stages = batches[r.in_log].stages.iter().take(r.stage + 1);
            let phases = stages.flat_map(|s| &s.phases);
            phases.filter(|p| &*p.speed == *speed).map(|p| p.minutes).sum()
        })
    }));
    panels.push(view.panel("Residual by room", "room temperature, °C", 0.5, |r| {
        batches[r.in_log].charge.room_c
    }));
    panels.push(quantiles(&heat, &shown));

    if let (Some(part), Some(grades)) = (&calibration.development, &development) {
        let shown = grades.thinned(most);
        let view = View::of(part, grades, &shown, "grade");
        panels
            .push(view.panel("Grade: residual by forecast", "forecast grade", 0.05, |r| r.fitted));
        panels.push(view.panel(
            "Grade: residual by batch order",
            "place of the batch in the log",
            1.0,
            |r| (r.in_log + 1) as f64,
        ));
    }
    remarks.extend(heat.remark("dough temperatures"));
    if let Some(grades) = &development {
        remarks.extend(grades.remark("grades"));
    }
    ResidualPanels { panels, remarks }
}

/// The readings of one part as they are drawn in each of its panels.
struct View<'a> {
    shown: &'a Shown<'a>,
    unit: &'static str,
    y: Axis,
    noise: Option<f64>,
    labelled: HashSet<(usize, usize)>,
    decimals: usize,
}

impl<'a> View<'a> {
    fn of(part: &Part, readings: &Readings, shown: &'a Shown<'a>, unit: &'static str) -> Self {
        let noise = readings.usual_noise.or((part.residual_sd > 0.0).then_some(part.residual_sd));
        let sound = readings.all.iter().filter(|r| r.mark != Mark::Mistyped);
        let widest = sound.map(|r| r.residual.abs()).fold(0.0, f64::max);
        let band = noise.map_or(0.0, |sd| BAND_SDS * sd);
        let least = if unit == "grade" { 0.02 } else { 0.1 };
        Self {
            shown,
            unit,
            y: Axis::symmetric(1.15 * widest.max(band).max(least)),
            noise,
            labelled: readings.labelled.clone(),
            decimals: if unit == "grade" { 2 } else { 1 },
        }
    }

    fn panel(
        &self,
        title: &str,
        x_name: &str,
        least_step: f64,
        across: impl Fn(&super::readings::Reading) -> f64,
    ) -> Panel {
        let places: Vec<f64> = self.shown.readings.iter().map(|r| across(r)).collect();
        let step = if least_step >= 1.0 { 1.0 } else { 0.0 };
        let mut x = Axis::over(places.iter().copied(), least_step);
        if step == 0.0 {
            x = Axis::between(x.low, x.high, 0.0);
        }
        let points = self
            .shown
            .readings
            .iter()
            .zip(places)
            .filter(|(r, x)| x.is_finite() && r.residual.is_finite())
            .map(|(r, place)| Point {
                at: (place, r.residual),
                mark: r.mark,
                label: self.labelled.contains(&(r.in_log, r.stage)).then(|| {
                    let name = shortened(&r.batch, 18);
                    if self.y.holds(r.residual) {
                        name
                    } else {
                        format!("{name}: {}", signed(r.residual, self.decimals))
                    }
                }),
                across: None,
            })
            .collect();
        let (low, high) = (x.low, x.high);
        let level = |y: f64, broken| Stroke {
            points: straight((low, y), (high, y)),
            colour: if broken { FAINT_INK } else { INK },
            px: if broken { 1.0 } else { 1.4 },
            broken,
        };
        let band = self.noise.map(|sd| BAND_SDS * sd);
        let mut lines: Vec<Stroke> = Vec::new();
        if let Some(half) = band {
            lines.extend([level(half, true), level(-half, true)]);
        }
        lines.push(level(0.0, false));
        Panel {
            title: title.to_owned(),
            y_name: format!("predicted − observed, {}", self.unit),
            x_name: x_name.to_owned(),
            bands: band
                .map(|half| Band {
                    edge: vec![(low, -half, half), (high, -half, half)],
                    colour: (BAND, 1.0),
                })
                .into_iter()
                .collect(),
            x,
            y: self.y.clone(),
            lines,
            points,
            notes: Vec::new(),
        }
    }
}

/// Residuals in their own standard deviations against where a normal sample would lie.
fn quantiles(readings: &Readings, shown: &Shown<'_>) -> Panel {
    let mut sorted: Vec<(f64, (usize, usize))> = readings
        .all
        .iter()
        .filter(|r| r.standardised.is_finite())
        .map(|r| (r.standardised, (r.in_log, r.stage)))
        .collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let n = sorted.len() as f64;
    // Blom's plotting positions.
    let expected: std::collections::HashMap<(usize, usize), f64> = sorted
        .iter()
        .enumerate()
        .map(|(i, (_, key))| (*key, normal_quantile((i as f64 + 0.625) / (n + 0.25))))
        .collect();
    let points: Vec<Point> = shown
        .readings
        .iter()
        .filter_map(|r| {
            let key = (r.in_log, r.stage);
            Some(Point {
                at: (*expected.get(&key)?, r.standardised),
                mark: r.mark,
                label: readings.labelled.contains(&key).then(|| shortened(&r.batch, 18)),
                across: None,
            })
        })
        .collect();
    let sound = points.iter().filter(|p| p.mark != Mark::Mistyped).map(|p| p.at.1.abs());
    let half = sound.fold(2.2, f64::max).min(8.0) * 1.1;
    let x = Axis::symmetric(points.iter().map(|p| p.at.0.abs()).fold(1.5, f64::max) * 1.1);
    let ends = x.high.min(half);
    Panel {
        title: "Residual by normal quantile".into(),
        y_name: "residual, standard deviations".into(),
        x_name: "where a normal sample would lie, standard deviations".into(),
        y: Axis::symmetric(half),
        bands: Vec::new(),
        lines: vec![Stroke {
            points: straight((-ends, -ends), (ends, ends)),
            colour: INK,
            px: 1.4,
            broken: false,
        }],
        x,
        points,
        notes: Vec::new(),
    }
}
