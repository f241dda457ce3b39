//! One copy of every text that many rows share.

use std::sync::Arc;

use foldhash::HashSet;

/// Hands out the same `Arc` for the same text.
#[derive(Default)]
pub(crate) struct Interner {
    known: HashSet<Arc<str>>,
    last: Option<Arc<str>>,
}

impl Interner {
    /// The shared copy of a text. Rows mostly repeat the row before.
    pub(crate) fn get(&mut self, text: &str) -> Arc<str> {
        if let Some(last) = &self.last
            && **last == *text
        {
            return last.clone();
        }
        let shared = match self.known.get(text) {
            Some(known) => known.clone(),
            None => {
                let new: Arc<str> = text.into();
                self.known.insert(new.clone());
                new
            }
        };
        self.last = Some(shared.clone());
        shared
    }
}
