//! One panel: axes, a band of usual noise, lines, and the marks of readings.
//!
//! A panel is data; drawing it is the same for every plot.

use plotters::chart::ChartBuilder;
use plotters::element::{PathElement, Polygon, Rectangle};
use plotters::style::{Color, RGBColor, TRANSPARENT};

use super::axis::Axis;
use super::canvas::{Area, Drawn, Stand, svg, text_style, write};
use super::labels::{Box2, Placer};
use super::marks::Mark;
use super::style::{
    BLUE, FAINT_INK, GRID, INK, PANEL_PX, PAPER, TEXT_PX, TITLE_PX, UNITS, line, units,
};
use super::text::{fitted, width_px};

/// A filled shape behind the marks: between two heights at each place.
#[derive(Clone, Debug)]
pub struct Band {
    /// Place, lower and upper height, in order.
    pub edge: Vec<(f64, f64, f64)>,
    /// Its colour and how much of it.
    pub colour: (RGBColor, f64),
}

/// A line through some points.
#[derive(Clone, Debug)]
pub struct Stroke {
    /// Its points.
    pub points: Vec<(f64, f64)>,
    /// Its colour.
    pub colour: RGBColor,
    /// Its width, px.
    pub px: f64,
    /// Whether it is drawn broken.
    pub broken: bool,
}

/// One reading.
#[derive(Clone, Debug)]
pub struct Point {
    /// Where it lies.
    pub at: (f64, f64),
    /// How it is drawn.
    pub mark: Mark,
    /// What stands beside it.
    pub label: Option<String>,
    /// From where to where its interval goes across, where one is drawn.
    pub across: Option<(f64, f64)>,
}

/// A panel of a plot.
#[derive(Clone, Debug)]
pub struct Panel {
    /// What it shows.
    pub title: String,
    /// What the height is, with its unit.
    pub y_name: String,
    /// What goes across, with its unit.
    pub x_name: String,
    /// The axis across.
    pub x: Axis,
    /// The axis upwards.
    pub y: Axis,
    /// Bands, the hindmost first.
    pub bands: Vec<Band>,
    /// Lines, the hindmost first.
    pub lines: Vec<Stroke>,
    /// Readings, the hindmost first.
    pub points: Vec<Point>,
    /// Words at a place of the panel, drawn last: (place, words, colour).
    pub notes: Vec<((f64, f64), String, RGBColor)>,
}

/// A label further than this from where it would best stand is tied to its mark.
const LEADER_BEYOND_PX: f64 = 8.0;
/// A line at least this wide is a curve that labels should not cover.
const CURVE_PX: f64 = 2.0;
/// What a panel needs above its axes.
pub const TOP_PX: f64 = 48.0;
/// What it needs to the right of them.
pub const RIGHT_PX: f64 = 16.0;
/// What it needs to the left of them.
pub const LEFT_PX: f64 = 52.0;
/// What it needs below them.
pub const BOTTOM_PX: f64 = 50.0;
const TICK_ROOM_PX: f64 = 24.0;
const LABEL_HEIGHT_PX: f64 = 15.0;
/// A label is cut where it takes more of a panel's width than this.
const LABEL_MOST: f64 = 0.326;

impl Panel {
    /// The panel alone, as SVG.
    pub fn svg(&self) -> String {
        svg(PANEL_PX, &self.describe(), |area| self.draw(area, PANEL_PX))
    }

    /// The panel in words.
    pub fn describe(&self) -> String {
        format!("{}: {} against {}", self.title, self.y_name, self.x_name)
    }

    /// Draws the panel into an area of some px.
    pub fn draw(&self, area: &Area<'_>, (width, height): (u32, u32)) -> Drawn {
        let (width, height) = (f64::from(width), f64::from(height));
        let room = width - RIGHT_PX - 8.0;
        let title = fitted(&self.title, TITLE_PX, room);
        write(area, &title, (8.0, 16.0), text_style(TITLE_PX, INK, true, Stand::Right))?;
        let faint = |stand| text_style(TEXT_PX, FAINT_INK, false, stand);
        write(area, &fitted(&self.y_name, TEXT_PX, room), (8.0, 35.0), faint(Stand::Right))?;
        let below = (width - RIGHT_PX, height - 11.0);
        write(area, &fitted(&self.x_name, TEXT_PX, room), below, faint(Stand::Left))?;

        let mut chart = ChartBuilder::on(area)
            .margin_top(units(TOP_PX))
            .margin_right(units(RIGHT_PX))
            .margin_bottom(units(BOTTOM_PX - TICK_ROOM_PX))
            .x_label_area_size(units(TICK_ROOM_PX))
            .y_label_area_size(units(LEFT_PX))
            .build_cartesian_2d(self.x.clone(), self.y.clone())?;
        for band in &self.bands {
            let upper = band.edge.iter().map(|&(x, _, y)| self.on_axes((x, y)));
            let lower = band.edge.iter().rev().map(|&(x, y, _)| self.on_axes((x, y)));
            let outline: Vec<_> = upper.chain(lower).collect();
            let (colour, part) = band.colour;
            chart.draw_series([Polygon::new(outline, colour.mix(part).filled())])?;
        }
        let ticks = text_style(TEXT_PX, FAINT_INK, false, Stand::Centred);
        chart
            .configure_mesh()
            .light_line_style(TRANSPARENT)
            .bold_line_style(line(GRID, 1.0))
            .axis_style(line(FAINT_INK, 1.0))
            .label_style(ticks)
            .set_all_tick_mark_size(units(4.0))
            .x_label_formatter(&|x| self.x.label(*x))
            .y_label_formatter(&|y| self.y.label(*y))
            .draw()?;
        for stroke in &self.lines {
            for piece in pieces(stroke) {
                chart.draw_series([PathElement::new(piece, line(stroke.colour, stroke.px))])?;
            }
        }

        let origin = area.get_base_pixel();
        let at = |place: (f64, f64)| {
            let (x, y) = chart.backend_coord(&self.on_axes(place));
            (x - origin.0, y - origin.1)
        };
        for point in &self.points {
            if let Some((low, high)) = point.across {
                let ends = vec![at((low, point.at.1)), at((high, point.at.1))];
                area.draw(&PathElement::new(ends, BLUE.mix(0.35).stroke_width(units(1.4) as u32)))?;
            }
        }
        for point in &self.points {
            point.mark.draw(area, at(point.at))?;
        }
        self.write_labels(area, (width, height), at)
    }

    fn write_labels(
        &self,
        area: &Area<'_>,
        (width, height): (f64, f64),
        at: impl Fn((f64, f64)) -> (i32, i32),
    ) -> Drawn {
        let at_px = |place| {
            let (x, y) = at(place);
            (f64::from(x) / f64::from(UNITS), f64::from(y) / f64::from(UNITS))
        };
        let mut placer = Placer::new(Box2 {
            left: LEFT_PX + 3.0,
            top: TOP_PX + 1.0,
            right: width - 4.0,
            bottom: height - BOTTOM_PX - 3.0,
        });
        let labelled = || self.points.iter().filter(|p| p.label.is_some());
        let notes = self.notes.iter().map(|(place, words, colour)| (*place, words, *colour, 4.0));
        let labels = labelled().filter_map(|p| {
            let words = p.label.as_ref()?;
            Some((p.at, words, INK, p.mark.half_px() + 2.0))
        });
        let all: Vec<_> = labels.chain(notes).collect();
        if all.is_empty() {
            return Ok(());
        }
        // Marks that a label had better leave free: all of a small log, the special ones
        // of a large one.
        const MOST_AVOIDED: usize = 400;
        let special = self.points.iter().filter(|p| p.mark != Mark::Ordinary);
        let others = self.points.iter().filter(|p| p.mark == Mark::Ordinary);
        for point in special.chain(others).take(MOST_AVOIDED) {
            let half = point.mark.half_px();
            placer.avoid(Box2::about(at_px(point.at), half, half));
        }
        // A label on a curve hides it; one on a straight line of reference does not matter.
        for place in self.lines.iter().filter(|s| s.px >= CURVE_PX).flat_map(|s| &s.points) {
            placer.avoid(Box2::about(at_px(*place), 4.0, 4.0));
        }
        for (place, words, colour, gap) in all {
            let words = fitted(words, TEXT_PX, LABEL_MOST * width);
            let size = (width_px(&words, TEXT_PX), LABEL_HEIGHT_PX);
            let Some(found) = placer.place(at_px(place), size, gap) else { continue };
            let corner = |x, y| (units(x), units(y));
            // A label that had to go far points at its mark.
            let (nearest, mark) = (found.nearest(at_px(place)), at_px(place));
            let apart = (nearest.0 - mark.0).hypot(nearest.1 - mark.1);
            if apart > gap + LEADER_BEYOND_PX {
                // From the mark's edge on, so that it does not strike through the mark.
                let part = gap / apart;
                let from =
                    (mark.0 + part * (nearest.0 - mark.0), mark.1 + part * (nearest.1 - mark.1));
                let leader = vec![corner(from.0, from.1), corner(nearest.0, nearest.1)];
                area.draw(&PathElement::new(leader, line(colour, 0.8)))?;
            }
            area.draw(&Rectangle::new(
                [corner(found.left, found.top), corner(found.right, found.bottom)],
                PAPER.mix(0.72).filled(),
            ))?;
            // Towards its mark, so that a guessed width does not part them.
            let middle = f64::midpoint(found.left, found.right);
            let height = f64::midpoint(found.top, found.bottom);
            let (x, stand) = if at_px(place).0 <= found.left {
                (found.left, Stand::Right)
            } else if at_px(place).0 >= found.right {
                (found.right, Stand::Left)
            } else {
                (middle, Stand::Centred)
            };
            write(area, &words, (x, height), text_style(TEXT_PX, colour, true, stand))?;
        }
        Ok(())
    }

    /// A place, moved to the edge of the panel where it lies beyond.
    fn on_axes(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (self.x.clamp(x), self.y.clamp(y))
    }
}

/// The line itself, or every other of its steps when it is broken.
fn pieces(stroke: &Stroke) -> Vec<Vec<(f64, f64)>> {
    if !stroke.broken {
        return vec![stroke.points.clone()];
    }
    stroke.points.windows(2).step_by(2).map(<[_]>::to_vec).collect()
}

/// A straight line, cut so finely that it can be drawn broken.
pub fn straight(from: (f64, f64), to: (f64, f64)) -> Vec<(f64, f64)> {
    const STEPS: usize = 61;
    (0..=STEPS)
        .map(|i| {
            let part = i as f64 / STEPS as f64;
            (from.0 + part * (to.0 - from.0), from.1 + part * (to.1 - from.1))
        })
        .collect()
}
