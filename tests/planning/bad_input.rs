//! Bad.
