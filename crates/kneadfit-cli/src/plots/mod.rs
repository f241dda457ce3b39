//! Plots of a calibrated machine: pure functions from a calibration to SVG text.
//!
//! | module | is about |
//! |---|---|
//! | `residuals` | residuals against all that they should not depend on |
//! | `measured` | what was measured against what the other batches forecast |
//! | `curves` | how a typical batch warms at each speed |
//! | `development_heat` | what a full development costs in °C |
//! | `comparison` | one dough on every machine |
//! | `sheet` | several panels on one picture |
//! | `panel`, `axis`, `labels`, `marks`, `style`, `text`, `canvas` | how a picture is drawn |
//! | `readings` | which readings are special and which are drawn |

mod axis;
mod canvas;
pub mod comparison;
pub mod curves;
pub mod development_heat;
mod labels;
mod marks;
pub mod measured;
mod panel;
mod readings;
pub mod residuals;
mod sheet;
mod style;
pub mod text;

pub use canvas::escape;
pub use readings::INFLUENCE_TIMES_BATCHES;
pub use sheet::{key_svg, residuals_svg};
