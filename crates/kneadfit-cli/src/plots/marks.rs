//! The marks of readings: a shape and a colour for each kind.

use plotters::element::{Circle, PathElement, Polygon};
use plotters::style::{Color, ShapeStyle};

use super::canvas::{Area, Drawn};
use super::style::{BLUE, GREEN, INK, MACHINES, ORANGE, PAPER, VERMILLION, line, units};

/// What kind of reading a mark stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mark {
    /// A reading like the others: a dot.
    Ordinary,
    /// A reading of a batch that moves the fit much: a diamond.
    Influential,
    /// A reading that looks mistyped: a cross.
    Mistyped,
    /// The moment of full development: a ring.
    Full,
    /// A dough at the end of a machine's line, in its colour: a disc, or a ring where it is
    /// outside of what that machine logged.
    Machine {
        /// Which of the machines.
        index: usize,
        /// Whether everything is inside of what was logged.
        inside: bool,
    },
}

impl Mark {
    /// What the key says of it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Ordinary => "a reading",
            Self::Influential => "its batch moves the fit much",
            Self::Mistyped => "looks mistyped",
            Self::Full => "full development",
            Self::Machine { inside: true, .. } => "inside of what was logged",
            Self::Machine { inside: false, .. } => "outside of what was logged",
        }
    }

    /// Half its width, px.
    pub fn half_px(self) -> f64 {
        match self {
            Self::Ordinary => 3.5,
            Self::Influential => 6.0,
            Self::Mistyped => 5.0,
            Self::Full => 7.0,
            Self::Machine { .. } => 6.0,
        }
    }

    /// Draws it at a place of the area, in inner units.
    pub fn draw(self, area: &Area<'_>, (x, y): (i32, i32)) -> Drawn {
        let half = units(self.half_px());
        match self {
            Self::Ordinary => {
                let style: ShapeStyle = BLUE.mix(0.75).filled();
                area.draw(&Circle::new((x, y), half, style))
            }
            Self::Influential => {
                let corners =
                    vec![(x - half, y), (x, y - half), (x + half, y), (x, y + half), (x - half, y)];
                area.draw(&Polygon::new(corners.clone(), ORANGE.filled()))?;
                area.draw(&PathElement::new(corners, line(INK, 1.2)))
            }
            Self::Mistyped => {
                for end in [
                    [(x - half, y - half), (x + half, y + half)],
                    [(x - half, y + half), (x + half, y - half)],
                ] {
                    area.draw(&PathElement::new(end.to_vec(), line(VERMILLION, 2.6)))?;
                }
                Ok(())
            }
            Self::Full => {
                area.draw(&Circle::new((x, y), half, PAPER.filled()))?;
                area.draw(&Circle::new((x, y), half, line(GREEN, 2.6)))
            }
            Self::Machine { index, inside } => {
                let colour = MACHINES[index % MACHINES.len()];
                let inner = if inside { colour } else { PAPER };
                area.draw(&Circle::new((x, y), half, inner.filled()))?;
                area.draw(&Circle::new((x, y), half, line(colour, 2.6)))
            }
        }
    }
}
