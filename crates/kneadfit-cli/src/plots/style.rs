//! Colours, type and sizes that every plot shares.
//!
//! The colours are from the set that Okabe and Ito chose to stay apart for readers with
//! any of the usual colour deficiencies; no meaning rests on colour alone, every kind of
//! mark has a shape of its own.

use plotters::style::{Color, RGBColor};

/// Text and axes.
pub const INK: RGBColor = RGBColor(43, 36, 32);
/// Second-rank text.
pub const FAINT_INK: RGBColor = RGBColor(96, 86, 78);
/// Lines at the ticks.
pub const GRID: RGBColor = RGBColor(236, 229, 218);
/// Behind everything.
pub const PAPER: RGBColor = RGBColor(255, 255, 255);
/// An ordinary reading, a forecast line.
pub const BLUE: RGBColor = RGBColor(0, 114, 178);
/// A reading of a batch with much influence.
pub const ORANGE: RGBColor = RGBColor(230, 159, 0);
/// A reading that looks mistyped.
pub const VERMILLION: RGBColor = RGBColor(213, 94, 0);
/// Full development.
pub const GREEN: RGBColor = RGBColor(0, 158, 115);
/// The band of usual noise.
pub const BAND: RGBColor = RGBColor(246, 238, 222);

/// Lines of machines beside each other; beyond these, lines are drawn broken.
pub const MACHINES: [RGBColor; 6] =
    [BLUE, VERMILLION, GREEN, ORANGE, RGBColor(204, 121, 167), RGBColor(86, 180, 233)];

/// Family of all text: whatever the reader's machine has.
pub const FAMILY: &str = "sans-serif";
/// Size of a panel's title, px.
pub const TITLE_PX: f64 = 15.0;
/// Size of ticks and axis names, px.
pub const TEXT_PX: f64 = 13.0;

/// Width and height of a panel, px: two stand side by side on a page, one on a phone.
pub const PANEL_PX: (u32, u32) = (460, 310);

/// Inner units a px. The drawing library counts in whole units; with four a px, lines do
/// not wobble.
pub const UNITS: i32 = 4;

/// A length in px as inner units.
pub fn units(px: f64) -> i32 {
    (px * f64::from(UNITS)).round() as i32
}

/// A line of some px.
pub fn line(colour: RGBColor, px: f64) -> plotters::style::ShapeStyle {
    colour.stroke_width(units(px) as u32)
}
