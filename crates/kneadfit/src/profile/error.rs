//! Why a file cannot be used as a profile.

use thiserror::Error;

/// Why a file cannot be used as a profile.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum ProfileError {
    /// The text is no JSON, or not of a profile's form.
    #[error("line {line}, column {column}: {message}; write the profile again with `fit`")]
    Json {
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What the JSON reader says.
        message: String,
    },
    /// The file says that it is something else.
    #[error("the file says it is {found:?}, not \"kneadfit-profile\"")]
    Format {
        /// What it says.
        found: String,
    },
    /// The file is of a newer version than this program knows.
    #[error(
        "the profile is of format version {found}, this program knows up to {known}: use a newer program, or write the profile again with this one"
    )]
    Newer {
        /// The file's version.
        found: u32,
        /// The newest version known.
        known: u32,
    },
    /// The profile requires something that this program does not know.
    #[error(
        "the profile requires {unknown:?}, which this program does not know: use a newer program"
    )]
    Requires {
        /// What it requires.
        unknown: String,
    },
    /// A number or name that cannot be.
    #[error(
        "{key} is {found}, expected {expected}; the file was changed or damaged: write it again with `fit`"
    )]
    Value {
        /// Which key.
        key: String,
        /// What it holds.
        found: String,
        /// What was expected.
        expected: &'static str,
    },
    /// A forecast of the self-test does not come out as the profile says.
    #[error("self-test {index}: {quantity} comes out as {found}, the profile says {expected}")]
    SelfTest {
        /// Which self-test, from 0.
        index: usize,
        /// Which quantity.
        quantity: &'static str,
        /// What came out.
        found: f64,
        /// What the profile says.
        expected: f64,
    },
}

impl ProfileError {
    pub(super) fn json(error: serde_json::Error) -> Self {
        let text = error.to_string();
        // The reader appends its own "at line … column …", which we say first.
        let message = text.split(" at line ").next().unwrap_or(&text).to_owned();
        Self::Json { line: error.line(), column: error.column(), message }
    }
}
