//! The one place that writes to the terminal: results to standard output, messages to
//! standard error.

use std::io::{self, Write};

use anstream::AutoStream;
use anstyle::{AnsiColor, Style};

use crate::failure::ReaderGone;
use crate::system::why;

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
        Err(error) => Err(anyhow::anyhow!("cannot write the result: {}", why(&error))),
        Ok(()) => Ok(()),
    }
}

/// Writes a message and a line break. Where standard error cannot be written there is
/// nowhere to say so.
pub fn message(text: &str) {
    let mut out = AutoStream::auto(io::stderr().lock());
    let _ = writeln!(out, "{text}");
}

/// Longest run of digits that a message shows.
const MOST_DIGITS: usize = 40;
/// Longest word: a path may be long.
const LONGEST_WORD: usize = 300;

/// A message with what would fill the screen cut, and its length said.
pub fn cut(text: &str) -> String {
    let mut shown = String::with_capacity(text.len().min(4096));
    for piece in text.split_inclusive(char::is_whitespace) {
        let word = piece.trim_end();
        let length = word.chars().count();
        let digits = word.chars().filter(char::is_ascii_digit).count();
        let most = if 2 * digits > length { MOST_DIGITS } else { LONGEST_WORD };
        if length > most {
            shown.extend(word.chars().take(most));
            shown.push_str(&format!("… ({length} characters)"));
            shown.push_str(&piece[word.len()..]);
        } else {
            shown.push_str(piece);
        }
    }
    shown
}

/// Writes a message that the work cannot be done, or not in full.
pub fn error(text: &str) {
    message(&format!("{} {}", styled(ERROR, "error:"), cut(text)));
}

/// Writes a message that something is to be minded.
pub fn warning(text: &str) {
    message(&format!("{} {text}", styled(DOUBT, "warning:")));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_would_fill_the_screen_is_cut_with_its_length() {
        let digits = "9".repeat(300);
        let said = cut(&format!("invalid value '{digits}' for\n  '--level <LEVEL>'"));
        assert!(said.starts_with("invalid value '999") && said.contains("… (302 characters)"));
        assert!(said.ends_with(" for\n  '--level <LEVEL>'"), "{said}");
        assert!(said.chars().count() < 120, "{said}");
        let path = "folder/".repeat(30);
        assert_eq!(cut(&path), path);
        assert!(cut(&"x".repeat(1_000_000)).len() < 400);
    }
}
