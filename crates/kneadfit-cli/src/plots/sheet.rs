//! Several panels on one picture, with a key and remarks.

use super::canvas::{Area, Drawn, Stand, svg, text_style, write};
use super::marks::Mark;
use super::panel::Panel;
use super::residuals::{BAND_SDS, residual_panels};
use super::style::{BAND, FAINT_INK, INK, PANEL_PX, TEXT_PX, units};
use super::text::{fitted, width_px};
use crate::report::ReportInput;
use plotters::element::Rectangle;
use plotters::style::Color;

const COLUMNS: usize = 2;
const MARGIN_PX: f64 = 20.0;
const HEADING_PX: f64 = 20.0;
const LINE_PX: f64 = 19.0;

/// The residual plots of a machine as one SVG picture.
pub fn residuals_svg(input: &ReportInput<'_>) -> String {
    let made = residual_panels(input);
    let columns = COLUMNS.min(made.panels.len());
    let rows = made.panels.len().div_ceil(columns);
    let (panel_w, panel_h) = (f64::from(PANEL_PX.0), f64::from(PANEL_PX.1));
    let width = 2.0 * MARGIN_PX + columns as f64 * panel_w;
    let inside = width - 2.0 * MARGIN_PX;
    let remarks: Vec<String> =
        made.remarks.iter().flat_map(|remark| wrapped(remark, TEXT_PX, inside)).collect();
    let head = 44.0 + key_height(inside) + remarks.len() as f64 * LINE_PX + 18.0;
    let height = head + rows as f64 * panel_h + 14.0;
    let title = format!("Residuals of {}", input.calibration.machine);
    let description = format!("{title}: {} panels of predicted − observed", made.panels.len());
    svg((width as u32, height as u32), &description, |area| {
        let heading = text_style(HEADING_PX, INK, true, Stand::Right);
        write(area, &fitted(&title, HEADING_PX, inside), (MARGIN_PX, 30.0), heading)?;
        draw_key(area, (MARGIN_PX, 44.0), inside)?;
        let below_key = 44.0 + key_height(inside) + 10.0;
        for (i, remark) in remarks.iter().enumerate() {
            let at = (MARGIN_PX, below_key + i as f64 * LINE_PX);
            write(area, remark, at, text_style(TEXT_PX, FAINT_INK, false, Stand::Right))?;
        }
        draw_panels(area, &made.panels, columns, head)
    })
}

fn draw_panels(area: &Area<'_>, panels: &[Panel], columns: usize, head: f64) -> Drawn {
    for (i, panel) in panels.iter().enumerate() {
        let left = MARGIN_PX + (i % columns) as f64 * f64::from(PANEL_PX.0);
        let top = head + (i / columns) as f64 * f64::from(PANEL_PX.1);
        let size = (units(PANEL_PX.0.into()), units(PANEL_PX.1.into()));
        panel.draw(&area.clone().shrink((units(left), units(top)), size), PANEL_PX)?;
    }
    Ok(())
}

/// The key of the residual plots, as a picture of its own.
pub fn key_svg() -> String {
    let width = f64::from(PANEL_PX.0);
    let height = key_height(width) as u32 + 6;
    svg((PANEL_PX.0, height), "Key of the marks", |area| draw_key(area, (8.0, 3.0), width))
}

/// The entries of the key and what they are drawn with; `None`: the band of noise.
fn entries() -> [(Option<Mark>, String); 4] {
    let mark = |mark: Mark| (Some(mark), mark.words().to_owned());
    [
        mark(Mark::Ordinary),
        mark(Mark::Influential),
        mark(Mark::Mistyped),
        (None, format!("usual noise, ±{BAND_SDS} sd")),
    ]
}

const SYMBOL_PX: f64 = 26.0;
const ENTRY_GAP_PX: f64 = 16.0;
const KEY_LINE_PX: f64 = 22.0;

/// Where each entry begins, wrapped into lines of a width.
fn key_places(width: f64) -> Vec<(f64, f64)> {
    let (mut x, mut y) = (0.0, 0.0);
    entries()
        .iter()
        .map(|(_, words)| {
            let needed = SYMBOL_PX + width_px(words, TEXT_PX) + ENTRY_GAP_PX;
            if x > 0.0 && x + needed > width {
                (x, y) = (0.0, y + KEY_LINE_PX);
            }
            let place = (x, y);
            x += needed;
            place
        })
        .collect()
}

fn key_height(width: f64) -> f64 {
    key_places(width).last().map_or(0.0, |(_, y)| y + KEY_LINE_PX)
}

fn draw_key(area: &Area<'_>, (left, top): (f64, f64), width: f64) -> Drawn {
    for ((mark, words), (x, y)) in entries().iter().zip(key_places(width)) {
        let (x, y) = (left + x, top + y + KEY_LINE_PX / 2.0);
        match mark {
            Some(mark) => mark.draw(area, (units(x + 9.0), units(y)))?,
            None => area.draw(&Rectangle::new(
                [(units(x), units(y - 6.0)), (units(x + 19.0), units(y + 6.0))],
                BAND.filled(),
            ))?,
        }
        let style = text_style(TEXT_PX, INK, false, Stand::Right);
        write(area, words, (x + SYMBOL_PX, y), style)?;
    }
    Ok(())
}

/// A sentence as lines of a width.
fn wrapped(sentence: &str, size_px: f64, most_px: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in sentence.split(' ') {
        match lines.last_mut() {
            Some(line) if width_px(line, size_px) + width_px(word, size_px) + 6.0 <= most_px => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines.iter().map(|line| fitted(line, size_px, most_px)).collect()
}
