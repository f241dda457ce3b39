//! A thermometer that shows the same for weeks.

use jiff::civil::Date;

use super::Finder;
use crate::problem::{Problem, ProblemKind};

/// So many batches in a row with the same number, over so many days, are no chance: doughs and
/// rooms vary by more than a thermometer's last digit. Common practice, no source.
const BATCHES: usize = 8;
const DAYS: i32 = 20;
/// The same of a log without dates.
const UNDATED_BATCHES: usize = 20;
/// What is read of every batch. Flour and water may come from one refrigerator all year.
const READ: [&str; 2] = ["room_c", "dough_c"];

impl Finder<'_> {
    pub(super) fn stuck(&self) -> Vec<Problem> {
        READ.iter().flat_map(|name| self.stuck_at(name)).collect()
    }

    fn stuck_at(&self, name: &str) -> Vec<Problem> {
        let batches = self.machine.batches();
        let value = |index: usize| {
            let batch = &batches[index];
            match name {
                "room_c" => Some(batch.charge.room_c),
                _ => batch.stages.last().and_then(|s| s.reading.dough_c),
            }
        };
        let day = |index: usize| batches[index].date.as_deref()?.parse::<Date>().ok();
        let mut doubts = Vec::new();
        let mut first = 0;
        for index in 1..=batches.len() {
            let same =
                index < batches.len() && value(index).is_some() && value(index) == value(first);
            if same {
                continue;
            }
            let count = index - first;
            let days = day(first).zip(day(index - 1)).map(|(from, to)| (to - from).get_days());
            let long = match days {
                Some(days) => count >= BATCHES && days >= DAYS,
                None => count >= UNDATED_BATCHES,
            };
            if let Some(found) = value(first).filter(|_| long) {
                let row = match name {
                    "room_c" => self.machine.rows_of(first)[0],
                    _ => *self.machine.rows_of(first).last().unwrap_or(&0),
                };
                let kind = ProblemKind::Stuck { batches: count, days };
                doubts.push(self.doubt(row, name, found, kind));
            }
            first = index;
        }
        doubts
    }
}
