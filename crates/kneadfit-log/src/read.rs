//! Files in, logs and problems out.

use std::io::Read;
use std::sync::Arc;

use crate::assemble::Assembler;
use crate::columns::Header;
use crate::finish::finish;
use crate::options::ReadOptions;
use crate::problem::{ColumnRef, Found, Problem, ProblemKind, Severity};
use crate::records::Records;
use crate::result::LogRead;

/// Reads one log.
///
/// `source` is the name by which problems call the file, `default_machine` the
/// machine of rows that name none (the file's stem, for the tool). Whatever is
/// wrong with the bytes is a [`Problem`] of the result; where nothing usable is
/// left, [`LogRead::is_empty`] says so.
///
/// # Examples
///
/// ```
/// use kneadfit_log::{ReadOptions, read_log};
///
/// let text = "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,dough_c\n\
///             1,10,21,6.5,12,24,4,19.8\n\
///             1,,,,,,12,23.5\n\
///             2,10,21,6.5,twelve,24,4,20\n";
/// let read = read_log("kitchen.csv", "spiral", text.as_bytes(), &ReadOptions::default());
///
/// let log = &read.machines[0].log;
/// assert_eq!((&*log.machine, log.reading_count()), ("spiral", 2));
/// assert_eq!(log.batches[0].stages[1].phases[0].minutes, 8.0);
/// assert_eq!(read.rows_set_aside(), 1);
/// assert_eq!(&*read.problems[0].column.as_ref().unwrap().name, "water_c");
/// ```
pub fn read_log(
    source: &str,
    default_machine: &str,
    input: impl Read,
    options: &ReadOptions,
) -> LogRead {
    let mut reader = LogReader::new(options.clone());
    reader.read(source, default_machine, input);
    reader.finish()
}

/// Reads several files into one result.
///
/// Batches of one name in two files are two batches; machines of one name are one.
///
/// # Examples
///
/// ```
/// use kneadfit_log::{LogReader, ReadOptions};
///
/// let mut reader = LogReader::new(ReadOptions::default());
/// let header = "batch,other_kg,other_c,other_kj_per_kg_k,room_c,dough_c\n";
/// reader.read("may.csv", "spiral", format!("{header}1,5,20,3,20,20\n").as_bytes());
/// reader.read("june.csv", "spiral", format!("{header}1,5,24,3,24,24\n").as_bytes());
/// let read = reader.finish();
/// assert_eq!(read.machines.len(), 1);
/// assert_eq!(read.machines[0].log.batches.len(), 2);
/// ```
pub struct LogReader {
    assembler: Assembler,
}

impl LogReader {
    /// A reader that has read nothing yet.
    pub fn new(options: ReadOptions) -> Self {
        Self { assembler: Assembler::new(options) }
    }

    /// Reads one file to its end. Memory grows with the batches and problems that
    /// are kept and with the longest row, not with the file.
    pub fn read(&mut self, source: &str, default_machine: &str, input: impl Read) {
        let source: Arc<str> = source.into();
        self.assembler.begin(source.clone(), default_machine);
        let mut records = Records::new(input);
        let Some(header) = self.read_header(&source, &mut records) else { return };
        self.assembler.begin_rows(&header);
        let mut row_number = 0;
        loop {
            match records.next() {
                Ok(Some(record)) if record.is_blank() => {}
                Ok(Some(record)) => {
                    row_number += 1;
                    self.assembler.take(&record, row_number, &header);
                }
                Ok(None) => break,
                Err(error) => {
                    self.complain(&source, ProblemKind::Unreadable { reason: error.to_string() });
                    break;
                }
            }
        }
        if row_number == 0 {
            self.complain(&source, ProblemKind::NoRows);
        }
        self.assembler.end_rows(&header);
    }

    /// The logs of all files read, with their problems.
    pub fn finish(self) -> LogRead {
        finish(self.assembler)
    }

    /// `None`, with the problem said, where there is no header to read rows by.
    fn read_header(
        &mut self,
        source: &Arc<str>,
        records: &mut Records<impl Read>,
    ) -> Option<Header> {
        match records.is_utf16() {
            Ok(false) => {}
            Ok(true) => {
                self.complain(source, ProblemKind::Utf16);
                return None;
            }
            Err(error) => {
                self.complain(source, ProblemKind::Unreadable { reason: error.to_string() });
                return None;
            }
        }
        let cells = loop {
            match records.next() {
                Ok(Some(record)) if record.is_blank() => {}
                Ok(Some(record)) => break record,
                Ok(None) => {
                    self.complain(source, ProblemKind::EmptyFile);
                    return None;
                }
                Err(error) => {
                    self.complain(source, ProblemKind::Unreadable { reason: error.to_string() });
                    return None;
                }
            }
        };
        let (header, faults) = Header::parse(cells.cells());
        let fatal = faults.iter().any(|fault| fault.fatal);
        for fault in faults {
            let column = fault
                .column
                .map(|index| ColumnRef { name: header.names[index].clone(), number: index + 1 });
            self.assembler.problems.push(Problem {
                severity: if fault.fatal { Severity::Error } else { Severity::Doubt },
                source: source.clone(),
                place: None,
                batch: None,
                found: column.as_ref().map(|column| Found::new(column.name.as_bytes())),
                column,
                kind: fault.kind,
            });
        }
        (!fatal).then_some(header)
    }

    fn complain(&mut self, source: &Arc<str>, kind: ProblemKind) {
        self.assembler.problems.push(Problem {
            severity: Severity::Error,
            source: source.clone(),
            place: None,
            batch: None,
            column: None,
            found: None,
            kind,
        });
    }
}
