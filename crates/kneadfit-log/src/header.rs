//! Reading a header: which column is which, and what is wrong with it.

use std::sync::Arc;

use crate::cell::{Found, as_text};
use crate::column_names::ColumnNames;
use crate::columns::{Column, Dress, Header, HeaderFault, Number};
use crate::guess::near_names;
use crate::names::{self, Meaning, is_blank, is_speed_name};
use crate::problem::ProblemKind;
use crate::record::Record;
use crate::unit::Unit;
use crate::units_row::Units;

impl Header {
    /// Whether a row only repeats the header, or the units under it, as tables do that were
    /// made page by page.
    pub(crate) fn is_repeated_by(&self, record: &Record<'_>) -> bool {
        let same = |theirs: &[u8], ours: &str| {
            let theirs = as_text(theirs).unwrap_or("?").trim_matches(is_blank);
            let ours = ours.trim_matches(is_blank);
            // Ours may have its unit behind it.
            let begun = ours.get(..theirs.len()).is_some_and(|s| s.eq_ignore_ascii_case(theirs));
            begun
                && (ours.len() == theirs.len()
                    || self.has_units && ours[theirs.len()..].starts_with(' '))
        };
        let batch = self.batch.unwrap_or(0);
        // Most names are compared as they are: no blank stands around them.
        let is_plain = |name: &[u8]| {
            let ends = [name.first(), name.last()];
            ends.into_iter().flatten().all(u8::is_ascii_graphic)
        };
        let (cell, name) = (record.cell(batch), self.names.get(batch));
        let name = name.map_or(&b""[..], |name| name.as_bytes());
        if !self.has_units && is_plain(cell) && is_plain(name) && !cell.eq_ignore_ascii_case(name) {
            return false;
        }
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
            let (name, meaning) = match said {
                None => (name, meaning),
                Some((unit, line)) => {
                    let read = unit.under(name, meaning, own_names);
                    if read.contradicted {
                        fault(ProblemKind::UnitContradicted { unit: unit.ending, line }, true);
                    }
                    (read.name, read.meaning)
                }
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
                        fault(ProblemKind::UnknownColumn { near: near_names(&name) }, false);
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
            let ProblemKind::UnknownColumn { near } = &faults[0].kind else {
                panic!("{written}: not told as unknown")
            };
            assert_eq!(near.first().map(String::as_str), expected, "{written}");
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
        for written in ["minutes_", "minutes_ low", "minutes_a\u{7}b", "minutes_at_rest"] {
            let (_, faults) = parse(&format!("batch,room_c,{written}"));
            assert!(matches!(faults[0].kind, ProblemKind::SpeedName), "{written}");
            assert!(faults[0].fatal);
        }
    }
}
