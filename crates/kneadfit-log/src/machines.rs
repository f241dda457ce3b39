//! The machines of a log, and their batches as they grow.

use std::sync::Arc;

use foldhash::HashMap;
use foldhash::fast::RandomState;
use kneadfit::batch::{Batch, BatchError};
use kneadfit::charge::REST;

use crate::columns::Header;
use crate::firsts::Firsts;
use crate::later::Totals;

/// What the end of reading asks of a batch, noted while the batch is warm in the
/// cache: going through a million batches again would cost a third of reading them.
pub(crate) struct Facts {
    /// Its first and its latest row.
    pub(crate) first_row: usize,
    pub(crate) latest_row: usize,
    pub(crate) charge_kg: f64,
    /// Whether any of its rows reads something.
    pub(crate) read: bool,
    /// A number made of all its numbers: equal batches have equal ones.
    pub(crate) fingerprint: u64,
    /// What the core has against it.
    pub(crate) refused: Option<Box<BatchError>>,
    /// Its minutes so far, exactly, once it has a second row.
    pub(crate) totals: Option<Totals>,
}

/// A machine's batches as they grow.
pub(crate) struct Machine {
    pub(crate) name: Arc<str>,
    pub(crate) speeds: Vec<Arc<str>>,
    pub(crate) batches: Vec<Batch>,
    /// One a batch.
    pub(crate) facts: Vec<Facts>,
    /// The first rows of the batches of the file that is being read.
    pub(crate) known: Firsts,
    /// Which of the file's speeds have anything in their column, by their index.
    pub(crate) logged: Vec<bool>,
}

/// Machines in the order in which they first appear.
#[derive(Default)]
pub(crate) struct Machines {
    pub(crate) list: Vec<Machine>,
    index: HashMap<Arc<str>, usize>,
    /// How names of batches are hashed.
    state: RandomState,
}

impl Machine {
    fn new(name: Arc<str>, speeds: usize, state: RandomState) -> Self {
        Self {
            name,
            speeds: Vec::new(),
            batches: Vec::new(),
            facts: Vec::new(),
            known: Firsts::new(state),
            logged: vec![false; speeds],
        }
    }
}

impl Machine {
    /// Makes room for so many more batches.
    pub(crate) fn make_room(&mut self, batches: usize) {
        self.batches.reserve(batches);
        self.facts.reserve(batches);
        self.known.reserve(batches);
    }
}

impl Machines {
    /// A file with so many speeds begins: names of batches begin anew.
    pub(crate) fn begin_rows(&mut self, speeds: usize) {
        for machine in &mut self.list {
            machine.known.clear();
            machine.logged = vec![false; speeds];
        }
    }

    /// None yet, for a part of the same log.
    pub(crate) fn apart(&self) -> Self {
        Self { state: self.state.clone(), ..Self::default() }
    }

    /// Forgets all batches, and the machines where they are more than a few.
    pub(crate) fn forget_rows(&mut self, kept: usize) {
        if self.list.len() > kept {
            return *self = self.apart();
        }
        for machine in &mut self.list {
            machine.batches.clear();
            machine.facts.clear();
            machine.known.clear();
        }
    }

    /// Its rows are read: the speeds that they used are the machines'.
    pub(crate) fn end_rows(&mut self, header: &Header) {
        for (index, speed) in header.speeds.iter().enumerate() {
            for machine in self.list.iter_mut().filter(|machine| machine.logged[index]) {
                if &**speed != REST && !machine.speeds.contains(speed) {
                    machine.speeds.push(speed.clone());
                }
            }
        }
    }

    /// A machine that is known.
    pub(crate) fn named(&self, name: &str) -> Option<&Machine> {
        self.index.get(name).map(|index| &self.list[*index])
    }

    /// The index of a machine, which is a new one where its name is; `latest`: that of the
    /// row before, which mostly is the same.
    pub(crate) fn of(&mut self, name: &Arc<str>, latest: Option<usize>, header: &Header) -> usize {
        if let Some(latest) = latest
            && Arc::ptr_eq(&self.list[latest].name, name)
        {
            return latest;
        }
        if let Some(&index) = self.index.get(name) {
            return index;
        }
        let index = self.list.len();
        self.index.insert(name.clone(), index);
        self.list.push(Machine::new(name.clone(), header.speeds.len(), self.state.clone()));
        index
    }
}
