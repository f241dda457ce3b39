//! What friction adds over one full development at each speed.

use plotters::element::{Circle, PathElement, Rectangle};
use plotters::style::Color;

use super::axis::Axis;
use super::canvas::{Area, Drawn, Stand, svg, text_style, write};
use super::style::{BLUE, FAINT_INK, GRID, INK, PANEL_PX, PAPER, TEXT_PX, line, units};
use super::text::{fitted, number, width_px};
use crate::report::ReportInput;
use crate::report::bakers::Bakers;
use crate::report::derived::Derived;

/// Speeds beyond this many are left out, and said so.
pub const MOST_ROWS: usize = 12;

const ROW_PX: f64 = 46.0;
const TOP_PX: f64 = 12.0;
const FOOT_PX: f64 = 50.0;
const SIDE_PX: f64 = 14.0;
/// An interval that reaches further than this many times the largest value is cut, its
/// end open.
const FURTHEST: f64 = 2.5;

/// The picture, and how many speeds it leaves out; `None`: development was not graded.
pub fn development_heat_svg(input: &ReportInput<'_>) -> Option<(String, usize)> {
    let calibration = input.calibration;
    let bakers = Bakers::new(calibration, input.level);
    let rows: Vec<(&str, Derived)> = calibration
        .speeds
        .iter()
        .enumerate()
        .take(MOST_ROWS)
        .filter_map(|(i, speed)| Some((&**speed, bakers.full_development_c(i)?)))
        .filter(|(_, heat)| heat.value.is_finite())
        .collect();
    if rows.is_empty() {
        return None;
    }
    let largest = rows.iter().map(|(_, heat)| heat.value).fold(0.0, f64::max);
    let ends = rows.iter().map(|(_, heat)| heat.interval.map_or(heat.value, |(_, high)| high));
    let reach = ends.fold(0.0, f64::max).min(FURTHEST * largest);
    let axis = Axis::between(0.0, 1.04 * reach.max(1e-3), 0.0);
    let height = TOP_PX + rows.len() as f64 * ROW_PX + FOOT_PX;
    let description = "Heat per full development at each speed, °C".to_owned();
    let picture = svg((PANEL_PX.0, height as u32), &description, |area| draw(area, &rows, &axis));
    Some((picture, calibration.speeds.len() - rows.len()))
}

fn draw(area: &Area<'_>, rows: &[(&str, Derived)], axis: &Axis) -> Drawn {
    let width = f64::from(PANEL_PX.0);
    let across = |value: f64| {
        SIDE_PX + (width - 2.0 * SIDE_PX) * (axis.clamp(value) - axis.low) / (axis.high - axis.low)
    };
    let path = |points: &[(f64, f64)], style| {
        let points: Vec<_> = points.iter().map(|&(x, y)| (units(x), units(y))).collect();
        PathElement::new(points, style)
    };
    let floor = TOP_PX + rows.len() as f64 * ROW_PX;
    for &tick in &axis.ticks {
        let x = across(tick);
        area.draw(&path(&[(x, TOP_PX), (x, floor + 4.0)], line(GRID, 1.0)))?;
        let style = text_style(TEXT_PX, FAINT_INK, false, Stand::Centred);
        write(area, &axis.label(tick), (x, floor + 14.0), style)?;
    }
    area.draw(&path(&[(across(0.0), TOP_PX), (across(0.0), floor)], line(FAINT_INK, 1.2)))?;
    let style = text_style(TEXT_PX, FAINT_INK, false, Stand::Left);
    let name = "°C that friction adds over one full development";
    write(area, name, (width - SIDE_PX, floor + 36.0), style)?;
    for (i, (speed, heat)) in rows.iter().enumerate() {
        let top = TOP_PX + i as f64 * ROW_PX;
        let y = top + 32.0;
        let value = format!("{} °C", number(heat.value, 1));
        let name = fitted(speed, TEXT_PX, width - 140.0);
        let style = text_style(TEXT_PX, INK, true, Stand::Right);
        let words = format!("{name}: {value}");
        let left = SIDE_PX + 5.0;
        let end = left + width_px(&words, TEXT_PX);
        area.draw(&Rectangle::new(
            [(units(left), units(top + 4.0)), (units(end), units(top + 21.0))],
            PAPER.filled(),
        ))?;
        write(area, &words, (left, top + 12.0), style)?;
        if let Some((low, high)) = heat.interval {
            area.draw(&path(
                &[(across(low), y), (across(high), y)],
                BLUE.mix(0.4).stroke_width(units(5.0) as u32),
            ))?;
            if !axis.holds(high) {
                let x = across(high);
                let head = [(x - 7.0, y - 6.0), (x, y), (x - 7.0, y + 6.0)];
                area.draw(&path(&head, line(BLUE, 2.0)))?;
            }
        }
        let middle = (units(across(heat.value)), units(y));
        area.draw(&Circle::new(middle, units(5.5), BLUE.filled()))?;
    }
    Ok(())
}
