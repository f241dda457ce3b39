//! Where a text's header is, and what parts its columns: found by looking at its beginning.

use std::io::Cursor;

use crate::cell::as_text;
use crate::column_names::ColumnNames;
use crate::guess::telling;
use crate::limits::{HEADER_WITHIN_BYTES, HEADER_WITHIN_ROWS};
use crate::names::{self, Meaning};
use crate::record::Record;
use crate::records::Records;

/// What parts columns, the canonical one first: among equals the first is taken.
const SEPARATORS: [u8; 4] = [b',', b';', b'\t', b'|'];

/// So many things a row must say to be taken for a header in words that are not the log's.
pub(crate) const TELLING: usize = 2;

/// How a text is laid out.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Layout {
    pub(crate) separator: u8,
    /// Rows above the header that hold something.
    pub(crate) above: Vec<u64>,
}

/// How well a row would do as the header.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Fit {
    batch: bool,
    known: usize,
}

impl Fit {
    /// Of one row's cells.
    pub(crate) fn of<'a>(cells: impl Iterator<Item = &'a [u8]>, own_names: &ColumnNames) -> Self {
        let mut fit = Self::default();
        for cell in cells {
            let Some(text) = as_text(cell) else { continue };
            let known = own_names.meaning(text).cloned().or_else(|| names::meaning(text));
            fit.known += usize::from(known.is_some());
            fit.batch |= known == Some(Meaning::Batch);
        }
        fit
    }

    /// How many of its cells are names of columns.
    pub(crate) fn known(self) -> usize {
        self.known
    }

    /// Whether a row is taken for the header: a title may hold the word `batch`, but hardly
    /// a second column's name.
    pub(crate) fn is_header(self, first: bool) -> bool {
        self.batch && (first || self.known >= 2)
    }
}

/// Finds the layout of a text from its beginning; `whole`: nothing follows.
pub(crate) fn find(head: &[u8], whole: bool, own_names: &ColumnNames) -> Layout {
    let sample = sample(head, whole);
    let mut best: Option<(Fit, Layout)> = None;
    // One cell is no table: it takes two to tell what parts them.
    let mut widest = (1, SEPARATORS[0]);
    for separator in SEPARATORS {
        let mut above = Vec::new();
        let mut cells_of_first = 0;
        each_row(sample, separator, |record| {
            let first = above.is_empty();
            if first {
                cells_of_first = record.len();
            }
            let fit = Fit::of(record.cells(), own_names);
            if fit.is_header(first) && best.as_ref().is_none_or(|(best, _)| fit > *best) {
                best = Some((fit, Layout { separator, above: above.clone() }));
            }
            above.push(record.line);
        });
        if cells_of_first > widest.0 {
            widest = (cells_of_first, separator);
        }
        // A header in the first row of which every cell is known leaves nothing to look for.
        if let Some((fit, layout)) = &best
            && layout.above.is_empty()
            && fit.known == cells_of_first
        {
            break;
        }
    }
    match best {
        Some((_, layout)) => layout,
        None => in_other_words(sample).unwrap_or(Layout { separator: widest.1, above: Vec::new() }),
    }
}

/// The layout by which some row says most of what a log has, in words that are not its own:
/// two things at least.
fn in_other_words(sample: &[u8]) -> Option<Layout> {
    let mut best: Option<(usize, Layout)> = None;
    for separator in SEPARATORS {
        let mut above = Vec::new();
        each_row(sample, separator, |record| {
            let told = telling(record.cells());
            if told >= TELLING && best.as_ref().is_none_or(|(most, _)| told > *most) {
                best = Some((told, Layout { separator, above: above.clone() }));
            }
            above.push(record.line);
        });
    }
    best.map(|(_, layout)| layout)
}

/// The beginning, cut where a line ends.
fn sample(head: &[u8], whole: bool) -> &[u8] {
    if whole && head.len() <= HEADER_WITHIN_BYTES {
        return head;
    }
    let sample = &head[..head.len().min(HEADER_WITHIN_BYTES)];
    let lines_end = sample.iter().rposition(|b| *b == b'\n').map_or(sample.len(), |at| at + 1);
    &sample[..lines_end]
}

/// The first rows that are not blank.
fn each_row(sample: &[u8], separator: u8, mut take: impl FnMut(&Record<'_>)) {
    let mut records = Records::new(Cursor::new(sample), separator);
    let mut count = 0;
    while let Ok(Some(record)) = records.next() {
        if record.is_blank() {
            continue;
        }
        take(&record);
        count += 1;
        if count == HEADER_WITHIN_ROWS || record.unclosed {
            break;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn layout(text: &str) -> Layout {
        find(text.as_bytes(), true, &ColumnNames::default())
    }

    #[test]
    fn each_separator_is_found_with_others_in_the_cells() {
        for separator in [',', ';', '\t', '|'] {
            let text =
                "batch§note§room_c\n1§\"a, b; c | d\"§22\n".replace('§', &separator.to_string());
            let expected = Layout { separator: separator as u8, above: vec![] };
            assert_eq!(layout(&text), expected);
        }
        let text = "batch;room_c;dough_c\n1;22,5;24,5\n2;22,5;24,5\n";
        assert_eq!(layout(text).separator, b';');
    }

    #[test]
    fn titles_above_the_header_are_stepped_over() {
        let found =
            layout("Kneading log, spring\n\nof every batch;;\nbatch;room_c;dough_c\n1;22;24\n");
        assert_eq!(found, Layout { separator: b';', above: vec![1, 3] });
        // A word is no header.
        assert_eq!(layout("room_c,dough_c\nbatch,1\n").above, Vec::<u64>::new());
    }

    #[test]
    fn without_a_header_the_widest_first_row_is_taken() {
        assert_eq!(layout("Charge;Mehl;Wasser\n1;2,5;3\n").separator, b';');
        assert_eq!(layout("").separator, b',');
        assert_eq!(layout("one cell").separator, b',');
    }
}
