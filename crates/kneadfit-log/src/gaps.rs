//! What a row of doughs to plan leaves blank, beside what it says.

use std::sync::Arc;

use crate::columns::{Header, Number};
use crate::options::{Purpose, ReadOptions};
use crate::problem::ProblemKind;
use crate::record::Record;
use crate::row::{Fault, Row};

/// The cells of a row that are left to a plan.
///
/// Only a row without a reading has gaps: one that was read is over, and stands as in a log.
///
/// # Examples
///
/// The water's temperature and the minutes at high are blank:
///
/// ```
/// use kneadfit_log::{ReadOptions, read_log};
///
/// let text = "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,minutes_high\n\
///             1,10,21,6.5,,24,4,\n";
/// let read = read_log("plan.csv", "spiral", text.as_bytes(), &ReadOptions::planning());
/// let gaps = &read.gaps[0];
/// assert!(gaps.water_c && gaps.ice_kg);
/// assert_eq!(gaps.minutes[0].total_min, Some(4.0));
/// assert_eq!((&*gaps.minutes[1].speed, gaps.minutes[1].total_min), ("high", None));
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Gaps {
    /// Whether `water_c` is blank. Until it is planned, the batch's water is taken to be as
    /// warm as the room.
    pub water_c: bool,
    /// Whether `ice_kg` is blank.
    pub ice_kg: bool,
    /// Whether `ice_c` is blank. Until something is said, the ice is taken to melt at 0 °C.
    pub ice_c: bool,
    /// The columns of minutes, rest among them, in their order; empty: the file has none.
    pub minutes: Vec<TotalMinutes>,
}

/// A cell of a column of minutes.
#[derive(Clone, Debug, PartialEq)]
pub struct TotalMinutes {
    /// The speed's name, or [`kneadfit::charge::REST`].
    pub speed: Arc<str>,
    /// Minutes so far, min; `None`: blank.
    pub total_min: Option<f64>,
}

impl Gaps {
    /// Those of a row without a reading.
    pub(crate) fn of(row: &Row<'_>, minutes: &[Option<f64>], header: &Header) -> Self {
        let blank = |number| row.get(number).is_none();
        let cells = header.speeds.iter().zip(minutes);
        Self {
            water_c: blank(Number::WaterC),
            ice_kg: blank(Number::IceKg),
            ice_c: blank(Number::IceC),
            minutes: cells
                .map(|(speed, total)| TotalMinutes { speed: speed.clone(), total_min: *total })
                .collect(),
        }
    }
}

/// Whether a fault is an unreadable temperature of the water of a dough that is to be planned:
/// nothing of it was read yet.
pub(crate) fn is_unread_plan(
    fault: &Fault,
    record: &Record<'_>,
    header: &Header,
    options: &ReadOptions,
) -> bool {
    let is_blank = |number: Number| {
        header.position(number).is_none_or(|at| record.cell(at).trim_ascii().is_empty())
    };
    options.purpose == Purpose::Planning
        && fault.column.is_some()
        && fault.column == header.position(Number::WaterC)
        && matches!(fault.kind, ProblemKind::NotANumber { with_point: None })
        && is_blank(Number::DoughC)
        && is_blank(Number::Development)
}
