//! The one place that writes to the terminal: results to standard output, messages to
//! standard error.

use std::io::{self, Write};

use anstream::AutoStream;
use anstyle::{AnsiColor, Style};

use crate::failure::ReaderGone;

/// Of headings and names.
pub const BOLD: Style = Style::new().bold();
/// Of what may be passed over.
pub const FAINT: Style = Style::new().dimmed();
/// Of errors.
pub const ERROR: Style = Style::new().bold().fg_color(Some(anstyle::Color::Ansi(AnsiColor::Red)));
/// Of doubts and warnings.
pub const DOUBT: Style =
    Style::new().bold().fg_color(Some(anstyle::Color::Ansi(AnsiColor::Yellow)));

/// A text in a style; where colours are not wanted, they are taken out as it is written.
pub fn styled(style: Style, text: &str) -> String {
    format!("{style}{text}{style:#}")
}

/// Writes a result, styles only where a terminal wants them.
pub fn result(text: &str) -> anyhow::Result<()> {
    let mut out = AutoStream::auto(io::stdout().lock());
    written(out.write_all(text.as_bytes()).and_then(|()| out.flush()))
}

/// Writes a result for a program, byte for byte.
pub fn raw_result(bytes: &[u8]) -> anyhow::Result<()> {
    let mut out = io::stdout().lock();
    written(out.write_all(bytes).and_then(|()| out.flush()))
}

/// A command's JSON, pretty-printed.
pub fn json_result(value: &impl serde::Serialize) -> anyhow::Result<()> {
    let mut bytes = serde_json::to_vec_pretty(value)?;
    bytes.push(b'\n');
    raw_result(&bytes)
}

fn written(outcome: io::Result<()>) -> anyhow::Result<()> {
    match outcome {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Err(ReaderGone.into()),
        other => Ok(other?),
    }
}

/// Writes a message and a line break. Where standard error cannot be written there is
/// nowhere to say so.
pub fn message(text: &str) {
    let mut out = AutoStream::auto(io::stderr().lock());
    let _ = writeln!(out, "{text}");
}

/// Writes a message that the work cannot be done, or not in full.
pub fn error(text: &str) {
    message(&format!("{} {text}", styled(ERROR, "error:")));
}

/// Writes a message that something is to be minded.
pub fn warning(text: &str) {
    message(&format!("{} {text}", styled(DOUBT, "warning:")));
}
