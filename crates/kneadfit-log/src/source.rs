//! A file's bytes to records, whatever kind of file it is, with its header found.

use std::io::{self, Cursor, Read};
use std::sync::Arc;

use crate::column_names::ColumnNames;
use crate::columns::{Header, HeaderFault};
use crate::dialect::Note;
use crate::encoding::Encoding;
use crate::input::{Bytes, Input};
use crate::layout::{self, Layout};
use crate::limits::{COLUMNS_OF_A_TEXT, LOOKED_AT_BYTES, SHEET_COLUMNS};
use crate::look::{EachRow, Told, look};
use crate::options::ReadOptions;
use crate::pieces::Cutter;
use crate::problem::ProblemKind;
use crate::record::Record;
use crate::records::Records;
use crate::sheet::{self, Chosen, Grid};
use crate::units_row::Units;

/// A file opened, its header not read yet.
pub(crate) struct Source<'a> {
    kind: Kind<'a>,
    /// What was found out about it.
    pub(crate) notes: Vec<Note>,
    /// Sheets that look like a log beside the one that is read.
    pub(crate) other_sheets: Vec<String>,
}

enum Kind<'a> {
    Text {
        records: Box<Records<Input<'a>>>,
        layout: Layout,
        /// The beginning of the text, for a look at its rows together.
        head: Arc<Vec<u8>>,
        /// Whether nothing follows the head.
        whole: bool,
        /// Whether its rows may be read as canonical ones until one is not.
        plain: bool,
    },
    Sheet {
        grid: Grid,
        header: Option<usize>,
        next: usize,
    },
}

/// Bytes up to a number, or the end.
fn read_up_to(input: &mut impl Read, most: usize) -> (Vec<u8>, Option<io::Error>) {
    let mut bytes = Vec::new();
    let failed = input.take(most as u64).read_to_end(&mut bytes).err();
    (bytes, failed)
}

/// Fails once, with what the system said, where the beginning broke off.
struct Failing(Option<io::Error>);

impl Read for Failing {
    fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
        self.0.take().map_or(Ok(0), Err)
    }
}

impl<'a> Source<'a> {
    /// Looks at the beginning of a file.
    pub(crate) fn open(
        mut input: impl Read + 'a,
        options: &ReadOptions,
    ) -> Result<Self, ProblemKind> {
        let (head, failed) = read_up_to(&mut input, LOOKED_AT_BYTES);
        if sheet::is_workbook(&head) {
            let rest = Failing(failed).chain(input);
            let Chosen { grid, others, beside } =
                sheet::choose(head, rest, options.sheet.as_deref(), &options.columns)?;
            let header = grid.header(&options.columns);
            let mut notes = Vec::new();
            if !beside.is_empty() {
                notes.push(Note::OtherSheets(beside));
            }
            let kind = Kind::Sheet { grid, header, next: 0 };
            return Ok(Self { kind, notes, other_sheets: others });
        }
        if let Some(wanted) = &options.sheet {
            return Err(ProblemKind::NoSheets { wanted: wanted.to_string() });
        }
        Ok(Self::text(head, Failing(failed).chain(input), &options.columns))
    }

    fn text(head: Vec<u8>, rest: impl Read + 'a, own_names: &ColumnNames) -> Self {
        let encoding = Encoding::of(&head);
        let mut rest: Box<dyn Read + 'a> = Box::new(rest);
        let mut head = head;
        let mut whole = head.len() < LOOKED_AT_BYTES;
        if encoding != Encoding::Utf8 {
            rest = encoding.decode(Box::new(Cursor::new(head).chain(rest)));
            let (decoded, failed) = read_up_to(&mut rest, LOOKED_AT_BYTES);
            whole = decoded.len() < LOOKED_AT_BYTES;
            head = decoded;
            rest = Box::new(Failing(failed).chain(rest));
        }
        let layout = layout::find(&head, whole, own_names);
        let mut notes = Vec::new();
        if encoding != Encoding::Utf8 {
            notes.push(Note::Encoding(encoding));
        }
        if layout.separator != b',' {
            notes.push(Note::Separator(layout.separator.into()));
        }
        if !layout.above.is_empty() {
            notes.push(Note::Above { lines: layout.above.clone(), sheet: false });
        }
        let plain = notes.is_empty();
        let head = Arc::new(head);
        let records = Records::new(Input::new(head.clone(), rest), layout.separator);
        let kind = Kind::Text { records: Box::new(records), layout, head, whole, plain };
        Self { kind, notes, other_sheets: Vec::new() }
    }

    /// The sheet that is read; `None`: the file is a text.
    pub(crate) fn sheet(&self) -> Option<Arc<str>> {
        match &self.kind {
            Kind::Text { .. } => None,
            Kind::Sheet { grid, .. } => Some(grid.name.clone()),
        }
    }

    /// Reads the header; `None`: there is no row for one.
    pub(crate) fn header(
        &mut self,
        options: &ReadOptions,
    ) -> io::Result<Option<(Header, Vec<HeaderFault>)>> {
        let own_names = &options.columns;
        let (mut header, mut faults) = match &mut self.kind {
            Kind::Text { records, layout, .. } => {
                let mut above = layout.above.len();
                loop {
                    match records.next()? {
                        None => return Ok(None),
                        Some(record) if record.is_blank() => {}
                        Some(_) if above > 0 => above -= 1,
                        // Before the columns: names of so many take minutes to tell apart.
                        Some(record) if record.len() > SHEET_COLUMNS => {
                            let (what, most) = (COLUMNS_OF_A_TEXT, SHEET_COLUMNS as u64);
                            let kind = ProblemKind::TooLarge { what, most };
                            let fault = HeaderFault { column: None, kind, fatal: true };
                            return Ok(Some((Header::default(), vec![fault])));
                        }
                        Some(record) => {
                            break Header::parse(record.cells(), own_names, None, false);
                        }
                    }
                }
            }
            Kind::Sheet { grid, header, next } => {
                if grid.height() == 0 {
                    return Ok(None);
                }
                let index = header.unwrap_or(0);
                *next = index + 1;
                if index > 0 {
                    let lines = (0..index).map(|row| grid.record(row).line).collect();
                    self.notes.push(Note::Above { lines, sheet: true });
                }
                Header::parse(grid.record(index).cells(), own_names, None, true)
            }
        };
        if let Some(units) = self.units_under(&header) {
            let names = std::mem::take(&mut header.names);
            let cells = names.iter().map(|name| name.as_bytes());
            (header, faults) = Header::parse(cells, own_names, Some(&units), header.sheet);
            self.step_over_units()?;
            self.notes.push(Note::Units { line: units.line, sheet: header.sheet });
        }
        if let Kind::Sheet { grid, next, .. } = &mut self.kind {
            let spread = grid.spread(*next, |column| header.spread(column));
            if !spread.is_empty() {
                let names = spread.into_iter().map(|column| header.names[column].clone());
                self.notes.push(Note::Merged(names.collect()));
            }
        }
        header.stages = options.stages.clone();
        Ok(Some((header, faults)))
    }

    /// The row of units under the header, where the next row is one.
    fn units_under(&self, header: &Header) -> Option<Units> {
        match &self.kind {
            Kind::Text { layout, head, .. } => {
                let mut records = Records::new(&head[..], layout.separator);
                let mut before = layout.above.len() + 1;
                while let Ok(Some(record)) = records.next() {
                    match before {
                        _ if record.is_blank() => {}
                        0 => return Units::of(&record, header),
                        _ => before -= 1,
                    }
                }
                None
            }
            Kind::Sheet { grid, next, .. } => {
                (*next < grid.height()).then(|| Units::of(&grid.record(*next), header))?
            }
        }
    }

    fn step_over_units(&mut self) -> io::Result<()> {
        while self.next()?.is_some_and(|record| record.is_blank()) {}
        Ok(())
    }

    /// The next row; blank rows are none.
    pub(crate) fn next(&mut self) -> io::Result<Option<Record<'_>>> {
        match &mut self.kind {
            Kind::Text { records, .. } => records.next(),
            Kind::Sheet { grid, next, .. } => {
                if *next >= grid.height() {
                    return Ok(None);
                }
                *next += 1;
                Ok(Some(grid.record(*next - 1)))
            }
        }
    }

    /// Cuts what is left of a text into pieces of about so many bytes; `None`: there are not
    /// two of them in memory. [`go_on`](Self::go_on) goes back to reading row by row.
    pub(crate) fn cutter(&mut self, piece_bytes: usize) -> Option<Cutter<'_, 'a>> {
        let Kind::Text { records, layout, head, .. } = &mut self.kind else { return None };
        let (taken, read) = records.position();
        if read > head.len() || (head.len() - taken) / 2 < piece_bytes {
            return None;
        }
        let line = records.hand_over();
        let input = records.input();
        input.ahead = [Bytes::from(head.clone(), taken)].into();
        Some(Cutter::new(input, layout.separator, piece_bytes, line))
    }

    /// Goes on row by row where a cutter left off: on this line.
    pub(crate) fn go_on(&mut self, line: u64) {
        if let Kind::Text { records, .. } = &mut self.kind {
            records.take_back(line);
        }
    }

    /// Whether rows are read as canonical ones until one is not.
    pub(crate) fn is_plain(&self, header: &Header) -> bool {
        match &self.kind {
            Kind::Text { plain, .. } => *plain && !header.dressed,
            Kind::Sheet { .. } => false,
        }
    }

    /// What looks at all rows together, whatever row is read just now.
    pub(crate) fn looker(&self) -> Looker {
        match &self.kind {
            Kind::Text { layout, head, whole, .. } => Looker::Text {
                head: head.clone(),
                whole: *whole,
                separator: layout.separator,
                above: layout.above.len(),
            },
            Kind::Sheet { .. } => Looker::None,
        }
    }

    /// Looks at all rows of a sheet together, or of a text.
    pub(crate) fn look(&self, header: &mut Header) -> Told {
        match &self.kind {
            Kind::Text { .. } => self.looker().look(header, false),
            Kind::Sheet { grid, next, .. } => {
                let from = *next;
                let mut each = |take: &mut dyn FnMut(&Record<'_>)| {
                    (from..grid.height()).for_each(|index| take(&grid.record(index)));
                };
                look(header, &mut each, false)
            }
        }
    }
}

/// Looks at the rows of a text from its beginning.
pub(crate) enum Looker {
    Text { head: Arc<Vec<u8>>, whole: bool, separator: u8, above: usize },
    None,
}

impl Looker {
    /// `gone_on`: some rows were read already.
    pub(crate) fn look(&self, header: &mut Header, gone_on: bool) -> Told {
        let Self::Text { head, whole, separator, above } = self else {
            let mut nothing = |_: &mut dyn FnMut(&Record<'_>)| {};
            let nothing: &mut EachRow<'_> = &mut nothing;
            return look(header, nothing, gone_on);
        };
        let lines_end = match whole {
            true => head.len(),
            // The last line may be cut.
            false => head.iter().rposition(|b| *b == b'\n').map_or(0, |at| at + 1),
        };
        let not_rows = above + 1 + usize::from(header.has_units);
        let mut each = |take: &mut dyn FnMut(&Record<'_>)| {
            let mut records = Records::new(&head[..lines_end], *separator);
            let mut before = not_rows;
            while let Ok(Some(record)) = records.next() {
                if record.is_blank() {
                } else if before > 0 {
                    before -= 1;
                } else if !record.unclosed {
                    take(&record);
                }
            }
        };
        look(header, &mut each, gone_on)
    }
}
