//! The machine profile: the JSON file that other kitchen software consumes.
//!
//! Units are in the keys, keys are in a fixed order, and the same log and options give
//! the same bytes. From the file alone a reader in any language can compute the mean and
//! interval of a forecast: the equations are those of [`crate::thermal`],
//! [`crate::development`] and [`crate::forecast`].
//!
//! # Examples
//!
//! A newer version is refused with a message that says what to do:
//!
//! ```
//! use kneadfit::profile::{Profile, ProfileError};
//!
//! let newer = r#"{ "format": "kneadfit-profile", "format_version": 99 }"#;
//! assert!(matches!(Profile::from_json(newer), Err(ProfileError::Newer { found: 99, .. })));
//! ```

pub(crate) mod bakers;
mod check;
mod check_said;
mod error;
mod format;

pub use error::ProfileError;
pub use format::*;

/// What the `format` key holds.
pub const FORMAT: &str = "kneadfit-profile";
/// The version that this crate writes.
pub const FORMAT_VERSION: u32 = 1;

impl Profile {
    /// The profile as pretty-printed JSON, ending in a newline.
    pub fn to_json(&self) -> String {
        // Serialising plain structs of numbers and strings to memory cannot fail.
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// Checks that the numbers hold together, as after [`Self::from_json`].
    ///
    /// # Errors
    ///
    /// [`ProfileError::Value`] for the first that does not.
    pub fn check(&self) -> Result<(), ProfileError> {
        check::check(self)
    }

    /// Reads a profile and checks that it can be used.
    ///
    /// # Errors
    ///
    /// [`ProfileError`]: text that is no JSON or no profile (with line and column), a newer
    /// version, a requirement that this crate does not know, numbers that cannot be, an
    /// empty self-test.
    pub fn from_json(text: &str) -> Result<Self, ProfileError> {
        let head: Head = serde_json::from_str(text).map_err(ProfileError::json)?;
        if head.format != FORMAT {
            return Err(ProfileError::Format { found: head.format });
        }
        if head.format_version > FORMAT_VERSION {
            return Err(ProfileError::Newer { found: head.format_version, known: FORMAT_VERSION });
        }
        if head.format_version == 0 {
            return Err(ProfileError::Value {
                key: "format_version".into(),
                found: "0".into(),
                expected: "1 or more",
            });
        }
        if let Some(unknown) = head.requires.into_iter().next() {
            return Err(ProfileError::Requires { unknown });
        }
        let profile: Self = serde_json::from_str(text).map_err(ProfileError::json)?;
        check::check(&profile)?;
        check::check_self_test(&profile)?;
        Ok(profile)
    }
}

/// What must be known of a file before the rest of it can be read.
#[derive(serde::Deserialize)]
struct Head {
    format: String,
    format_version: u32,
    #[serde(default)]
    requires: Vec<String>,
}

/// The JSON Schema of a profile, pretty-printed, generated from the types.
///
/// # Examples
///
/// ```
/// let schema = kneadfit::profile::json_schema();
/// assert!(schema.contains("\"coefficients\""));
/// ```
pub fn json_schema() -> String {
    let schema = schemars::schema_for!(Profile);
    let mut text = serde_json::to_string_pretty(&schema).unwrap_or_default();
    text.push('\n');
    text
}
