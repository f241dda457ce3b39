//! The kinds of problems, each with what its words are made of.

use std::sync::Arc;

use kneadfit::batch::BatchError;
use serde::{Serialize, Serializer};

use super::Found;
use crate::mend::Mend;

/// What can be wrong with a log.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[non_exhaustive]
pub enum ProblemKind {
    /// The file has not even a header.
    EmptyFile,
    /// The file has a header and no row under it.
    NoRows,
    /// A workbook that gives no row: locked, damaged or empty.
    NoWorkbook {
        /// Why.
        reason: String,
    },
    /// Reading stopped: the rows before are kept.
    Unreadable {
        /// What the system said.
        reason: String,
    },
    /// A column without which no row can be used.
    MissingColumn {
        /// Its name.
        name: &'static str,
    },
    /// A column of the list of columns that the table does not have.
    NamedColumnMissing {
        /// The log's name for it.
        ours: String,
        /// The header that was to be found.
        theirs: String,
    },
    /// Two columns of one quantity, in different units or words: which one holds, only the
    /// baker can say.
    SameQuantity {
        /// Number of the first of them.
        first: usize,
        /// That column's header.
        other: Arc<str>,
    },
    /// A header that says one unit over a row of units that says another.
    UnitContradicted {
        /// The unit in the row of units.
        unit: &'static str,
        /// That row's line.
        line: u64,
    },
    /// A workbook that is larger than what is read.
    TooLarge {
        /// What of it is.
        what: &'static str,
        /// The most that is taken.
        most: u64,
    },
    /// A workbook without the sheet that was asked for.
    NoSuchSheet {
        /// The sheet.
        wanted: String,
        /// Those that it has.
        sheets: Vec<String>,
    },
    /// A sheet was asked for, and the file is a text.
    NoSheets {
        /// The sheet.
        wanted: String,
    },
    /// More than one sheet of a workbook looks like a log; the first is read.
    OtherSheets {
        /// The others.
        others: Vec<String>,
    },
    /// Dates of which the day may be the month: none of the column shows which comes first.
    DateOrderUnknown {
        /// How many there are.
        count: usize,
        /// The line of the first.
        line: u64,
    },
    /// Dates with the day first and dates with the month first in one column.
    DateOrderTorn {
        /// The line of the first date that has the day first.
        day_first_line: u64,
        /// The line of the first date that has the month first.
        month_first_line: u64,
        /// How many could be either, and are left out.
        left_out: usize,
    },
    /// Decimal points and decimal commas in one column.
    DecimalMarks {
        /// The mark that most of the column has, and the line of the first.
        most: char,
        /// Its first line.
        most_line: u64,
        /// The other mark's first line.
        other_line: u64,
        /// How many cells have the other mark.
        others: usize,
    },
    /// A column of per cents in which nothing is above 1.
    SharesAsPercent,

    /// A part of 1 in a column whose other cells are per cents.
    ShareAmongPercents,
    /// A column of minutes in which no row of the file has anything.
    SpeedBlank,
    /// Two columns of one name: which one holds, only the baker can say.
    ColumnTwice {
        /// Number of the first of them.
        first: usize,
    },
    /// A column that this crate does not know; it is not read.
    UnknownColumn {
        /// The known columns that it may be, the likeliest first.
        near: Vec<String>,
    },
    /// `minutes_` without a readable name of a speed behind it.
    SpeedName,

    /// A row with more or fewer cells than the header.
    CellCount {
        /// Cells of the row.
        cells: usize,
        /// Cells of the header.
        columns: usize,
        /// Lines of the file that the row spans.
        lines: u64,
    },
    /// The file ended inside a quoted cell.
    UnclosedQuote {
        /// Lines of the file that the row spans.
        lines: u64,
    },
    /// A cell that is not text in UTF-8.
    NotUtf8,
    /// A cell that is neither blank nor a number.
    NotANumber {
        /// The number that it is with a point for its comma.
        with_point: Option<f64>,
    },
    /// A point in a column of decimal commas.
    PointAmongCommas {
        /// The number that it is with a decimal point.
        as_decimal: Option<f64>,
    },
    /// A part of a day among minutes: a time that lost its format.
    DayPart {
        /// The minutes that it would be.
        minutes: f64,
    },
    /// Hours at a speed, written as a spreadsheet writes minutes and seconds that were typed.
    HoursOfMixing {
        /// The minutes that they are as written.
        minutes: f64,
    },
    /// A cell of a sheet with the format of per cent, in a column that holds no share.
    ShownAsPerCent,
    /// A formula of a sheet of which the file has no value: it was never calculated.
    Uncalculated,
    /// What a spreadsheet shows where a formula failed.
    FailedFormula,
    /// A reading in a merged cell, below its first row.
    MergedReading,
    /// A word that is none of the stages of development.
    NotAStage {
        /// The stages.
        stages: Vec<String>,
    },
    /// Not a number, an infinity, or beyond what a number can hold.
    NotFinite,
    /// A number outside what can physically be.
    OutOfRange {
        /// The least that is possible.
        least: f64,
        /// The most that is possible.
        most: f64,
    },
    /// A temperature that a batch with flour does not have.
    NotADoughTemperature {
        /// The least that is taken, °C.
        least_c: f64,
        /// The most that is taken, °C.
        most_c: f64,
    },
    /// Not a day of the calendar as `2026-03-14`.
    NotADate,
    /// A blank cell that another cell of the row needs.
    Blank {
        /// The column that needs it; `None`: every row does.
        needed_by: Option<&'static str>,
    },
    /// A temperature for an ingredient of which no mass is given.
    MassMissing {
        /// The column of the mass.
        mass: &'static str,
    },
    /// A temperature of flour, and no flour.
    NoFlour,
    /// Nothing is in the bowl.
    EmptyBowl,
    /// Flour, and nothing that wets it.
    NoWater,
    /// More or less water a kg of flour than makes a dough.
    Hydration {
        /// Water of every source a kg of flour.
        hydration: f64,
        /// The least that is taken.
        least: f64,
        /// The most that is taken.
        most: f64,
        /// What would make a dough of it; `None`: no slip that is known.
        mend: Option<Mend>,
    },
    /// More salt than any dough has.
    Salt {
        /// Salt, kg a kg of flour.
        share: f64,
        /// The most that is taken.
        most: f64,
    },
    /// A dough colder than all that it was made of, without ice.
    ColderThanEverything {
        /// The coldest of ingredients, bowl and room, °C.
        coldest_c: f64,
    },
    /// A row whose temperatures were all read on the other scale than their columns'.
    OtherScale {
        /// As they are written, in the order of the mend's cells.
        read: Vec<f64>,
        /// The same in the columns' unit.
        mend: Mend,
    },
    /// The heat in the batch cannot melt its ice.
    IceNotMelted {
        /// The heat that is missing, kJ.
        short_kj: f64,
    },
    /// More ice than the formula water of a dough to plan, which the ice is part of.
    IceBeyondWater {
        /// The formula water, kg.
        water_kg: f64,
    },
    /// A dough to plan that has a reading and no temperature of its water: it is either
    /// mixed already, or what is wanted of it was written for a reading.
    WaterOfReadDough,
    /// The temperature of a planned dough's water that is no number: a blank cell would have it
    /// planned.
    NoWaterToPlan,
    /// A mixing time that no dough gets.
    LongMixing {
        /// The most that is taken without a word, minutes.
        most_min: f64,
    },
    /// A charge larger than mixers take.
    LargeCharge {
        /// Its mass, kg.
        charge_kg: f64,
        /// The most that is taken without a word, kg.
        most_kg: f64,
        /// The row with its masses in another unit; `None`: none that would do, or more than one.
        mend: Option<Mend>,
    },
    /// Minutes at a speed that the machine to forecast with has not.
    UnknownSpeed {
        /// The speeds that it has.
        speeds: Vec<Arc<str>>,
    },
    /// A charge quite unlike the machine's others.
    UnlikeOtherCharges {
        /// Its mass, kg.
        charge_kg: f64,
        /// The machine's middle charge, kg.
        median_kg: f64,
        /// The row with its masses in another unit; `None`: none that would do, or more than one.
        mend: Option<Mend>,
    },

    /// Total minutes that are less than at an earlier reading of the batch.
    MinutesDown {
        /// Total at the earlier reading, minutes.
        before_min: f64,
        /// The line of that reading.
        line: u64,
    },
    /// A later reading that contradicts the batch's first row.
    Contradiction {
        /// What the first row says; `None`: blank.
        first: Option<Found>,
        /// The first row's line.
        line: u64,
    },
    /// A row that says what an earlier row said.
    RepeatedRow {
        /// That row's line.
        line: u64,
    },
    /// A later row of a batch that bears another day than its first.
    OtherDay {
        /// The first row's day.
        first: String,
        /// The first row's line.
        line: u64,
    },
    /// A second, different reading after the same minutes.
    SameMoment {
        /// The other reading's line.
        line: u64,
    },
    /// A later reading of a batch whose first row was set aside.
    FirstRowSetAside {
        /// The first row's line.
        line: u64,
    },
    /// One reading more of a batch than the fit takes.
    TooManyReadings {
        /// The most that are taken.
        most: usize,
    },
    /// A batch of which nothing was read: it cannot teach anything.
    NothingRead,
    /// A batch without a date, where a span of dates is asked for.
    Undated,
    /// A blank machine in a file that names machines in other rows.
    MachineBlank {
        /// The machine that the row is counted to.
        taken_as: Arc<str>,
    },
    /// A batch that an earlier file holds already, number for number.
    RepeatedBatch {
        /// That file.
        source: Arc<str>,
        /// The line in it.
        line: u64,
    },
    /// A batch that is equal in every number to an earlier one under another name.
    EqualBatch {
        /// The earlier one's file.
        source: Arc<str>,
        /// The line in it.
        line: u64,
    },
    /// A dough far wetter than the machine's others.
    TooWet {
        /// Water of every source a kg of flour.
        hydration: f64,
        /// The machine's middle hydration.
        usual: f64,
        /// What would make it like the others.
        mend: Mend,
    },
    /// A batch that the machine's others contradict, and a slip that would explain it.
    Contradicted {
        /// The batch's last reading, °C.
        read_c: f64,
        /// Between what the others foretell it (95 of 100 such doughs), °C.
        expected_c: (f64, f64),
        /// What would make it as they foretell.
        mend: Mend,
    },
    /// The same number in many batches one after the other.
    Stuck {
        /// In how many.
        batches: usize,
        /// Over how many days; `None`: they have no dates.
        days: Option<i32>,
    },
    /// A number that a spreadsheet took for a date.
    MadeADate {
        /// The number that was meant.
        value: f64,
    },
    /// Refused by the model for a reason that no other kind names.
    Refused {
        /// Why.
        #[serde(serialize_with = "as_words")]
        error: BatchError,
    },
}

impl ProblemKind {
    /// A mend of cells of one row is told which row that is.
    pub(crate) fn in_row(mut self, source: &Arc<str>, line: u64) -> Self {
        if let Self::Hydration { mend: Some(mend), .. } | Self::OtherScale { mend, .. } = &mut self
        {
            for cell in &mut mend.cells {
                (cell.source, cell.line) = (source.clone(), line);
            }
        }
        self
    }
}

fn as_words<S: Serializer>(error: &BatchError, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(error)
}
