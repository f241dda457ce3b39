//! What of a log is read, and what for.

use std::sync::Arc;

use jiff::civil::Date;

use crate::column_names::ColumnNames;
use crate::mend::MendedCell;
use crate::stages::StageScale;

/// What the log is read for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Purpose {
    /// To learn from its readings: a batch of which nothing was read is set aside.
    #[default]
    Calibrating,
    /// To say what its batches will read: `dough_c` and `development` may be blank.
    Forecasting,
    /// To plan what its rows without a reading leave blank: water, ice and minutes. There
    /// `water_kg` is the whole formula water, the ice in it included.
    Planning,
}

/// Which rows are read, and what for. The default takes every row, to calibrate.
///
/// # Examples
///
/// ```
/// use kneadfit_log::{Purpose, ReadOptions};
///
/// let options = ReadOptions::default()
///     .only_machine("spiral")
///     .since(jiff::civil::date(2026, 3, 1));
/// assert_eq!(options.purpose, Purpose::Calibrating);
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct ReadOptions {
    /// What the log is read for.
    pub purpose: Purpose,
    /// The only machine whose rows are wanted; `None`: all.
    pub machine: Option<Arc<str>>,
    /// The first day wanted; `None`: from the beginning.
    pub since: Option<Date>,
    /// The last day wanted; `None`: to the end.
    pub until: Option<Date>,
    /// A machine whose speeds are known beforehand: minutes of its rows at another speed
    /// are an error. `None`: the log says which speeds there are.
    pub known_speeds: Option<(Arc<str>, Vec<Arc<str>>)>,
    /// The sheet of a workbook that is read; `None`: the one most like a log.
    pub sheet: Option<Arc<str>>,
    /// Which of the table's columns are which, where they have other names than the log's.
    pub columns: ColumnNames,
    /// Names that may stand for grades of development.
    pub stages: StageScale,
    /// Cells that are read as if they held another number: to see what would be.
    pub mends: Vec<MendedCell>,
    /// Whether the rows' notes are kept, for a log that is to be written again.
    pub keep_notes: bool,
}

impl ReadOptions {
    /// The options of a log whose batches are to be forecast.
    pub fn forecasting() -> Self {
        Self { purpose: Purpose::Forecasting, ..Self::default() }
    }

    /// The options of a log whose batches are to be planned.
    pub fn planning() -> Self {
        Self { purpose: Purpose::Planning, ..Self::default() }
    }

    /// Takes as an error what rows of `machine` have at other speeds than these.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit_log::{ReadOptions, read_log};
    ///
    /// let options = ReadOptions::forecasting().with_speeds("spiral", ["low", "high"]);
    /// let text = "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_turbo\n\
    ///             1,10,21,6.5,12,24,3\n";
    /// let read = read_log("tomorrow.csv", "spiral", text.as_bytes(), &options);
    /// assert_eq!(&*read.problems[0].column.as_ref().unwrap().name, "minutes_turbo");
    /// ```
    #[must_use]
    pub fn with_speeds<S: Into<Arc<str>>>(
        mut self,
        machine: impl Into<Arc<str>>,
        speeds: impl IntoIterator<Item = S>,
    ) -> Self {
        self.known_speeds = Some((machine.into(), speeds.into_iter().map(Into::into).collect()));
        self
    }

    /// Reads a workbook's sheet of this name.
    #[must_use]
    pub fn from_sheet(mut self, sheet: impl Into<Arc<str>>) -> Self {
        self.sheet = Some(sheet.into());
        self
    }

    /// Finds columns by the baker's own headers.
    #[must_use]
    pub fn with_columns(mut self, columns: ColumnNames) -> Self {
        self.columns = columns;
        self
    }

    /// Takes names of stages for grades of development.
    #[must_use]
    pub fn with_stages(mut self, stages: StageScale) -> Self {
        self.stages = stages;
        self
    }

    /// Reads some cells as if they held another number.
    #[must_use]
    pub fn with_mends(mut self, mends: Vec<MendedCell>) -> Self {
        self.mends = mends;
        self
    }

    /// Keeps the rows' notes, in [`LogRead::notes`](crate::LogRead::notes).
    #[must_use]
    pub fn with_notes(mut self) -> Self {
        self.keep_notes = true;
        self
    }

    /// Leaves out the rows of every other machine.
    #[must_use]
    pub fn only_machine(mut self, machine: impl Into<Arc<str>>) -> Self {
        self.machine = Some(machine.into());
        self
    }

    /// Leaves out the batches mixed before a day.
    #[must_use]
    pub fn since(mut self, day: Date) -> Self {
        self.since = Some(day);
        self
    }

    /// Leaves out the batches mixed after a day.
    #[must_use]
    pub fn until(mut self, day: Date) -> Self {
        self.until = Some(day);
        self
    }
}
