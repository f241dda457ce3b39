//! Files in, logs and problems out.

use std::io::Read;
use std::sync::Arc;

use crate::assemble::Assembler;
use crate::columns::{Header, HeaderFault};
use crate::dialect::{Dialect, Note};
use crate::finish::finish;
use crate::look::Told;
use crate::mend::MendedRecord;
use crate::options::{Purpose, ReadOptions};
use crate::pieces::{MOST_SPEEDS, PIECE_BYTES};
use crate::problem::{ColumnRef, Found, Problem, ProblemKind, Severity};
use crate::result::LogRead;
use crate::source::Source;

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
    /// One a file.
    dialects: Vec<Dialect>,
    /// The columns of each file.
    columns: Vec<Vec<ColumnRef>>,
    /// Columns of the file that is read which have a decimal comma.
    commas: Vec<usize>,
    /// The size of the pieces in which a text is read; such as are no two of them are read
    /// row by row.
    piece_bytes: usize,
}

impl LogReader {
    /// A reader that has read nothing yet.
    pub fn new(options: ReadOptions) -> Self {
        Self {
            assembler: Assembler::new(options),
            dialects: Vec::new(),
            columns: Vec::new(),
            commas: Vec::new(),
            piece_bytes: PIECE_BYTES,
        }
    }

    /// The same with pieces of another size.
    #[cfg(test)]
    pub(crate) fn in_pieces_of(self, piece_bytes: usize) -> Self {
        Self { piece_bytes, ..self }
    }

    /// Reads one file to its end: a text with commas, semicolons, tabs or bars, or a workbook
    /// (.xlsx, .xls, .ods).
    ///
    /// Memory grows with the batches and problems that are kept and with the longest row, not
    /// with the file; a workbook is in memory as a whole, within [`limits`](crate::limits).
    pub fn read(&mut self, source: &str, default_machine: &str, input: impl Read) {
        let name: Arc<str> = source.into();
        self.assembler.begin(name.clone(), default_machine);
        self.dialects.push(Dialect::default());
        self.columns.push(Vec::new());
        let mut source = match Source::open(input, &self.assembler.options) {
            Ok(source) => source,
            Err(kind) => return self.complain(kind),
        };
        let sheet = source.sheet();
        self.assembler.begin_sheet(sheet.clone());
        self.read_rows(&mut source);
        if let Some(dialect) = self.dialects.last_mut() {
            *dialect = Dialect { sheet, notes: source.notes };
        }
    }

    fn read_rows(&mut self, source: &mut Source<'_>) {
        let Some(mut header) = self.read_header(source) else { return };
        self.assembler.begin_rows(&header);
        let columns = (0..header.columns.len()).map(|index| header.column_ref(index)).collect();
        if let Some(latest) = self.columns.last_mut() {
            *latest = columns;
        }
        if !source.is_plain(&header) {
            let told = source.look(&mut header);
            self.tell(told, &header);
        }
        let looker = source.looker();
        let mut row_number = 0;
        self.read_pieces(source, &mut header, &mut row_number);
        let mends = std::mem::take(&mut self.assembler.options.mends);
        let name = self.assembler.source();
        let mut mended = MendedRecord::default();
        loop {
            match source.next() {
                Ok(Some(record)) if record.is_blank() => {}
                Ok(Some(record)) => {
                    let record = mended.of(record, &name, &mends);
                    let mut told = None;
                    let look = |header: &mut Header| told = Some(looker.look(header, true));
                    row_number += 1;
                    if !self.assembler.take(&record, row_number, &mut header, look) {
                        row_number -= 1;
                    }
                    if let Some(told) = told {
                        self.tell(told, &header);
                    }
                }
                Ok(None) => break,
                Err(error) => {
                    self.complain(ProblemKind::Unreadable { reason: error.to_string() });
                    break;
                }
            }
        }
        self.assembler.options.mends = mends;
        if row_number == 0 {
            self.complain(ProblemKind::NoRows);
        }
        self.assembler.end_rows(&header);
        let sheet = header.sheet;
        if !self.commas.is_empty() {
            let names = self.commas.drain(..).map(|index| header.names[index].clone());
            source.notes.push(Note::DecimalComma(names.collect()));
        }
        for (index, typed) in header.times.drain(..) {
            source.notes.push(Note::Times { column: header.names[index].clone(), typed });
        }
        source.notes.extend(header.date_order.map(Note::Dates));
        if !header.repeats.is_empty() {
            source.notes.push(Note::Repeats { lines: header.repeats, sheet });
        }
        if !header.examples.is_empty() {
            source.notes.push(Note::Examples { lines: header.examples, sheet });
        }
        if !header.totals.is_empty() {
            source.notes.push(Note::Totals { lines: header.totals, sheet });
        }
    }

    /// Reads the rows of a long text in pieces, up to the first that is not canonical.
    fn read_pieces(&mut self, source: &mut Source<'_>, header: &mut Header, rows: &mut u64) {
        let options = &self.assembler.options;
        let row_by_row = header.looked
            || header.dressed
            || header.speeds.len() > MOST_SPEEDS
            || options.purpose == Purpose::Planning
            || !options.mends.is_empty();
        if !row_by_row && let Some(cutter) = source.cutter(self.piece_bytes) {
            let line = self.assembler.take_pieces(cutter, header, rows);
            source.go_on(line);
        }
    }

    /// Says what a look at all rows told.
    fn tell(&mut self, told: Told, header: &Header) {
        self.commas = told.commas;
        for fault in told.faults {
            self.complain_of_header(fault, header);
        }
    }

    /// The logs of all files read, with their problems.
    pub fn finish(self) -> LogRead {
        LogRead { dialects: self.dialects, ..finish(self.assembler, self.columns) }
    }

    /// `None`, with the problem said, where there is no header to read rows by.
    fn read_header(&mut self, source: &mut Source<'_>) -> Option<Header> {
        let read = match source.header(&self.assembler.options) {
            Ok(read) => read,
            Err(error) => {
                self.complain(ProblemKind::Unreadable { reason: error.to_string() });
                return None;
            }
        };
        let Some((header, faults)) = read else {
            self.complain(ProblemKind::EmptyFile);
            return None;
        };
        if !source.other_sheets.is_empty() {
            let others = std::mem::take(&mut source.other_sheets);
            let kind = ProblemKind::OtherSheets { others };
            self.complain_of_header(HeaderFault { column: None, kind, fatal: false }, &header);
        }
        let fatal = faults.iter().any(|fault| fault.fatal);
        for fault in faults {
            self.complain_of_header(fault, &header);
        }
        (!fatal).then_some(header)
    }

    fn complain_of_header(&mut self, fault: HeaderFault, header: &Header) {
        let column = fault.column.map(|index| header.column_ref(index));
        self.assembler.problems.push(Problem {
            severity: if fault.fatal { Severity::Error } else { Severity::Doubt },
            source: self.assembler.source(),
            sheet: self.assembler.sheet(),
            place: None,
            batch: None,
            found: column.as_ref().map(|column| Found::new(column.name.as_bytes())),
            column,
            kind: fault.kind,
        });
    }

    fn complain(&mut self, kind: ProblemKind) {
        self.assembler.problems.push(Problem {
            severity: Severity::Error,
            source: self.assembler.source(),
            sheet: self.assembler.sheet(),
            place: None,
            batch: None,
            column: None,
            found: None,
            kind,
        });
    }
}
