//! A log to canonical CSV: what the reader reads back as it was.

mod check;
mod error;
mod layout;

use std::collections::HashSet;
use std::io::Write;

use kneadfit::batch::{Batch, BatchLog, Reading};

use crate::columns::Number;
use crate::decimal::Decimal;
use crate::harmless::harmless;
use crate::result::LogRead;
use check::check;
pub use error::WriteError;
use layout::{Layout, merged_speeds, written};

/// Writes the logs of one or several machines as one canonical CSV file.
///
/// One row a stage, in the order of the batches; numbers in the shortest form
/// that reads back to the same bits; a column only where some batch needs it.
/// Read again, a log is as it was, where its batches are as the reader makes
/// them: ingredients in the order of the columns and none of zero mass, phases in
/// the order of the speeds and none of zero minutes. A stage whose phases go back
/// to an earlier speed is written as several rows, the last with its reading.
///
/// # Errors
///
/// The first thing that a log cannot say, as a [`WriteError`], before a byte is
/// written; or the output's own failure.
///
/// # Examples
///
/// ```
/// use kneadfit::batch::{Batch, BatchLog};
/// use kneadfit::charge::{Charge, Material, Phase};
///
/// let charge = Charge::new(24.0).with(Material::Flour, 10.0, 21.0).with(Material::Water, 6.5, 12.0);
/// let batch = Batch::new("1", charge, vec![Phase::mixing("low", 4.0)]).read_dough(19.8);
/// let log = BatchLog::new("spiral", ["low"], vec![batch])?;
///
/// let mut text = Vec::new();
/// kneadfit_log::write_logs(&[log], &mut text)?;
/// assert_eq!(
///     String::from_utf8(text)?,
///     "batch,machine,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,dough_c\n\
///      1,spiral,10,21,6.5,12,24,4,19.8\n"
/// );
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn write_logs(logs: &[BatchLog], output: impl Write) -> Result<(), WriteError> {
    let logs: Vec<&BatchLog> = logs.iter().collect();
    write(&logs, None, output)
}

/// Writes the usable rows of what was read as one canonical CSV file, as [`write_logs`]
/// does, with their notes where these were [kept](crate::ReadOptions::with_notes).
///
/// What is written, read and written again is the same, byte for byte. A text that a
/// spreadsheet would take for a formula stands there [harmlessly](crate::harmless()).
///
/// # Errors
///
/// As [`write_logs`]: files read together may have batches of one name, or speeds in
/// different orders.
///
/// # Examples
///
/// ```
/// use kneadfit_log::{ReadOptions, read_log, write_read};
///
/// let text = "Our log\n\
///             batch;flour_g;flour_f;water_kg;water_c;room_c;seconds_low;dough_c;note\n\
///             1;10000;68;6,5;12;24;270;19,8;=warm bowl\n\
///             2;10000;68;6,5;12;24;270;cold;\n";
/// let options = ReadOptions::default().with_notes();
/// let read = read_log("april.csv", "spiral", text.as_bytes(), &options);
/// let mut clean = Vec::new();
/// write_read(&read, &mut clean)?;
/// assert_eq!(
///     String::from_utf8(clean)?,
///     "batch,machine,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,dough_c,note\n\
///      1,spiral,10,20,6.5,12,24,4.5,19.8,'=warm bowl\n"
/// );
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn write_read(read: &LogRead, output: impl Write) -> Result<(), WriteError> {
    let logs: Vec<&BatchLog> = read.machines.iter().map(|machine| &machine.log).collect();
    write(&logs, Some(read), output)
}

/// `notes`: what the logs were read from, whose rows may have some.
fn write(
    logs: &[&BatchLog],
    notes: Option<&LogRead>,
    output: impl Write,
) -> Result<(), WriteError> {
    let speeds = merged_speeds(logs)?;
    for log in logs {
        let mut names = HashSet::new();
        for batch in &log.batches {
            if !names.insert(&batch.id) {
                let (machine, batch) = (log.machine.clone(), batch.id.clone());
                return Err(WriteError::BatchTwice { machine, batch });
            }
            check(log, batch)?;
        }
    }
    let note = |machine: usize, batch: usize, stage: usize| {
        let read = notes?;
        let row = *read.machines[machine].rows_of(batch).get(stage)?;
        read.notes.get(row)?.as_deref()
    };
    let any_note = (0..logs.len()).any(|m| {
        let batches = logs[m].batches.iter().enumerate();
        batches
            .into_iter()
            .any(|(b, batch)| (0..batch.stages.len()).any(|s| note(m, b, s).is_some()))
    });
    let layout = Layout::of(logs, speeds, any_note);
    let mut writer = csv::Writer::from_writer(output);
    writer.write_record(layout.header())?;
    for (m, log) in logs.iter().enumerate() {
        for (b, batch) in log.batches.iter().enumerate() {
            let mut rows = Rows { log, batch, layout: &layout, first: true, writer: &mut writer };
            rows.write(|stage| note(m, b, stage))?;
        }
    }
    writer.flush().map_err(csv::Error::from)?;
    Ok(())
}

/// Minutes so far at one speed, in decimals as long as they can be.
#[derive(Clone, Copy)]
enum Total {
    Exact(Decimal),
    Rounded(f64),
}

impl Total {
    const ZERO: Self = Self::Exact(Decimal::ZERO);

    fn add(&mut self, minutes: f64) {
        let exact = match *self {
            Total::Exact(before) => Decimal::of(minutes).and_then(|more| before.plus(more)),
            Total::Rounded(_) => None,
        };
        *self = exact.map_or(Total::Rounded(self.to_f64() + minutes), Total::Exact);
    }

    fn to_f64(self) -> f64 {
        match self {
            Total::Exact(decimal) => decimal.to_f64(),
            Total::Rounded(value) => value,
        }
    }

    fn text(self) -> String {
        match self {
            Total::Exact(decimal) => decimal.to_string(),
            Total::Rounded(value) => value.to_string(),
        }
    }
}

/// The rows of one batch.
struct Rows<'a, W: Write> {
    log: &'a BatchLog,
    batch: &'a Batch,
    layout: &'a Layout,
    /// Whether the row that comes is the first, which has the charge.
    first: bool,
    writer: &'a mut csv::Writer<W>,
}

impl<'a, W: Write> Rows<'a, W> {
    fn write(&mut self, note: impl Fn(usize) -> Option<&'a str>) -> Result<(), WriteError> {
        let (log, batch, layout) = (self.log, self.batch, self.layout);
        // A blank cell: the speed is not the machine's, or there was no rest.
        let mut totals: Vec<Option<Total>> = layout
            .speeds
            .iter()
            .map(|speed| log.speeds.contains(speed).then_some(Total::ZERO))
            .collect();
        for (index, stage) in batch.stages.iter().enumerate() {
            let mut latest = None;
            for phase in &stage.phases {
                let place = layout.speeds.iter().position(|speed| *speed == phase.speed);
                let Some(place) = place else {
                    let (batch, speed) = (batch.id.clone(), phase.speed.clone());
                    return Err(WriteError::UnknownSpeed { batch, speed });
                };
                if latest.is_some_and(|latest| place <= latest) {
                    self.row(&totals, Reading::default(), None)?;
                }
                latest = Some(place);
                totals[place].get_or_insert(Total::ZERO).add(phase.minutes);
            }
            self.row(&totals, stage.reading, note(index))?;
        }
        Ok(())
    }

    fn row(
        &mut self,
        totals: &[Option<Total>],
        reading: Reading,
        note: Option<&str>,
    ) -> Result<(), WriteError> {
        let number = |value: Option<f64>| value.map(|v| v.to_string()).unwrap_or_default();
        let head = std::mem::replace(&mut self.first, false).then_some(self.batch);
        let (layout, writer) = (self.layout, &mut *self.writer);
        writer.write_field(&*harmless(&self.batch.id))?;
        writer.write_field(&*harmless(&self.log.machine))?;
        if layout.date {
            writer.write_field(head.and_then(|b| b.date.as_deref()).unwrap_or_default())?;
        }
        if layout.flour {
            let name = head.and_then(|b| b.charge.flour_name.as_deref());
            writer.write_field(&*harmless(name.unwrap_or_default()))?;
        }
        for &input in &layout.inputs {
            writer.write_field(number(head.and_then(|b| written(&b.charge, input))))?;
        }
        for total in totals {
            writer.write_field(total.map(Total::text).unwrap_or_default())?;
        }
        for reading_column in &layout.readings {
            writer.write_field(number(match reading_column {
                Number::DoughC => reading.dough_c,
                _ => reading.development,
            }))?;
        }
        if layout.note {
            writer.write_field(&*harmless(note.unwrap_or_default()))?;
        }
        writer.write_record(None::<&[u8]>)?;
        Ok(())
    }
}
