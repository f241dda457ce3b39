//! Dough temperature against development: one line a machine with its doubt, the wanted
//! temperature and the cap.

use plotters::style::RGBColor;

use super::axis::Axis;
use super::canvas::svg;
use super::marks::Mark;
use super::panel::{Band, Panel, Point, Stroke, straight};
use super::style::{BLUE, FAINT_INK, GREEN, INK, ORANGE, VERMILLION};
use super::text::{number, shortened};
use crate::compare::Compared;
use crate::plan::arguments::WishArguments;

/// Size of the picture, px.
const SIZE_PX: (u32, u32) = (760, 520);
/// Lines that can be told apart; beyond, they are drawn broken in the same colours.
const COLOURS: [RGBColor; 6] =
    [BLUE, VERMILLION, GREEN, ORANGE, RGBColor(204, 121, 167), RGBColor(86, 180, 233)];
/// An interval further off than this would flatten what is known, K.
const FURTHEST_K: f64 = 12.0;

/// The picture of a dough; `None` where no machine develops it.
pub fn comparison_svg(compared: &Compared, wishes: &WishArguments) -> Option<String> {
    let mut bands = Vec::new();
    let mut lines = Vec::new();
    let mut points = Vec::new();
    let mut notes = Vec::new();
    let mut heights: Vec<f64> = wishes.dough_c.into_iter().chain(wishes.cap_c).collect();
    for (index, on) in compared.machines.iter().enumerate() {
        let Ok(comparison) = &on.comparison else { continue };
        let colour = COLOURS[index % COLOURS.len()];
        let path = || {
            (comparison.path.iter()).filter_map(|w| Some((w.forecast.development?, &w.forecast)))
        };
        let line: Vec<(f64, f64)> = path().map(|(x, f)| (x, f.dough_c)).collect();
        let Some(&end) = line.last() else { continue };
        let edge: Vec<(f64, f64, f64)> = path()
            .filter_map(|(x, f)| f.dough_interval_c.map(|(low, high)| (x, low, high)))
            .collect();
        heights.extend(path().flat_map(|(_, f)| {
            let (low, high) = f.dough_interval_c.unwrap_or((f.dough_c, f.dough_c));
            [low.max(f.dough_c - FURTHEST_K), high.min(f.dough_c + FURTHEST_K)]
        }));
        if edge.len() == line.len() {
            bands.push(Band { edge, colour: (colour, 0.13) });
        }
        let minutes = number(comparison.minutes(), 0);
        let name = shortened(&on.machine, 24);
        points.push(Point {
            at: end,
            mark: Mark::Full,
            label: Some(format!("{} °C, {minutes} min", number(end.1, 1))),
            across: None,
        });
        // The name stands on the way, where lines have not yet come together.
        let on_the_way = line[line.len() * (index % 3 + 2) / 8];
        notes.push((on_the_way, name, colour));
        lines.push(Stroke { points: line, colour, px: 2.6, broken: index >= COLOURS.len() });
    }
    if lines.is_empty() {
        return None;
    }
    let y = Axis::over(heights, 0.5);
    let level = |at: f64, words: &str, lines: &mut Vec<Stroke>, notes: &mut Vec<_>, colour| {
        let points = straight((0.0, at), (1.0, at));
        // So wide that labels keep clear of it.
        lines.push(Stroke { points, colour, px: 2.0, broken: true });
        notes.push(((0.06, at), format!("{words} {} °C", number(at, 1)), colour));
    };
    if let Some(wanted_c) = wishes.dough_c {
        level(wanted_c, "wanted", &mut lines, &mut notes, FAINT_INK);
    }
    if let Some(cap_c) = wishes.cap_c {
        level(cap_c, "cap", &mut lines, &mut notes, INK);
    }
    let panel = Panel {
        title: format!("{} on each machine", shortened(&compared.dough, 60)),
        y_name: "forecast dough temperature, °C; bands hold the next reading".into(),
        x_name: "development (0.95 is full)".into(),
        x: Axis::between(0.0, 1.0, 0.0),
        y,
        bands,
        lines,
        points,
        notes,
    };
    Some(svg(SIZE_PX, &panel.describe(), |area| panel.draw(area, SIZE_PX)))
}
