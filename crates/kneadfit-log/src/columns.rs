//! The columns of a log: their names, what they hold and the header that lists them.

use std::sync::Arc;

use kneadfit::batch::limits;

use crate::cell::{Found, as_text};
use crate::problem::ProblemKind;

/// What stands before the speed's name in the header of a column of minutes.
pub const MINUTES_PREFIX: &str = "minutes_";

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

/// The header of one file.
#[derive(Debug, Default)]
pub(crate) struct Header {
    /// One a column of the file, in its order.
    pub(crate) columns: Vec<Column>,
    /// The header's cells, as written.
    pub(crate) names: Vec<Arc<str>>,
    /// The speeds, in the order of their columns; rest is among them.
    pub(crate) speeds: Vec<Arc<str>>,
    /// The column of each speed.
    pub(crate) speed_columns: Vec<usize>,
    positions: [Option<usize>; Number::ALL.len()],
    pub(crate) batch: Option<usize>,
    pub(crate) machine: Option<usize>,
    pub(crate) date: Option<usize>,
    pub(crate) flour: Option<usize>,
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

    /// Reads the header's cells.
    pub(crate) fn parse<'a>(cells: impl Iterator<Item = &'a [u8]>) -> (Self, Vec<HeaderFault>) {
        let mut header = Self::default();
        let mut faults = Vec::new();
        let mut note = None;
        let (mut unknown, mut speed_slot);
        for (index, cell) in cells.enumerate() {
            let name: Arc<str> = match as_text(cell) {
                Some(text) => text.into(),
                None => Found::new(cell).as_str().into(),
            };
            let mut fault = |kind, fatal| {
                faults.push(HeaderFault { column: Some(index), kind, fatal });
            };
            let number = Number::ALL.into_iter().find(|number| number.name() == &*name);
            let (column, slot) = match (&*name, number) {
                ("batch", _) => (Column::Batch, &mut header.batch),
                ("machine", _) => (Column::Machine, &mut header.machine),
                ("date", _) => (Column::Date, &mut header.date),
                ("flour", _) => (Column::Flour, &mut header.flour),
                ("note", _) => (Column::Unread, &mut note),
                (_, Some(number)) => {
                    (Column::Number(number), &mut header.positions[number as usize])
                }
                (written, None) => match written.strip_prefix(MINUTES_PREFIX) {
                    Some(speed) => {
                        if !is_speed_name(speed) {
                            fault(ProblemKind::SpeedName, true);
                        }
                        let known = header.speeds.iter().position(|known| &**known == speed);
                        let place = known.unwrap_or(header.speeds.len());
                        if known.is_none() {
                            header.speeds.push(speed.into());
                            header.speed_columns.push(index);
                        }
                        speed_slot = known.map(|known| header.speed_columns[known]);
                        (Column::Minutes(place), &mut speed_slot)
                    }
                    None => {
                        fault(ProblemKind::UnknownColumn { nearest: nearest(written) }, false);
                        unknown = None;
                        (Column::Unread, &mut unknown)
                    }
                },
            };
            match *slot {
                Some(first) => fault(ProblemKind::ColumnTwice { first: first + 1 }, true),
                None => *slot = Some(index),
            }
            header.columns.push(column);
            header.names.push(name);
        }
        let missing: Vec<_> = [("batch", header.batch), ("room_c", header.position(Number::RoomC))]
            .into_iter()
            .filter(|(_, position)| position.is_none())
            .map(|(name, _)| name)
            .collect();
        if missing.is_empty() {
            return (header, faults);
        }
        // One slip in the whole header is said once, not once a column.
        let whole = match header.separator() {
            Some(separator) => Some(ProblemKind::Separator { separator }),
            None => header.spelling(&missing),
        };
        if let Some(kind) = whole {
            faults.retain(|fault| fault.fatal);
            faults.push(HeaderFault { column: None, kind, fatal: true });
        } else {
            // Nothing of the file is read: only what may be a needed column misspelt helps.
            faults.retain(|fault| {
                fault.fatal || !matches!(fault.kind, ProblemKind::UnknownColumn { nearest: None })
            });
            faults.extend(missing.into_iter().map(|name| HeaderFault {
                column: None,
                kind: ProblemKind::MissingColumn { name },
                fatal: true,
            }));
        }
        (header, faults)
    }

    /// What seems to part the columns, where the whole header is one cell.
    fn separator(&self) -> Option<char> {
        let [only] = self.names.as_slice() else { return None };
        [';', '\t', '|'].into_iter().find(|&c| only.contains(c))
    }

    /// That the columns which are missing are there in another spelling.
    fn spelling(&self, missing: &[&str]) -> Option<ProblemKind> {
        let columns: Vec<String> = self
            .names
            .iter()
            .zip(&self.columns)
            .filter(|(_, column)| matches!(column, Column::Unread))
            .filter_map(|(name, _)| known_as(&plain(name)?).filter(|known| *known != **name))
            .collect();
        let all = missing.iter().all(|name| columns.iter().any(|column| column == name));
        all.then_some(ProblemKind::HeaderSpelling { columns })
    }
}

/// A header as it would be written here; `None`: too long to be one.
fn plain(written: &str) -> Option<String> {
    // A header may be a whole swallowed file: distance costs its length squared.
    const LONGEST: usize = 40;
    let short = written.chars().take(LONGEST + 1).count() <= LONGEST;
    short.then(|| written.trim().to_lowercase().replace([' ', '-', '.', '/'], "_"))
}

/// A name that is a column's to the letter.
fn known_as(plain: &str) -> Option<String> {
    let speed = plain.strip_prefix(MINUTES_PREFIX).is_some_and(is_speed_name);
    (speed || known_names().any(|name| name == plain)).then(|| plain.to_owned())
}

fn known_names() -> impl Iterator<Item = &'static str> {
    TEXT_COLUMNS.into_iter().chain(Number::ALL.into_iter().map(Number::name))
}

/// Whether a speed can be so named: something to read, without blanks around it
/// or control characters in it.
pub(crate) fn is_speed_name(name: &str) -> bool {
    !name.is_empty() && name.trim() == name && !name.chars().any(char::is_control)
}

/// The known column that a header most likely means; `None` when none is near.
fn nearest(written: &str) -> Option<String> {
    let plain = plain(written)?;
    if let Some(speed) = plain.strip_prefix(MINUTES_PREFIX)
        && is_speed_name(speed)
    {
        return Some(plain);
    }
    let (distance, name) =
        known_names().map(|name| (strsim::damerau_levenshtein(&plain, name), name)).min()?;
    (distance <= 1 + name.len() / 5).then(|| name.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parse(text: &str) -> (Header, Vec<HeaderFault>) {
        Header::parse(text.split(',').map(str::as_bytes))
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
            ("Flour_kg", Some("flour_kg")),
            ("flour kg", Some("flour_kg")),
            ("watr_c", Some("water_c")),
            ("Minutes_Low", Some("minutes_low")),
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
    fn speeds_without_a_readable_name_stop_the_file() {
        for written in ["minutes_", "minutes_ low", "minutes_a\u{7}b"] {
            let (_, faults) = parse(&format!("batch,room_c,{written}"));
            assert!(matches!(faults[0].kind, ProblemKind::SpeedName), "{written}");
            assert!(faults[0].fatal);
        }
    }
}
