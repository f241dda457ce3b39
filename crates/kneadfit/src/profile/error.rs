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
        let message = in_plain_words(text.split(" at line ").next().unwrap_or(&text));
        Self::Json { line: error.line(), column: error.column(), message }
    }
}

/// What the JSON reader says, without the names of this crate's types.
fn in_plain_words(message: &str) -> String {
    let Some((found, expected)) = message.rsplit_once(", expected ") else {
        return message.to_owned();
    };
    let is_object =
        ["struct ", "internally tagged enum "].iter().any(|of| expected.starts_with(of));
    let found = match found {
        // A list in the place of an object is told by its length.
        length if length.starts_with("invalid length") && is_object => "found a list",
        other => other,
    };
    let expected = match expected {
        _ if is_object => "an object with the keys of a profile",
        "f64" => "a number",
        "u32" | "usize" => "a whole number of nought or more",
        "a sequence" => "a list",
        other => other,
    };
    format!("{found}, expected {expected}")
}

#[cfg(test)]
mod tests {
    use super::in_plain_words;

    #[test]
    fn no_type_of_this_crate_is_named() {
        for (said, plain) in [
            (
                "invalid length 0, expected struct Head with 3 elements",
                "found a list, expected an object with the keys of a profile",
            ),
            (
                "invalid type: null, expected struct Machine",
                "invalid type: null, expected an object with the keys of a profile",
            ),
            (
                "invalid type: string \"x\", expected f64",
                "invalid type: string \"x\", expected a number",
            ),
            ("missing field `speeds`", "missing field `speeds`"),
        ] {
            assert_eq!(in_plain_words(said), plain);
        }
    }
}
