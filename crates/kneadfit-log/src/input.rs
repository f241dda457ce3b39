//! The bytes of a text: what of them is in memory already, then the stream.

use std::collections::VecDeque;
use std::io::{self, Read};
use std::ops::{Deref, Range};
use std::sync::Arc;

/// A run of bytes in memory. Cutting it copies nothing.
#[derive(Clone, Default)]
pub(crate) struct Bytes {
    all: Arc<Vec<u8>>,
    range: Range<usize>,
}

impl Bytes {
    /// Those from here on.
    pub(crate) fn from(all: Arc<Vec<u8>>, start: usize) -> Self {
        let range = start.min(all.len())..all.len();
        Self { all, range }
    }

    /// Takes so many away from the front.
    pub(crate) fn split_to(&mut self, count: usize) -> Self {
        let at = self.range.start + count.min(self.range.len());
        let front = Self { all: self.all.clone(), range: self.range.start..at };
        self.range.start = at;
        front
    }
}

impl Deref for Bytes {
    type Target = [u8];

    fn deref(&self) -> &[u8] {
        &self.all[self.range.clone()]
    }
}

/// What is read of a text next.
pub(crate) struct Input<'a> {
    pub(crate) ahead: VecDeque<Bytes>,
    rest: Box<dyn Read + 'a>,
    ended: bool,
    /// What the system said when the stream broke off, until it is told.
    failed: Option<io::Error>,
}

impl<'a> Input<'a> {
    pub(crate) fn new(head: Arc<Vec<u8>>, rest: Box<dyn Read + 'a>) -> Self {
        Self { ahead: VecDeque::from([Bytes::from(head, 0)]), rest, ended: false, failed: None }
    }

    /// Reads on into `bytes` until there are so many; `false`: the text ends, or the stream
    /// broke off, which is told to whoever reads on.
    pub(crate) fn gather(&mut self, bytes: &mut Vec<u8>, wanted: usize) -> bool {
        while bytes.len() < wanted {
            let missing = wanted - bytes.len();
            if let Some(front) = self.ahead.front_mut() {
                bytes.extend_from_slice(&front.split_to(missing));
                if front.is_empty() {
                    self.ahead.pop_front();
                }
                continue;
            }
            if self.ended {
                return false;
            }
            let read = (&mut self.rest).take(missing as u64).read_to_end(bytes);
            self.ended = bytes.len() < wanted;
            self.failed = read.err();
        }
        true
    }

    /// Whether the stream broke off.
    pub(crate) fn has_failed(&self) -> bool {
        self.failed.is_some()
    }
}

impl Read for Input<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        while let Some(front) = self.ahead.front_mut() {
            if !front.is_empty() {
                let count = into.len().min(front.len());
                into[..count].copy_from_slice(&front.split_to(count));
                return Ok(count);
            }
            self.ahead.pop_front();
        }
        match self.failed.take() {
            Some(error) => Err(error),
            None if self.ended => Ok(0),
            None => self.rest.read(into),
        }
    }
}
