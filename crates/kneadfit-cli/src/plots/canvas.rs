//! A picture as SVG text, drawn without any font at hand.

use plotters::backend::SVGBackend;
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, DrawingAreaErrorKind, IntoDrawingArea};
use plotters::element::Text;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontStyle, IntoFont, RGBColor, TextStyle};

use super::style::{FAMILY, PAPER, UNITS, units};
use super::text::one_line;

/// A piece of a picture.
pub type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
/// What drawing into memory could fail with, and does not.
pub type Drawn = Result<(), DrawingAreaErrorKind<std::io::Error>>;

/// A picture of some px, described in words for readers who do not see it.
///
/// # Panics
///
/// Never for text: a picture in memory has nothing that can fail.
pub fn svg(
    (width_px, height_px): (u32, u32),
    description: &str,
    draw: impl FnOnce(&Area<'_>) -> Drawn,
) -> String {
    let mut drawn = String::new();
    let size = (width_px * UNITS as u32, height_px * UNITS as u32);
    {
        let area = SVGBackend::with_string(&mut drawn, size).into_drawing_area();
        area.fill(&PAPER)
            .and_then(|()| draw(&area))
            .and_then(|()| area.present())
            .expect("nothing can fail while drawing into memory");
    }
    // The library's own opening tag has the inner units as its size on the page.
    let inside = drawn.find('>').map_or("", |end| &drawn[end + 1..]);
    let mut label = String::new();
    escape(&mut label, description);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width_px}\" height=\"{height_px}\" \
         viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"{label}\">{inside}",
        size.0, size.1
    )
}

/// Appends a text as it must stand in XML and HTML.
pub fn escape(to: &mut String, text: &str) {
    for c in one_line(text).chars() {
        match c {
            '<' => to.push_str("&lt;"),
            '>' => to.push_str("&gt;"),
            '&' => to.push_str("&amp;"),
            '"' => to.push_str("&quot;"),
            '\'' => to.push_str("&#39;"),
            c => to.push(c),
        }
    }
}

/// The drawing library divides the size of a text by this before it writes it.
const SIZE_DIVISOR: f64 = 1.24;

/// How a text stands about its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stand {
    /// To the right of it.
    Right,
    /// To the left of it.
    Left,
    /// Centred on it.
    Centred,
}

/// A style of text of `size_px`, its middle at the height of its point.
pub fn text_style<'a>(size_px: f64, colour: RGBColor, bold: bool, stand: Stand) -> TextStyle<'a> {
    let h_pos = match stand {
        Stand::Right => HPos::Left,
        Stand::Left => HPos::Right,
        Stand::Centred => HPos::Center,
    };
    let size = f64::from(units(size_px)) * SIZE_DIVISOR;
    let font = (FAMILY, size).into_font();
    let font = if bold { font.style(FontStyle::Bold) } else { font };
    TextStyle { font, color: colour.to_backend_color(), pos: Pos::new(h_pos, VPos::Center) }
}

/// Writes one line of text at a place in px.
pub fn write(area: &Area<'_>, text: &str, at_px: (f64, f64), style: TextStyle<'_>) -> Drawn {
    area.draw(&Text::new(one_line(text), (units(at_px.0), units(at_px.1)), style))
}
