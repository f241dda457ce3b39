//! The report of a calibrated machine: one self-contained page, pure from input to text.
//!
//! | module | is about |
//! |---|---|
//! | `input` | what a report is made of |
//! | `derived`, `bakers` | coefficients as a baker reads them, with their doubt |
//! | `verdict` | how well doughs are forecast, in a paragraph |
//! | `summary` | the rest of the first page, for whoever reads no further |
//! | `numbers` | the table of its numbers |
//! | `figures` | the plots with their captions |
//! | `gaps` | what the log does not tell |
//! | `rows` | rows set aside, and rows that look mistyped |
//! | `made` | how the calibration was made |
//! | `cautions` | what to mind |
//! | `html`, `shown` | how the page and its numbers are written |

pub mod bakers;
mod cautions;
pub mod derived;
mod figures;
mod gaps;
pub mod html;
mod input;
mod made;
mod numbers;
mod rows;
pub mod shown;
mod summary;
mod verdict;

#[cfg(test)]
mod tests;

pub use input::{LogFile, Made, ReportInput};

use html::Html;

/// The report of one machine as an HTML page that needs nothing beside itself. It is
/// well-formed XML too.
pub fn report_html(input: &ReportInput<'_>) -> String {
    let mut page = Html::page(
        &format!("{} – mixer calibration", input.calibration.machine),
        include_str!("page.css"),
    );
    verdict::write(&mut page, input);
    numbers::write(&mut page, input);
    figures::write(&mut page, input);
    gaps::write(&mut page, input);
    rows::write(&mut page, input);
    made::write(&mut page, input);
    cautions::write(&mut page);
    page.finished()
}
