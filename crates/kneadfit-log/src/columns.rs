//! The columns of a log: their names, what they hold and the header that lists them.

use std::sync::Arc;

use kneadfit::batch::limits;

use crate::dates::DateOrder;
use crate::dressed::DecimalMark;
use crate::problem::{ColumnRef, ProblemKind};
use crate::sheet::Spread;
use crate::stages::StageScale;
use crate::typed_times::Times;
use crate::unit::Unit;

/// What stands before the speed's name in the header of a column of minutes.
pub const MINUTES_PREFIX: &str = "minutes_";

/// The same where the column is in seconds.
pub const SECONDS_PREFIX: &str = "seconds_";

/// The columns that hold text.
pub(crate) const TEXT_COLUMNS: [&str; 5] = ["batch", "machine", "date", "flour", "note"];

macro_rules! number_columns {
    ($($name:ident $text:literal $limits:expr;)*) => {
        /// A column that holds one number about the batch.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub(crate) enum Number { $($name),* }

        impl Number {
            /// All of them, in the order of the canonical log.
            pub(crate) const ALL: [Number; [$($text),*].len()] = [$(Number::$name),*];

            /// The column's header.
            pub(crate) const fn name(self) -> &'static str {
                match self { $(Number::$name => $text),* }
            }

            /// The least and the most that can physically be.
            pub(crate) const fn limits(self) -> (f64, f64) {
                match self { $(Number::$name => $limits),* }
            }
        }
    };
}

number_columns! {
    FlourKg "flour_kg" limits::MASS_KG;
    FlourC "flour_c" limits::TEMPERATURE_C;
    WaterKg "water_kg" limits::MASS_KG;
    WaterC "water_c" limits::TEMPERATURE_C;
    IceKg "ice_kg" limits::MASS_KG;
    IceC "ice_c" (limits::TEMPERATURE_C.0, 0.0);
    PrefermentKg "preferment_kg" limits::MASS_KG;
    PrefermentC "preferment_c" limits::TEMPERATURE_C;
    PrefermentHydration "preferment_hydration" limits::HYDRATION;
    SaltKg "salt_kg" limits::MASS_KG;
    SugarKg "sugar_kg" limits::MASS_KG;
    FatKg "fat_kg" limits::MASS_KG;
    OtherKg "other_kg" limits::MASS_KG;
    OtherC "other_c" limits::TEMPERATURE_C;
    OtherKjPerKgK "other_kj_per_kg_k" limits::SPECIFIC_HEAT_KJ_PER_KG_K;
    RoomC "room_c" limits::TEMPERATURE_C;
    BowlC "bowl_c" limits::TEMPERATURE_C;
    DoughC "dough_c" limits::TEMPERATURE_C;
    Development "development" limits::DEVELOPMENT;
}

/// What a column of the file holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Column {
    Batch,
    Machine,
    Date,
    Flour,
    Number(Number),
    /// Total minutes at the speed of this index among the header's.
    Minutes(usize),
    /// A note, or a column that is not known.
    Unread,
}

/// How a column is written, where that is not the canonical way.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Dress {
    pub(crate) unit: Unit,
    pub(crate) mark: DecimalMark,
    /// A column of per cents that holds shares of 1.
    pub(crate) shares: bool,
    pub(crate) times: Times,
}

/// The header of one file, and how its columns are written.
#[derive(Clone, Debug, Default)]
pub(crate) struct Header {
    /// One a column of the file, in its order.
    pub(crate) columns: Vec<Column>,
    /// The header's cells, as written.
    pub(crate) names: Vec<Arc<str>>,
    /// What each is called in a canonical log, in its own unit; as written where not known.
    pub(crate) meanings: Vec<Arc<str>>,
    /// The speeds, in the order of their columns; rest is among them.
    pub(crate) speeds: Vec<Arc<str>>,
    /// The column of each speed.
    pub(crate) speed_columns: Vec<usize>,
    pub(crate) positions: [Option<usize>; Number::ALL.len()],
    pub(crate) batch: Option<usize>,
    pub(crate) machine: Option<usize>,
    pub(crate) date: Option<usize>,
    pub(crate) flour: Option<usize>,
    pub(crate) note: Option<usize>,
    /// One a column.
    pub(crate) dress: Vec<Dress>,
    /// Whether a cell may be in any but the canonical dress. Until the rows are looked at
    /// together, none is.
    pub(crate) dressed: bool,
    pub(crate) looked: bool,
    /// Whether it is that of a sheet.
    pub(crate) sheet: bool,
    /// The order of day and month in the dates; `None`: not known.
    pub(crate) date_order: Option<DateOrder>,
    /// Names for grades.
    pub(crate) stages: StageScale,
    /// Lines of rows that are examples and no batch, as they are met.
    pub(crate) examples: Vec<u64>,
    /// Whether a row of units stands under it, which is no batch.
    pub(crate) has_units: bool,
    /// Lines of rows that repeat it.
    pub(crate) repeats: Vec<u64>,
    /// Lines of rows that hold totals and no batch.
    pub(crate) totals: Vec<u64>,
    /// Columns of a sheet whose times could be two, and whether minutes and seconds are meant.
    pub(crate) times: Vec<(usize, bool)>,
}

/// Something wrong with the header: the column's index, what was found and its kind.
pub(crate) struct HeaderFault {
    pub(crate) column: Option<usize>,
    pub(crate) kind: ProblemKind,
    /// Whether the file cannot be read at all.
    pub(crate) fatal: bool,
}

impl Header {
    /// The same with its own copies of the speeds' names: threads that count up and down
    /// one copy wait for each other.
    pub(crate) fn apart(&self) -> Self {
        let speeds = self.speeds.iter().map(|name| Arc::from(&**name)).collect();
        Self { speeds, ..self.clone() }
    }

    /// Where a number's column stands; `None` when the file has none.
    pub(crate) fn position(&self, number: Number) -> Option<usize> {
        self.positions[number as usize]
    }

    /// What merged cells of a column mean: what they hold is that of each of their rows, but
    /// no reading is of two.
    pub(crate) fn spread(&self, index: usize) -> Spread {
        match self.columns.get(index) {
            None | Some(Column::Unread) => Spread::Not,
            Some(Column::Number(Number::DoughC | Number::Development)) => Spread::Mark,
            Some(_) => Spread::Value,
        }
    }

    /// A column, for a problem.
    pub(crate) fn column_ref(&self, index: usize) -> ColumnRef {
        let name = self.names[index].clone();
        ColumnRef { name, number: index + 1, meaning: self.meanings[index].clone() }
    }
}
