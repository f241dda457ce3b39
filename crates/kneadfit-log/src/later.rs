//! A later reading of a batch: what it may repeat, and what was mixed since.

use jiff::civil::Date;
use kneadfit::batch::{Batch, Reading};
use kneadfit::charge::Phase;
use smallvec::SmallVec;

use crate::cell::Found;
use crate::columns::{Header, Number};
use crate::decimal::{Decimal, Kept};
use crate::formula::said_of;
use crate::problem::ProblemKind;
use crate::record::Record;
use crate::row::{Faults, Row};
use crate::unit::Unit;

/// Minutes at each of the header's speeds up to a batch's latest row.
pub(crate) struct Totals(Box<[Total]>);

#[derive(Clone, Copy)]
struct Total {
    minutes: f64,
    /// The same in decimals; `None` where they are too many.
    exact: Kept,
}

impl Totals {
    /// Those of a batch of which only the first row is read: its minutes as they are.
    pub(crate) fn of_first_stage(batch: &Batch, header: &Header) -> Self {
        Self(
            header
                .speeds
                .iter()
                .map(|speed| {
                    let minutes = batch.minutes_at(speed);
                    Total { minutes, exact: Kept::new(Decimal::of(minutes)) }
                })
                .collect(),
        )
    }
}

/// A later row of a batch.
pub(crate) struct Later<'a, 'r> {
    pub(crate) record: &'a Record<'r>,
    pub(crate) header: &'a Header,
    pub(crate) row: &'a Row<'r>,
    pub(crate) minutes: &'a [Option<f64>],
    pub(crate) first_line: u64,
    pub(crate) latest_line: u64,
}

impl Later<'_, '_> {
    /// A name used again on another day is no later reading; only past midnight it may be.
    pub(crate) fn check_day(&self, batch: &Batch, date: Option<&str>, faults: &mut Faults) {
        let (Some(first), Some(date)) = (batch.date.as_deref(), date) else { return };
        if first == date {
            return;
        }
        let kind = ProblemKind::OtherDay { first: first.to_owned(), line: self.first_line };
        let tomorrow = first.parse::<Date>().ok().and_then(|day| day.tomorrow().ok());
        if tomorrow.is_some_and(|day| day.to_string() == date) {
            faults.doubt(self.header.date, kind);
        } else {
            faults.error(self.header.date, kind);
        }
    }

    /// What stands on the first row may be repeated, not changed. Room and bowl
    /// do change while a dough is mixed: the model takes them as at the start,
    /// which is said and no fault.
    pub(crate) fn check_repeats(&self, batch: &Batch, faults: &mut Faults) {
        let line = self.first_line;
        for number in Number::ALL {
            let Some(value) = self.row.get(number) else { continue };
            let Some(first) = said_of(&batch.charge, number) else { continue };
            if first == Some(value) || (first.is_none() && value == 0.0 && is_mass(number)) {
                continue;
            }
            let column = self.header.position(number);
            let unit = column.map_or(Unit::Own, |column| self.header.dress[column].unit);
            let first = first.map(|value| Found::new(unit.written(value).to_string().as_bytes()));
            let kind = ProblemKind::Contradiction { first, line };
            match number {
                Number::RoomC | Number::BowlC => faults.doubt(column, kind),
                _ => faults.error(column, kind),
            }
        }
        if let Some(name) = self.row.flour
            && batch.charge.flour_name.as_deref() != Some(name)
        {
            let first = batch.charge.flour_name.as_ref().map(|name| Found::new(name.as_bytes()));
            let kind = ProblemKind::Contradiction { first, line };
            faults.error(self.header.flour, kind);
        }
    }

    /// What was mixed since the latest row; a blank cell: nothing at that speed.
    /// `None`, with the fault said, where the totals do not follow that row's.
    pub(crate) fn phases_since(
        &self,
        totals: &mut Totals,
        latest: Option<Reading>,
        reading: Reading,
        faults: &mut Faults,
    ) -> Option<Vec<Phase>> {
        let mut phases = Vec::with_capacity(self.minutes.iter().flatten().count());
        // The totals that are reached, which hold once nothing is at fault.
        let mut reached: SmallVec<[(usize, Total); 4]> = SmallVec::new();
        for (speed, total) in self.minutes.iter().enumerate() {
            let Some(minutes) = *total else { continue };
            let column = self.header.speed_columns[speed];
            let before = totals.0[speed];
            if minutes < before.minutes {
                let kind =
                    ProblemKind::MinutesDown { before_min: before.minutes, line: self.latest_line };
                faults.error(Some(column), kind);
                continue;
            }
            if minutes > before.minutes {
                let exact = self.exact(speed, minutes);
                reached.push((speed, Total { minutes, exact: Kept::new(exact) }));
                let since = match (exact, before.exact.get()) {
                    (Some(now), Some(before)) => now.minus(before).map(Decimal::to_f64),
                    _ => None,
                };
                let since = since.unwrap_or(minutes - before.minutes);
                phases.push(Phase { speed: self.header.speeds[speed].clone(), minutes: since });
            }
        }
        if phases.is_empty() && !faults.any_error() {
            let line = self.latest_line;
            match latest {
                // The same reading twice would count as twice the evidence.
                Some(latest) if latest == reading => {
                    faults.error(None, ProblemKind::RepeatedRow { line });
                }
                Some(latest) if both_read(latest, reading) => {
                    faults.doubt(None, ProblemKind::SameMoment { line });
                }
                _ => {}
            }
        }
        if faults.any_error() {
            return None;
        }
        for (speed, total) in reached {
            totals.0[speed] = total;
        }
        Some(phases)
    }

    /// A total as it is written.
    fn exact(&self, speed: usize, minutes: f64) -> Option<Decimal> {
        let column = self.header.speed_columns[speed];
        let text = self.record.text(column);
        // What stands there may be in seconds, or have a comma.
        let as_it_is = || text.and_then(Decimal::parse).filter(|_| !self.header.dressed);
        as_it_is().or_else(|| Decimal::of(minutes))
    }
}

/// Whether two readings read the same quantity.
fn both_read(one: Reading, other: Reading) -> bool {
    (one.dough_c.is_some() && other.dough_c.is_some())
        || (one.development.is_some() && other.development.is_some())
}

fn is_mass(number: Number) -> bool {
    number.name().ends_with("_kg")
}
