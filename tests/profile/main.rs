//! The profile as a file: its schema, that it comes back as it was, that every bad one is
//! refused with a message that helps, and that files of every version stay readable.
//!
//! After a change of the format, write schema and files again:
//!
//! ```text
//! cargo test --test profile -- --ignored write_schema_and_files
//! ```

mod bad;
mod machines;
mod round_trip;
mod schema;
mod written;
