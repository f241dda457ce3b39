//! The logs of a command: opened, read, and known by their hash.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use anyhow::{anyhow, bail};
use kneadfit_log::{LogRead, LogReader, ReadOptions};
use sha2::{Digest, Sha256};

use crate::progress::{Progress, Watched};
use crate::system::why;

/// What was read of the logs that a command was given.
pub struct Logs {
    /// Logs, problems and rows.
    pub read: LogRead,
    /// Each file by name, with the hash of its bytes.
    pub files: Vec<LogFile>,
    /// SHA-256 of the bytes of all files, one after the other, in hexadecimal.
    pub sha256: String,
}

/// One file that was read.
pub struct LogFile {
    /// The name by which problems call it.
    pub name: String,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
}

/// How standard input is called on the command line, and by problems.
const STANDARD_INPUT: (&str, &str) = ("-", "stdin");

/// Reads logs in their order. Rows that name no machine are of `default_machine`, or of the
/// machine that the file is named after.
pub fn read(
    paths: &[PathBuf],
    options: ReadOptions,
    default_machine: Option<&str>,
) -> anyhow::Result<Logs> {
    if paths.iter().filter(|path| is_standard_input(path)).count() > 1 {
        bail!("standard input (-) can be read only once");
    }
    // Every file is opened before one is read: a long log is not read in vain.
    let inputs = paths.iter().map(|path| open(path)).collect::<anyhow::Result<Vec<_>>>()?;
    let mut progress = Progress::of_bytes(inputs.iter().map(|(_, bytes)| bytes).sum());
    let mut reader = LogReader::new(options);
    let mut all = Sha256::new();
    let mut files = Vec::with_capacity(paths.len());
    for (index, (input, _)) in inputs.into_iter().enumerate() {
        let name = shown_name(paths, index);
        let stem = stem(&paths[index]);
        let machine = default_machine.unwrap_or(&stem);
        let input = Watched { input, progress: &mut progress };
        let mut hashed = Hashed { input, own: Sha256::new(), all: &mut all };
        reader.read(&name, machine, &mut hashed);
        // What a faulty header kept from being read belongs to the file all the same; where
        // the file cannot be read, the reader has said so.
        let _ = io::copy(&mut hashed, &mut io::sink());
        files.push(LogFile { name, sha256: hexadecimal(hashed.own) });
    }
    Ok(Logs { read: reader.finish(), files, sha256: hexadecimal(all) })
}

/// One log to read, with the name by which problems call it.
pub fn open_one(path: &Path) -> anyhow::Result<(String, Box<dyn Read>)> {
    let name = shown_name(&[path.to_owned()], 0);
    Ok((name, open(path)?.0))
}

fn is_standard_input(path: &Path) -> bool {
    path.as_os_str() == STANDARD_INPUT.0
}

/// A log to read, with its bytes where they are known.
fn open(path: &Path) -> anyhow::Result<(Box<dyn Read>, u64)> {
    if is_standard_input(path) {
        return Ok((Box::new(io::stdin().lock()), 0));
    }
    let cannot = |error| anyhow!("cannot open the log {}: {}", path.display(), why(&error));
    let file = File::open(path).map_err(cannot)?;
    let about = file.metadata().map_err(cannot)?;
    if about.is_dir() {
        let example = path.join("log.csv");
        bail!("{} is a folder: give the logs in it, as {}", path.display(), example.display());
    }
    Ok((Box::new(file), about.len()))
}

/// The machine of rows that name none: what the file is named after.
fn stem(path: &Path) -> String {
    if is_standard_input(path) {
        return STANDARD_INPUT.1.into();
    }
    path.file_stem().map_or_else(|| "machine".into(), |stem| stem.to_string_lossy().into_owned())
}

/// The name of a file without its folders, where no other log is called the same: so that
/// the same logs make the same files wherever they lie.
fn shown_name(paths: &[PathBuf], index: usize) -> String {
    let path = &paths[index];
    if is_standard_input(path) {
        return STANDARD_INPUT.1.into();
    }
    let alone = paths.iter().enumerate().all(|(other, p)| {
        other == index || p.file_name() != path.file_name() || is_standard_input(p)
    });
    match path.file_name().filter(|_| alone) {
        Some(name) => name.to_string_lossy().into_owned(),
        None => path.to_string_lossy().into_owned(),
    }
}

/// A reader that hashes what it reads, for itself and for all files together.
struct Hashed<'a, R> {
    input: R,
    own: Sha256,
    all: &'a mut Sha256,
}

impl<R: Read> Read for Hashed<'_, R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.input.read(buffer)?;
        self.own.update(&buffer[..count]);
        self.all.update(&buffer[..count]);
        Ok(count)
    }
}

fn hexadecimal(hash: Sha256) -> String {
    hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_called_by_its_name_where_that_says_which() {
        let paths: Vec<PathBuf> =
            ["may/log.csv", "june/log.csv", "july/spiral.csv", "-"].map(PathBuf::from).into();
        let names: Vec<String> = (0..4).map(|index| shown_name(&paths, index)).collect();
        assert_eq!(names, ["may/log.csv", "june/log.csv", "spiral.csv", "stdin"]);
    }
}
