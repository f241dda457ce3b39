//! The first rows of a machine's batches, found by the batches' names.

use std::hash::BuildHasher;

use foldhash::fast::RandomState;
use hashbrown::HashTable;
use hashbrown::hash_table::Entry;

use crate::result::RowRef;

/// The first row of each name within one file. A name itself stands in its row and nowhere
/// else: in a long log every look-up is a walk through cold memory.
pub(crate) struct Firsts {
    table: HashTable<First>,
    state: RandomState,
    /// Of the name that was asked for last.
    pub(crate) latest: NameHash,
}

/// A part of a name's hash, so that a table that grows needs no names. Those of one log are
/// made in one way, which nobody outside can foresee.
#[derive(Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct NameHash(u32);

#[derive(Clone, Copy)]
struct First {
    hash: NameHash,
    row: u32,
}

impl NameHash {
    /// A hash of all its bits.
    fn spread(self) -> u64 {
        // The golden ratio's: odd, with its bits well mixed.
        u64::from(self.0).wrapping_mul(0x9E37_79B9_7F4A_7C15)
    }
}

impl First {
    /// Whether it is the first of a name. A row that is still to come is of another: of one
    /// name no two are.
    fn is_of(&self, name: &str, hash: NameHash, rows: &[RowRef]) -> bool {
        let row = || rows.get(self.row as usize);
        self.hash == hash && row().is_some_and(|row| row.batch.as_deref() == Some(name))
    }
}

impl Firsts {
    pub(crate) fn new(state: RandomState) -> Self {
        Self { table: HashTable::new(), state, latest: NameHash::default() }
    }

    /// The first row of a name; `None`: it is new, and `row`, which is still to come among
    /// `rows`, is its first from now on.
    pub(crate) fn first_or(&mut self, name: &str, row: usize, rows: &[RowRef]) -> Option<usize> {
        self.latest = NameHash(self.state.hash_one(name) as u32);
        self.first_by_hash_or(self.latest, name, row, rows)
    }

    /// The same where the name's hash is known.
    pub(crate) fn first_by_hash_or(
        &mut self,
        hash: NameHash,
        name: &str,
        row: usize,
        rows: &[RowRef],
    ) -> Option<usize> {
        let is_it = |first: &First| first.is_of(name, hash, rows);
        match self.table.entry(hash.spread(), is_it, |first| first.hash.spread()) {
            Entry::Occupied(entry) => Some(entry.get().row as usize),
            Entry::Vacant(entry) => {
                entry.insert(First { hash, row: row as u32 });
                None
            }
        }
    }

    /// The first row of a name that has one.
    pub(crate) fn first(&self, name: &str, rows: &[RowRef]) -> Option<usize> {
        let hash = NameHash(self.state.hash_one(name) as u32);
        let found = self.table.find(hash.spread(), |first| first.is_of(name, hash, rows));
        found.map(|first| first.row as usize)
    }

    /// Makes room for so many more names.
    pub(crate) fn reserve(&mut self, more: usize) {
        self.table.reserve(more, |first| first.hash.spread());
    }

    /// Forgets all names.
    pub(crate) fn clear(&mut self) {
        self.table.clear();
    }
}
