//! How far long work has come, on a terminal only.

use std::io::Read;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressStyle};

/// Work that is done sooner than this needs no bar.
const SOON: Duration = Duration::from_millis(400);

/// A bar on standard error that shows itself when work is long, and leaves nothing behind.
/// Where standard error is no terminal it never shows.
pub struct Progress {
    begun: Instant,
    total: u64,
    template: &'static str,
    bar: Option<ProgressBar>,
    done: u64,
}

impl Progress {
    /// The reading of so many bytes; 0: not known.
    pub fn of_bytes(total: u64) -> Self {
        let template = match total {
            0 => "reading {bytes}",
            _ => "reading {bar:30} {bytes} of {total_bytes}",
        };
        Self::new(total, template)
    }

    /// The calibration of so many machines.
    pub fn of_machines(total: u64) -> Self {
        Self::new(total, "calibrating {bar:30} {pos} of {len} machines")
    }

    fn new(total: u64, template: &'static str) -> Self {
        Self { begun: Instant::now(), total, template, bar: None, done: 0 }
    }

    /// So much more is done.
    pub fn advance(&mut self, by: u64) {
        self.done += by;
        if self.bar.is_none() && self.begun.elapsed() > SOON {
            let bar = if self.total > 0 {
                ProgressBar::new(self.total)
            } else {
                ProgressBar::no_length()
            };
            // A template without colours: nothing to take out for NO_COLOR.
            if let Ok(style) = ProgressStyle::with_template(self.template) {
                bar.set_style(style.progress_chars("=> "));
            }
            self.bar = Some(bar);
        }
        if let Some(bar) = &self.bar {
            bar.set_position(self.done);
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}

/// A reader that says how far it has come.
pub struct Watched<'a, R> {
    pub input: R,
    pub progress: &'a mut Progress,
}

impl<R: Read> Read for Watched<'_, R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let count = self.input.read(buffer)?;
        self.progress.advance(count as u64);
        Ok(count)
    }
}
