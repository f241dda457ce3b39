//! The pieces of a long text read on all threads, and put together in the log's order.

mod cutter;
mod merge;
mod part;
#[cfg(test)]
mod tests;

use std::collections::VecDeque;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};

use crate::assemble::Assembler;
use crate::columns::Header;

pub(crate) use cutter::Cutter;
use cutter::Piece;
pub(crate) use part::MOST_SPEEDS;
use part::Part;

/// The size of a piece: what is made of one stays in a core's cache.
pub(crate) const PIECE_BYTES: usize = 128 * 1024;

/// So many pieces a thread are cut ahead: memory holds no more of a text.
const AHEAD: usize = 3;

/// More threads than this would wait for the one that puts pieces together.
const MOST_THREADS: usize = 8;

/// A piece that is to be read, and where to hand it in.
struct Task {
    piece: Piece,
    part: Part,
    done: Sender<Done>,
}

/// A piece that was read, unless a row of it wants a look at all rows.
struct Done {
    piece: Piece,
    part: Part,
    is_canonical: bool,
}

/// Pieces that nobody has begun to read, and how many helpers there are.
#[derive(Default)]
struct Desk {
    waiting: Mutex<VecDeque<Task>>,
    helpers: AtomicUsize,
}

impl Desk {
    fn put(&self, task: Task) {
        self.all().push_back(task);
    }

    fn all(&self) -> std::sync::MutexGuard<'_, VecDeque<Task>> {
        // Nothing is done under the lock that could fail half-way.
        self.waiting.lock().unwrap_or_else(|poisoned| poisoned.into_inner())
    }

    /// Reads one piece; `false`: none waits.
    fn read_one(&self) -> bool {
        let Some(Task { piece, mut part, done }) = self.all().pop_front() else { return false };
        let is_canonical = part.read(&piece);
        // Nobody takes it where reading has ended early.
        let _ = done.send(Done { piece, part, is_canonical });
        true
    }

    /// Reads pieces as long as some wait.
    fn help(&self) {
        while self.read_one() {}
        self.helpers.fetch_sub(1, Ordering::AcqRel);
    }
}

impl Assembler {
    /// Reads the pieces of a canonical log on all threads as far as its rows are canonical,
    /// and counts them in `rows`. The line on which to go on row by row.
    pub(crate) fn take_pieces(
        &mut self,
        mut cutter: Cutter<'_, '_>,
        header: &mut Header,
        rows: &mut u64,
    ) -> u64 {
        let desk = Desk::default();
        let threads = rayon::current_num_threads().min(MOST_THREADS);
        rayon::in_place_scope(|scope| {
            let mut on_the_way: VecDeque<Receiver<Done>> = VecDeque::new();
            let mut spare: Vec<Part> = Vec::new();
            loop {
                while on_the_way.len() < AHEAD * threads
                    && let Some(piece) = cutter.next()
                {
                    let separator = cutter.separator();
                    let new = || Part::new(self.apart(), header, separator);
                    let part = spare.pop().unwrap_or_else(new);
                    let (done, ready) = channel();
                    desk.put(Task { piece, part, done });
                    on_the_way.push_back(ready);
                    // This thread helps, too.
                    if desk.helpers.load(Ordering::Acquire) + 1 < threads {
                        desk.helpers.fetch_add(1, Ordering::AcqRel);
                        scope.spawn(|_| desk.help());
                    }
                }
                let Some(Done { piece, mut part, is_canonical }) =
                    on_the_way.pop_front().and_then(|ready| wait_for(&ready, &desk))
                else {
                    return cutter.line();
                };
                if is_canonical {
                    let like_it = 1 + on_the_way.len() + cutter.left_in_memory();
                    self.absorb(&mut part, &piece, (*rows, like_it), header);
                    *rows += part.origins.len() as u64;
                    part.clear();
                    spare.push(part);
                    continue;
                }
                let line = piece.line;
                let others = on_the_way.iter().filter_map(|ready| wait_for(ready, &desk));
                let pieces: Vec<Piece> =
                    [piece].into_iter().chain(others.map(|done| done.piece)).collect();
                cutter.give_back(pieces.into_iter().map(|piece| piece.bytes));
                return line;
            }
        })
    }
}

/// Waits for a piece, and reads others meanwhile; `None`: whoever read it failed.
fn wait_for(ready: &Receiver<Done>, desk: &Desk) -> Option<Done> {
    loop {
        match ready.try_recv() {
            Ok(done) => return Some(done),
            Err(TryRecvError::Disconnected) => return None,
            Err(TryRecvError::Empty) if desk.read_one() => {}
            Err(TryRecvError::Empty) => return ready.recv().ok(),
        }
    }
}
