//! Dough temperature against development: one line a machine with its doubt, the wanted
//! temperature and the cap.

use kneadfit::planning::Comparison;

use super::axis::Axis;
use super::canvas::svg;
use super::labels::spread;
use super::marks::Mark;
use super::panel::{BOTTOM_PX, Band, LEFT_PX, Panel, Point, RIGHT_PX, Stroke, TOP_PX, straight};
use super::style::{FAINT_INK, INK, MACHINES, TEXT_PX};
use super::text::{fitted, number, shortened, width_px};
use crate::compare::Compared;
use crate::plan::arguments::WishArguments;
use crate::plan::words::weight;

/// Width of the picture, px, and its height where few machines are compared.
const WIDTH_PX: u32 = 900;
const HEIGHT_PX: u32 = 520;
/// Room beside the lines for what is said of their ends, px.
const ENDS_PX: f64 = 250.0;
/// What is said of an end is this far below the one before, px.
const APART_PX: f64 = 18.0;
/// An interval further off than this would flatten what is known, K.
const FURTHEST_K: f64 = 12.0;

/// The end of a machine's line.
struct End {
    index: usize,
    at: (f64, f64),
    words: String,
    inside: bool,
}

/// The picture of a dough; `None` where no machine develops it.
pub fn comparison_svg(compared: &Compared, wishes: &WishArguments) -> Option<String> {
    let mut bands = Vec::new();
    let mut lines = Vec::new();
    let mut ends = Vec::new();
    let mut heights: Vec<f64> = wishes.dough_c.into_iter().chain(wishes.cap_c).collect();
    for (index, on) in compared.machines.iter().enumerate() {
        let Ok(comparison) = &on.comparison else { continue };
        let path = || {
            (comparison.path.iter()).filter_map(|w| Some((w.forecast.development?, &w.forecast)))
        };
        let line: Vec<(f64, f64)> = path().map(|(x, f)| (x, f.dough_c)).collect();
        let Some(&at) = line.last() else { continue };
        let edge: Vec<(f64, f64, f64)> = path()
            .filter_map(|(x, f)| f.dough_interval_c.map(|(low, high)| (x, low, high)))
            .collect();
        heights.extend(path().flat_map(|(_, f)| {
            let (low, high) = f.dough_interval_c.unwrap_or((f.dough_c, f.dough_c));
            [low.max(f.dough_c - FURTHEST_K), high.min(f.dough_c + FURTHEST_K)]
        }));
        let colour = MACHINES[index % MACHINES.len()];
        if edge.len() == line.len() {
            bands.push(Band { edge, colour: (colour, 0.13) });
        }
        lines.push(Stroke { points: line, colour, px: 2.6, broken: index >= MACHINES.len() });
        let inside = comparison.kneaded.outside().is_empty();
        ends.push(End { index, at, words: words(&on.machine, comparison), inside });
    }
    if lines.is_empty() {
        return None;
    }
    let y = Axis::over(heights, 0.5);
    let mut notes = Vec::new();
    let mut level = |at: f64, words: &str, colour| {
        // So wide that labels keep clear of it.
        let points = straight((0.0, at), (1.0, at));
        lines.push(Stroke { points, colour, px: 2.0, broken: true });
        notes.push(((0.06, at), format!("{words} {} °C", number(at, 1)), colour));
    };
    if let Some(wanted_c) = wishes.dough_c {
        level(wanted_c, "wanted", FAINT_INK);
    }
    if let Some(cap_c) = wishes.cap_c {
        level(cap_c, "cap", INK);
    }
    let across_px = f64::from(WIDTH_PX) - LEFT_PX - RIGHT_PX;
    let mut x = Axis::between(0.0, 1.0, 0.0);
    x.high = across_px / (across_px - ENDS_PX);
    let height_px =
        f64::from(HEIGHT_PX).max(TOP_PX + BOTTOM_PX + APART_PX * (ends.len() + 1) as f64);
    ends.sort_by(|a, b| a.at.1.total_cmp(&b.at.1));
    say_ends(&ends, &y, height_px - TOP_PX - BOTTOM_PX, &mut lines, &mut notes);
    let points = ends.iter().map(|end| Point {
        at: end.at,
        mark: Mark::Machine { index: end.index, inside: end.inside },
        label: None,
        across: None,
    });
    let points = points.collect();
    let ring = match ends.iter().all(|end| end.inside) {
        true => "",
        false => "; a ring ends what lies outside of what that machine logged",
    };
    let title = shortened(&compared.dough.title(), 60);
    let panel = Panel {
        title: format!("{title}, {}, on each machine", weight(compared.dough.mass_kg())),
        y_name: "forecast dough temperature, °C; bands hold the next reading".into(),
        x_name: format!("development (0.95 is full){ring}"),
        x,
        y,
        bands,
        lines,
        points,
        notes,
    };
    let said: Vec<&str> = ends.iter().rev().map(|end| &*end.words).collect();
    let described = format!("{}. {}", panel.describe(), said.join("; "));
    let size = (WIDTH_PX, height_px as u32);
    Some(svg(size, &described, |area| panel.draw(area, size)))
}

/// Which machine, how warm the dough ends on it and after how long.
fn words(machine: &str, comparison: &Comparison) -> String {
    let numbers = format!(
        " {} °C, {} min",
        number(comparison.kneaded.forecast.dough_c, 1),
        number(comparison.minutes(), 0)
    );
    let room_px = ENDS_PX - 25.0 - width_px(&numbers, TEXT_PX);
    fitted(machine, TEXT_PX, room_px) + &numbers
}

/// Writes what is said of each end beside the lines, one below the other and each tied to
/// its end. `ends` are in the order of their heights.
fn say_ends(
    ends: &[End],
    y: &Axis,
    height_px: f64,
    lines: &mut Vec<Stroke>,
    notes: &mut Vec<((f64, f64), String, plotters::style::RGBColor)>,
) {
    let c_per_px = (y.high - y.low) / height_px;
    let wanted: Vec<f64> = ends.iter().map(|end| (y.clamp(end.at.1) - y.low) / c_per_px).collect();
    let half = 0.5 * APART_PX;
    let heights = spread(&wanted, APART_PX, (half, height_px - half));
    for (end, height) in ends.iter().zip(heights) {
        let colour = MACHINES[end.index % MACHINES.len()];
        let beside = (1.035, y.low + height * c_per_px);
        lines.push(Stroke { points: vec![end.at, beside], colour, px: 1.0, broken: false });
        notes.push((beside, end.words.clone(), INK));
    }
}
