//! What was measured against what the other batches alone forecast.

use kneadfit::calibration::Part;

use super::axis::Axis;
use super::marks::Mark;
use super::panel::{Panel, Point, Stroke, straight};
use super::readings::Readings;
use super::style::INK;
use super::text::{number, shortened};
use crate::report::ReportInput;

/// Readings drawn with their interval, at most; more would hide one another.
const MOST_DRAWN: usize = 150;

/// A panel of left-out forecasts and what it adds up to.
#[derive(Clone, Debug)]
pub struct Measured {
    /// The panel.
    pub panel: Panel,
    /// How many readings lie in their interval, and of how many, rows that look
    /// mistyped not counted.
    pub held: (usize, usize),
    /// How many readings are not drawn.
    pub left_away: usize,
}

/// Measured dough temperatures; `None` when the others forecast no reading at all.
pub fn dough_temperatures(input: &ReportInput<'_>) -> Option<Measured> {
    measured(&input.calibration.heat, input, ("Dough temperature", "°C"), None)
}

/// Grades of development; `None` when none was given or the others forecast none.
pub fn grades(input: &ReportInput<'_>) -> Option<Measured> {
    let part = input.calibration.development.as_ref()?;
    measured(part, input, ("Development grade", ""), Some((0.0, 1.0)))
}

fn measured(
    part: &Part,
    input: &ReportInput<'_>,
    (title, unit): (&str, &str),
    limits: Option<(f64, f64)>,
) -> Option<Measured> {
    if input.calibration.batches == 1 && !input.calibration.options.with_prior {
        return None;
    }
    let sds = part.width_in_sds(input.level)?;
    let readings = Readings::of(part, &input.log.log.batches);
    let interval = |forecast: f64, sd: f64| {
        let (low, high) = (forecast - sds * sd, forecast + sds * sd);
        limits
            .map_or((low, high), |(least, most)| (low.clamp(least, most), high.clamp(least, most)))
    };
    let mut held = (0, 0);
    for reading in readings.all.iter().filter(|r| r.mark != Mark::Mistyped) {
        if let Some((forecast, sd)) = reading.left_out {
            let (low, high) = interval(forecast, sd);
            held.1 += 1;
            held.0 += usize::from(reading.observed >= low && reading.observed <= high);
        }
    }
    let shown = readings.thinned(MOST_DRAWN);
    let points: Vec<Point> = shown
        .readings
        .iter()
        .filter_map(|r| {
            let (forecast, sd) = r.left_out?;
            let key = (r.in_log, r.stage);
            Some(Point {
                at: (forecast, r.observed),
                mark: r.mark,
                label: readings.labelled.contains(&key).then(|| shortened(&r.batch, 18)),
                across: Some(interval(forecast, sd)),
            })
        })
        .collect();
    if points.is_empty() {
        return None;
    }
    let sound = || points.iter().filter(|p| p.mark != Mark::Mistyped);
    let heights: Vec<f64> = sound().map(|p| p.at.1).collect();
    let places = sound().flat_map(|p| [p.at.0, p.at.1]);
    // Wide intervals may run off the panel; readings may not.
    let x = Axis::over(places.clone(), 0.1);
    let y = if heights.is_empty() { x.clone() } else { Axis::over(places, 0.1) };
    let named =
        |what: &str| if unit.is_empty() { what.to_owned() } else { format!("{what}, {unit}") };
    let points = points
        .into_iter()
        .map(|mut p| {
            if let (Some(label), false) = (&mut p.label, y.holds(p.at.1)) {
                *label = format!("{label}: {}", number(p.at.1, 1));
            }
            p
        })
        .collect();
    Some(Measured {
        held,
        left_away: shown.left_away,
        panel: Panel {
            title: title.to_owned(),
            y_name: named("measured"),
            x_name: named("forecast from the other batches"),
            bands: Vec::new(),
            lines: vec![Stroke {
                points: straight((x.low, x.low), (x.high, x.high)),
                colour: INK,
                px: 1.4,
                broken: false,
            }],
            x,
            y,
            points,
            notes: Vec::new(),
        },
    })
}
