//! The columns of a log: their names, what they hold and the header that lists them.

use std::sync::Arc;

use kneadfit::batch::limits;

use crate::cell::{Found, as_text};
use crate::column_names::ColumnNames;
use crate::dates::DateOrder;
use crate::dressed::DecimalMark;
use crate::names::{self, Meaning, is_blank, is_speed_name, nearest};
use crate::problem::{ColumnRef, ProblemKind};
use crate::records::Record;
use crate::sheet::Spread;
use crate::stages::StageScale;
use crate::typed_times::Times;
use crate::unit::Unit;
use crate::units_row::{InUnit, Units, in_unit};

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
#[derive(Debug, Default)]
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
    positions: [Option<usize>; Number::ALL.len()],
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

    /// Whether a row only repeats the header, or the units under it, as tables do that were
    /// made page by page.
    pub(crate) fn is_repeated_by(&self, record: &Record<'_>) -> bool {
        let same = |theirs: &[u8], ours: &str| {
            let theirs = as_text(theirs).unwrap_or("?").trim_matches(is_blank);
            theirs.eq_ignore_ascii_case(ours.trim_matches(is_blank))
        };
        let batch = self.batch.unwrap_or(0);
        let is_header = self.names.get(batch).is_some_and(|name| same(record.cell(batch), name))
            && record.len() > 1
            && self.names.iter().enumerate().all(|(index, name)| same(record.cell(index), name));
        is_header || (self.has_units && Units::of(record, self).is_some())
    }

    /// Reads the header's cells; `units`: those of the row under it.
    pub(crate) fn parse<'a>(
        cells: impl Iterator<Item = &'a [u8]>,
        own_names: &ColumnNames,
        units: Option<&Units>,
        sheet: bool,
    ) -> (Self, Vec<HeaderFault>) {
        let mut header = Self { sheet, has_units: units.is_some(), ..Self::default() };
        let mut faults = Vec::new();
        let (mut unknown, mut speed_slot);
        for (index, cell) in cells.enumerate() {
            let name: Arc<str> = match as_text(cell) {
                Some(text) => text.into(),
                None => Found::new(cell).as_str().into(),
            };
            let mut fault = |kind, fatal| {
                faults.push(HeaderFault { column: Some(index), kind, fatal });
            };
            let meaning = own_names.meaning(&name).cloned().or_else(|| names::meaning(&name));
            let said = units.and_then(|units| Some((units.at(index)?, units.line)));
            let meaning = match said
                .map(|(unit, line)| (in_unit(meaning.clone(), &name, unit), unit, line))
            {
                Some((InUnit::As(meaning), ..)) => meaning,
                Some((InUnit::Contradicted, unit, line)) => {
                    fault(ProblemKind::UnitContradicted { unit, line }, true);
                    meaning
                }
                None => meaning,
            };
            let mut unit = Unit::Own;
            let (column, slot) = match &meaning {
                Some(Meaning::Batch) => (Column::Batch, &mut header.batch),
                Some(Meaning::Machine) => (Column::Machine, &mut header.machine),
                Some(Meaning::Date) => (Column::Date, &mut header.date),
                Some(Meaning::Flour) => (Column::Flour, &mut header.flour),
                Some(Meaning::Note) => (Column::Unread, &mut header.note),
                Some(Meaning::Number(number, in_unit)) => {
                    unit = *in_unit;
                    (Column::Number(*number), &mut header.positions[*number as usize])
                }
                Some(Meaning::Minutes(speed, in_unit)) => {
                    unit = *in_unit;
                    if !is_speed_name(speed) {
                        fault(ProblemKind::SpeedName, true);
                    }
                    let known = header.speeds.iter().position(|known| **known == **speed);
                    let place = known.unwrap_or(header.speeds.len());
                    if known.is_none() {
                        header.speeds.push(speed.as_str().into());
                        header.speed_columns.push(index);
                    }
                    speed_slot = known.map(|known| header.speed_columns[known]);
                    (Column::Minutes(place), &mut speed_slot)
                }
                None => {
                    // The sheet's columns go on to the right of the log, and before it.
                    if !(sheet && name.is_empty()) {
                        fault(ProblemKind::UnknownColumn { nearest: nearest(&name) }, false);
                    }
                    unknown = None;
                    (Column::Unread, &mut unknown)
                }
            };
            let meaning: Arc<str> = match meaning {
                Some(meaning) if meaning.name() == *name => name.clone(),
                Some(meaning) => meaning.name().into(),
                None => name.clone(),
            };
            match *slot {
                None => *slot = Some(index),
                Some(first) if header.names[first] == name => {
                    fault(ProblemKind::ColumnTwice { first: first + 1 }, true);
                }
                Some(first) => {
                    let other = header.names[first].clone();
                    fault(ProblemKind::SameQuantity { first: first + 1, other }, true);
                }
            }
            header.columns.push(column);
            header.names.push(name);
            header.meanings.push(meaning);
            header.dress.push(Dress { unit, ..Dress::default() });
            header.dressed |= unit != Unit::Own;
        }
        let missing: Vec<_> = [("batch", header.batch), ("room_c", header.position(Number::RoomC))]
            .into_iter()
            .filter(|(_, position)| position.is_none())
            .map(|(name, _)| name)
            .collect();
        faults.extend(missing.into_iter().map(|name| HeaderFault {
            column: None,
            kind: ProblemKind::MissingColumn { name },
            fatal: true,
        }));
        for (ours, theirs) in own_names.absent(header.names.iter().map(|name| &**name)) {
            let kind = ProblemKind::NamedColumnMissing { ours, theirs };
            faults.push(HeaderFault { column: None, kind, fatal: false });
        }
        (header, faults)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parse(text: &str) -> (Header, Vec<HeaderFault>) {
        Header::parse(text.split(',').map(str::as_bytes), &ColumnNames::default(), None, false)
    }

    #[test]
    fn order_of_columns_is_free_and_speeds_keep_theirs() {
        let (header, faults) = parse("minutes_high,room_c,batch,minutes_rest,flour_kg,minutes_low");
        assert!(faults.is_empty());
        let speeds: Vec<_> = header.speeds.iter().map(|s| &**s).collect();
        assert_eq!(speeds, ["high", "rest", "low"]);
        assert_eq!(header.speed_columns, [0, 3, 5]);
        assert_eq!(header.position(Number::FlourKg), Some(4));
        assert_eq!(header.position(Number::WaterKg), None);
    }

    #[test]
    fn an_unknown_column_names_the_nearest_known() {
        for (written, expected) in [
            ("flour kg", Some("flour_kg")),
            ("watr_c", Some("water_c")),
            ("Minutes Low", Some("minutes_low")),
            ("devlopment", Some("development")),
            ("colour of the sky", None),
            ("", None),
        ] {
            let (_, faults) = parse(&format!("batch,room_c,{written}"));
            assert_eq!(faults.len(), 1, "{written}");
            let ProblemKind::UnknownColumn { nearest } = &faults[0].kind else {
                panic!("{written}: not told as unknown")
            };
            assert_eq!(nearest.as_deref(), expected, "{written}");
            assert!(!faults[0].fatal);
        }
    }

    #[test]
    fn units_and_capitals_are_taken_and_one_quantity_stands_once() {
        let (header, faults) = parse(" Batch ,ROOM_F,flour_lb,seconds_low,development_percent");
        assert!(faults.is_empty() && header.dressed);
        let meanings: Vec<_> = header.meanings.iter().map(|name| &**name).collect();
        let expected = ["batch", "room_f", "flour_lb", "seconds_low", "development_percent"];
        assert_eq!(meanings, expected);
        for twice in ["room_f", "Room_C", "flour_kg,flour_g", "minutes_low,seconds_low"] {
            let (_, faults) = parse(&format!("batch,room_c,{twice}"));
            assert_eq!(faults.len(), 1, "{twice}");
            assert!(matches!(faults[0].kind, ProblemKind::SameQuantity { .. }), "{twice}");
            assert!(faults[0].fatal);
        }
    }

    #[test]
    fn speeds_without_a_readable_name_stop_the_file() {
        for written in ["minutes_", "minutes_ low", "minutes_a\u{7}b"] {
            let (_, faults) = parse(&format!("batch,room_c,{written}"));
            assert!(matches!(faults[0].kind, ProblemKind::SpeedName), "{written}");
            assert!(faults[0].fatal);
        }
    }
}
