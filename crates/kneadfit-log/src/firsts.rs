//! The first rows of a machine's batches, found by the batches' names.

use std::hash::BuildHasher;

use foldhash::fast::RandomState;
use hashbrown::HashTable;
use hashbrown::hash_table::Entry;

use crate::result::RowRef;

/// The first row of each name within one file. A name itself stands in its row and nowhere
/// else: in a long log every look-up is a walk through cold memory.
#[derive(Default)]
pub(crate) struct Firsts {
    table: HashTable<First>,
    state: RandomState,
}

#[derive(Clone, Copy)]
struct First {
    /// A part of the name's hash, so that a table that grows needs no names.
    hash: u32,
    row: u32,
}

/// A hash of all its bits.
fn spread(hash: u32) -> u64 {
    // The golden ratio's: odd, with its bits well mixed.
    u64::from(hash).wrapping_mul(0x9E37_79B9_7F4A_7C15)
}

impl Firsts {
    /// The first row of a name; `None`: it is new, and `row`, which is to be the next of
    /// `rows`, is its first from now on.
    pub(crate) fn first_or(&mut self, name: &str, row: usize, rows: &[RowRef]) -> Option<usize> {
        let hash = self.state.hash_one(name) as u32;
        let is_it = |first: &First| {
            first.hash == hash && rows[first.row as usize].batch.as_deref() == Some(name)
        };
        match self.table.entry(spread(hash), is_it, |first| spread(first.hash)) {
            Entry::Occupied(entry) => Some(entry.get().row as usize),
            Entry::Vacant(entry) => {
                entry.insert(First { hash, row: row as u32 });
                None
            }
        }
    }

    /// The first row of a name that has one.
    pub(crate) fn first(&self, name: &str, rows: &[RowRef]) -> Option<usize> {
        let hash = self.state.hash_one(name) as u32;
        let is_it = |first: &First| {
            first.hash == hash && rows[first.row as usize].batch.as_deref() == Some(name)
        };
        self.table.find(spread(hash), is_it).map(|first| first.row as usize)
    }

    /// Forgets all names.
    pub(crate) fn clear(&mut self) {
        self.table.clear();
    }
}
